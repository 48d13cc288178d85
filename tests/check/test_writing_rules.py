"""The rules of writing as a whole: each is declared once, decided once, and has its source on its page."""

from __future__ import annotations

import random
import re
from collections import Counter
from pathlib import Path

import pytest
from marked_cases import BESIDE, Texts

from proclang.check.check import Checked, check_files
from proclang.check.page import listed, page_of
from proclang.check.writing.catalogue import CATALOGUE, Decision, sources_of
from proclang.check.writing.registry import BY_CODE, RULES, in_force
from proclang.check.writing.rule import EVERY_RULE, USUAL, Wanted
from proclang.check.writing.warned import said_in
from proclang.program import model as m
from proclang.program.library import Disk
from proclang.program.successors import successors
from proclang.text.diagnostic import Severity
from proclang.text.render import render_text

PROCEDURES = Path(__file__).parents[2] / "procedures"
COUNTS = {"HZ": 18, "ST": 16, "CD": 12, "NM": 12, "DC": 19}


def test_every_rule_of_the_catalogue_is_decided_on_once() -> None:
    """All 77, none twice, none left out."""
    expected = {f"{group}-{number:02}" for group, most in COUNTS.items() for number in range(1, most + 1)}
    assert Counter(row.id for row in CATALOGUE) == Counter(expected)


def test_a_row_says_who_looks_for_it_or_why_nobody_does() -> None:
    """A row that is kept by a rule has one, and any other says where it is kept."""
    for row in CATALOGUE:
        assert bool(row.rules) == (row.decision is Decision.RULE), row.id
        assert row.rules or row.how, row.id
    assert {key for rule in RULES for key in rule.keeps} <= {row.id for row in CATALOGUE}
    assert all(rule.keeps for rule in RULES)


def test_the_codes_and_settings_that_rows_name_exist() -> None:
    """A reader looks them up."""
    known = listed()
    for row in CATALOGUE:
        for code in re.findall(r"`([a-z]+(?:-[a-z]+)+)`", row.how):
            assert code in known, (row.id, code)


def test_each_rule_is_declared_once_and_warns() -> None:
    """Its words are those of the list of findings."""
    assert len(BY_CODE) == len(RULES)
    known = listed()
    for rule in RULES:
        assert known[rule.code].group == "Writing"
        assert known[rule.code].severity is Severity.WARNING
        assert known[rule.code].title == rule.says + ("" if rule.usual else " (off by default)")


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.code)
def test_the_page_of_a_rule_names_its_sources(rule: object) -> None:
    """And how well each is known: nobody takes a summary for a clause."""
    assert rule in RULES
    page = page_of(listed()[rule.code])  # type: ignore[attr-defined]
    for source, standing in sources_of(rule):  # type: ignore[arg-type]
        assert f"{source} ({standing.value})" in page.source


def test_rules_are_turned_on_one_by_one_or_all_together() -> None:
    usual = {rule.code for rule in in_force(USUAL)}
    assert usual == {rule.code for rule in RULES if rule.usual}
    assert {rule.code for rule in in_force(Wanted(frozenset({"pronoun"})))} == usual | {"pronoun"}
    assert in_force(Wanted(frozenset({EVERY_RULE}))) == RULES
    assert 0 < len(usual) < len(RULES)


@pytest.mark.parametrize("path", sorted(PROCEDURES.rglob("*.proc")), ids=lambda path: path.stem)
def test_the_shipped_procedures_keep_the_rules_without_an_allowance(path: Path) -> None:
    """They are what a reader copies from."""
    checked = check_files(path.stem, path.read_bytes(), Disk(str(path.parent)), None, USUAL)
    assert checked.findings == (), render_text(checked.findings, checked.files.sources)
    assert checked.allowed == ()


def test_the_shipped_machines_say_when_their_hazards_are_due() -> None:
    """So that the rule about unsaid hazards is in force there."""
    for name, least in (("observatory/fork_mount", 8), ("vault/seismic_vault", 4)):
        path = PROCEDURES / f"{name}.proc"
        checked = check_files(path.stem, path.read_bytes(), Disk(str(path.parent)))
        (machine,) = checked.built.machines.values()
        assert len(machine.demands) >= least


def _without(name: str, line: str) -> Checked:
    """A shipped procedure in which a line is missing, wherever it stands."""
    path = PROCEDURES / f"{name}.proc"
    text, times = re.subn(rf"^ *{line}\n", "", path.read_text(encoding="utf-8"), flags=re.MULTILINE)
    assert times
    return check_files(path.stem, text.encode(), Disk(str(path.parent)), None, USUAL)


@pytest.mark.parametrize(
    ("name", "line"),
    [
        ("observatory/spot_check", "danger laser_beam"),
        ("observatory/receive_crates", "warning crate_shifts"),
        ("observatory/release_restraints", "danger axis_swings"),
        ("observatory/azimuth_limits", "danger fork_moves"),
        ("vault/set_seismometer", "notice battery_short"),
    ],
)
def test_a_shipped_procedure_that_forgets_a_hazard_is_told(name: str, line: str) -> None:
    """Taken out wherever it is said."""
    found = [f for f in _without(name, line).findings if f.code == "hazard-unsaid"]
    assert found
    hazard = line.split()[-1]
    assert all(f"`{hazard}`" in f.message for f in found)


# ---------------------------------------------------------------------------- settings

HEAD = 'proclang 1\nprocedure p "P"\nsection s "S"\n'


def _codes(line: str, wanted: Wanted) -> list[str]:
    checked = check_files("p", f"{HEAD}  {line}\n".encode(), Texts(BESIDE), writing=wanted)
    return [f.code for f in checked.findings]


def test_the_longest_sentence_can_be_set() -> None:
    step = 'step a "Look at the rim from the north, then from the south."'
    assert _codes(step, USUAL) == []
    assert _codes(step, Wanted(longest_sentence=10)) == ["long-sentence"]
    assert _codes(step, Wanted(longest_sentence=11)) == []


def test_vague_words_can_be_added_and_taken_away() -> None:
    assert _codes('step a "Turn it gently."', USUAL) == []
    assert _codes('step a "Turn it gently."', Wanted(vague=frozenset({"gently"}))) == ["vague-word"]
    assert _codes('step a "Turn it slowly."', Wanted(fitting=frozenset({"slowly"}))) == []


def test_verbs_and_abbreviations_can_be_added() -> None:
    also = frozenset({"verb-unlisted", "abbreviation"})
    step = 'step a "Dress the rim of the PLC."'
    assert _codes(step, Wanted(also)) == ["verb-unlisted", "abbreviation"]
    assert _codes(step, Wanted(also, verbs=frozenset({"dress"}), abbreviations=frozenset({"PLC"}))) == []


def test_a_glossary_has_one_word_for_one_thing() -> None:
    """Whole words, whatever their case; not inside what is inserted."""
    glossary = (("spanner", "wrench"), ("tap", "valve"))
    line = 'step a "Lay the Spanner on the tap; spanners and tap-water stay."'
    checked = check_files("p", f"{HEAD}  {line}\n".encode(), Texts({}), writing=Wanted(glossary=glossary))
    assert [f.message for f in checked.findings] == [
        "`Spanner` is called `wrench` here",
        "`tap` is called `valve` here",
    ]
    assert checked.findings[0].hint == "write `wrench`: one word for one thing"


def test_no_rule_is_looked_at_before_a_run() -> None:
    """Who is about to work does not mend the wording; what is allowed stays allowed."""
    text = HEAD + '  # allow vague-word: the gear sets the speed\n  step a "Turn it slowly."\n  step b "The drum."\n'
    assert check_files("p", text.encode(), Texts({})).findings == ()


def test_a_file_with_an_error_is_not_judged_by_its_words() -> None:
    """First things first; a file beside it that is sound is looked at."""
    text = HEAD + '  step a "Turn it slowly, {gone}."\n'
    found = [f.code for f in check_files("p", text.encode(), Texts({}), writing=USUAL).findings]
    assert found == ["unknown-name"]


# ---------------------------------------------------------------------------- hazards on every way


def _at_random(seed: int) -> str:
    """A procedure with hazards, changes and ways that part, which nobody has written around the check."""
    dice = random.Random(seed)
    lines = [
        "proclang 1", 'procedure trial "Trial"', "inputs", "  slab: one of concrete, steel", "needs", "  crew lead",
        "  authority lead", "machine post", "  lamp found off",
    ]  # fmt: skip
    count = iter(range(10_000))

    def block(depth: int, level: int) -> None:
        for _ in range(dice.randint(1, 3)):
            kind = dice.choice(("on", "off", "warn", "warn", "when", "repeat", "each") if level < 3 else ("on", "warn"))
            k = next(count)
            pad = "  " * depth
            if kind in ("on", "off"):
                lines.extend([f'{pad}step a{k} "Turn."', f"{pad}  now lamp is {kind}"])
            elif kind == "warn":
                lines.extend([f"{pad}warning {dice.choice(('glare', 'heat'))}", f'{pad}step a{k} "Turn."'])
            elif kind == "when":
                lines.append(f"{pad}when slab is {dice.choice(('steel', 'concrete'))}")
                block(depth + 1, level + 1)
                if dice.random() < 0.6:
                    lines.append(f"{pad}otherwise")
                    block(depth + 1, level + 1)
            elif kind == "repeat":
                lines.append(f"{pad}repeat r{k} at most 2 times")
                block(depth + 1, level + 1)
                lines.extend([f'{pad}  step g{k} "Read."', f"{pad}    measure x{k} in mm", f"{pad}      at most 1 mm"])
                lines.append(f"{pad}  leave when x{k} passes")
                block(depth + 1, level + 1)
            else:
                lines.append(f"{pad}for each l{k} of labels_{k}")
                lines.insert(lines.index("inputs"), f"labels labels_{k} 1 .. 2")
                block(depth + 1, level + 1)

    for number in range(dice.randint(1, 2)):
        lines.append(f'section s{number} "S"')
        block(1, 0)
    return "\n".join(lines) + "\n"


POST = """\
proclang 1
machine post "Post"
kind beam
  states off, on
lamp: beam "lamp"
warning glare "Glare"
  risk "Dazzled."
  avoid "Look away."
  due before lamp is on
warning heat "Heat"
  risk "Burns."
  avoid "Wait."
  due before lamp is on
"""


def _walked(routine: m.Routine) -> set[tuple[int, str]]:
    """Changes that some way comes to without a hazard, by walking every way there is, each state of mind once."""
    missing = set()
    start: tuple[int, frozenset[str]] = (0, frozenset())
    seen, todo = {start}, [start]
    while todo:
        pc, said = todo.pop()
        instr = routine.code[pc]
        if isinstance(instr, m.EnterSection):
            said = frozenset()
        elif isinstance(instr, m.Acknowledge):
            said = said | {instr.hazard.name}
        elif isinstance(instr, m.NowInstr) and instr.state == "on":
            missing |= {(pc, hazard) for hazard in ("glare", "heat") if hazard not in said}
        for to in successors(routine.code, pc):
            if (to, said) not in seen:
                seen.add((to, said))
                todo.append((to, said))
    return missing


def test_a_hazard_is_missed_where_some_way_misses_it_and_nowhere_else() -> None:
    """What is joined over all ways at once, against each way with all it has said."""
    missed = 0
    for seed in range(150):
        text = _at_random(seed)
        built = check_files("trial", text.encode(), Texts({"post": POST})).built
        assert built.program is not None, text
        routine = built.program.routines["trial"]
        at, _ = said_in(routine, frozenset({"glare", "heat"}), {})
        changes = [
            (pc, x) for pc, x in enumerate(routine.code) if pc in at and isinstance(x, m.NowInstr) and x.state == "on"
        ]
        found = {(pc, hazard) for pc, _ in changes for hazard in ("glare", "heat") if hazard not in at[pc]}
        assert found == _walked(routine), text
        missed += bool(found)
    assert 20 < missed < 149
