"""Promises H4, H5 and H7, what the rooms do not count: nothing that somebody wrote is taken for a programme, and ten
thousand readings are read as what they were written as.
"""

from __future__ import annotations

import ast
import contextlib
import io
import random
import shutil
from fractions import Fraction
from pathlib import Path

import pytest
from drive_help import SAMPLES, at_once, ordinary, proclang, run_arguments, typed_day

import proclang as package
from proclang.cli.main import main
from proclang.values.reader import Entered, read_quantity
from proclang.values.show import exact_text
from proclang.values.unit import Unit, find_unit

SIGNS = [
    "{{98765*97531}}",
    "{% print(1) %}",
    "{0.__class__}",
    "{x.__init__}",
    "%s",
    "%(x)s",
    "${x}",
    "$(id)",
    "`id`",
    "#{x}",
]
MODULES = sorted(Path(package.__file__).parent.rglob("*.py"))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A run whose names, notes and replies are signs of template languages and shells."""
    folder = tmp_path_factory.mktemp("signs") / "run"
    day = typed_day(ordinary()[:9])
    at_once(*run_arguments(folder), typed=day + "".join(f"! {sign}\n" for sign in SIGNS))
    return folder


@pytest.mark.parametrize(
    "arguments", [("log", "--stdout"), ("verify",), ("status",), ("status", "--format", "json"), ("resume",)], ids=str
)
def test_signs_of_templates_and_shells_come_out_as_they_went_in(folder: Path, arguments: tuple[str, ...]) -> None:
    """Log, recomputation, status, and the prompt that shows what has been entered."""
    name, *more = arguments
    done = proclang(name, folder, *more, typed="entered\n")
    shown = done.stdout.decode()
    # Digits by the pair stand in any hash; all of this product by chance do not.
    assert str(98765 * 97531) not in shown
    if name in ("log", "resume"):
        for sign in SIGNS[-5:] if name == "resume" else SIGNS:
            assert sign in shown


def test_signs_in_the_titles_of_a_procedure_are_refused_or_shown(tmp_path: Path) -> None:
    """In a procedure a brace is an insert of a name and nothing else; an attribute, a call, a width are no names."""
    for number, sign in enumerate((*SIGNS, "{x:>2000000000}", "{x!r}", "{x()}", "{x[0]}", "{x to 1e99999 mm}", "{}")):
        samples = tmp_path / str(number)
        shutil.copytree(SAMPLES, samples)
        path = samples / "rinse.proc"
        path.write_text(path.read_text().replace("valve wheel", "wheel").replace("Shut the tap.", sign))
        shown = io.StringIO()
        with contextlib.redirect_stdout(shown), contextlib.redirect_stderr(io.StringIO()):
            assert main(["check", str(path)]) == (1 if "{" in sign else 0), (sign, shown.getvalue())
        assert sign in shown.getvalue() or "{" not in sign


FORBIDDEN = {"eval", "exec", "compile", "__import__", "from_string", "system", "popen"}
DANGEROUS = {"pickle", "marshal", "shelve", "csv"}


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(Path(package.__file__).parent)))
def test_no_module_can_run_a_text_or_write_a_spreadsheet(path: Path) -> None:
    """No unpickling, no evaluation, no shell, no `str.format` on data; and no CSV, so that promise H4, formulas in
    cells, has nowhere to be broken: what is exported is JSON."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            assert {alias.name.partition(".")[0] for alias in node.names} & DANGEROUS == set()
        elif isinstance(node, ast.ImportFrom):
            assert (node.module or "").partition(".")[0] not in DANGEROUS
        elif isinstance(node, ast.Call):
            if isinstance(node.func, ast.Attribute):
                called, of = node.func.attr, ast.unparse(node.func.value)
                assert called not in FORBIDDEN or (of, called) == ("re", "compile"), ast.unparse(node)
                # There, a message of our own with a name in it; a name is letters, digits and underscores.
                assert called != "format" or path.name == "scope.py", ast.unparse(node)
            elif isinstance(node.func, ast.Name):
                assert node.func.id not in FORBIDDEN, ast.unparse(node)


UNITS = ["mm", "m", "in", "um", "deg", "arcmin", "arcsec", "rad", "N.m", "kg", "s", "min", "V", "mm/turn", "m/s", ""]


def test_ten_thousand_readings_are_read_back_as_they_are_shown() -> None:
    """Any exact value in any of the units: what is shown of it is read as the same value again."""
    chance = random.Random(20310504)
    for _ in range(10_000):
        symbol = chance.choice(UNITS)
        number = Fraction(chance.randint(-(10**9), 10**9), 10 ** chance.randint(0, 9))
        places = 9
        text = f"{number.numerator * 10**places // number.denominator / 10**places:.{places}f} {symbol}".strip()
        entered = read_quantity(text, reply=True)
        assert isinstance(entered, Entered), (text, entered)
        unit = find_unit(symbol) if symbol else entered.unit
        assert isinstance(unit, Unit)
        again = read_quantity(exact_text(entered.quantity, unit), reply=True)
        assert isinstance(again, Entered), text
        assert again.quantity == entered.quantity
