"""Where in a procedure something happened, as a key to sort by: the log follows the procedure, not the clock.

Two runs of one procedure then show the same things in the same order, however often a loop went round and in which
order steps were picked. Within a procedure the order is that of its lines; a loop is told pass by pass, a `for each`
label by label. What a performed procedure did comes behind the section that performed it.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from functools import cached_property

import attrs

from proclang.engine.model import State
from proclang.program import model as m
from proclang.text.limits import BLOCK_DEPTH, PERFORM_DEPTH

Key = tuple[tuple[int, ...], ...]
Order = tuple[tuple[int, ...], ...]

_NO_LABELS: dict[str, int] = {}
NOWHERE = 1 << 30
"""Behind everything: an occurrence the program has no instruction for."""

_TURNS = re.compile(r"(?:#[0-9]+|\[[^\[\]/]*\])(?=/|$)")


class Strayed(ValueError):
    """Entries that no run of any procedure could have left; `str()` says why."""


@attrs.define
class RoutineMap:
    """Looked-up places of one routine."""

    routine: m.Routine
    _found: dict[tuple[str, str], int] = attrs.field(factory=dict)

    @cached_property
    def _by_identity(self) -> dict[str, int]:
        """First instruction by identity, and by identity without labels."""
        places: dict[str, int] = {}
        for pc, instr in enumerate(self.routine.code):
            names = instr.identity.split("/")[1:]
            places.setdefault("/".join(names), pc)
            places.setdefault(_bare("/".join(names)), pc)
        return places

    @cached_property
    def _begins(self) -> dict[str, list[int]]:
        """Where loops of a name begin."""
        begins: dict[str, list[int]] = {}
        for pc, instr in enumerate(self.routine.code):
            if isinstance(instr, m.BeginLoop):
                begins.setdefault(instr.name, []).append(pc)
            elif isinstance(instr, m.BeginEach):
                begins.setdefault(instr.variable, []).append(pc)
        return begins

    @cached_property
    def _labels(self) -> dict[str, dict[str, int]]:
        """Places of labels in the loops over them."""
        return {
            instr.variable: {label: place for place, label in enumerate(instr.labels)}
            for instr in self.routine.code
            if isinstance(instr, m.BeginEach)
        }

    def place(self, relative: str) -> int:
        """The instruction of an occurrence, given without the path of its frame."""
        path, _, last = relative.rpartition("/")
        shape = (_bare(path), last)
        pc = self._found.get(shape)
        if pc is None:
            pc = self._found[shape] = self._look_up(*shape)
        return pc

    def _look_up(self, path: str, last: str) -> int:
        while True:
            whole = f"{path}/{last}" if path else last
            for identity in (whole, _bare(whole)):
                if identity in self._by_identity:
                    return self._by_identity[identity]
            if not path:
                return NOWHERE
            # `limit/read_back` and `beam/eyewear` belong to the instruction above them.
            path, _, last = path.rpartition("/")

    def pc_at(self, address: str) -> int:
        """The instruction at an address."""
        return self.routine.index.get(address, NOWHERE)

    def instruction(self, pc: int) -> m.Instr | None:
        """The instruction at a place."""
        return self.routine.code[pc] if 0 <= pc < len(self.routine.code) else None

    @cached_property
    def _left_on(self) -> dict[str, dict[str, None]]:
        names: dict[str, dict[str, None]] = {}
        for instr in self.routine.code:
            if isinstance(instr, m.Leave):
                names.setdefault(instr.loop, {}).update(dict.fromkeys(instr.condition.names))
        return names

    def left_on(self, loop: str) -> tuple[str, ...]:
        """The values a loop is left on."""
        return tuple(self._left_on.get(loop, ()))

    def key(self, pc: int, loops: list[tuple[str, int | str]]) -> Key:
        """What to sort by within one section of one frame."""
        if len(loops) > BLOCK_DEPTH:
            raise Strayed("loops lie deeper than a procedure may nest them")
        labels, key = self._labels, []
        for name, turn in loops:
            # The loop of that name nearest above: names of loops may come again in another section.
            begins = self._begins.get(name, ())
            above = bisect_right(begins, pc)
            begin = begins[above - 1] if above else NOWHERE
            key.append((begin, turn if isinstance(turn, int) else labels.get(name, _NO_LABELS).get(turn, NOWHERE)))
        return (*key, (pc,))


def _bare(path: str) -> str:
    """A path without pass numbers and labels."""
    return _TURNS.sub("", path) if "#" in path or "[" in path else path


@attrs.define
class Group:
    """A section that is being gone through, and where it stands among the others."""

    order: Order
    title: str
    call: str
    """The occurrence of the call to the procedure it is in; empty in the procedure that is run."""


@attrs.define
class Here:
    """One frame as the log follows it."""

    map: RoutineMap
    path: str
    base: Order
    group: Group


@attrs.define
class Places:
    """The frames of a run as entries are gone through; keeps step with the state that is replayed beside it."""

    program: m.Program
    frames: list[Here] = attrs.field(factory=list)
    groups: dict[Order, Group] = attrs.field(factory=dict)
    _maps: dict[str, RoutineMap] = attrs.field(factory=dict)

    @property
    def top(self) -> Here:
        """The innermost frame."""
        if not self.frames:
            raise Strayed("something happens before the run is opened")
        return self.frames[-1]

    def map_of(self, name: str) -> RoutineMap:
        """Places of a routine."""
        if name not in self._maps:
            self._maps[name] = RoutineMap(self.program.routine(name))
        return self._maps[name]

    def _group(self, order: Order, title: str, call: str) -> Group:
        return self.groups.setdefault(order, Group(order, title, call))

    def open(self) -> None:
        """The run is opened."""
        opening = self.map_of("")
        self.frames = [Here(opening, "opening", (), self._group(((-1,),), opening.routine.title, ""))]

    def call(self, routine: str, address: str, path: str, state: State) -> None:
        """A procedure is performed; to be told before the state hears of it."""
        if len(self.frames) > PERFORM_DEPTH:
            raise Strayed("procedures perform each other deeper than they may")
        above = self.top
        inner = self.map_of(routine)
        if len(self.frames) == 1:
            group = self._group(((-1,), (0,)), inner.routine.title, "")
            self.frames.append(Here(inner, path, (), group))
            return
        pc = above.map.pc_at(address)
        base = (*above.group.order, *above.map.key(pc, state.top.loops))
        self.frames.append(Here(inner, path, base, self._group((*base, (-1,)), inner.routine.title, path)))

    def leave(self) -> None:
        """Back to the procedure that performed this one."""
        if len(self.frames) < 2:
            raise Strayed("a procedure ends that was not performed")
        self.frames.pop()

    def section(self, address: str, title: str) -> None:
        """A section begins."""
        here = self.top
        pc = here.map.pc_at(address)
        inner = len(self.frames) > 2
        if inner:
            title = f"{here.map.routine.title}: {title}"
        here.group = self._group((*here.base, (pc,)), title, here.path if inner else "")

    def pc_of(self, at: str) -> int:
        """The instruction of an occurrence in the innermost frame."""
        here = self.top
        return here.map.place(at[len(here.path) + 1 :] if at.startswith(here.path) else at)

    def order_of(self, pc: int, state: State) -> tuple[Order, Key]:
        """What to sort by, the section first."""
        here = self.top
        return here.group.order, here.map.key(pc, state.frames[-1].loops)
