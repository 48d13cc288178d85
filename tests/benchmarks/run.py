"""The speed of proclang, as ratios against something public, measured in one run.

    python tests/benchmarks/run.py            # all rows
    python tests/benchmarks/run.py append log # some rows

Absolute times mean nothing on a shared machine, so each row times a pair in turn, A B A B ..., and prints the median
ratio with its least and greatest. Nothing here is asserted. Needs `pip install -e ".[bench]"`.
"""

from __future__ import annotations

import json
import os
import random
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(Path(__file__).parent)]

from content import forked_text, performed_twice, plain_text, procedure_text, program_files, yaml_text  # noqa: E402

Pair = tuple[Callable[[], object], Callable[[], object]]


def timed(action: Callable[[], object]) -> float:
    start = time.perf_counter()
    action()
    return time.perf_counter() - start


def ratios(pair: Pair, rounds: int) -> list[float]:
    """A over B, pair by pair, after one round that is not counted."""
    a, b = pair
    a(), b()
    return [timed(a) / timed(b) for _ in range(rounds)]


def show(name: str, what: str, values: list[float], target: str) -> None:
    median = statistics.median(values)
    print(f"{name:10} {median:8.3f}  ({min(values):.3f} to {max(values):.3f})  target {target:22} {what}", flush=True)


def process(*arguments: str, stdin: str | None = None, **more: str) -> Callable[[], object]:
    """A whole process, its bytecode already written; `more` goes into its environment."""
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    environment |= {"PYTHONPATH": str(ROOT), **more}

    def run() -> object:
        return subprocess.run(
            [sys.executable, *arguments], env=environment, input=stdin, text=True, capture_output=True, check=False
        )

    return run


# ---------------------------------------------------------------------------- rows


def row_yaml() -> None:
    import yaml

    from proclang.check.check import check_files
    from proclang.check.writing.rule import USUAL

    text, plain = procedure_text(3000), yaml_text(3000)
    library = program_files({"long": text})
    data = text.encode()
    pair = (lambda: yaml.load(plain, yaml.SafeLoader), lambda: check_files("long", data, library, None, USUAL))
    show("yaml", "PyYAML SafeLoader over parse and check, 3,000 lines", ratios(pair, 7), "at least 3")


def row_check() -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "short.proc"
        path.write_text(procedure_text(300, "short"), encoding="utf-8")
        call = ("-m", "proclang", "check", str(path))
        pair = (process(*call, "--no-cache"), process("-c", "pass"))
        show("check", "`check` of 300 lines over `python -c pass`", ratios(pair, 15), "at most 12")
        pair = (process(*call, XDG_CACHE_HOME=folder), process("-c", "pass"))
        show("again", "the same when nothing has changed", ratios(pair, 15), "at most 6")


def row_version() -> None:
    show("version", "`--version` over `python -c pass`",
         ratios((process("-m", "proclang", "--version"), process("-c", "pass")), 15), "at most 3")  # fmt: skip
    show("help", "`--help` over `python -c pass`",
         ratios((process("-m", "proclang", "--help"), process("-c", "pass")), 15), "at most 3")  # fmt: skip


def row_run() -> None:
    with tempfile.TemporaryDirectory() as folder:
        site = ROOT / "procedures" / "sites" / "northern.toml"
        procedure = ROOT / "procedures" / "observatory" / "level_base.proc"
        count = iter(range(10**6))

        def start() -> object:
            into = str(Path(folder) / str(next(count)))
            arguments = ("-m", "proclang", "run", str(procedure), "--site", str(site), "--into", into, "--plain")
            return process(*arguments, stdin="")()

        show("run", "start of `run` to the first question over `python -c pass`",
             ratios((start, process("-c", "pass")), 11), "at most 18")  # fmt: skip


def row_append() -> None:
    from proclang.session import chain
    from proclang.session.files import Files
    from proclang.session.journal import JournalWriter

    entry = _entries(1)[0]
    line = chain.seal(chain.FIRST_PREVIOUS, 1, "bench", entry) + b"\n"
    with tempfile.TemporaryDirectory(dir=ROOT / ".git" if (ROOT / ".git").is_dir() else None) as folder:
        raw = os.open(Path(folder) / "raw", os.O_WRONLY | os.O_CREAT | os.O_APPEND)
        writer = JournalWriter.create(Files(), Path(folder) / "journal.jsonl", "bench")
        assert isinstance(writer, JournalWriter)

        def plain() -> None:
            os.write(raw, line)
            os.fsync(raw)

        # What one fsync costs depends on the one before it, so which of a pair goes first is drawn.
        draw = random.Random(1)
        medians = []
        for _ in range(7):
            ours: list[float] = []
            theirs: list[float] = []
            for _ in range(300):
                pair = [(ours, lambda: writer.append(entry)), (theirs, plain)]
                draw.shuffle(pair)
                for times, action in pair:
                    times.append(timed(action))
            medians.append(statistics.median(ours) / statistics.median(theirs))
        writer.close()
        os.close(raw)
    show("append", "p50 of a durable append over p50 of raw write and fsync", medians, "at most 1.15")


def _entries(count: int) -> list[dict[str, object]]:
    return [
        {
            "ask": f"job/work/pass#{i}/look/x",
            "kind": "answer",
            "reply": "12.5 mm",
            "at": {"utc": "2031-05-01T09:22:13Z", "offset": "+00:00", "date": "2031-05-01", "mono": i, "boot": "b"},
            "then": [
                {"is": "read", "at": f"job/work/pass#{i}/look/x", "name": "x", "typed": "12.5 mm", "value": "12.5 mm",
                 "new": True},
                {"is": "value", "name": "x", "value": "12.5 mm"},
                {"is": "verdict", "at": "job/work/look/x", "name": "x", "outcome": "passes", "limits": "9 to 14 mm"},
                {"is": "rest", "address": "work/look/x", "phase": "read", "key": "", "new": True},
            ],
        }
        for i in range(count)
    ]  # fmt: skip


def row_replay() -> None:
    from proclang.engine.fold import replay
    from proclang.engine.model import Entry
    from proclang.session import chain
    from proclang.session.journal import read_bytes

    entries = _entries(100_000)
    entries[0]["then"] = [{"is": "opened", "facts": {}}, *entries[0]["then"]]  # type: ignore[misc]
    lines, head = [], chain.FIRST_PREVIOUS
    for n, entry in enumerate(entries, 1):
        sealed = chain.seal(head, n, "bench", entry)
        head = chain.head_of(sealed)
        lines.append(sealed)
    data = b"\n".join(lines) + b"\n"
    del entries, entry  # else the search for garbage in the other half of each pair walks them again and again

    def whole() -> object:
        return replay(Entry.from_json(x) for x in read_bytes(data).entries)

    show("replay", "reading, verifying and replaying 100,000 entries over `json.loads` of the lines",
         ratios((whole, lambda: [json.loads(x) for x in lines]), 5), "at most 1.0")  # fmt: skip


def row_formula() -> None:
    import pint

    from proclang.program.build import build
    from proclang.program.instructions import ComputeValue
    from proclang.program.load import load

    text = procedure_text(30, "short").replace("section part_0", "section part_0", 1)
    built = build(load("short", text.encode(), program_files({"short": text})))
    assert built.program is not None
    compute = next(i for i in built.program.main.code if isinstance(i, ComputeValue))
    from fractions import Fraction

    eighth = Fraction(1, 80)

    class Fixed:
        def amount(self, name: str, key: str) -> Fraction:
            return eighth

        series = label = outcome = amount

    registry = pint.UnitRegistry()
    a, b = registry.Quantity(12.5, "millimeter"), registry.Quantity(12.5, "millimeter")
    ours = lambda: [compute.formula.evaluate(Fixed()) for _ in range(1000)]  # noqa: E731
    theirs = lambda: [((a + b) / 2 * 3).to("millimeter") for _ in range(1000)]  # noqa: E731
    show("formula", "pint arithmetic over one formula with units", ratios((theirs, ours), 7), "at least 100")


def row_log() -> None:
    from content import long_run

    from proclang.log.render import render_log

    with tempfile.TemporaryDirectory() as folder:
        run = long_run(Path(folder) / "run", 10_000)
        same = [e.to_json() for e in run.entries]
        show("log", "log of 10,000 readings over `json.dumps` of the same",
             ratios((lambda: render_log(run), lambda: json.dumps(same)), 9), "at most 3")  # fmt: skip


def row_length() -> None:
    def files(lines: int) -> dict[str, str]:
        names = {f"part_{k}": procedure_text(5_000, f"part_{k}") for k in range((lines - 1) // 5_000)}
        return {"whole": procedure_text(min(lines, 5_000), "whole", performs=tuple(names)), **names}

    _growth("length", {lines: files(lines) for lines in (100, 1_000, 10_000, 100_000)}, "lines")


def row_branches() -> None:
    from proclang.check.check import check_files

    forked, plain = forked_text(40), plain_text(40)
    assert forked.count("\n") == plain.count("\n")
    library = program_files({"forked": forked, "plain": plain})
    pair = (
        lambda: check_files("forked", forked.encode(), library),
        lambda: check_files("plain", plain.encode(), library),
    )
    show("branches", "check of 40 two-way branches in a row over as many lines without one", ratios(pair, 15), "near 1")
    _growth("branches", {n: {"forked": forked_text(n)} for n in (50, 100, 200, 400, 800, 1_600)}, "forks in a row")
    chains = {2**depth: dict(reversed(performed_twice(depth).items())) for depth in (4, 8, 16, 30)}
    _growth("performs", chains, "performs written out")


def _growth(name: str, sets: dict[int, dict[str, str]], what: str) -> None:
    """Time a line, over that of the smallest set: the least of some rounds, since memory is all that should grow."""
    from proclang.check.check import check_files
    from proclang.check.writing.rule import USUAL

    base = None
    for size, texts in sets.items():
        entry, library = next(iter(texts)), program_files(texts)
        lines = sum(text.count("\n") for text in texts.values())
        check = lambda: check_files(entry, texts[entry].encode(), library, None, USUAL)  # noqa: B023, E731
        check()
        per_line = min(timed(check) for _ in range(max(1, min(9, 20_000 // lines)))) / lines
        base = base or per_line
        print(f"{name:10} {per_line / base:8.3f}  time a line over that of the first, {lines:,} lines, {size:,} {what}")


ROWS: dict[str, Callable[[], None]] = {
    "yaml": row_yaml, "check": row_check, "version": row_version, "run": row_run, "append": row_append,
    "replay": row_replay, "formula": row_formula, "log": row_log, "length": row_length, "branches": row_branches,
}  # fmt: skip


def main(names: list[str]) -> None:
    for name in names or ROWS:
        ROWS[name]()


if __name__ == "__main__":
    main(sys.argv[1:])
