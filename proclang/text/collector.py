"""Python's search for cyclic garbage, put off while a great many objects are made of which none can be garbage yet."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def collector_paused() -> Iterator[None]:
    """No search while this lasts; to be put around bounded work only.

    Every so many new objects the collector walks all there are, so making n of them takes more than n steps. Objects
    without cycles are freed all the same.
    """
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collecting:
            # There and back, and all that was made counts as old, without being walked once more.
            gc.freeze()
            gc.unfreeze()
            gc.enable()
