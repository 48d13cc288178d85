"""What is known while one procedure is lowered, and the few things every kind of statement does with it.

A statement kind is lowered by a function `(Lowering, node) -> None`; which one is said in the table of `lower.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any

import attrs

from proclang.program import model as m
from proclang.program.header import Needs
from proclang.program.names import Definitions, Ways, apart
from proclang.program.scope import RESERVED, Scope
from proclang.syntax import nodes as n
from proclang.syntax.printer import print_line
from proclang.text.diagnostic import Label
from proclang.text.span import Span

Lower = Callable[["Lowering", Any], None]


@attrs.define
class LoopOpen:
    """A `repeat` being lowered: where it is left, and what has been set there since it began. `depth` is how many
    layers of certain names there are around it."""

    name: str
    depth: int
    leaves: list[int] = attrs.field(factory=list)
    certain: list[set[str]] = attrs.field(factory=list)


@attrs.define
class StepOpen:
    """A step being lowered. `begins_with_answer`: somebody says that it is done before any of it takes effect."""

    node: n.Step
    pc: int
    begins_with_answer: bool
    held_back: list[Callable[[], None]] = attrs.field(factory=list)


@attrs.frozen
class Former:
    """`formerly old` at a name; `path` is the identity of what it stands in, `value` whether it holds a value."""

    path: str
    old: n.Name
    new: n.Name
    value: bool


class Inside:
    """A part of a procedure that is being lowered; at its end what was put on some stacks for it is taken off."""

    __slots__ = ("_stacks",)

    def __init__(self, *stacks: list[Any]) -> None:
        self._stacks = stacks

    def __enter__(self) -> None:
        return None

    def __exit__(self, *raised: object) -> None:
        for stack in self._stacks:
            stack.pop()


@attrs.define
class Lowering:
    """One procedure on its way to instructions. `routines` are those it may perform, lowered before, and `others` what
    is known of the files they and the machine are in."""

    procedure: str
    scope: Scope
    needs: Needs
    machine: m.Machine | None
    machine_named: bool
    hazards: dict[str, m.HazardInfo]
    routines: Mapping[str, m.Routine]
    others: Mapping[str, Scope]
    definitions: Definitions
    judged: frozenset[str]
    walk: Callable[[Lowering, Iterable[n.Node]], None]
    code: list[m.Instr] = attrs.field(factory=list)
    formers: list[Former] = attrs.field(factory=list)
    loops: list[LoopOpen] = attrs.field(factory=list)
    blocks: list[int] = attrs.field(factory=list)
    step: StepOpen | None = None
    stopping: bool = False
    damaged: int = 0
    """How many damaged lines there are around this one: nothing is said about what stands where."""
    loose: int = 0
    """How many of them may be a `for each`: a label that is not known may be where it stands."""
    read_at: dict[str, dict[tuple[int, ...], int]] = attrs.field(factory=dict)
    behind: dict[str, dict[tuple[int, ...], int]] = attrs.field(factory=dict)
    """For a computed name: by block, where the first of the readings behind it is taken."""
    counts: dict[str, tuple[tuple[n.Facet | n.Broken, ...], tuple[n.Label, ...]]] = attrs.field(factory=dict)
    """For a value that counts something: what stands under it, and its labels."""
    computed: dict[str, list[tuple[m.ComputeValue, Ways]]] = attrs.field(factory=dict)
    """The lines that compute a name, and which ways they stand on."""
    asked_by: dict[str, str] = attrs.field(factory=dict)
    identities: set[str] = attrs.field(factory=set)
    _address: list[str] = attrs.field(factory=list)
    _identity: list[str] = attrs.field(factory=list)
    _ways: list[tuple[int, int]] = attrs.field(factory=list)
    _branches: int = 0
    _block_count: int = 0
    _loop_count: int = 0
    _taken: dict[str, list[tuple[str, Ways, Span]]] = attrs.field(factory=dict)
    _addresses: dict[str, int] = attrs.field(factory=dict)
    _unnamed: dict[str, int] = attrs.field(factory=dict)

    # ------------------------------------------------------------------ places

    def at(self, address: str, identity: str | None = None) -> Inside:
        """What is emitted inside stands below this part of an address and, if given, of an identity."""
        self._address.append(address)
        if identity is None:
            return Inside(self._address)
        self._identity.append(identity)
        return Inside(self._address, self._identity)

    def block(self) -> Inside:
        """What is emitted inside is run as a whole; only readings of this block can be taken again from within."""
        self._block_count += 1
        self.blocks.append(self._block_count)
        return Inside(self.blocks)

    def arm(self, branch: int, index: int) -> Inside:
        """One of the ways a branch goes; what two of them name excludes each other."""
        self._ways.append((branch, index))
        return Inside(self._ways)

    @contextmanager
    def under_damage(self, *, loose: bool = False) -> Iterator[None]:
        """Lines under a damaged or misplaced one: still read, for the names they set and their own mistakes."""
        self.damaged += 1
        self.loose += loose
        yield
        self.damaged -= 1
        self.loose -= loose

    @property
    def ways(self) -> Ways:
        """The arms of all branches this line stands in."""
        return tuple(self._ways)

    def new_branch(self) -> int:
        """A number for a branch, to tell its arms from those of another."""
        self._branches += 1
        return self._branches

    def new_loop(self) -> int:
        """A number for a `for each`."""
        self._loop_count += 1
        return self._loop_count

    def identity(self, *more: str) -> str:
        """The author's path of names to here."""
        return "/".join([self.procedure, *self._identity, *more])

    def where(self, node: n.Node, *more: str, unnamed: bool = False) -> dict[str, Any]:
        """The address, identity and span of an instruction; an address used before gets a number.

        So does the identity of an `unnamed` line, such as the second `when` of a section: no name tells them apart.
        Neither holds a blank: a question's address is the first word of a line in a file of replies.
        """
        if more and " " in "".join(more):
            more = tuple(part.replace(", ", ",").replace(" ", "_") for part in more)
        address = "/".join([*self._address, *more])
        count = self._addresses.get(address, 0) + 1
        self._addresses[address] = count
        if count > 1:
            address = f"{address}~{count}"
        identity = self.identity(*more)
        if unnamed:
            self._unnamed[identity] = number = self._unnamed.get(identity, 0) + 1
            identity = f"{identity}~{number}" if number > 1 else identity
        self.identities.add(identity)
        return {"address": address, "identity": identity, "span": node.span}

    # ------------------------------------------------------------------ instructions

    def emit(self, instr: m.Instr) -> int:
        """Add an instruction; its place in the list."""
        self.code.append(instr)
        return len(self.code) - 1

    def patch(self, pc: int, **changes: Any) -> None:
        """Fill in what was not known when the instruction was emitted."""
        self.code[pc] = attrs.evolve(self.code[pc], **changes)

    def jump(self, node: n.Node, target: int = -1) -> int:
        """A jump, to be patched where its target is not known yet."""
        return self.emit(m.Jump(target=target, **self.where(node, ".jump")))

    @property
    def here(self) -> int:
        """Where the next instruction goes."""
        return len(self.code)

    def statements(self, body: Iterable[n.Node]) -> None:
        """Lower a block."""
        self.walk(self, body)

    def hold_back(self, emit: Callable[[], None]) -> None:
        """Until the next question of the step has been answered, ways part, or the step ends; nothing is recorded as
        done before anybody has answered."""
        if self.step is not None and not self.step.begins_with_answer:
            self.step.held_back.append(emit)
        else:
            emit()

    def release(self) -> None:
        """Emit what was held back: a question has been answered, ways part, or the step ends."""
        if self.step is not None:
            held, self.step.held_back = self.step.held_back, []
            for emit in held:
                emit()

    # ------------------------------------------------------------------ names

    def take(self, name: n.Name, what: str, *, repeatable: bool = False) -> None:
        """A name for an identity: one in its place, ways that exclude each other apart. Two `repeatable` ones of one
        kind may share theirs, since only what stands inside them is ever referred to."""
        if self.damaged or self.scope.shifted:
            return
        key = self.identity(name.text)
        ways = self.ways
        for other, earlier, span in self._taken.get(key, ()):
            if (repeatable and other == what) or apart(ways, earlier):
                continue
            self.scope.say(
                "duplicate-name",
                f"there is a {other} `{name}` here already",
                name.span,
                hint="give it a name of its own; names say which one is meant in the log",
                also=(Label(span, "first here"),),
            )
            return
        self._taken.setdefault(key, []).append((what, ways, name.span))

    def former(self, name: n.Name, former: n.Name | None, *, value: bool = False) -> None:
        """Note the name something had in an earlier revision."""
        if former is not None:
            self.formers.append(Former(self.identity(), former, name, value))

    def declare(self, symbol: m.Symbol, name: n.Name) -> None:
        """A value that this line sets."""
        scope = self.scope
        earlier = scope.symbols.get(symbol.name)
        if symbol.name in RESERVED:
            scope.say("reserved-name", f"`{name}` is known without being set", name.span, hint="choose another name")
        elif earlier is not None and symbol.name not in scope.excused:
            self._declare_again(symbol, earlier, name)
        else:
            for known, what in ((scope.columns, "a column of a table"), (scope.label_sets, "a set of labels")):
                if symbol.name in known:
                    scope.say("duplicate-name", f"`{name}` is {what} already", name.span, hint="choose another name")
            if scope.loop_labels(symbol.name) is not None:
                scope.say("duplicate-name", f"`{name}` is the label of the loop around it", name.span)
            self.take(name, "value")
        if not symbol.facets.judged:
            scope.unjudged.add(symbol.name)
        scope.symbols.setdefault(symbol.name, symbol)
        scope.certain.add(symbol.name)

    def _declare_again(self, symbol: m.Symbol, earlier: m.Symbol, name: n.Name) -> None:
        if earlier.how == "input":
            self.scope.say(
                "duplicate-name",
                f"`{name}` is an input and cannot be set again",
                name.span,
                also=(Label(earlier.span, "declared here"),),
            )
        elif not self.damaged and not self.scope.shifted and not self.definitions.exclusive(symbol.name, name):
            self.scope.say(
                "duplicate-name",
                f"`{name}` is set by another line already",
                name.span,
                hint="choose another name; to read it once more write `measure again`",
                also=(Label(earlier.span, "first set here"),),
            )
        elif earlier.type != symbol.type:
            self.scope.say(
                "other-kind",
                f"`{name}` is {symbol.type.describe()} here and {earlier.type.describe()} in another arm",
                name.span,
                hint="give the two names of their own, or make them alike",
                also=(Label(earlier.span, "set here"),),
            )
        else:
            self.take(name, "value")

    def declare_unknown(self, name: n.Name) -> None:
        """A value whose line has been complained about: nothing more is said of it."""
        self.scope.excused.add(name.text)
        self.scope.certain.add(name.text)

    def people(self, names: tuple[n.Name, ...]) -> tuple[str, ...]:
        """Roles of the crew who do, confirm or sign one thing."""
        seen: set[str] = set()
        for role in names:
            if role.text in seen:
                self.scope.say("twice", f"`{role}` stands here twice; a role is one person", role.span)
            seen.add(role.text)
            self.scope.used.add(role.text)
            if role.text not in self.needs.crew:
                self.scope.say_unknown(
                    "unknown-role",
                    f"nobody in the crew is `{role}`",
                    role,
                    self.needs.crew,
                    "declare the role under `needs`, in the line `crew`",
                )
        return tuple(role.text for role in names)

    def instrument(self, name: n.Name, dimension: m.Amount | None) -> None:
        """An instrument used to read a value of that dimension."""
        self.scope.used.add(name.text)
        known = self.needs.instruments.get(name.text)
        if known is None:
            self.scope.say_unknown(
                "unknown-instrument",
                f"no instrument `{name}` is among the needs",
                name,
                self.needs.instruments,
                f'add `instrument {name} "..."` under `needs`',
            )
        elif known.reads is not None and dimension is not None:
            reads, wanted = known.reads, attrs.evolve(dimension.dimension, frame="")
            if reads != wanted:
                self.scope.say(
                    "dimension-mismatch",
                    f"`{name}` reads {reads.phrase}; this reading is {dimension.dimension.phrase}",
                    name.span,
                )


def head(node: n.Node) -> Span:
    """The first word of a statement: enough to underline."""
    return Span(node.span.file, node.span.start, node.span.start + len(print_line(node).split()[0]))


def first_word(node: n.Node) -> str:
    """The word a statement begins with, as it is talked about."""
    return "a sentence" if isinstance(node, n.Prose) else f"`{print_line(node).split()[0]}`"


def no_condition() -> m.Formula:
    """Stands in for a condition that was complained about; never evaluated, since such a procedure is not run."""
    return m.Formula(m.Truth(), lambda env: False, "", ())
