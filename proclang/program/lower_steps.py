"""Steps: their texts, who does them, and whether somebody says that they are done."""

from __future__ import annotations

from collections.abc import Iterable

import attrs

from proclang.program import model as m
from proclang.program.lower_hardware import changes
from proclang.program.lowering import Lowering, StepOpen
from proclang.program.scope import Scope
from proclang.program.texts import compile_text, plain_text
from proclang.syntax import nodes as n
from proclang.syntax.printer import operand
from proclang.values.dimension import TIME

QUESTIONS = (n.Measure, n.MeasureAgain, n.Confirm, n.Choose, n.Note, n.Photo, n.SetValue)
"""Statements of a step that somebody answers."""


def lower_step(low: Lowering, node: n.Step) -> None:
    """A step, shown as a whole with its sentences and figures, and then gone through."""
    low.take(node.name, "step")
    low.former(node.name, node.former)
    people = low.people(node.people)
    outer = low.step
    with low.at(node.name.text, node.name.text):
        prose = tuple(compile_text(s.text, low.scope) for s in node.body if isinstance(s, n.Prose))
        figures = tuple(
            (plain_text(s.path, low.scope), compile_text(s.caption, low.scope))
            for s in node.body
            if isinstance(s, n.Figure)
        )
        title = compile_text(node.title, low.scope)
        first = begins_with_answer(node.body)
        pc = low.emit(
            m.BeginStep(
                name=node.name.text,
                title=title,
                prose=prose,
                figures=figures,
                people=people,
                takes=takes_text(node.takes, low.scope),
                changes=(),
                ask_done=first,
                **low.where(node),
            )
        )
        low.step = StepOpen(node, pc, first)
        low.statements(s for s in node.body if not isinstance(s, (n.Prose, n.Figure)))
        low.release()
        low.emit(m.EndStep(name=node.name.text, ask_done=first, **low.where(node, ".end")))
        changed = tuple(changes(low, node.body, ()))
        if changed:
            low.patch(pc, changes=changed)
        low.step = outer


@attrs.define
class _Answers:
    """How far the answers of a step have come: whether one has been given on every way here, whether something waits
    for one, and whether something took effect without any."""

    answered: bool = False
    waiting: bool = False
    too_early: bool = False

    def take_effect(self) -> None:
        self.too_early |= self.waiting and not self.answered
        self.waiting = False


def begins_with_answer(body: Iterable[n.Node]) -> bool:
    """Whether somebody has to say that a step is done before it goes on: on some way through it nothing is asked, or
    hardware would be recorded as changed before anything is."""
    answers = _Answers()
    _follow(body, answers)
    answers.take_effect()
    return answers.too_early or not answers.answered


def _follow(body: Iterable[n.Node], answers: _Answers) -> None:
    for node in body:
        if isinstance(node, QUESTIONS):
            answers.answered, answers.waiting = True, False
        elif isinstance(node, (n.Now, n.Upsets)):
            answers.waiting = True
        elif isinstance(node, (n.When, n.According)):
            answers.take_effect()
            if isinstance(node, n.When):
                ways = [node.body, node.otherwise.body if node.otherwise is not None else ()]
            else:
                ways = [arm.body for arm in node.arms if isinstance(arm, n.Arm)]
            everywhere = True
            for way in ways:
                inside = _Answers(answers.answered)
                _follow(way, inside)
                inside.take_effect()
                answers.too_early |= inside.too_early
                everywhere &= inside.answered
            answers.answered |= everywhere and bool(ways)


def takes_text(takes: n.Takes | None, scope: Scope) -> str:
    """How long something takes, as written, after having looked at its units."""
    if takes is None:
        return ""
    entered = []
    shared = takes.high if isinstance(takes.high, n.Literal) else None
    unit = scope.quietly().quantity(shared.number) if shared is not None else None
    for each in (takes.low, takes.high):
        if each is None:
            continue
        if not isinstance(each, n.Literal):
            scope.say("not-a-number", "`takes` wants a number with its unit", each.span)
            continue
        read = scope.quantity(each.number, unit.unit if unit is not None else None)
        if read is not None and read.quantity.dimension != TIME:
            scope.say("dimension-mismatch", "`takes` wants a time, such as `30 .. 50 min`", each.span)
        elif read is not None:
            entered.append(read.quantity)
    if len(entered) == 2 and entered[0] > entered[1]:
        scope.say("limits-reversed", "the range goes down", takes.span, hint="write the lower end first")
    return operand(takes.low) + (f" .. {operand(takes.high)}" if takes.high is not None else "")
