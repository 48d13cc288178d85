"""Promises H8, H9 and H10: files that are enormous, knotted or no files at all end in findings, in bounded time.

A procedure names another by a word of letters, digits and underscores, looked for as `WORD.proc` beside it. So no path
can be written in one; what is left to try are the names of files given in a call, and what stands under a name.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import socket
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from drive_help import CALL_LIMIT, ROOT, environment

from proclang.check.check import Checked, check_files
from proclang.cli.main import main
from proclang.program.library import Disk, read_regular
from proclang.session.site import Site, read_site, resolve_facts
from proclang.text import limits

HEAD = 'proclang 1\nprocedure p "P"\n'
SECTION = HEAD + 'section s "S"\n'
STEP = '  step look "Look."\n'

# ---------------------------------------------------------------------------- H8: length and depth


def _line(text: str) -> str:
    return SECTION + text + "\n"


def _blocks(opening: str, count: int) -> str:
    return SECTION + "".join(f"{'  ' * (k + 1)}{opening}\n" for k in range(count))


FILES: dict[str, bytes] = {
    name: data if isinstance(data, bytes) else data.encode()
    for name, data in {
        "brackets": _line("  compute a = " + "(" * 9_000),
        "a million brackets": _line("  compute a = " + "(" * 900_000),
        "closing brackets": _line("  compute a = " + ")" * 9_000),
        "pairs of brackets": _line("  compute a = " + "()" * 4_500),
        "minus signs": _line("  compute a = " + "-" * 9_000 + "1"),
        "sums": _line("  compute a = " + "1+" * 4_500 + "1"),
        "powers": _line("  compute a = " + "2^" * 4_500 + "2"),
        "a tower of powers": _line("  compute a = 9^9^9^9^9"),
        "calls": _line("  compute a = " + "sqrt(" * 1_800 + "1" + ")" * 1_800),
        "nots": _line("  when " + "not " * 2_400 + "a"),
        "commas": _line("  compute a = max(" + "," * 9_000 + ")"),
        "a long number": _line("  compute a = " + "9" * 9_900),
        "a long exponent": _line("  compute a = 1e" + "9" * 9_000),
        "a long name": _line("  step " + "a" * 9_900 + ' "x"'),
        "a long unit": _line("  measure a in " + "m." * 4_900 + "m"),
        "a long text": _line('  step a "' + "x" * 9_900 + '"'),
        "open inserts": _line('  step a "' + "{" * 9_900 + '"'),
        "inserts in inserts": _line('  step a "' + "{a" * 4_000 + "}" * 900 + '"'),
        "backslashes": _line('  step a "' + "\\" * 9_900 + '"'),
        "quotes": _line("  step a " + '"' * 9_900),
        "a line of a mebibyte": b"#" * (limits.FILE_BYTES - 1) + b"\n",
        "one byte too many": b"#" * (limits.FILE_BYTES + 1),
        "a million blank lines": HEAD.encode() + b"\n" * 1_000_000,
        "a million blanks": HEAD.encode() + b" \n" * 500_000,
        "a hundred thousand errors": SECTION + "  stpe\n" * 100_000,
        "twenty thousand steps": SECTION + "".join(f'  step a{k} "A"\n' for k in range(20_000)),
        "blocks in blocks": _blocks("when a", 400),
        "loops in loops": _blocks("repeat a at most 9 times", 400),
        "blocks side by side": SECTION + '  when a\n    step b "B"\n' * 10_000,
        "dedents": SECTION + "".join(f"{' ' * (k % 97)}x\n" for k in range(30_000)),
        "tabs": SECTION + "\t" * 9_000 + "x\n",
        "labels": HEAD + "labels many 1 .. 999999999\n",
        "labels by hand": HEAD + "labels many " + ", ".join(f"a{k}" for k in range(1_900)) + "\n",
        "series of series": _line("  measure a[1 .. 1000][1 .. 1000] in mm"),
        "studs": _line("  compute a = levelling_turns(1 deg, 1 deg, 1 m, 1 mm/turn, studs = 999999999)"),
        "no final newline": SECTION[:-1],
        "a null": SECTION.encode() + b"\x00" * 1_000,
        "a mark of byte order": b"\xef\xbb\xbf" * 1_000 + SECTION.encode(),
        "UTF-16": SECTION.encode("utf-16") * 100,
        "latin-1": 'proclang 1\nprocedure p "é"\n'.encode("latin-1") * 1_000,
        "carriage returns": SECTION.replace("\n", "\r").encode() * 10_000,
        "half a character": SECTION.encode() + b"\xe2\x82",
        "surrogates": SECTION.encode() + b"\xed\xa0\x80" * 1_000,
        "random bytes": bytes((k * k * 31 + k // 7) % 256 for k in range(200_000)),
        "marks of a merge": (HEAD + "<<<<<<< a\n=======\n>>>>>>> b\n" * 20_000),
        "combining marks": _line('  step a "' + "e\u0301" * 4_900 + '"'),
    }.items()
}

BOUNDED = """
import json, resource, sys
# What one process may take for all of them: nothing here is measured, it ends or it is ended.
resource.setrlimit(resource.RLIMIT_AS, (500 << 20, 500 << 20))
resource.setrlimit(resource.RLIMIT_CPU, (50, 50))
from proclang.cli.main import guarded
print("\\n" + json.dumps([guarded(["check", path]) for path in sys.argv[1:]]))
"""


def test_enormous_files_end_in_findings_within_bounds(tmp_path: Path) -> None:
    """Found here: blank lines by the million took half a gigabyte, and a line of braces was read once for each."""
    assert len(FILES) >= 40
    paths = []
    for number, data in enumerate(FILES.values()):
        (tmp_path / str(number)).mkdir()
        paths.append(tmp_path / str(number) / "p.proc")
        paths[-1].write_bytes(data)
    done = subprocess.run(
        [sys.executable, "-c", BOUNDED, *map(str, paths)],
        env=environment(),
        cwd=ROOT,
        capture_output=True,
        timeout=2 * CALL_LIMIT,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2_000:].decode(errors="replace")
    assert b"fault in proclang" not in done.stderr
    assert b"Traceback" not in done.stderr
    codes = dict(zip(FILES, json.loads(done.stdout.splitlines()[-1]), strict=True))
    sound = {"a long text", "combining marks"}  # a text of backslashes alone begins with no verb
    assert {name for name, code in codes.items() if code != 1} == sound
    assert set(codes.values()) == {0, 1}


OTHERS = """
import resource, sys
resource.setrlimit(resource.RLIMIT_AS, (500 << 20, 500 << 20))
resource.setrlimit(resource.RLIMIT_CPU, (40, 40))
from proclang.session.scripted import Script, read_script
from proclang.session.site import Site, read_site
many = range(12_000)
head = b'[site]\\nname = "x"\\n[facts]\\n'
sites = [
    head + b"".join(b"a%d = 1\\n" % k for k in many),
    head + b"".join(b'"a %d" = "\\xe2\\x80\\x8b"\\n' % k for k in many),
    b"".join(b"a%d = 1\\n" % k for k in many),
    b"[site]\\n" + b"".join(b"a%d = 1\\n" % k for k in many),
    b"".join(b"[a%d]\\n" % k for k in many),
    b"".join(b"x%d" % k + b".a" * 4_900 + b" = 1\\n" for k in range(40)),
    b"".join(b"[x%d" % k + b".a" * 4_900 + b"]\\n" for k in range(40)),
    b"".join(b"x%d = {" % k + b"a." * 4_900 + b"a = 1}\\n" for k in range(40)),
    b"a = " + b"[" * 9_000 + b"\\n",
    b"a = " + b"{a = " * 1_900 + b"\\n",
    b'a = "' + b"\\\\" * 9_900,
    b"\\x00" * 1_000_000,
]
replies = [b"=\\n" * 60_000, b"a b c\\n" * 30_000, (b"a/" * 4_900 + b" = 1\\n") * 100, b"\\xe2\\x80\\x8b" * 300_000]
assert not any(isinstance(read_site(data, "site.toml"), Site) for data in sites)
assert not any(isinstance(read_script(data, "a.replies"), Script) for data in replies[:2])
for data in replies[2:]:
    read_script(data, "a.replies")
print(len(sites) + len(replies))
"""


def test_enormous_sites_and_replies_end_in_findings_within_bounds() -> None:
    """Found here: each fact without quotes was looked for in the whole file, and names of thousands of parts keep the
    TOML reader of the standard library busy for minutes."""
    done = subprocess.run(
        [sys.executable, "-c", OTHERS],
        env=environment(),
        cwd=ROOT,
        capture_output=True,
        timeout=2 * CALL_LIMIT,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2_000:].decode(errors="replace")
    assert done.stdout == b"16\n"


def test_a_site_with_many_unknown_facts_is_compared_within_bounds() -> None:
    """Each with each would be a day's work; a slip among the first thousand is still found."""
    inputs = "".join(f"  fact_{k}: length\n" for k in range(150))
    built = check_files(
        "p",
        f"{HEAD}inputs\n  full_torque: length\n{inputs}{SECTION[len(HEAD) :]}{STEP}".encode(),
        Knotted(lambda n: None),
    ).built
    assert built.program is not None
    facts = "".join(f'other_{k} = "1 m"\n' for k in range(20_000))
    site = read_site(f'[site]\nname = "x"\n[facts]\nfull_torqe = "1 m"\n{facts}'.encode(), "site.toml")
    assert isinstance(site, Site)
    found = resolve_facts(built.program, site)
    assert isinstance(found, tuple)
    assert [f.message for f in found if f.code == "unlike-fact"] == ["nothing asks for `full_torqe`"]
    assert sum(f.code == "missing-fact" for f in found) == 151


# ---------------------------------------------------------------------------- H9: knots


class Knotted:
    """Files made as they are asked for, and how many were."""

    def __init__(self, make: Callable[[str], str | None]) -> None:
        self.make = make
        self.asked: list[str] = []

    def shown(self, name: str) -> str:
        return f"{name}.proc"

    def read(self, name: str) -> bytes | None:
        self.asked.append(name)
        text = self.make(name)
        return None if text is None else text.encode()

    def names(self) -> tuple[str, ...]:
        return ()


def knot(make: Callable[[str], str | None], entry: str = "p0") -> tuple[Checked, Knotted]:
    library = Knotted(make)
    text = make(entry)
    assert text is not None
    return check_files(entry, text.encode(), library), library


def performing(name: str, *others: str) -> str:
    lines = "".join(f"  perform {other} as call_{k}\n" for k, other in enumerate(others)) or STEP
    return f'proclang 1\nprocedure {name} "Invented"\nsection s "S"\n{lines}'


def codes(checked: Checked) -> set[str]:
    return {f.code for f in checked.findings if f.severity.value == "error"}


def _next(name: str, by: int = 1) -> str:
    return f"p{int(name[1:]) + by}"


KNOTS: dict[str, tuple[Callable[[str], str | None], set[str], int]] = {
    "a diamond of 2^30": (
        lambda n: performing(n, _next(n), _next(n)) if int(n[1:]) < 30 else performing(n), {"too-many-steps"}, 30
    ),
    "ten at a time, to 10^10": (
        lambda n: performing(n, *[_next(n)] * 10) if int(n[1:]) < 10 else performing(n), {"too-many-steps"}, 10
    ),
    "a chain of ten thousand": (
        lambda n: performing(n, _next(n)) if int(n[1:]) < 10_000 else performing(n), {"perform-depth"}, 32
    ),
    "a chain without end": (lambda n: performing(n, _next(n)), {"perform-depth"}, 32),
    "itself": (lambda n: performing(n, n), {"perform-cycle"}, 0),
    "each other": (lambda n: performing(n, "p1" if n == "p0" else "p0"), {"perform-cycle"}, 1),
    "a ring of thirty": (lambda n: performing(n, f"p{(int(n[1:]) + 1) % 30}"), {"perform-cycle"}, 29),
    "all to all": (
        lambda n: performing(n, *(f"p{k}" for k in range(14))), {"perform-cycle"}, 13
    ),
    "a fan of ten thousand": (
        lambda n: performing(n, *(f"p{k}" for k in range(1, 10_001))) if n == "p0" else performing(n),
        {"set-too-large"},
        199,
    ),
    "a tree without end": (
        lambda n: performing(n, _next(n, int(n[1:]) + 1), _next(n, int(n[1:]) + 2)), {"perform-depth", "set-too-large"},
        199,
    ),
    "names that differ in case": (
        lambda n: performing("p0", "p1", "P1") if n == "p0" else performing(n) if n == "p1" else None,
        {"missing-file"},
        2,
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", KNOTS)
def test_knots_are_found_and_not_followed(name: str) -> None:
    """Each file is read once, no more are read than belong together, and the steps are counted without being made."""
    make, expected, most = KNOTS[name]
    checked, library = knot(make)
    assert codes(checked) & expected
    assert len(library.asked) == len(set(library.asked))
    assert len(library.asked) <= most


def test_loops_around_performs_multiply() -> None:
    """1,000 times in each of ten files is 10^30."""

    def make(name: str) -> str:
        inner = f"    perform {_next(name)}\n" if int(name[1:]) < 10 else "  " + STEP
        return f'proclang 1\nprocedure {name} "I"\nsection s "S"\n  repeat again at most 1000 times\n{inner}'

    checked, _ = knot(make)
    assert codes(checked) == {"too-many-steps"}
    assert "more than a million million" in checked.findings[0].message


# ---------------------------------------------------------------------------- H10: what stands under a name


def check_in(folder: Path, other: str = "other") -> set[str]:
    """Codes for a procedure in a folder that performs another."""
    return codes(check_files("p", performing("p", other).encode(), Disk(str(folder))))


def _symlink(folder: Path, to: str) -> None:
    (folder / "other.proc").symlink_to(to)


def _socket(folder: Path) -> None:
    here = os.getcwd()
    with socket.socket(socket.AF_UNIX) as made:
        os.chdir(folder)  # a socket's path may have a hundred characters only
        try:
            made.bind("other.proc")
        finally:
            os.chdir(here)


def _outside(folder: Path) -> None:
    (folder.parent / "outside.proc").write_text(performing("other"))
    _symlink(folder, "../outside.proc")


def _inside(folder: Path) -> None:
    (folder / "real.proc").write_text(performing("other"))
    _symlink(folder, "real.proc")


STANDING: dict[str, Callable[[Path], object]] = {
    "nothing": lambda f: None,
    "a folder": lambda f: (f / "other.proc").mkdir(),
    "a named pipe": lambda f: os.mkfifo(f / "other.proc"),
    "a socket": _socket,
    "a link out of the folder": _outside,
    "a link inside the folder": _inside,
    "a link to itself": lambda f: _symlink(f, "other.proc"),
    "a link to nothing": lambda f: _symlink(f, "none"),
    "a link to a device": lambda f: _symlink(f, "/dev/zero"),
    "a link to standard input": lambda f: _symlink(f, "/dev/stdin"),
    "a link to the environment": lambda f: _symlink(f, "/proc/self/environ"),
    "a link to memory": lambda f: _symlink(f, "/proc/self/mem"),
    "a twin in capitals": lambda f: (f / "OTHER.proc").write_text(performing("OTHER")),
    "a name with a blank": lambda f: (f / "other .proc").write_text(performing("other")),
}


@pytest.mark.parametrize("what", STANDING)
def test_what_is_no_file_of_that_name_is_a_missing_file(tmp_path: Path, what: str) -> None:
    folder = tmp_path / "set"
    folder.mkdir()
    STANDING[what](folder)
    if what == "a twin in capitals" and (folder / "other.proc").exists():
        pytest.skip("this disk does not tell capitals from small letters")
    assert check_in(folder) == {"missing-file"}


@pytest.mark.parametrize(
    "name",
    ["../outside", "/etc/passwd", "~", "~root", "%2e%2e", "a/b", "..", ".", "-rf", '"other"', "other.proc", "a b"],
)
def test_no_path_can_be_written_where_a_name_belongs(tmp_path: Path, name: str) -> None:
    """The words of the grammar for names are letters, digits and underscores: anything else is no name."""
    (tmp_path / "outside.proc").write_text(performing("outside"))
    (tmp_path / "set").mkdir()
    library = Knotted(lambda n: None)
    check_files("p", performing("p", name).encode(), library)
    assert all(asked.replace("_", "").isalnum() and asked.isascii() for asked in library.asked)


ODD = ["/dev/stdin", "/proc/self/environ", "/dev/zero", "/proc/self/mem", "/dev/null", "", "-", "x" * 300, "none/p"]


@pytest.mark.parametrize("path", ODD, ids=range(len(ODD)))
def test_odd_files_of_a_call_are_refused_in_words(tmp_path: Path, path: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Given as the procedure, the site or the log to compare with."""
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(b"nothing\n")))
    monkeypatch.chdir(tmp_path)
    for call in (
        ["check", path],
        ["run", "p.proc", "--site", path, "--into", "run"],
        ["run", f"{path}.proc", "--site", "s.toml", "--into", "run"],
        ["verify", ".", "--against", path],
        ["resume", path],
        ["status", path],
    ):
        said = io.StringIO()
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
            assert main(call) in (1, 2), call
        assert said.getvalue().strip()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["-rf", "--help", "a\nb", " ", "~", "é" * 120, "$(id)", "%s", "..."])
def test_odd_names_of_files_are_names(tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """255 bytes are a name, a newline in one is shown as text, and behind `--` a dash means nothing."""
    monkeypatch.chdir(tmp_path)
    Path(f"{name}.proc").write_text(SECTION + STEP)
    said = io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
        assert main(["check", "--", f"{name}.proc"]) == 1
    assert "other-file-name" in said.getvalue()
    assert "a\nb" not in said.getvalue()


def test_a_file_exchanged_for_a_link_while_it_is_read_is_never_followed(tmp_path: Path) -> None:
    """A thousand times: the look at what it is and the reading are of one descriptor, so there is no moment between."""
    secret = tmp_path / "secret"
    secret.write_bytes(b"secret")
    folder = tmp_path / "set"
    folder.mkdir()
    disk, target = Disk(str(folder)), folder / "other.proc"
    spare, link = folder / "spare", folder / "link"
    swapping = f"""
import os
while True:
    with open({str(spare)!r}, "wb") as f:
        f.write(b"proclang 1\\n")
    os.rename({str(spare)!r}, {str(target)!r})
    os.symlink({str(secret)!r}, {str(link)!r})
    os.rename({str(link)!r}, {str(target)!r})
"""
    child = subprocess.Popen([sys.executable, "-c", swapping])
    try:
        while not os.path.lexists(target):
            assert child.poll() is None
        read = [disk.read("other") for _ in range(1_000)]
    finally:
        child.kill()
        child.wait()
    assert set(read) <= {None, b"proclang 1\n"}
    assert isinstance(read_regular(str(folder)), OSError)
