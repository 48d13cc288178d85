"""First-order doubt against the `uncertainties` package (linear error propagation with shared variables), on drawn
formulas over readings, facts and values worked out on the way.

The package differentiates symbolically, the engine by differences of one standard uncertainty; over uncertainties this
small against the values the two differ by far less than what is asked here.
"""

from __future__ import annotations

import math

import pytest
from engine_help import running
from helpers import Run
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from uncertainties import UFloat, ufloat, umath

from proclang.engine.working import Working
from proclang.program.budget import Budget

READ, REPEAT, ACCURATE = 0.0001, 0.0002, 0.0005
NEEDS = f"""\
needs
  instrument rule "rule", reads to {READ} mm, repeats to {REPEAT} mm, accurate to {ACCURATE} mm
  instrument tape "tape", repeats to {REPEAT} mm, accurate in all to 0.001 % at k 2, calibrated to 0.002 mm at k 2
  crew lead
  authority lead
"""
HEADER = "inputs\n  ring: length = 54 mm\n    known to 0.003 mm at k 2\n"
NAMES = ("a", "b", "c", "d", "ring")

sizes = st.integers(20_000, 90_000).map(lambda n: n / 1000)
"""Readings in millimetres, away from zero, where every formula below is straight."""


def _formulas(names: list[str]) -> st.SearchStrategy[str]:
    """Lengths made of lengths."""
    leaf = st.sampled_from(names)
    wide = st.one_of(
        st.builds("({} + {})".format, leaf, leaf),
        st.builds("({} - 0.3 * {})".format, leaf, leaf),
        st.builds("({} * {} / {})".format, leaf, leaf, leaf),
        st.builds("hypot({}, {})".format, leaf, leaf),
        st.builds("({} * sin({} / {} * 1 rad))".format, leaf, leaf, leaf),
        st.builds("({} ^ 2 / {})".format, leaf, leaf),
    )
    return st.one_of(wide, st.builds("({} + 2 * {})".format, wide, wide), st.builds("({} - {})".format, wide, wide))


cases = st.tuples(
    st.lists(sizes, min_size=5, max_size=5),
    _formulas([*NAMES]),
    _formulas([*NAMES, "p"]),
    _formulas([*NAMES, "p", "q"]),
)


def _uniform(half: float) -> float:
    return half / math.sqrt(3)


def _by_library(readings: list[float], formulas: tuple[str, str, str]) -> dict[str, UFloat]:
    """The readings as variables of the library: `a` and `b` with the rule, `b` twice; `c` and `d` with the tape."""
    off_rule, off_tape, certificate = ufloat(0, _uniform(ACCURATE)), ufloat(0, 1), ufloat(0, 0.001)

    def rule(value: float) -> UFloat:
        return value + off_rule + ufloat(0, _uniform(READ / 2)) + ufloat(0, REPEAT)

    def tape(value: float) -> UFloat:
        whole = 0.00001 * value / 2
        rest = math.sqrt(max(0.0, whole**2 - REPEAT**2))
        return value + rest * off_tape + certificate + ufloat(0, REPEAT)

    known = {
        "a": rule(readings[0]),
        "b": (rule(readings[1]) + rule(readings[2])) / 2,
        "c": tape(readings[3]),
        "d": tape(readings[4]),
        "ring": ufloat(54, 0.0015),
    }
    for name, formula in zip("pqr", formulas, strict=True):
        said = formula.replace("^", "**").replace(" * 1 rad", "")
        known[name] = eval(said, {"hypot": umath.hypot, "sin": umath.sin, **known})  # drawn above, from nobody's hand
    return known


def _run(readings: list[float], formulas: tuple[str, str, str]) -> Run:
    body = 'step look "Look."\n  measure a in mm using rule\n  measure b in mm using rule\n  measure again b\n'
    body += "  measure c in mm using tape\n  measure d in mm using tape\n"
    body += "".join(f"compute {name} = {formula} in mm\n" for name, formula in zip("pqr", formulas, strict=True))
    run = running(body + 'hold seen "Seen" by lead', HEADER, needs=NEEDS)
    run.say(*(f"{reading:.3f}" for reading in readings))
    return run


@settings(
    max_examples=60,
    deadline=None,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow],
)
@given(cases)
def test_what_formulas_make_of_shared_errors_is_what_the_library_makes_of_them(
    case: tuple[list[float], str, str, str],
) -> None:
    """Values, standard uncertainties, and the covariance of every pair."""
    readings, *written = case
    formulas = (written[0], written[1], written[2])
    if readings[1] == readings[2]:
        readings[2] += 0.001  # readings that all show the same share their resolution: another rule, tested elsewhere
    wanted = _by_library(readings, formulas)
    run = _run(readings, formulas)
    work = Working(run.program, run.state)
    budget = Budget(run.program, {}, run.state.facts)
    forms = {name: budget.form(run.state.top.origins[name][""]) for name in "abcdpqr"}
    scale = max(form.standard for form in forms.values()) * 1000
    for name, form in forms.items():
        assert float(work.amount(name, "")) * 1000 == pytest.approx(wanted[name].n, rel=1e-9, abs=1e-9)
        assert form.standard * 1000 == pytest.approx(wanted[name].s, rel=1e-4, abs=1e-5 * scale), name
    for one in "apq":
        for other in "cqr":
            mine = {source.key: c for source, c in forms[other].terms}
            shared = math.fsum(c * mine.get(source.key, 0.0) for source, c in forms[one].terms) * 1e6
            known = wanted[one].derivatives, wanted[other].derivatives
            theirs = math.fsum(c * known[1].get(v, 0.0) * v.s**2 for v, c in known[0].items())
            assert shared == pytest.approx(theirs, rel=2e-4, abs=2e-5 * scale**2), (one, other)
