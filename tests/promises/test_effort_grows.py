"""Promise H11: four times as much to read is about four times the work, whatever it looks like.

The work is counted, not timed: function calls of a whole check with its findings shown, and lines of Python run in the
smaller readers. What one call into a pattern costs is bounded by the length of a line; `tests/benchmarks` times it.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import partial
from types import FrameType
from typing import Any

import pytest

from proclang.check.check import check_files
from proclang.check.writing.rule import EVERY_RULE, Wanted
from proclang.log.markdown import code, inline, told
from proclang.session import lock, strict_json
from proclang.session.journal import read_bytes
from proclang.session.look import wrap
from proclang.session.scripted import read_script
from proclang.session.site import read_site
from proclang.text.decode import decode
from proclang.text.printable import printable
from proclang.text.render import render_json, render_text
from proclang.text.suggest import did_you_mean
from proclang.values.reader import read_quantity

HEAD = 'proclang 1\nprocedure p "P"\n'
NEEDS = HEAD + "needs\n  crew lead\n  authority lead\n"
SECTION = NEEDS + 'section s "S"\n'
SMALL, LARGE = 100, 400


class Alone:
    """No other files but one machine and one procedure."""

    def shown(self, name: str) -> str:
        return f"{name}.proc"

    def read(self, name: str) -> bytes | None:
        return {
            "rig": b'proclang 1\nmachine rig "Rig"\nkind cover\n  states fitted, removed\ncap: cover "cap"\n',
            "sub": b'proclang 1\nprocedure sub "Sub"\nsection s "S"\n  step look "Look."\n',
        }.get(name)

    def names(self) -> tuple[str, ...]:
        return ("rig", "sub")


def checked(text: str) -> None:
    result = check_files("p", text.encode(), Alone(), writing=Wanted(frozenset({EVERY_RULE})))
    render_text(result.findings, result.files.sources)
    render_json(result.findings, result.files.sources)


def calls_of(work: Callable[[], object]) -> int:
    """Function calls, of Python and of C."""
    count = 0

    def watch(frame: FrameType, event: str, argument: object) -> None:
        nonlocal count
        count += event in ("call", "c_call")

    before = sys.getprofile()
    sys.setprofile(watch)
    try:
        work()
    finally:
        sys.setprofile(before)
    return count


def lines_of(work: Callable[[], object]) -> int:
    """Lines of Python run."""
    count = 0

    def watch(frame: FrameType, event: str, argument: object) -> Any:
        nonlocal count
        count += 1
        return watch

    before = sys.gettrace()
    sys.settrace(watch)
    try:
        work()
    finally:
        sys.settrace(before)
    return count


def each(line: str) -> Callable[[int], str]:
    """A section in which a line, or several, stand n times; `#` is the number."""
    return lambda n: SECTION + "".join(line.replace("#", str(k)) for k in range(n))


SHAPES: dict[str, Callable[[int], str]] = {
    "steps": each('  step a# "A" by lead\n'),
    "readings": each('  step a# "A"\n    measure gap# in mm\n      within 1 .. 2 mm\n'),
    "calculations on one another": lambda n: (
        SECTION + "  compute x0 = 1 mm\n" + "".join(f"  compute x{k + 1} = x{k} + 1 mm\n" for k in range(n))
    ),
    "texts with values": lambda n: (
        SECTION + "  compute x = 1 mm\n" + "".join(f'  step a{k} "At {{x to 0.1 mm}}."\n' for k in range(n))
    ),
    "hazards that are badly said": each(
        '  caution c# "Rim # and edge"\n    risk "Cut hands."\n    avoid "Wear gloves."\n  step a# "Turn it slowly."\n'
    ),
    "hazards in a row": lambda n: (
        SECTION
        + "".join(f'  caution c{k} "Rim"\n    risk "Cut."\n    avoid "The glove."\n' for k in range(n))
        + '  step a "Turn it."\n'
    ),
    "one hazard over and over": lambda n: (
        SECTION
        + '  caution c "Rim"\n    risk "Cut."\n    avoid "Wear gloves."\n'
        + "".join(f'  step a{k} "Turn it if it is slowly and it may be."\n  caution c\n' for k in range(n))
        + '  step last "Turn it."\n'
    ),
    "allowances": each('  # allow vague-word: it is so\n  # allow modal-verb\n  step a# "Turn it slowly."\n'),
    "unknown names": each('  step a# "At {gone_#}."\n'),
    "unknown units": each('  step a# "A"\n    measure gap# in mmm#\n'),
    "unknown roles": each('  step a# "A" by nobody_#\n'),
    "names twice": each('  step again "A"\n'),
    "branches side by side": lambda n: (
        SECTION
        + '  confirm ok "O"\n'
        + "".join(f'  when ok is yes\n    step a{k} "A"\n  otherwise\n    step b{k} "B"\n' for k in range(n))
    ),
    "loops side by side": each(
        '  repeat r# at most 2 times\n    step a# "A"\n      measure g# in mm\n        at most 1 mm\n'
    ),
    "performs": each("  perform sub as call_#\n"),
    "hardware": lambda n: (
        NEEDS
        + 'machine rig\n  cap found fitted, left fitted\nsection s "S"\n'
        + "".join(
            f'  step a{k} "A"\n    now cap is removed\n  step b{k} "B"\n    now cap is fitted\n' for k in range(n)
        )
    ),
    "hazards": each('  warning h# "H"\n    risk "R."\n    avoid "A."\n  step a# "A" by lead\n'),
    "sections": lambda n: NEEDS + "".join(f'section s{k} "S"\n  step a "A"\n' for k in range(n)),
    "inputs that nothing uses": lambda n: (
        HEAD + "inputs\n" + "".join(f"  x{k}: length\n" for k in range(n)) + 'section s "S"\n  step a "A"\n'
    ),
    "damaged lines": each('  stpe a# "A"\n'),
    "odd indentation": each('   step a# "A"\n'),
    "braces in a line": lambda n: SECTION + '  step a "' + "{" * (4 * n) + '"\n',
    "hidden characters": lambda n: SECTION + f'  step a "{chr(0x200B) * n}"\n',
    "blank lines and comments": lambda n: HEAD + "\n# c\n" * n + 'section s "S"\n  step a "A"\n',
    "labels": lambda n: HEAD + "labels l " + ", ".join(f"a{k}" for k in range(n)) + '\nsection s "S"\n  step a "A"\n',
    "series": lambda n: SECTION + f'  step a "A"\n    measure g[1 .. {n}] in mm\n  compute m = mean(g)\n',
}


@pytest.mark.parametrize("shape", SHAPES.values(), ids=SHAPES)
def test_a_check_grows_with_the_length_and_no_faster(shape: Callable[[int], str]) -> None:
    """The part that does not grow, such as the opening, makes the factor less; a sort adds a logarithm."""
    checked(shape(3))  # tables are made once, and are not counted
    small, large = (calls_of(partial(checked, shape(n))) for n in (SMALL, LARGE))
    assert large <= 4.4 * small


def test_there_are_twenty_shapes() -> None:
    assert len(SHAPES) >= 20


RECORD = b'{"n":1,"run":"r","prev":"' + b"0" * 64 + b'","a":1,"sha":"' + b"0" * 64 + b'"}'
READERS: dict[str, tuple[Callable[[Any], object], Callable[[int], Any]]] = {
    "decode": (lambda d: decode(d, "x"), lambda n: b"x\n" * n),
    "decode: other line ends": (lambda d: decode(d, "x"), lambda n: b"x\r\x0b\x0c" * n),
    "decode: merges": (lambda d: decode(d, "x"), lambda n: b"<<<<<<< a\n" * n),
    "printable": (printable, lambda n: "\x1b" * n),
    "wrap: words": (lambda t: wrap(t, 40), lambda n: "word " * n),
    "wrap: one word": (lambda t: wrap(t, 40), lambda n: "x" * n),
    "wrap: slashes": (lambda t: wrap(t, 20), lambda n: "a/" * n),
    "wrap: wide": (lambda t: wrap(t, 20), lambda n: "漢" * n),
    "markdown: backticks": (code, lambda n: "`" * n),
    "markdown: stars": (inline, lambda n: "*_[" * n),
    "markdown: spans": (told, lambda n: "`a` *" * n),
    "a reading": (lambda t: read_quantity(t, reply=True), lambda n: "1 " * n),
    "a unit": (lambda t: read_quantity(t, reply=True), lambda n: "1 " + "m." * n),
    "a site": (lambda d: read_site(d, "s"), lambda n: b"[facts]\n" + b"".join(b'a%d = "1 m"\n' % k for k in range(n))),
    "a site: deep": (lambda d: read_site(d, "s"), lambda n: b"a = " + b"[" * n),
    "a site: dots": (lambda d: read_site(d, "s"), lambda n: b"a" + b".a" * n + b" = 1\n"),
    "replies": (lambda d: read_script(d, "r"), lambda n: b"a/b = 1\n" * n),
    "replies: damaged": (lambda d: read_script(d, "r"), lambda n: b"== = !\n" * n),
    "JSON: deep": (strict_json.loads, lambda n: b"[" * n + b"]" * n),
    "JSON: strings": (strict_json.loads, lambda n: b"[" + b",".join([b'"[{"'] * n) + b"]"),
    "a journal: not its own": (read_bytes, lambda n: (RECORD + b"\n") * n),
    "a journal: beginnings": (read_bytes, lambda n: RECORD[:91] * n),
    "a journal: ends": (read_bytes, lambda n: RECORD[-75:] * n),
    "mounts": (lambda t: lock.kind_among("/a/b", t), lambda n: "1 2 3 / /a rw - ext4 x\n" * n),
    "what was meant": (lambda names: did_you_mean("steep", names), lambda n: [f"step_{k}" for k in range(n)]),
}


@pytest.mark.parametrize("reader", READERS)
def test_readers_of_one_thing_grow_no_faster(reader: str) -> None:
    """Lines run in Python: a loop inside a loop shows here."""
    read, make = READERS[reader]
    read(make(3))

    def count(n: int) -> int:
        given = make(n)
        return lines_of(lambda: read(given))

    small, large = count(300), count(1_200)
    assert large <= 4.6 * small + 200
