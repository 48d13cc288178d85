"""Independent look-ups that need more than one file: hazards that are due before a change, roles of what is performed.

A hazard of the machine may say before which change of hardware it is due (LANGUAGE.md, chapter 17): on every way there
its section, or a procedure performed in it, has said it. Roles: who performs a procedure names the roles it needs.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from walker import Walker

from proclang.syntax import nodes as n

Said = frozenset[str]


def judge_folder(walker: Walker, file: str) -> Iterator[str]:
    """What is wrong in one file, seen beside the others."""
    tree = walker.trees[file]
    crew = {role.text for line in tree.every(n.Crew) for role in line.roles}
    for call in tree.every(n.Perform):
        inner = walker.trees.get(call.procedure.text)
        for line in inner.every(n.Crew) if inner is not None else ():
            for role in line.roles:
                if role.text not in crew:
                    yield f"{call.procedure.text} needs a {role.text}"
    yield from _Due(walker, file).judge()


class _Due:
    """Which hazards are said on every way, and which changes come before theirs."""

    def __init__(self, walker: Walker, file: str) -> None:
        self.walker = walker
        self.file = file
        self.found: list[str] = []
        self.due: list[tuple[str, n.Place, str | None]] = []
        for use in walker.trees[file].all(n.MachineUse):
            machine = walker.trees.get(use.name.text)
            for hazard in machine.every(n.Hazard) if machine is not None else ():
                for part in hazard.parts:
                    if isinstance(part, n.Due):
                        state = part.state.text if part.state is not None else None
                        self.due.append((hazard.name.text, part.place, state))

    def judge(self) -> list[str]:
        """The changes whose hazard their section has not said."""
        for section in self.walker.trees[self.file].all(n.Section):
            self._block(section.body, frozenset())
        return self.found

    def said_by(self, name: str) -> Said:
        """The hazards that a performed procedure says on every way to its end."""
        tree = self.walker.trees.get(name)
        said: Said = frozenset()
        if tree is not None:
            inner = _Due(self.walker, name)
            for section in tree.all(n.Section):
                said |= inner._block(section.body, frozenset())
        return said

    def _block(self, body: Iterable[n.Node], said: Said) -> Said:
        for node in body:
            said = self._line(node, said)
        return said

    def _line(self, node: n.Node, said: Said) -> Said:
        if isinstance(node, n.Hazard):
            return said | {node.name.text}
        if isinstance(node, n.Now):
            self._changed(node, said)
        elif isinstance(node, n.Perform):
            return said | self.said_by(node.procedure.text)
        elif isinstance(node, n.When):
            otherwise = node.otherwise.body if node.otherwise is not None else ()
            return self._block(node.body, said) & self._block(otherwise, said)
        elif isinstance(node, n.According):
            arms = [self._block(arm.body, said) for arm in node.arms if isinstance(arm, n.Arm)]
            return frozenset.intersection(*arms) if arms else said
        elif isinstance(node, n.Repeat):
            return self._repeated(node, said)
        elif isinstance(node, (n.Step, n.ForEach, n.AnyOrder)):
            return self._block(node.body, said)
        return said

    def _repeated(self, node: n.Repeat, said: Said) -> Said:
        """The body is gone through once at least, as far as the first way out."""
        before = said
        leaves = [at for at, line in enumerate(node.body) if isinstance(line, n.LeaveWhen)]
        first = leaves[0] if leaves else len(node.body)
        out = self._block(node.body[:first], before)
        whole = self._block(node.body[first:], out)
        if node.otherwise is not None:
            return out & self._block(node.otherwise.body, whole)
        return out

    def _changed(self, node: n.Now, said: Said) -> None:
        for hazard, place, state in self.due:
            if hazard in said or (state is not None and state != node.state.text):
                continue
            due = set(self.walker._items(place, {}, self.file))
            labels = {label.text for label in node.place.labels if isinstance(label, n.Name)}
            moved = set(self.walker._items(node.place, {}, self.file))
            loops = {loop.variable.text for loop in self.walker.trees[self.file].every(n.ForEach)}
            if node.place.name.text == place.name.text and (labels & loops or due & moved):
                self.found.append(f"{hazard} is due before {place.name.text}")
