"""Terminals of the grammar in the words of the person writing, for "expected ..." in a message."""

from __future__ import annotations

TERMINAL_WORDS: dict[str, str] = {
    "NAME": "a name",
    "NUMBER": "a number",
    "STRING": "a quoted text",
    "IN_UNIT": "`in` and a unit",
    "_NL": "the end of the line",
    "_INDENT": "an indented block",
    "_DEDENT": "the end of the block",
    "$END": "the end of the file",
    "_COMMA": "`,`",
    "_COLON": "`:`",
    "_EQUALS": "`=`",
    "_LPAR": "`(`",
    "_RPAR": "`)`",
    "_LSQB": "`[`",
    "_RSQB": "`]`",
    "_TO_RANGE": "`..`",
    "PLUS_MINUS": "`±`",
    "COMPARISON": "`<`, `<=`, `>` or `>=`",
    "PLUS": "`+`",
    "MINUS": "`-`",
    "STAR": "`*`",
    "SLASH": "`/`",
    "CARET": "`^`",
    "SIGNAL_WORD": "`danger`, `warning`, `caution` or `notice`",
    "ONE_OF": "`one of`",
    "READS_TO": "`reads to`",
    "REPEATS_TO": "`repeats to`",
    "ACCURATE_TO": "`accurate to`",
    "ACCURATE_IN_ALL_TO": "`accurate in all to`",
    "CALIBRATED_WITHIN": "`calibrated within`",
    "CALIBRATED_TO": "`calibrated to`",
    "DRIFTS_BY": "`drifts by`",
    "KNOWN_TO": "`known to`",
    "AT_K": "`at k`",
    "NOBODY_IS_BOTH": "`nobody is both`",
    "ONLY_WHILE": "`only while`",
    "ONLY_BY_OWN_ROLE": "`only by their own role`",
    "ASK_NOTHING_WHILE": "`ask nothing while`",
    "MEASURE_AGAIN": "`measure again`",
    "COMPUTE_AGAIN": "`compute again`",
    "AT_MOST": "`at most`",
    "AT_LEAST": "`at least`",
    "JUDGED_BY": "`judged by`",
    "NO_DEVIATION": "`no deviation`",
    "DUE_BEFORE": "`due before`",
    "READ_BACK": "`read back`",
    "READ_AGAIN": "`read again after a power cycle`",
    "ACCORDING_TO": "`according to`",
    "LEAVE_WHEN": "`leave when`",
    "FOR_EACH": "`for each`",
    "IF_STOPPED": "`if stopped`",
    "IN_STAR_ORDER": "`in star order`",
    "IN_ANY_ORDER": "`in any order`",
    "BLANK": "a blank",
    "BROKEN": "a line",
    "TIMES_SIGN": "`x`",
}

SOFT_WORDS = frozenset({"FOUND", "LEFT", "PASSES", "FAILS", "SPREAD", "TIMES_SIGN"})
"""Keywords that may also be names; "expected a name" covers them."""


def in_words(terminal: str) -> str:
    """A terminal's name as the writer would say it; a keyword is its own word."""
    known = TERMINAL_WORDS.get(terminal)
    if known is not None:
        return known
    return f"`{terminal.strip('_').lower()}`"
