"""Python's search for circles of forgotten objects, put off while very many objects are made at once."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def search_put_off() -> Iterator[None]:
    """For work on a text of bounded length that makes trees and programs, which hold no circles: the search would go
    over all of them again and again and find nothing."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
