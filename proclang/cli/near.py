"""What was perhaps meant by a path that is not there."""

from __future__ import annotations

import os

_RUN_MARK = "journal.jsonl"
_MOST_NAMES = 1_000


def near_file(path: str, suffix: str = "") -> tuple[str, ...]:
    """A line to say, or nothing: files beside it with a name like it."""
    return _near(path, [name for name in _beside(path) if name.endswith(suffix)])


def near_run(path: str) -> tuple[str, ...]:
    """A line to say, or nothing: folders of runs beside it with a name like it."""
    path = path.rstrip("/")
    folder = os.path.dirname(path)
    return _near(path, [n for n in _beside(path) if os.path.exists(os.path.join(folder, n, _RUN_MARK))])


def _beside(path: str) -> list[str]:
    try:
        return os.listdir(os.path.dirname(path) or ".")[:_MOST_NAMES]
    except (OSError, ValueError):
        return []


def _near(path: str, names: list[str]) -> tuple[str, ...]:
    from proclang.text.suggest import did_you_mean

    hint = did_you_mean(os.path.basename(path), names)
    return (f"  {hint}",) if hint else ()
