"""JSON as this program keeps it: nothing is read two ways, and what is written comes back equal.

RFC 8259 leaves room for repeated names, lone surrogates and numbers no machine can hold; here each is refused, because
two readers that differ on them would differ on what a journal says. Reading takes the C scanner of the
standard library and adds only what is cheap on a line without fault.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
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


_decoder: Any = json.JSONDecoder(object_pairs_hook=_members, parse_constant=_constant, parse_float=_real)
# What `raw_decode` calls, without the call between: it is the cost of a resume.
_decode: Callable[[str, int], tuple[Any, int]] = getattr(_decoder, "scan_once", _decoder.raw_decode)
_ENCODER = json.JSONEncoder(ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def _encoder() -> Callable[[object], str]:
    """`JSONEncoder.encode`, without building its C half anew for every text where that half can be had.

    Without the record of what is being written, a cycle ends in a RecursionError instead of a ValueError.
    """
    make: Any = getattr(json.encoder, "c_make_encoder", None)
    quote: Any = getattr(json.encoder, "encode_basestring", None)
    if make is None or quote is None:
        return _ENCODER.encode
    parts = make(None, _ENCODER.default, quote, None, ":", ",", False, False, False)

    def encode(value: object) -> str:
        return "".join(parts(value, 0))

    return encode


_encode = _encoder()
_decode_plain = json.JSONDecoder().raw_decode
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
    try:
        text = data.decode()
        value, end = _decode(text, 0)
        if "\\u" in text:
            _encode(value).encode()
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
    except StopIteration as stop:
        at = int(stop.value or 0)
        return Problem("json-syntax", f"it is not JSON from character {at + 1} on", start=at, end=at)
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
    try:
        text = _encode(value)
        data = text.encode()
        # Read back without the hooks of `loads`: what they look for cannot come out of the encoder, and this is the
        # cost of every append. A name given twice, as 1 and "1", makes the two differ.
        back = _decode_plain(text)[0]
    except UnicodeEncodeError:
        raise ValueError("half of a surrogate pair stands alone") from None
    except (TypeError, ValueError, RecursionError) as error:
        raise ValueError(f"it cannot be written as JSON: {error}") from None
    if len(data) > JOURNAL_LINE_BYTES:
        raise ValueError(f"it is longer than {JOURNAL_LINE_BYTES} bytes")
    if _too_deep(text):
        raise ValueError(f"it is nested more than {JOURNAL_DEPTH} deep")
    if back != value:
        raise ValueError("it would not come back the same: use only text, numbers, true, false, null, lists and dicts")
    return data
