"""The house: each room knows those above it, never those below, and importing one does nothing."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "proclang"
ROOMS = ("text", "values", "syntax", "field", "program", "check", "engine", "session", "log", "study", "plan", "cli")
FILES = sorted(PACKAGE.rglob("*.py"))


def room_of(path: Path) -> str | None:
    parts = path.relative_to(PACKAGE).parts
    return parts[0] if len(parts) > 1 else None


def imported_modules(tree: ast.AST) -> set[str]:
    """Modules of this package that a file imports anywhere in it, functions included."""
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names if alias.name.startswith("proclang"))
        elif isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("proclang"):
            found.update(f"{node.module}.{alias.name}" for alias in node.names)
    return found


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_a_room_imports_only_rooms_above_it(path: Path) -> None:
    """Also inside functions: a lazy import is an import."""
    room = room_of(path)
    if room is None:
        return
    allowed = ROOMS[: ROOMS.index(room) + 1]
    for name in imported_modules(ast.parse(path.read_text(encoding="utf-8"))):
        parts = name.split(".")
        if len(parts) > 1 and parts[1] in ROOMS:
            assert parts[1] in allowed, f"{room} imports {name}"


def test_every_folder_of_the_package_is_a_room() -> None:
    """A new folder has to be given its place in the order first."""
    folders = {p.name for p in PACKAGE.iterdir() if p.is_dir() and p.name not in ("__pycache__", "grammar")}
    assert folders <= set(ROOMS)


def test_no_import_cycle_between_modules() -> None:
    """At import time; an import inside a function may close a circle without harm."""
    edges: dict[str, set[str]] = {}
    for path in FILES:
        name = ".".join(("proclang", *path.relative_to(PACKAGE).with_suffix("").parts)).removesuffix(".__init__")
        tree = ast.parse(path.read_text(encoding="utf-8"))
        top = ast.Module([n for n in tree.body if not isinstance(n, (ast.FunctionDef, ast.ClassDef, ast.If))], [])
        edges[name] = imported_modules(top)
    modules = set(edges)

    def target(name: str) -> str | None:
        return name if name in modules else (name.rpartition(".")[0] if name.rpartition(".")[0] in modules else None)

    done: set[str] = set()

    def visit(module: str, path: tuple[str, ...]) -> None:
        assert module not in path, " -> ".join([*path, module])
        if module in done:
            return
        for other in edges[module]:
            found = target(other)
            if found is not None and found != module:
                visit(found, (*path, module))
        done.add(module)

    for module in sorted(modules):
        visit(module, ())


# Only what is heavy and not needed by everyone; see the speed table of the design.
HEAVY = {"prompt_toolkit", "jinja2", "numpy", "erfa", "pint", "asyncio", "hypothesis", "pytest", "lark"}


def loaded_by(code: str) -> set[str]:
    result = subprocess.run(
        [sys.executable, "-c", code + "\nimport sys; print(' '.join(sys.modules))"],
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    return {name.partition(".")[0] for name in result.stdout.split()}


@pytest.mark.parametrize(
    ("room", "allowed"),
    [
        ("proclang.text.render", set()),
        ("proclang.values.reader", set()),
        ("proclang.field.registry", set()),
        ("proclang.program.build", set()),
        ("proclang.engine.decide", set()),
        ("proclang.session.run", set()),
        ("proclang.cli.main", set()),
    ],
)
def test_importing_a_room_loads_nothing_heavy(room: str, allowed: set[str]) -> None:
    """Start-up stays short because heavy libraries are imported where they are used."""
    assert loaded_by(f"import {room}") & HEAVY <= allowed


def test_importing_the_engine_touches_nothing_outside() -> None:
    """No file is opened, no clock read, while the engine is imported and asked."""
    code = (
        "import builtins, os, time\n"
        "import proclang.engine.decide, proclang.engine.fold, proclang.engine.request\n"
        "def no(*a, **k): raise SystemExit('the engine went outside')\n"
        "builtins.open = no; os.open = no; time.time = no; time.monotonic = no\n"
        "from proclang.engine.fold import replay\n"
        "assert replay([]).status == 'new'\n"
    )
    assert "proclang" in loaded_by(code)
