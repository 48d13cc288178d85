"""Whole procedures at random, as an author in a hurry might write them: an invented winch tower, all values invented.

Each is a folder of four files: the machine, a procedure, one it performs, and one that this one performs. They are made
of what procedures are made of, idiom by idiom: something is taken off, worked under and put back; a supply is locked
and proved dead; a load is lifted; a base is levelled, torqued and read again; things are counted out and back; the
hemispheres part. The writer knows what it means to do and now and then forgets a part of it, so some are wrong as they
stand. Which ones is for the walker to say.
"""

from __future__ import annotations

import random
from collections.abc import Callable

from folder import Folder

SLIP = 0.02
"""How often a part of an idiom is forgotten."""

MACHINE = """\
# Training example: every value is invented.
proclang 1
machine winch_tower "Invented winch tower (training example, all values invented)"

kind cover
  states fitted, removed
kind load
  states landed, hanging
kind isolator
  states on, off
kind circuit
  states live, isolated, proved_dead
kind lock
  states away, hanging
kind bolt
  states slack, tight
kind clamp
  states clamped, free
kind beam
  states off, on

gear_cover: cover "cover of the gear"
lens_cover: cover "cover of the lens"
hook: load "load on the hook"
main_switch: isolator "main switch of the winch"
supply: circuit "supply of the winch"
locks[lead, rigger]: lock "lock of one person on the main switch"
seat_bolts[1 .. 4]: bolt "seat bolt"
arm: clamp "clamp of the arm"
lamp: beam "aligning lamp"
counted rags "rags taken to the gear"
counted pins "pins of the cover"

interlock hook is hanging only while gear_cover is fitted and arm is clamped
interlock main_switch is on only while locks is away
interlock locks moves only by their own role
interlock supply is live only while main_switch is on
interlock supply is proved_dead only while main_switch is off and locks is hanging
interlock gear_cover moves only while supply is proved_dead
interlock gear_cover becomes fitted only while rags is back
interlock arm is free only while seat_bolts is tight
interlock lamp is on only while lens_cover is removed and arm is clamped
interlock lens_cover moves only while lamp is off

ask nothing while hook is hanging
if stopped hook is landed
if stopped lamp is off

danger load_overhead "Load on the hook"
  risk "A load that slips crushes whoever stands under it."
  avoid "Stand clear until the load is landed; follow the lift plan and local rules."
  asks gust "Strongest gust in the last 10 min" in m/s
"""

FIRST = {
    "gear_cover": "fitted", "lens_cover": "fitted", "hook": "landed", "main_switch": "on", "supply": "live",
    "locks": "away", "seat_bolts": "slack", "arm": "clamped", "lamp": "off", "rags": "back", "pins": "back",
}  # fmt: skip

Lines = list[str]


class _Writer:
    """Writes one procedure. `now` is what the writer believes of the hardware."""

    def __init__(self, rng: random.Random, name: str, now: dict[str, str], child: _Writer | None) -> None:
        self.rng = rng
        self.name = name
        self.child = child
        self.found = dict(now)
        self.now = dict(now)
        self.touched: set[str] = set()
        self.number = 0
        self.performed = 0
        self.bolted = False
        self.uses: set[str] = set()
        self.shines = False
        self.text = ""

    # ------------------------------------------------------------------ small parts

    def called(self, what: str) -> str:
        self.number += 1
        return f"{what}_{self.number}"

    def forgets(self) -> bool:
        return self.rng.random() < SLIP

    def step(self, what: str, says: str, by: str, *lines: str) -> Lines:
        return [f'step {self.called(what)} "{says}" by {by}', *(f"  {line}" for line in lines)]

    def move(self, item: str, state: str, says: str, by: str = "rigger", where: str = "") -> Lines:
        """A step that changes something; now and then the change, or all of it, is forgotten."""
        self.now[item] = state
        self.touched.add(item)
        if self.forgets():
            return [] if self.rng.random() < 0.5 else self.step("act", says, by)
        extra = [] if self.rng.random() < 0.7 else [f'photo {self.called("shown")} "As it is now."']
        return self.step("act", says, by, f"now {item}{where} is {state}", *extra)

    # ------------------------------------------------------------------ idioms

    def isolated(self, depth: int) -> Lines:
        lines = self.move("main_switch", "off", "Turn the main switch off.")
        lines = [*self.move("supply", "isolated", "Let the winch run down."), *lines]
        lines += self.move("locks", "hanging", "Hang the own lock on the switch.", "lead", "[lead]")
        lines += self.move("locks", "hanging", "Hang the own lock on the switch.", "rigger", "[rigger]")
        lines += self.move("supply", "proved_dead", "Prove the supply dead with the tester.")
        lines += self.some(depth - 1, 2)
        lines += self.move("supply", "isolated", "Put the tester away.")
        lines += self.move("locks", "away", "Take the own lock off.", "rigger", "[rigger]")
        lines += self.move("locks", "away", "Take the own lock off.", "lead", "[lead]")
        lines += self.move("main_switch", "on", "Turn the main switch on.")
        return [*lines, *self.move("supply", "live", "Switch the winch on.")]

    def gear(self, depth: int) -> Lines:
        lines = self.move("gear_cover", "removed", "Take the cover off the gear.")
        lines += self.some(depth - 1, 1)
        return [*lines, *self.move("gear_cover", "fitted", "Put the cover back on the gear.")]

    def lens(self, depth: int) -> Lines:
        lines = self.move("lens_cover", "removed", "Take the cover off the lens.")
        lines += self.some(depth - 1, 1)
        return [*lines, *self.move("lens_cover", "fitted", "Put the cover back on the lens.")]

    def shine(self, depth: int) -> Lines:
        self.shines = True
        lines = self.move("lamp", "on", "Switch the lamp on.")
        lines += self.spot(depth)
        return [*lines, *self.move("lamp", "off", "Switch the lamp off.")]

    def swing(self, depth: int) -> Lines:
        lines = self.move("arm", "free", "Free the clamp of the arm.")
        lines += self.some(depth - 1, 1)
        return [*lines, *self.move("arm", "clamped", "Clamp the arm.")]

    def lift(self, depth: int) -> Lines:
        self.touched.add("hook")
        lands = [] if self.forgets() else ["now hook is landed"]
        step = self.step(
            "lift", "Lift the drum and land it on its seat.", "rigger", "require arm is clamped", "now hook is hanging",
            *lands,
        )  # fmt: skip
        return ["danger load_overhead", *step]

    def counted(self, depth: int) -> Lines:
        out, back, thing = self.called("out"), self.called("back"), self.rng.choice(("rags", "pins"))
        if self.now[thing] == "out":
            return self.look(depth)
        self.now[thing] = "out"
        self.touched.add(thing)
        lines = self.step(
            "count", f"Count the {thing}.", "lead", f"measure {out} in pieces", "  plausible 0 .. 40 pieces",
            f"  counts {thing} out",
        )  # fmt: skip
        lines += self.some(depth - 1, 1)
        self.now[thing] = "back"
        if self.forgets():
            return lines
        return [
            *lines,
            *self.step(
                "count", f"Count the {thing} again.", "lead", f"measure {back} in pieces", f"  within {out} ± 0 pieces",
                "  plausible 0 .. 40 pieces", "  no deviation", f"  counts {thing} back",
            ),
        ]  # fmt: skip

    def levelled(self, depth: int) -> Lines:
        tilt, level, turn = self.called("tilt"), self.called("level"), self.called("turn")
        self.uses |= {"bar", "pitch"}
        again = [f"    measure {level}[direct, reversed] in arcmin using bar", "      plausible -60 .. 60 arcmin"]
        lines = [
            f"repeat {self.called('levelling')} at most {self.rng.randint(2, 5)} times",
            f'  step {self.called("read")} "Read the level both ways." by rigger',
            *again,
            f"  compute {tilt} = abs(reverse_level({level}))",
            f"    at most {self.rng.randint(2, 4)} arcmin",
            *(["    guarded"] if self.rng.random() < 0.5 else []),
            f"  leave when {tilt} passes",
            f"  compute {turn} = 540 mm * 0.001 * {tilt} / (1 arcmin * pitch)",
            f'  step {self.called("turn")} "Turn the nut by {{{turn} to 0.05 turn, signed}}." by rigger',
            f"    upsets {tilt if self.rng.random() < 0.5 else level}",
        ]
        if self.rng.random() < 0.4:
            lines += [
                "otherwise",
                f'  step {self.called("read")} "Read the level a last time." by rigger',
                *again,
                f"  compute {tilt} = abs(reverse_level({level}))",
                "    at most 10 arcmin",
                f"  when {tilt} fails",
                f'    hold {self.called("ask")} "The seat does not come level" by lead',
            ]
            return lines
        if self.rng.random() < 0.5:
            return [*lines, *self.step("tell", f"Read aloud the tilt: {{{tilt} to 0.1 arcmin}}.", "lead")]
        return lines

    def torqued(self, depth: int) -> Lines:
        if self.bolted or self.now["seat_bolts"] == "tight":
            return self.look(depth)
        self.bolted = True
        self.uses |= {"wrench", "bar", "pulls", "torque"}
        self.now["seat_bolts"] = "tight"
        self.touched.add("seat_bolts")
        before, after = self.called("level"), self.called("left")
        lines = self.step(
            "read", "Read the level on the seat.", "rigger", f"measure {before} in arcmin using bar",
            "  within 0 ± 5 arcmin",
        )  # fmt: skip
        lines += [
            "for each pull of pulls",
            "  compute target[pull] = share[pull] * full_torque",
            "  for each bolt of seat_bolts in star order",
            f'    step {self.called("pull")} "Tighten bolt {{bolt}} to {{target[pull] to 1 N.m}}." by rigger',
            "      measure torque[pull, bolt] in N.m using wrench",
            "        within target[pull] ± 5 %",
            "      when pull is full",
            "        now seat_bolts[bolt] is tight",
            f"      upsets {before}",
        ]
        if self.forgets():
            return lines
        if self.rng.random() < 0.5:
            return [*lines, *self.step("read", "Read the level once more.", "rigger", f"measure again {before}")]
        return [
            *lines,
            *self.step("read", "Read the level once more.", "rigger", f"measure again {before} using bar"),
            *self.step(
                "read", "Read the level from the other side.", "rigger", f"measure {after} in arcmin using bar",
                "  within 0 ± 5 arcmin",
            ),
        ]  # fmt: skip

    def parted(self, depth: int) -> Lines:
        mark = self.called("mark")
        self.uses |= {"compass", "latitude"}
        lines = ["according to hemisphere"]
        for north, aim in (("north", 180), ("south", 0)):
            side = "south" if north == "north" else "north"
            lines += [
                f"  {north}",
                f'    step {self.called("turn")} "Turn the mark due {side}." by rigger',
                f"      measure {mark} in deg true using compass",
                f"        within {aim} ± 2 deg",
            ]
        return [*lines, *self.step("tell", f"Read aloud the bearing: {{{mark} to 0.1 deg}}.", "lead")]

    def depending(self, depth: int) -> Lines:
        """On soft ground a cover comes off and goes back, with other work between: twice the same condition."""
        if self.now["lens_cover"] != "fitted" or self.now["lamp"] != "off":
            return self.look(depth)
        self.uses.add("ground")
        kept = dict(self.now)
        first = self.move("lens_cover", "removed", "Take the cover off the lens.")
        self.now = kept
        inner = self.look(depth) if self.rng.random() < 0.5 else self.read(depth)
        last = self.move("lens_cover", "fitted", "Put the cover back on the lens.")
        if not first or not last:
            return [*first, *inner, *last]
        return [
            "when ground is soft", *(f"  {x}" for x in first), *inner,
            "when ground is soft", *(f"  {x}" for x in last),
        ]  # fmt: skip

    def chosen(self, depth: int) -> Lines:
        name = self.called("lean")
        lines = self.step("look", "Look along the arm.", "lead", f'choose {name} from left, right "It leans"')
        shim = self.step("shim", "Put one shim under the right side.", "rigger")
        other = self.step("shim", "Put one shim under the left side.", "rigger")
        return [
            *lines, f"according to {name}", "  left", *(f"    {x}" for x in shim),
            "  right", *(f"    {x}" for x in other),
        ]  # fmt: skip

    def mended(self, depth: int) -> Lines:
        """A reading that may fail, what is done then, and the reading again."""
        gap = self.called("gap")
        self.uses.add("feeler")
        return [
            *self.step("read", "Read the gap at the seat.", "rigger", f"measure {gap} in mm using feeler",
                       "  at most 0.5 mm"),
            f"when {gap} fails",
            *(f"  {x}" for x in self.step("shim", "Put a shim into the gap.", "rigger", f"upsets {gap}")),
            *(f"  {x}" for x in self.step("read", "Read the gap once more.", "rigger", f"measure again {gap}")),
            f"  when {gap} fails",
            f'    hold {self.called("ask")} "The gap does not close" by lead',
        ]  # fmt: skip

    def read(self, depth: int) -> Lines:
        gap, mean = self.called("gap"), self.called("mean_gap")
        self.uses.add("feeler")
        return [
            *self.step("read", "Read the gap on both sides.", "rigger", f"measure {gap}[near, far] in mm using feeler",
                       "  plausible 0 .. 9 mm"),
            f"compute {mean} = mean({gap})",
            "  at most 2 mm",
        ]  # fmt: skip

    def spot(self, depth: int) -> Lines:
        spot = self.called("spot")
        self.uses.add("feeler")
        return self.step(
            "read", "Read the spot on the card.", "lead", f"measure {spot} in mm using feeler", "  within 0 ± 9 mm"
        )

    def any_order(self, depth: int) -> Lines:
        one = self.step("wipe", "Wipe the seat.", "rigger", f'photo {self.called("seat")} "The seat."')
        two = self.step(
            "look", "Look at the rope.", "lead", f'confirm {self.called("rope")} "The rope is whole" by lead'
        )
        some = [one, two, self.spot(depth)] if self.rng.random() < 0.5 else [one, two]
        return ["in any order", *(f"  {line}" for block in some for line in block)]

    def look(self, depth: int) -> Lines:
        says = self.rng.choice(("Look along the rope.", "Wipe the seat.", "Write the time into the book."))
        asks = self.rng.choice(((), (f'note {self.called("seen")} "What was seen"',)))
        return self.step("look", says, self.rng.choice(("lead", "rigger")), *asks)

    def performs(self, depth: int) -> Lines:
        child = self.child
        if child is None or self.performed > 1:
            return self.look(depth)
        if not child.text:
            child.found, child.now = dict(self.now), dict(self.now)
            child.write()
        elif child.found != self.now:
            return self.look(depth)  # it would not be found as it says
        self.performed += 1
        alias = f" as {self.called('again')}" if self.performed > 1 else ""
        size = self.called("size")
        lines = [f"perform {child.name}{alias}", f"  with most = {self.rng.randint(2, 6)} mm", f"  gives gap as {size}"]
        if "ground" in child.uses and self.rng.random() < 0.5:
            self.uses.add("ground")
            lines.insert(1, "  with ground = ground")
        for item in child.touched:
            self.now[item] = child.now[item]
        self.touched |= child.touched
        return [*lines, *self.step("tell", f"Read aloud the gap: {{{size} to 0.1 mm}}.", "lead")]

    # ------------------------------------------------------------------ the whole

    def some(self, depth: int, most: int) -> Lines:
        if depth <= 0:
            return self.look(depth)
        lines: Lines = []
        for _ in range(self.rng.randint(1, most)):
            lines += self.idiom(depth)
        return lines

    def idiom(self, depth: int) -> Lines:
        at = self.now
        can: list[Callable[[int], Lines]] = [
            self.look, self.read, self.counted, self.parted, self.chosen, self.mended, self.any_order,
            self.levelled, self.depending, self.performs, self.performs, self.torqued,
        ]  # fmt: skip
        if at["supply"] == "live":
            can += [self.isolated, self.isolated]
        if at["supply"] == "proved_dead" and at["gear_cover"] == "fitted" and at["rags"] == "back":
            can += [self.gear] * 3
        if at["lens_cover"] == "fitted" and at["lamp"] == "off":
            can += [self.lens, self.lens]
        if at["lens_cover"] == "removed" and at["lamp"] == "off" and at["arm"] == "clamped":
            can += [self.shine] * 3
        if at["seat_bolts"] == "tight" and at["arm"] == "clamped" and at["lamp"] == "off":
            can += [self.swing] * 2
        if at["gear_cover"] == "fitted" and at["arm"] == "clamped":
            can += [self.lift] * 2
        if self.rng.random() < SLIP:
            can = [self.gear, self.lens, self.shine, self.swing, self.lift]
        return self.rng.choice(can)(depth)

    def write(self) -> str:
        """The whole file."""
        sections: Lines = []
        for at in range(self.rng.randint(2, 3)):
            self.shines = False
            body = self.some(3, 2) if at else [*self.some(3, 2), *self.performs(1)]
            if at == 0 and self.child is None:
                body += self.step("read", "Read the gap.", "rigger", "measure gap in mm using feeler", "  at most most")
                self.uses.add("feeler")
            sections += ["", f'section part_{at + 1} "Part {at + 1}"', *(f"  {line}" for line in body)]
            stops = self.step("stop", "Switch the lamp off.", "rigger", "now lamp is off")
            sections += ["", "  if stopped", *(f"    {line}" for line in stops)]
            self.touched.add("lamp")
        self.text = "\n".join([*self.header(), *sections]) + "\n"
        return self.text

    def header(self) -> Lines:
        lines = [
            "# Training example: every value is invented.",
            "proclang 1",
            f'procedure {self.name} "Work on the winch tower"',
            "revision 1",
            'purpose "The tower is as its header says. Training example, all values invented."',
            "",
            "inputs",
        ]
        if "latitude" in self.uses:
            lines.append('  latitude: angle "latitude of the site, north plus"')
        if "ground" in self.uses:
            lines.append('  ground: one of soft, firm = firm "what the tower stands on"')
        if "pitch" in self.uses:
            lines.append('  pitch: length per angle = 2 mm/turn "pitch of the nut"')
        if "torque" in self.uses:
            lines += ['  full_torque: torque "full torque, from the maker"', "    plausible 20 .. 300 N.m"]
        if self.child is None:
            lines += ['  most: length "largest gap"', "    plausible 1 .. 9 mm"]
        if lines[-1] == "inputs":
            lines = lines[:-2]
        lines += ["", "needs"]
        if "bar" in self.uses:
            lines.append(
                '  instrument bar "level bar", reads to 0.1 arcmin, repeats to 0.1 arcmin, accurate to 0.2 arcmin'
            )
        if "wrench" in self.uses:
            lines.append('  instrument wrench "torque wrench", reads to 1 N.m, accurate to 2 %')
        if "feeler" in self.uses:
            lines.append('  instrument feeler "rule", reads to 0.1 mm, repeats to 0.1 mm')
        if "compass" in self.uses:
            lines.append('  instrument compass "gyro", reads to 0.1 deg, repeats to 0.1 deg')
        lines += ["  crew lead, rigger", "  authority lead", "", "machine winch_tower"]
        for item in sorted(FIRST):
            lines.append(f"  {item} found {self.found[item]}, left {self.now[item]}")
        if "pulls" in self.uses:
            lines += ["", "table pulls of share", "  snug 30 %", "  full 100 %"]
        if self.child is None:
            lines.append("gives gap")
        return lines


def generated(seed: int) -> Folder:
    """One folder of procedures, the same for the same seed."""
    rng = random.Random(f"winch tower {seed}")
    low = _Writer(rng, "low_work", FIRST, None)
    middle = _Middle(rng, "middle_work", FIRST, low)
    top = _Writer(rng, "top_work", FIRST, middle)
    texts = {"winch_tower": MACHINE, "top_work": top.write()}
    if middle.text:
        texts["middle_work"] = middle.text
    if low.text:
        texts["low_work"] = low.text
    return Folder(texts)


class _Middle(_Writer):
    """A procedure that is performed and performs another: it gives a gap of its own."""

    def header(self) -> Lines:
        self.uses.add("feeler")
        lines = super().header()
        at = lines.index("needs") - 1
        most = ['  most: length "largest gap"', "    plausible 1 .. 9 mm"]
        lines[at:at] = most if "inputs" in lines else ["", "inputs", *most]
        return [*lines, "gives gap"]

    def some(self, depth: int, most: int) -> Lines:
        lines = super().some(depth, most)
        if depth == 3 and "gap" not in self.uses:
            self.uses.add("gap")
            lines += self.step("read", "Read the gap.", "rigger", "measure gap in mm using feeler", "  at most most")
        return lines
