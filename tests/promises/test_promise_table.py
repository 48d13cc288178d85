"""The table of promises is true: what it names exists, what tests a promise is named, and no count is made up."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from promise_help import BIDI, C0_DEL_C1, FORMAT, SEQUENCES

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
TABLE = (HERE / "README.md").read_text(encoding="utf-8")
ROWS = [
    [cell.strip() for cell in line.strip("|").split("|")]
    for line in TABLE.splitlines()
    if re.match(r"\| [DEH]\d", line)
]


def test_every_promise_has_one_row() -> None:
    numbers = [row[0].split()[0] for row in ROWS]
    assert sorted(numbers) == sorted([f"D{k}" for k in range(1, 12)] + [f"E{k}" for k in range(1, 5)] + [
        f"H{k}" for k in range(1, 18)
    ])  # fmt: skip
    assert all(len(row) == 4 for row in ROWS)


def test_every_file_named_exists_and_every_promise_that_is_kept_has_one() -> None:
    named = re.findall(r"`(tests/[a-z_/]+\.py)`", TABLE)
    assert [path for path in named if not (ROOT / path).is_file()] == []
    for promise, files, count, adapted in ROWS:
        if files:
            assert re.fullmatch(r"(`tests/[a-z_/]+\.py`(, )?)+", files), promise
            assert re.search(r"\d|every", count), promise
        else:
            assert adapted.startswith(("there are none yet", "there is none yet")), promise


@pytest.mark.parametrize("path", sorted(HERE.glob("test_*.py")), ids=lambda p: p.name)
def test_every_test_here_stands_in_the_table(path: Path) -> None:
    assert f"`tests/promises/{path.name}`" in TABLE or path.name == Path(__file__).name


def row(number: str) -> list[str]:
    return next(cells for cells in ROWS if cells[0].startswith(f"{number} "))


def test_counts_are_those_of_the_tests() -> None:
    """Where a list of this folder is counted, its length is looked up."""
    import test_clocks_gone_wrong as clocks
    import test_effort_grows as effort
    import test_git_side as git_side
    import test_hostile_files as hostile
    import test_leaving_anyhow as leaving
    import test_lookalike_text as lookalike
    import test_surroundings as surroundings

    assert f"{len(C0_DEL_C1)} controls, {len(FORMAT)} format characters, {len(SEQUENCES)} sequences" in row("H1")[2]
    assert (
        f"{len(BIDI)} bidi controls in {len(lookalike.PLACES)} places; {len(lookalike.OTHERS)} scripts" in row("H2")[2]
    )
    assert f"{len(leaving.WAYS)} ways at {len(leaving.PLACES)} places" in row("D9")[2]
    assert f"{len(hostile.FILES)} files" in row("H8")[2]
    assert f"{len(hostile.KNOTS) + 1} knots" in row("H9")[2]
    assert f"{len(hostile.STANDING)} things under a name, 12 words, {len(hostile.ODD)} odd files" in row("H10")[2]
    assert f"{len(effort.SHAPES)} shapes of a check, {len(effort.READERS)} of other readers" in row("H11")[2]
    assert f"{len(git_side.CASES)} cases" in row("H15")[2]
    assert f"{len(surroundings.PLACES)} environments, {len(surroundings.STREAMS)} streams" in row("H16")[2]
    assert f"| {len(clocks.CLOCKS)} bent clocks" in TABLE
