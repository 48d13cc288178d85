"""Small readers of what is typed at a question: one of a few words, free text, that something is done, a date."""

from __future__ import annotations

import calendar
import datetime
import re

from proclang.engine.wording import spoken
from proclang.text import limits
from proclang.text.diagnostic import Problem
from proclang.text.printable import has_hidden
from proclang.text.suggest import nearest
from proclang.values.quantity import Quantity
from proclang.values.unit import find_unit

_DAY = 86_400
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")

NOTHING_SAID = frozenset({"yes", "y", "no", "n", "ok", "okay", "done", "fine", "good", "sure", "-", ".", "x"})
"""Answers that say nothing where a fact or a reason is wanted."""


def read_choice(text: str, options: tuple[str, ...]) -> str | Problem:
    """One of a few words: the word, its number in the list, or a beginning that only one has."""
    folded = _folded(text)
    if folded in (_folded(o) for o in options):
        return next(o for o in options if _folded(o) == folded)
    numbered = not any(c.isdigit() for o in options for c in o)
    if numbered and re.fullmatch("[0-9]{1,4}", text) and 1 <= int(text) <= len(options):
        return options[int(text) - 1]
    starts = [o for o in options if folded and _folded(o).startswith(folded)]
    shown = [spoken(o) for o in options]
    if len(starts) == 1:
        return starts[0]
    if not text:
        return Problem("not-a-choice", "an answer is wanted", hint="type one of: " + ", ".join(shown))
    near = nearest(text, shown, most=1)
    hint = f"did you mean `{near[0]}`?" if near else "type one of: " + ", ".join(shown)
    return Problem("not-a-choice", f"`{text[:60]}` is not one of the answers", hint=hint)


def _folded(word: str) -> str:
    """A word whichever way its parts are joined: `test lifted` is what is said of `test_lifted`."""
    return spoken(word).casefold()


def read_words(text: str, what: str) -> str | Problem:
    """Free text, not empty and not endless."""
    if not text:
        return Problem("no-text", f"{what} is wanted", hint="type it, then Enter")
    if len(text) > limits.REPLY_CHARACTERS:
        return Problem("too-long", f"at most {limits.REPLY_CHARACTERS:,} characters are taken here")
    if has_hidden(text):
        return Problem("hidden-character", "the text holds a character that cannot be seen", hint="type it again")
    return text


def read_done(text: str, word: str, when: str) -> Problem | None:
    """That something has been done: never Enter alone. `when` it may be said stands in what is said otherwise."""
    if text.casefold() in (word, word[0], "y", "yes"):
        return None
    return Problem("not-done", f"type `{word}` {when}", hint=f"`{word[0]}` is enough, Enter alone is not")


def due(date: datetime.date, within: Quantity) -> datetime.date:
    """The last day of an interval from a date on: whole months by the calendar, other times in whole days."""
    month = find_unit("month")
    assert not isinstance(month, Problem)
    months = within.value / month.factor
    if months.denominator != 1:
        days = within.value / _DAY
        return date + datetime.timedelta(days=min(int(days), (datetime.date.max - date).days))
    years, months_on = divmod(date.month - 1 + int(months), 12)
    if date.year + years > datetime.MAXYEAR:
        return datetime.date.max
    first = datetime.date(date.year + years, months_on + 1, 1)
    return first.replace(day=min(date.day, calendar.monthrange(first.year, first.month)[1]))


def read_date(text: str) -> datetime.date | Problem:
    """A date as 2031-04-17, and in no other form: 04/05 is read in two ways."""
    try:
        if _DATE.fullmatch(text):
            return datetime.date.fromisoformat(text)
    except ValueError:
        pass
    return Problem("not-a-date", f"`{text[:40]}` is not a date", hint="write it as 2031-04-17")
