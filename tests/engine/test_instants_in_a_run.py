"""Instants in a run: read, judged, averaged, computed with and told."""

from __future__ import annotations

from engine_help import procedure, running
from helpers import TextLibrary

from proclang.program.build import build
from proclang.program.load import load

NEEDS = """\
needs
  instrument watch "watch", reads to 1 s, accurate to 2 s
  crew lead, rigger, scribe
  authority lead
"""

POUR = """
step look "Note the time."
  measure poured in UTC using watch
    within 2026-11-25T14:30:00Z ± 5 min
    plausible 2026-01-01T00:00Z .. 2027-01-01T00:00Z
compute ready = poured + 12 h
  at least 2026-11-26T02:00Z
compute waited = ready - poured
step after_pour "Poured {poured to 1 min}; strike it from {ready}."
  confirm after "After {waited to 1 h}."
"""


def test_an_instant_is_read_judged_and_computed_with() -> None:
    run = running(POUR, needs=NEEDS)
    run.say("2026-11-25 14:31")
    assert run.value("poured") == "2026-11-25T14:31:00 UTC"
    assert run.outcome("poured") == "passes"
    assert run.value("ready") == "2026-11-26T02:31:00 UTC"
    assert run.outcome("ready") == "passes"
    assert run.value("waited") == "43200 s"
    shown = str(run.asked)
    assert "Poured 2026-11-25 14:31 UTC; strike it from 2026-11-26 02:31:00 UTC." in shown


def test_limits_of_an_instant_are_exact_and_what_is_outside_is_told_as_a_time() -> None:
    run = running(POUR, needs=NEEDS)
    run.say("2026-11-25 14:35:01")
    assert run.outcome("poured") == "fails"
    assert "1 s above" in str(run.events("verdict"))
    edge = running(POUR, needs=NEEDS)
    edge.say("2026-11-25T14:35Z")
    assert edge.outcome("poured") == "passes"


def test_the_mean_of_two_instants_is_half_way() -> None:
    run = running(POUR, needs=NEEDS)
    run.say("2026-11-25 14:40", "again", "2026-11-25 14:29")
    assert run.value("poured") == "2026-11-25T14:34:30 UTC"
    assert run.outcome("poured") == "passes"


def test_an_implausible_instant_is_asked_again() -> None:
    run = running(POUR, needs=NEEDS)
    assert run.refused("2062-11-25 14:30") == "implausible"
    assert run.asked.plausible == "2026-01-01 00:00:00 UTC to 2027-01-01 00:00:00 UTC"


def test_the_clock_of_the_computer_is_no_instrument() -> None:
    assert running(POUR, needs=NEEDS).refused("now") == "not-an-instant"


def test_the_doubt_of_an_instant_is_a_time() -> None:
    """Rectangular limits of 2 s and a step of 1 s: sqrt(2^2/3 + 1/12) s = 1.19 s (JCGM 100, 4.3.7 and F.2.2.1)."""
    run = running(POUR.replace("± 5 min\n", "± 5 min\n    guarded\n"), needs=NEEDS)
    run.say("2026-11-25 14:31")
    assert run.events("verdict")[0]["off"][:3] == ["1.2 s", "2.4 s", "k = 2"]
    assert "off" in run.events("computed")[0]
    assert "off" not in run.events("computed")[1]  # 12 h, whatever the watch is off


def test_an_instant_on_its_limit_is_undecided_where_the_verdict_is_guarded() -> None:
    """As likely in as out (JCGM 106, 7.2): it conforms with one half."""
    run = running(POUR.replace("± 5 min\n", "± 5 min\n    guarded\n"), needs=NEEDS)
    run.say("2026-11-25 14:35")
    assert run.outcome("poured") == "undecided"
    assert run.events("verdict")[0]["conforms"] == "50 %"


def test_an_instant_may_be_an_input_with_a_default_a_cell_and_an_argument() -> None:
    run = running(
        """
        compute waited = began[late] - began[early]
        compute end = started + waited
        confirm after "After {waited}."
        """,
        header="""
        inputs
          started: instant = 2026-11-25T08:00:00Z "when work began"
        table shifts of began
          early 2026-11-25T08:00Z
          late 2026-11-25T16:30:00.5Z
        """,
        needs=NEEDS,
    )
    assert run.value("waited") == "30600.5 s"
    assert run.value("end") == "2026-11-25T16:30:00.5 UTC"


def test_what_is_no_instant_is_found_before_the_run() -> None:
    """An instant is no time; two are not added; an instrument is not accurate to an instant."""
    for line, code in (
        ("compute odd = 2026-11-25T08:00Z + 2026-11-25T08:00Z", "two-points"),
        ("compute odd = 2 * 2026-11-25T08:00Z", "point-arithmetic"),
        ("compute odd = 2026-11-25T08:00Z\n  at most 2 h", "dimension-mismatch"),
        ("compute odd = 2026-02-30T08:00Z", "no-such-date"),
        ("compute odd = 2026-11-25T08:00+02:00", "other-time-zone"),
        ("compute odd = 2026-11-25T08:00Z\n  within 2026-11-25T08:00Z ± 4 %", "no-share"),
        ("compute odd = 2026-11-25T08:00Z\n  within 2026-11-25T09:00Z .. 2026-11-25T08:00Z", "limits-reversed"),
    ):
        assert code in codes(line), line
    assert codes("compute even = 2026-11-25T08:00Z - 2 h\n  at most 2026-11-25T08:00Z") == []


def codes(line: str) -> list[str]:
    """The codes of the findings on a procedure with such a line."""
    text = procedure(f'{line}\nconfirm after "After."', needs=NEEDS)
    files = load("job", text.encode(), TextLibrary({"job": text}))
    return [finding.code for finding in build(files).findings]
