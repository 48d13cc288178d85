"""How far off values may be, and what that does to verdicts: instruments, facts, formulas, series, sittings."""

from __future__ import annotations

import math

import pytest
from engine_help import lines, running
from helpers import Run

from proclang.engine.fold import replay
from proclang.engine.model import Entry
from proclang.engine.working import Working
from proclang.program.budget import DRAWS, Budget, Doubt

NEEDS = """\
needs
  instrument level "level", reads to 0.1 arcmin, repeats to 0.06 arcmin, accurate to 0.3 arcmin
  instrument fine "fine level", reads to 0.01 arcmin, repeats to 0.01 arcmin
  instrument other "level of another kind", reads to 0.1 arcmin, accurate to 0.3 arcmin at k 2
  crew lead, rigger, scribe
  authority lead
"""
STEP = 'step look "Look."\n'


def run_of(
    body: str, header: str = "", facts: dict[str, str] | None = None, others: dict[str, str] | None = None
) -> Run:
    return running(body, header, facts, others, needs=NEEDS)


def doubt(run: Run, name: str, key: str = "") -> Doubt:
    work = Working(run.program, run.state)
    return work.budget.doubt(run.state.top.origins[name][key], work.amount(name, key))


def sources(run: Run, name: str, key: str = "") -> dict[str, float]:
    """Each source with its part in arcminutes or millimetres."""
    return {source.key: c for source, c in doubt(run, name, key).form.terms}


REVERSED = (
    STEP
    + "  measure ns[direct, reversed] in arcmin using level\n"
    + "compute tilt = reverse_level(ns)\ncompute zero = level_zero(ns)\n"
    + 'hold seen "Seen" by lead'
)


def test_a_reversal_takes_what_the_level_is_off_out_of_the_tilt_and_keeps_it_in_the_zero() -> None:
    """What two readings of one level share cancels in half their difference and stays in half their sum."""
    run = run_of(REVERSED)
    run.say("2", "-1.8")
    assert not any(key.startswith("accurate") for key in sources(run, "tilt"))
    assert any(key.startswith("accurate") for key in sources(run, "zero"))
    own = math.hypot(0.1 / (2 * math.sqrt(3)), 0.06)
    assert doubt(run, "tilt").standard * 60 == pytest.approx(own / math.sqrt(2), rel=1e-9)
    assert doubt(run, "zero").standard * 60 == pytest.approx(
        math.hypot(own / math.sqrt(2), 0.3 / math.sqrt(3)), rel=1e-9
    )


def test_two_instruments_share_nothing_and_one_serial_number_is_one_instrument() -> None:
    """Keys go by the number engraved on the instrument, not by what a procedure calls it."""
    body = STEP + "  measure a in arcmin using level\n  measure b in arcmin using other\n"
    body += 'compute apart = a - b\nhold seen "Seen" by lead'
    run = run_of(body)
    run.say("2", "1")
    apart = {key: c for key, c in sources(run, "apart").items() if key.startswith("accurate")}
    assert len(apart) == 2
    for name in run.state.instruments:
        run.state.instruments[name]["serial"] = "one and the same"
    one = {key: c for key, c in sources(run, "apart").items() if key.startswith("accurate")}
    assert len(one) == 1
    assert abs(next(iter(one.values()))) * 60 == pytest.approx(0.3 / math.sqrt(3) - 0.3 / 2, rel=1e-9)


def test_more_readings_leave_less_of_what_is_each_ones_own_and_all_of_what_they_share() -> None:
    """JCGM 100, 4.2.3; the accuracy of the instrument does not average away."""
    body = STEP + "  measure a in arcmin using level\n    at most 9 arcmin\n  measure again a\n  measure again a\n"
    run = run_of(body + 'hold seen "Seen" by lead')
    run.say("2", "2.1", "1.9")
    parts = sources(run, "a")
    assert sum(key.startswith("repeats") for key in parts) == 3
    own = math.hypot(*(c for key, c in parts.items() if not key.startswith("accurate"))) * 60
    assert own == pytest.approx(math.hypot(0.1 / (2 * math.sqrt(3)), 0.06) / math.sqrt(3), rel=1e-9)
    shared = [c for key, c in parts.items() if key.startswith("accurate")]
    assert [c * 60 for c in shared] == pytest.approx([0.3 / math.sqrt(3)], rel=1e-9)


def test_readings_that_all_show_the_same_say_nothing_of_what_lies_within_a_step() -> None:
    """The resolution is then one source for all of them, and does not average away."""
    body = STEP + "  measure a in arcmin using level\n  measure again a\n  measure again a\n"
    run = run_of(body + 'hold seen "Seen" by lead')
    run.say("2", "2", "2")
    steps = [c for key, c in sources(run, "a").items() if key.startswith("reads to")]
    assert [c * 60 for c in steps] == pytest.approx([0.1 / (2 * math.sqrt(3))], rel=1e-9)


def test_scatter_speaks_for_an_instrument_of_which_nothing_is_said() -> None:
    """From three readings on, with the degrees of freedom it has (JCGM 100, 4.2.3 and G.3)."""
    needs = "needs\n  crew lead, rigger, scribe\n  authority lead\n"
    body = STEP + "  measure a in mm\n    at most 9 mm\n  measure again a\n  measure again a\n"
    run = running(body + 'hold seen "Seen" by lead', needs=needs)
    run.say("2", "2.2")
    assert not doubt(run, "a").known
    run.say("2.1")
    found = doubt(run, "a")
    assert found.standard == pytest.approx(0.1e-3 / math.sqrt(3), rel=1e-9)
    assert found.how == "k = 4.30 from 2 degrees of freedom"


def test_an_overall_figure_is_not_counted_twice_and_does_not_all_cancel() -> None:
    """What each reading has for itself is within it, and stays in a difference."""
    needs = (
        'needs\n  instrument gauge "gauge", reads to 0.1 mm, accurate in all to 0.5 mm\n  crew lead\n  authority lead\n'
    )
    body = STEP + "  measure a in mm using gauge\n  measure b in mm using gauge\ncompute c = a - b\n"
    run = running(body + 'hold seen "Seen" by lead', needs=needs)
    run.say("3", "1")
    assert doubt(run, "a").standard * 1000 == pytest.approx(0.5 / math.sqrt(3), rel=1e-9)
    assert doubt(run, "c").standard * 1000 == pytest.approx(math.sqrt(2) * 0.1 / (2 * math.sqrt(3)), rel=1e-9)


def test_a_share_is_one_of_the_reading_and_a_coverage_factor_divides() -> None:
    """4 % of 200 N.m at k 2 is a standard uncertainty of 4 N.m."""
    needs = 'needs\n  instrument wrench "wrench", accurate to 4 % at k 2\n  crew lead\n  authority lead\n'
    run = running(STEP + '  measure t in N.m using wrench\nhold seen "Seen" by lead', needs=needs)
    run.say("200")
    assert doubt(run, "t").standard == pytest.approx(4.0, rel=1e-12)


def test_a_zero_that_wanders_between_sittings_is_another_source_in_each() -> None:
    """It cancels within one sitting and stays in a difference across two."""
    needs = 'needs\n  instrument level "level", drifts by 0.3 arcmin\n  crew lead\n  authority lead\n'
    body = (
        STEP
        + "  measure a in arcmin using level\n  measure b in arcmin using level\n  measure c in arcmin using level\n"
    )
    body += 'compute same = a - b\ncompute later = c - a\nhold seen "Seen" by lead'
    run = running(body, needs=needs)
    run.say("1", "2")
    run.reply("", "pause")
    run.say("3")
    assert not doubt(run, "same").known
    assert doubt(run, "later").standard * 60 == pytest.approx(math.sqrt(2) * 0.3 / math.sqrt(3), rel=1e-9)


def test_facts_of_the_site_and_readings_by_eye_say_it_themselves() -> None:
    """`known to` is a source of its own: shared by all that rest on the one fact."""
    header = "inputs\n  ring: length = 500 mm\n    known to 2 mm at k 2\n"
    body = STEP + "  measure gap in mm\n    known to 0.2 mm\ncompute both = ring + gap\ncompute back = both - ring\n"
    run = run_of(body + 'hold seen "Seen" by lead', header)
    run.say("3")
    assert doubt(run, "both").standard * 1000 == pytest.approx(math.hypot(1, 0.2 / math.sqrt(3)), rel=1e-9)
    assert doubt(run, "back").standard * 1000 == pytest.approx(0.2 / math.sqrt(3), rel=1e-9)


INNER = """\
proclang 1
procedure inner "Inner, training example"
revision 1
inputs
  start: angle
needs
  instrument level "level", reads to 0.1 arcmin, repeats to 0.06 arcmin, accurate to 0.3 arcmin
  crew lead
gives turned
section only "Only"
  step look "Look."
    measure end in arcmin using level
  compute turned = end - start
"""


def test_what_a_performed_procedure_takes_and_gives_keeps_its_sources() -> None:
    """One level before and inside: its accuracy cancels in the difference that is handed back."""
    body = STEP + "  measure begin in arcmin using level\n"
    body += "perform inner\n  with start = begin\n  gives turned\ncompute twice = 2 * turned\n"
    run = run_of(body + 'hold seen "Seen" by lead', others={"inner": INNER})
    run.say("1")
    while "end" not in run.address:
        run.say(run.asked.choices[0] if run.asked.choices else "Ada Quill")
    run.say("4")
    assert not any(key.startswith("accurate") for key in sources(run, "twice"))
    own = math.hypot(0.1 / (2 * math.sqrt(3)), 0.06) * math.sqrt(2)
    assert doubt(run, "twice").standard * 60 == pytest.approx(2 * own, rel=1e-9)


def test_a_resumed_run_knows_the_same() -> None:
    """The state is a fold over the entries as they stand in the journal."""
    run = run_of(REVERSED)
    run.say("2", "-1.8")
    again = replay(Entry.from_json(entry.to_json()) for entry in run.entries)
    assert again.top.origins == run.state.top.origins
    work = Working(run.program, again)
    assert work.budget.doubt(again.top.origins["tilt"][""], work.amount("tilt", "")) == doubt(run, "tilt")


HYPOT = (
    STEP
    + "  measure ns[direct, reversed] in arcmin using level\n  measure ew[direct, reversed] in arcmin using level\n"
    + "compute tilt = hypot(reverse_level(ns), reverse_level(ew))\n  at most 0.3 arcmin\n  guarded\n"
    + 'hold seen "Seen" by lead'
)


def test_a_size_near_nothing_is_drawn_and_its_verdict_uses_the_draws() -> None:
    """A hypot at zero has no straight line. The size of two normal parts is Rayleigh's distribution, whose share below
    a limit is known: an oracle that draws nothing."""
    run = run_of(HYPOT)
    run.say("1", "1", "1", "1")
    found = doubt(run, "tilt")
    assert found.how.startswith("Monte Carlo, 10000 draws, seed ")
    part = math.hypot(0.1 / (2 * math.sqrt(3)), 0.06) / math.sqrt(2)
    rayleigh = 1 - math.exp(-((0.3 / part) ** 2) / 2)
    verdict = run.events("verdict")[-1]
    assert verdict["outcome"] == "passes"
    assert float(verdict["conforms"].split(" ")[-2]) / 100 == pytest.approx(rayleigh, abs=0.002)
    # 95 % of a Rayleigh distribution lie below part * sqrt(-2 ln 0.05)
    assert found.half * 60 == pytest.approx(part * math.sqrt(-2 * math.log(0.05)), rel=0.03)


def test_the_same_record_draws_the_same() -> None:
    """The seed is that of the value; whoever recomputes the record comes to the same probability."""
    first, second = run_of(HYPOT), run_of(HYPOT)
    for run in (first, second):
        run.say("1", "1", "1.1", "1")
    assert first.events("verdict") == second.events("verdict")
    assert doubt(first, "tilt").draws == doubt(second, "tilt").draws


GUARDED = STEP + "  measure a in arcmin using level\n    at most 2 arcmin\n    guarded\n" + 'hold seen "Seen" by lead'


def test_a_guarded_value_near_its_limit_is_neither_and_says_how_sure_it_is() -> None:
    """JCGM 106 with a flat prior; ISO 14253-1: neither conformity nor its opposite is proved."""
    run = run_of(GUARDED)
    run.say("1.9")
    verdict = run.events("verdict")[-1]
    assert verdict["outcome"] == "undecided"
    assert "beyond" not in verdict
    assert verdict["guarded"] == "95 %"
    assert run.asked.choices == ("again", "adjust", "exchange", "accept", "stop")
    assert "Neither in tolerance nor out of it" in run.asked.prompt
    run.say("adjust", "1.2")
    assert run.events("verdict")[-1]["outcome"] == "passes"


def test_a_guarded_value_fails_only_when_that_is_sure() -> None:
    """Well outside."""
    run = run_of(GUARDED)
    run.say("2.5")
    verdict = run.events("verdict")[-1]
    assert verdict["outcome"] == "fails"
    assert verdict["beyond"] == "0.5 arcmin above"
    assert "exchange" not in run.asked.choices


def test_another_instrument_of_the_procedure_can_be_taken_in_hand() -> None:
    """Its readings begin a series of their own, are known as well as it says, and the exchange is on record."""
    run = run_of(GUARDED + "\n" + STEP.replace("look", "use") + "  measure b in arcmin using fine")
    run.say("1.9", "exchange")
    assert run.asked.choices == ("fine", "other")
    run.say("fine", "1.9")
    assert run.events("verdict")[-1]["outcome"] == "passes"
    assert run.events("read")[-1]["instrument"] == "fine"
    (exchanged,) = run.events("exchanged")
    assert (exchanged["name"], exchanged["to"]) == ("level", "fine")
    again = replay(Entry.from_json(entry.to_json()) for entry in run.entries)
    assert again == run.state


def test_a_simple_verdict_is_on_the_value_as_it_stands_and_still_says_how_sure_it_is() -> None:
    """A reading on the limit passes, and conforms by half."""
    run = run_of(GUARDED.replace("    guarded\n", ""))
    run.say("2")
    verdict = run.events("verdict")[-1]
    assert (verdict["outcome"], verdict["conforms"]) == ("passes", "50 %")
    assert "guarded" not in verdict


def test_an_undecided_value_does_not_leave_a_loop_nor_pass_for_a_deviation() -> None:
    """`leave when x passes` wants a verdict that passes."""
    body = "repeat tries at most 2 times\n" + lines(
        STEP + "  measure a in arcmin using level\n    at most 2 arcmin\n    guarded\nleave when a passes\n", 2
    )
    run = run_of(body + 'hold seen "Seen" by lead')
    run.say("1.9")
    assert "tries#2" in run.address
    run.say("1.95")
    assert "accept" in run.asked.choices


def test_judged_by_the_worst_each_reading_has_its_own_doubt() -> None:
    """The least sure of them decides."""
    body = (
        STEP
        + "  measure a in arcmin using level\n    at most 2 arcmin\n    judged by worst\n    guarded\n"
        + "  measure again a\n"
    )
    run = run_of(body + 'hold seen "Seen" by lead')
    run.say("1.2", "1.3")
    alone = run_of(GUARDED)
    alone.say("1.3")
    assert run.events("verdict")[-1]["conforms"] == alone.events("verdict")[-1]["conforms"]


def test_a_bearing_is_judged_the_short_way_round_north() -> None:
    """359.9 deg and 0.1 deg are equally far from 0 ± 1 deg."""
    needs = 'needs\n  instrument compass "compass", accurate to 0.4 deg at k 1\n  crew lead\n  authority lead\n'
    told = []
    for reading in ("359.4", "0.6"):
        body = STEP + "  measure mark in deg true using compass\n    within 0 ± 1 deg\n"
        run = running(body + 'hold seen "Seen" by lead', needs=needs)
        run.say(reading)
        told.append(run.events("verdict")[-1]["conforms"])
    # Phi(0.4 / 0.4) - Phi(-1.6 / 0.4) = 0.84131
    assert told == ["84 %", "84 %"]


def test_a_value_of_which_nothing_is_said_has_no_probability() -> None:
    """As ever: nothing is made up."""
    run = run_of(STEP + '  measure a in mm\n    at most 2 mm\nhold seen "Seen" by lead')
    run.say("1")
    assert set(run.events("verdict")[-1]) == {"is", "at", "name", "outcome", "limits"}
    assert Budget(run.program, {}, {}).doubt(run.state.top.origins["a"][""], run.state.readings).known is False


def test_the_worst_of_a_series_is_what_a_formula_is_drawn_around() -> None:
    """Not the mean, which did not stand in it: twice 1.6 arcmin is over 3 arcmin, however low the other reading is."""
    body = STEP + "  measure a in arcmin using level\n    at most 2 arcmin\n    judged by worst\n  measure again a\n"
    run = run_of(body + "compute b = 2 * a\n  at most 3 arcmin\n  guarded\n" + 'hold seen "Seen" by lead')
    run.say("0.2", "1.6")
    found, verdict = doubt(run, "b"), run.events("verdict")[-1]
    assert found.how == "k = 2"
    own = math.hypot(0.1 / (2 * math.sqrt(3)), 0.06, 0.3 / math.sqrt(3))
    assert found.standard * 60 == pytest.approx(2 * own, rel=1e-9)
    assert verdict["outcome"] == "undecided"
    # Phi((3 - 3.2) / (2 u)), normal distribution
    assert verdict["conforms"] == f"{100 * 0.5 * math.erfc(0.2 / (2 * own) / math.sqrt(2)):.0f} %"


def test_a_long_way_of_values_from_one_to_the_next_is_no_way_too_deep() -> None:
    """Each rests on the one before; what is asked of the last goes back to the reading without nesting calls."""
    count = 150
    body = STEP + "  measure x0 in arcmin using level\n"
    body += "".join(f"compute x{i} = x{i - 1} + 1 arcmin\n" for i in range(1, count))
    body += STEP.replace("look", "end") + "  measure y in arcmin using level\n" + f"compute z = x{count - 1} - y\n"
    run = run_of(body + 'hold seen "Seen" by lead')
    run.say("1")
    while run.asked.kind != "quantity":
        run.say("on")
    run.say("2")
    own = math.hypot(0.1 / (2 * math.sqrt(3)), 0.06)
    assert doubt(run, "z").standard * 60 == pytest.approx(math.sqrt(2) * own, rel=1e-9)


def test_a_mean_over_very_many_labels_is_known_as_well_as_theory_says() -> None:
    """Its sources are tried in groups, and what each reading has for itself shrinks with the root of their number."""
    count = 300
    body = STEP + "  measure a[many] in arcmin using level\ncompute middle = mean(a)\n"
    run = run_of(body + 'hold seen "Seen" by lead', f"labels many 1 .. {count}\n")
    for at in range(count):
        run.say("2" if at % 2 else "2.1")
    found = doubt(run, "middle")
    own = math.hypot(0.1 / (2 * math.sqrt(3)), 0.06) / math.sqrt(count)
    assert found.standard * 60 == pytest.approx(math.hypot(own, 0.3 / math.sqrt(3)), rel=1e-9)
    assert found.how == "k = 2"


def test_an_instrument_can_be_exchanged_again_and_for_the_first_one() -> None:
    """Each time it is the one that the procedure names whose place is taken."""
    for last, others in (("other", ("level", "other")), ("level", ("level", "other"))):
        run = run_of(GUARDED)
        run.say("1.9", "exchange", "fine", "1.99", "exchange")
        assert run.asked.choices == others
        run.say(last, "1.2")
        assert run.events("read")[-1]["instrument"] == last
        assert run.events("exchanged")[-1]["name"] == "level"


def test_a_performed_procedure_keeps_its_instrument_where_it_has_not_the_one_it_was_exchanged_for() -> None:
    """What nothing is said of there would leave its readings without any doubt."""
    run = run_of(GUARDED + "\nperform inner\n  with start = a\n  gives turned\n", others={"inner": INNER})
    run.say("1.9", "exchange", "fine", "1.9")
    while "end" not in run.address:
        run.say(run.asked.choices[0] if run.asked.choices else "Ada Quill")
    run.say("4")
    assert run.events("read")[-1]["instrument"] == "level"


def test_guarded_passes_nothing_of_which_it_is_not_known_how_far_off_it_may_be() -> None:
    """No probability is as sure as asked where there is none; what is outside fails as it does without."""
    needs = 'needs\n  instrument wrench "wrench", accurate to 2 %\n  crew lead\n  authority lead\n'
    body = STEP + "  measure t in N.m using wrench\n    at most 1 N.m\n    guarded\n" + 'hold seen "Seen" by lead'
    run = running(body, needs=needs)
    run.say("0")
    assert run.events("verdict")[-1]["outcome"] == "undecided"
    run.say("adjust", "0.5")
    assert run.events("verdict")[-1]["outcome"] == "passes"


def test_limits_on_one_bearing_must_hold_together() -> None:
    """Not each by itself: within 0 ± 1 deg and within 1.5 ± 1 deg leave 0.5 to 1 deg."""
    needs = 'needs\n  instrument compass "compass", accurate to 0.25 deg at k 1\n  crew lead\n  authority lead\n'
    body = STEP + "  measure mark in deg true using compass\n    within 0 ± 1 deg\n    within 1.5 ± 1 deg\n"
    run = running(body + 'hold seen "Seen" by lead', needs=needs)
    run.say("0.75")
    assert run.events("verdict")[-1]["conforms"] == f"{100 * math.erf(1 / math.sqrt(2)):.0f} %"


def test_draws_for_which_a_formula_has_no_value_prove_nothing() -> None:
    """The square root of what may be less than nothing: a third of the draws have none, and it cannot pass as sure."""
    body = STEP + "  measure a in arcmin using other\ncompute root = sqrt(a / 1 arcmin)\n  at most 2\n  guarded\n"
    run = run_of(body + 'hold seen "Seen" by lead')
    run.say("0.06")
    found, verdict = doubt(run, "root"), run.events("verdict")[-1]
    u = math.hypot(0.1 / (2 * math.sqrt(3)), 0.15)
    assert found.lost / DRAWS == pytest.approx(0.5 * math.erfc(0.06 / u / math.sqrt(2)), abs=0.02)
    assert "no value for" in found.how
    assert verdict["outcome"] == "undecided"


def test_what_cancels_leaves_no_noise_behind() -> None:
    """Neither beside other sources nor where nothing else is left."""
    needs = 'needs\n  instrument level "level", drifts by 0.3 arcmin\n  crew lead\n  authority lead\n'
    body = STEP + "".join(f"  measure {x} in arcmin using level\n" for x in "abc")
    body += 'compute apart = 0.1 * a + 0.7 * b - 0.8 * c\nhold seen "Seen" by lead'
    run = running(body, needs=needs)
    run.say("1", "2", "3")
    assert doubt(run, "apart").standard == 0


def test_a_share_of_the_reading_has_its_sign() -> None:
    """A pull that is told 2 % too large is so either way: the difference of 100 N and -100 N is off by 4 N, their sum
    by nothing."""
    needs = 'needs\n  instrument scale "scale", accurate to 2 % at k 1\n  crew lead\n  authority lead\n'
    body = STEP + "  measure a in N using scale\n  measure b in N using scale\n"
    body += 'compute both = a + b\ncompute apart = a - b\nhold seen "Seen" by lead'
    run = running(body, needs=needs)
    run.say("100", "-100")
    assert doubt(run, "both").standard == 0
    assert doubt(run, "apart").standard == pytest.approx(4, rel=1e-12)


def test_what_is_read_by_eye_again_after_an_adjustment_is_off_by_something_else() -> None:
    """Within a series it does not shrink, and from series to series it does not cancel."""
    body = STEP + "  measure gap in mm\n    known to 0.3 mm at k 1\n  measure again gap\ncompute before = gap\n"
    body += STEP.replace("look", "turn") + "  upsets gap\n" + STEP.replace("look", "read") + "  measure again gap\n"
    body += 'compute moved = gap - before\nhold seen "Seen" by lead'
    run = run_of(body)
    run.say("3", "3.1", "done", "2")
    assert doubt(run, "before").standard * 1000 == pytest.approx(0.3, rel=1e-12)
    assert doubt(run, "moved").standard * 1000 == pytest.approx(0.3 * math.sqrt(2), rel=1e-12)


def test_one_number_on_two_kinds_of_instrument_is_no_one_instrument() -> None:
    """A tape and a level may both be number 12: what they are off has nothing in common."""
    needs = 'needs\n  instrument level "level", reads to 0.1 arcmin, accurate to 0.3 arcmin at k 1\n'
    needs += '  instrument tape "tape", reads to 0.1 mm, accurate to 0.5 mm at k 1\n  crew lead\n  authority lead\n'
    body = STEP + "  measure a in arcmin using level\n  measure b in mm using tape\n"
    body += 'compute sum = b + a * 1 mm/arcmin\nhold seen "Seen" by lead'
    run = running(body, needs=needs)
    run.say("2", "1")
    for name in run.state.instruments:
        run.state.instruments[name]["serial"] = "12"
    steps = math.hypot(0.1, 0.1) / (2 * math.sqrt(3))
    assert doubt(run, "sum").standard * 1000 == pytest.approx(math.hypot(0.3, 0.5, steps), rel=1e-9)


def test_a_plain_number_handed_over_is_known_as_well_as_the_procedure_says_of_its_input() -> None:
    """What the procedure that performs it says of a fact goes before that."""
    inner = INNER.replace("  start: angle\n", "  start: angle\n    known to 0.4 arcmin at k 1\n")
    header = "inputs\n  first: angle = 1 arcmin\n    known to 0.7 arcmin at k 1\n"
    own = math.hypot(0.1 / (2 * math.sqrt(3)), 0.06, 0.3 / math.sqrt(3))
    for handed, known in (("1 arcmin", 0.4), ("first", 0.7)):
        body = f"perform inner\n  with start = {handed}\n  gives turned\n" + 'hold seen "Seen" by lead'
        run = run_of(body, header, others={"inner": inner})
        while "end" not in run.address:
            run.say(run.asked.choices[0] if run.asked.choices else "Ada Quill")
        run.say("4")
        assert doubt(run, "turned").standard * 60 == pytest.approx(math.hypot(own, known), rel=1e-9)
