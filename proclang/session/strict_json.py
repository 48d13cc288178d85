"""JSON as this program keeps it: nothing is read two ways, and what is written comes back equal.

RFC 8259 leaves room for repeated names, lone surrogates and numbers no machine can hold; here each is refused, because
two readers that differ on them would differ on what a journal says.

There are two readers. The fast one decodes without a second look and encodes the value again: when the bytes are the
same, nothing was dropped, turned into something else or read two ways, for all of that would come out otherwise. Every
line this program writes is read so. Whatever comes out otherwise, a line of another hand or of an earlier version or a
forged one, goes to the strict reader, which takes what may be taken and says what is wrong with the rest.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from functools import cache
from types import GenericAlias
from typing import Any

from proclang.text.diagnostic import Problem
from proclang.text.limits import JOURNAL_DEPTH, JOURNAL_LINE_BYTES


class _Refused(Exception):
    """Carries the reason out of the scanner's hooks."""


def _members(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) != len(pairs):
        raise _Refused("the same name is used twice in one object")
    return members


def _constant(text: str) -> float:
    raise _Refused(f"{text} is not a number JSON has")


def _real(text: str) -> float:
    value = float(text)
    if value - value != 0.0:
        raise _Refused("a number is too large")
    return value


_decode: Callable[[str], tuple[Any, int]] = json.JSONDecoder(
    object_pairs_hook=_members, parse_constant=_constant, parse_float=_real
).raw_decode

_USUAL_DEPTH = 7
"""Lists and objects within each other that the fast reader takes; entries of this program have five at most."""


@cache
def codec() -> tuple[Callable[[object], bytes], Callable[[bytes], Any]]:
    """The encoder, and the decoder whose word goes only for bytes the encoder gives back.

    The decoder raises `ValueError` or `RecursionError`, also for what is nested deeper than any entry.
    """
    import msgspec

    # The depth is part of the type, so that it is looked after in the decoder's own loop and costs nothing.
    plain: Any = None | bool | int | float | str
    kind: Any = plain
    for _ in range(_USUAL_DEPTH):
        kind = plain | GenericAlias(list, kind) | GenericAlias(dict, (str, kind))
    return msgspec.json.Encoder().encode, msgspec.json.Decoder(kind).decode


_STRING_OR_BRACKET = re.compile(r'"(?:[^"\\]|\\.)*"|[\[\]{}]')


def _too_deep(text: str) -> bool:
    """Whether brackets stand open deeper than allowed, in a text already known to be JSON (so every string ends)."""
    if text.count("[") + text.count("{") <= JOURNAL_DEPTH:
        return False
    depth = 0
    for found in _STRING_OR_BRACKET.finditer(text):
        mark = found.group()
        if mark in "[{":
            depth += 1
            if depth > JOURNAL_DEPTH:
                return True
        elif mark in "]}":
            depth -= 1
    return False


def loads(data: bytes) -> Any | Problem:
    """The value of one JSON text without blanks around it, or what is wrong with it. Never raises.

    Refused: more than `JOURNAL_LINE_BYTES` bytes, bytes that are not UTF-8, a repeated name, NaN and infinities,
    numbers that overflow or have thousands of digits, lone surrogates, nesting deeper than `JOURNAL_DEPTH`.
    """
    if len(data) > JOURNAL_LINE_BYTES:
        return Problem("json-long", f"it is longer than {JOURNAL_LINE_BYTES} bytes")
    encode, decode = codec()
    try:
        value = decode(data)
        if encode(value) == data:
            return value
    except (ValueError, RecursionError):
        pass  # the strict reader says why, or takes it after all
    return _loads_strictly(data)


def _loads_strictly(data: bytes) -> Any | Problem:
    try:
        text = data.decode()
        value, end = _decode(text)
        if "\\u" in text:
            codec()[0](value)  # where a surrogate stands alone, this fails
    except _Refused as refused:
        return Problem("json-value", str(refused))
    except UnicodeDecodeError as error:
        return Problem("json-utf8", f"byte {error.start + 1} is not UTF-8", start=error.start, end=error.end)
    except UnicodeEncodeError:
        return Problem("json-surrogate", "half of a surrogate pair stands alone")
    except RecursionError:
        return Problem("json-deep", f"it is nested more than {JOURNAL_DEPTH} deep")
    except json.JSONDecodeError as error:
        return Problem(
            "json-syntax", f"it is not JSON from character {error.pos + 1} on", start=error.pos, end=error.pos
        )
    except ValueError:
        return Problem("json-value", "a whole number has too many digits")
    if end != len(text):
        return Problem("json-syntax", f"something follows the JSON at character {end + 1}", start=end, end=len(text))
    if _too_deep(text):
        return Problem("json-deep", f"it is nested more than {JOURNAL_DEPTH} deep")
    return value


def dumps(value: object) -> bytes:
    """Compact UTF-8 JSON, members in the order given, that `loads` gives back equal.

    Raises `ValueError` with the reason for anything else: a value JSON has not, NaN, a tuple (it would come back a
    list), a key that is not text, a lone surrogate, nesting or length over the limits.
    """
    encode, decode = codec()
    try:
        data = encode(value)
    except UnicodeEncodeError:
        raise ValueError("half of a surrogate pair stands alone") from None
    except (TypeError, ValueError, RecursionError) as error:
        raise ValueError(f"it cannot be written as JSON: {error}") from None
    if len(data) > JOURNAL_LINE_BYTES:
        raise ValueError(f"it is longer than {JOURNAL_LINE_BYTES} bytes")
    try:
        back = decode(data)
    except (ValueError, RecursionError):
        back = _loads_strictly(data)
        if isinstance(back, Problem):
            raise ValueError(f"it cannot be written as JSON: {back.message}") from None
    # The encoder writes much that JSON has not, as something that it has. A name given twice, as 1 and "1", shows too.
    if back != value:
        raise ValueError("it would not come back the same: use only text, numbers, true, false, null, lists and dicts")
    return data
