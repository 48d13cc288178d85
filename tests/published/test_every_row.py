"""Every row of the table of published values is checked by a test, or says why it is not."""

from __future__ import annotations

import ast
from pathlib import Path

from rows import HERE, ROWS, TOPICS


def marked() -> dict[str, list[str]]:
    """Row name -> the tests marked with it, read from the sources: no test has to be run to know."""
    found: dict[str, list[str]] = {}
    for path in sorted(HERE.glob("test_*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name) or node.func.id != "row":
                continue
            for argument in node.args:
                assert isinstance(argument, ast.Constant), f"{path.name}:{node.lineno} names its rows one by one"
                found.setdefault(str(argument.value), []).append(path.name)
    return found


def reasons() -> dict[str, str]:
    """Row name -> why no test covers it, from the `NOT_COVERED` of the test files."""
    found: dict[str, str] = {}
    for path in sorted(HERE.glob("test_*.py")):
        found.update(_reasons_of(path))
    return found


def _reasons_of(path: Path) -> dict[str, str]:
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name) and node.target.id == "NOT_COVERED":
            assert node.value is not None
            return dict(ast.literal_eval(node.value))
    return {}


def test_every_row_is_checked_or_says_why_not() -> None:
    """A new row in the table has to be dealt with."""
    assert set(marked()) | set(reasons()) == set(ROWS)
    assert not set(marked()) & set(reasons())


def test_at_least_two_hundred_rows_are_checked() -> None:
    """The measure of what the built-ins cover."""
    assert len(marked()) >= 200


def test_a_reason_is_one() -> None:
    """Not a shrug."""
    assert all(len(reason) > 20 for reason in reasons().values())


def test_every_topic_of_the_table_has_a_name() -> None:
    """The report goes by them."""
    assert {row.topic for row in ROWS.values()} == set(TOPICS)
