"""The promises reach through all rooms, so their tests use the helpers of several."""

from __future__ import annotations

import sys
from pathlib import Path

for _room in ("acceptance", "drivers", "session", "log", "check", "syntax"):
    _path = str(Path(__file__).parents[1] / _room)
    if _path not in sys.path:
        sys.path.insert(0, _path)
