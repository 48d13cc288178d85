"""Every rule of writing, and the looking: one file in, warnings out."""

from __future__ import annotations

from proclang.check.writing import conditions, document, hazards, numbers, steps
from proclang.check.writing.rule import EVERY_RULE, Rule, Seen, Wanted
from proclang.text.diagnostic import Diagnostic, Severity

RULES: tuple[Rule, ...] = (*hazards.RULES, *steps.RULES, *conditions.RULES, *numbers.RULES, *document.RULES)
"""By what they are about."""

BY_CODE = {rule.code: rule for rule in RULES}


def in_force(wanted: Wanted) -> tuple[Rule, ...]:
    """The rules that are looked at."""
    every = EVERY_RULE in wanted.also
    return tuple(rule for rule in RULES if rule.usual or every or rule.code in wanted.also)


def find_writing(seen: Seen) -> list[Diagnostic]:
    """Warnings about one sound file, a procedure or a machine. Time is linear in its length."""
    return [
        Diagnostic(rule.code, f.message, f.span, hint=f.hint, also=f.also, severity=Severity.WARNING)
        for rule in in_force(seen.wanted)
        for f in rule.look(seen)
    ]
