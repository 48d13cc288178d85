"""Every rule of the published writing guides, and what is done about it: the table in LANGUAGE.md is made from this.

Which codes a rule has is said by the rules themselves (`Rule.keeps`); here stand the words, the source, how well it is
known, and for a rule without a code why it needs none, or why it cannot be checked. The words are ours; no guide is
quoted.
"""

from __future__ import annotations

import enum

import attrs

from proclang.check.writing.registry import RULES
from proclang.check.writing.rule import Rule


class Standing(enum.Enum):
    """How well it is known that a source says so."""

    READ = "read"
    MEMORY = "from memory"
    OURS = "property of the language"


class Decision(enum.Enum):
    """What is done about a rule."""

    LANGUAGE = "the language"
    CHECK = "other findings"
    RULE = "a rule of writing"
    RUN = "the runner"
    OPEN = "not checked"


@attrs.frozen
class Row:
    """One rule. `how` says where it is kept, or why it is not looked for."""

    id: str
    says: str
    source: str
    standing: Standing
    decision: Decision
    how: str = ""

    @property
    def rules(self) -> tuple[Rule, ...]:
        """The rules of writing that stand for it."""
        return tuple(rule for rule in RULES if self.id in rule.keeps)


_GROUPS = {
    "HZ": "Hazards",
    "ST": "Steps",
    "CD": "Conditions, ways and time",
    "NM": "Numbers and readings",
    "DC": "The procedure as a whole",
}

_READ, _MEMORY, _OURS = Standing.READ, Standing.MEMORY, Standing.OURS
_LANGUAGE, _CHECK, _RULE = Decision.LANGUAGE, Decision.CHECK, Decision.RULE
_RUN, _OPEN = Decision.RUN, Decision.OPEN

_DOE = "DOE-STD-1029-92"
_SURVEY = "NUREG-0899 and DOE-STD-1029"
_PEC = "a procedure evaluation checklist of a DOE facility"
_GUIDE = "Advanced Procedures Writer's Guide"
_Z6, _Z4, _ISO = "ANSI Z535.6", "ANSI Z535.4", "ISO 3864-2"
_IEC, _DITA, _STE = "IEC/IEEE 82079-1", "OASIS DITA 1.3", "Simplified Technical English"

CATALOGUE: tuple[Row, ...] = (
    Row(
        "HZ-01",
        "a hazard comes before the step it warns of",
        _SURVEY,
        _READ,
        _CHECK,
        "`misplaced`: nothing follows a hazard at the end of its block",
    ),
    Row("HZ-02", "nothing stands between a hazard and its step", _PEC, _READ, _RULE),
    Row(
        "HZ-03",
        "no page or screen break between them",
        _PEC,
        _READ,
        _RUN,
        "a hazard is answered directly before its step is shown",
    ),
    Row(
        "HZ-04",
        "a hazard holds no action, reading or record",
        f"{_DOE}, {_IEC}",
        _READ,
        _LANGUAGE,
        "only `risk`, `avoid`, `asks` and `due before` stand under it",
    ),
    Row(
        "HZ-05",
        "hazard, consequence and way out are all said",
        f"{_IEC}, {_Z6}, {_DITA}",
        _READ,
        _CHECK,
        "`hazard-parts`, `danger-without-fact`",
    ),
    Row("HZ-06", "a notice says at least the hazard and the way out", _DITA, _READ, _CHECK, "`hazard-parts`"),
    Row(
        "HZ-07",
        "the signal word fits severity and likelihood",
        f"{_Z4}, {_ISO}",
        _READ,
        _RULE,
        "in part: likelihood is not declared, so only words that tell of worse harm are found",
    ),
    Row(
        "HZ-08",
        "a notice has no safety alert symbol",
        f"{_Z4}, {_Z6}",
        _READ,
        _RUN,
        "no symbol is drawn for any hazard",
    ),
    Row("HZ-09", "signal words head hazards and nothing else", _Z6, _MEMORY, _RULE),
    Row("HZ-10", "one callout, one hazard", _Z4, _READ, _RULE),
    Row("HZ-11", "several before one step: most serious first", _DOE, _MEMORY, _RULE),
    Row(
        "HZ-12",
        "said at the section and again at the step",
        _Z6,
        _READ,
        _RUN,
        "the briefing of a section names all its hazards; each is said again at its step",
    ),
    Row("HZ-13", "not repeated at every step", _Z6, _MEMORY, _RULE),
    Row(
        "HZ-14",
        "the way out is an order",
        _GUIDE,
        _READ,
        _RULE,
        "a prohibition is let pass: under `avoid` it may be the clearest",
    ),
    Row("HZ-15", "a limit is given with its number", _DOE, _MEMORY, _RULE),
    Row("HZ-16", "`danger` is rare", _Z4, _READ, _RULE),
    Row("HZ-17", "a note holds no action", f"{_STE}, {_DOE}", _READ, _RULE),
    Row(
        "HZ-18",
        "lift, electricity, laser, height and the like have their callout",
        _IEC,
        _READ,
        _RULE,
        "for what the machine names with `due before`; what no state of the hardware tells of is not known",
    ),
    Row(
        "ST-01",
        "one action a step",
        f"{_STE}, {_SURVEY}",
        _READ,
        _RULE,
        "three by default; two, which trades often say together, when asked for",
    ),
    Row(
        "ST-02",
        "a step begins with its verb",
        f"{_GUIDE}, {_STE}",
        _READ,
        _RULE,
        "finds first words that are surely none; a list of all verbs there is not",
    ),
    Row("ST-03", "verbs come from a list", _SURVEY, _READ, _RULE, "the list is short, and `check.verbs` adds to it"),
    Row(
        "ST-04",
        "at most 20 words a sentence",
        _STE,
        _READ,
        _RULE,
        "`check.longest_sentence`; a value is a word, `:` and `;` end a sentence",
    ),
    Row(
        "ST-05",
        "ordered steps are ordered, free ones are marked",
        _GUIDE,
        _READ,
        _LANGUAGE,
        "`in any order`; all else is in order",
    ),
    Row(
        "ST-06",
        "steps are unique and references resolve",
        f"{_DOE}, {_PEC}",
        _READ,
        _RULE,
        "names are held by `duplicate-name` and `unknown-name`; here: numbers in texts",
    ),
    Row("ST-07", "say what to do, not what not to do", _GUIDE, _READ, _RULE),
    Row(
        "ST-08",
        "tools and parts in steps are declared by that name",
        f"{_SURVEY}, {_PEC}",
        _READ,
        _RULE,
        "the other way round only: nouns in texts are not told from other words",
    ),
    Row(
        "ST-09",
        "labels on hardware are quoted exactly",
        _DOE,
        _MEMORY,
        _OPEN,
        "what is on the label is not in the file",
    ),
    Row(
        "ST-10",
        "no vague words without a number",
        _DOE,
        _MEMORY,
        _RULE,
        "states and labels of the file are none; `about` is left out, being a preposition too",
    ),
    Row("ST-11", "no pronoun without its noun", _DOE, _MEMORY, _RULE),
    Row("ST-12", "no `shall`, `should`, `may`", _DOE, _MEMORY, _RULE),
    Row("ST-13", "work for somebody else names the role", _DOE, _MEMORY, _RULE),
    Row(
        "ST-14",
        "what cannot be undone is marked and verified",
        f"{_DOE}, DOE-HDBK-1028",
        _MEMORY,
        _OPEN,
        "what cannot be undone is not declared; interlocks and `no deviation` guard what is",
    ),
    Row("ST-15", "no passive in actions", _GUIDE, _READ, _RULE, "forms that are surely orders in disguise"),
    Row("ST-16", "alternatives are one step, one is checked off", _DOE, _READ, _LANGUAGE, "`choose`, `according to`"),
    Row(
        "CD-01",
        "condition first, then action",
        f"{_GUIDE}, {_STE}",
        _READ,
        _RULE,
        "in the language `when` stands above its block; here: texts",
    ),
    Row(
        "CD-02",
        "a fixed set of words for conditions",
        _DOE,
        _MEMORY,
        _LANGUAGE,
        "`when`, `according to`, `leave when`, `if stopped`",
    ),
    Row("CD-03", "`and` and `or` are not mixed, few conditions at a time", _DOE, _MEMORY, _RULE),
    Row("CD-04", "no double negatives", _DOE, _MEMORY, _RULE),
    Row(
        "CD-05",
        "branches are complete and exclusive",
        _DOE,
        _MEMORY,
        _CHECK,
        "`arm-missing`, `duplicate-arm`, `silent-failure`; near the equator the site states its hemisphere",
    ),
    Row("CD-06", "no jumps past hazards and hold points", _DOE, _MEMORY, _LANGUAGE, "there are no jumps"),
    Row(
        "CD-07",
        "loops have an exit and a bound",
        _DOE,
        _MEMORY,
        _LANGUAGE,
        "`at most N times`; going on past it is a deviation; `never-left`",
    ),
    Row("CD-08", "a timed step says beforehand that it is timed", _DOE, _READ, _RUN, "`takes` is shown with the step"),
    Row(
        "CD-09",
        "a timed step begins by writing down the time",
        _DOE,
        _READ,
        _RULE,
        "every reply has its time in the record; here: waits",
    ),
    Row(
        "CD-10",
        "a timed step says what to do when time is up",
        _DOE,
        _READ,
        _OPEN,
        "an instant that is judged does; a `takes` is an estimate, no limit",
    ),
    Row("CD-11", "watching has a beginning and an end", _DOE, _MEMORY, _RULE),
    Row(
        "CD-12", "no steps that cannot be reached", "this language", _OURS, _CHECK, "the findings about places and ways"
    ),
    Row(
        "NM-01",
        "numbers have units",
        f"{_DOE}, {_IEC}",
        _MEMORY,
        _CHECK,
        "`missing-unit`, `unknown-unit`, `dimension-mismatch`",
    ),
    Row(
        "NM-02", "readings have limits", _SURVEY, _READ, _RULE, "many are only computed with, and the result is judged"
    ),
    Row("NM-03", "limits are shown as limits", _DOE, _MEMORY, _RUN, "prompt and log print both ends"),
    Row("NM-04", "a record with unit and decimals", _DOE, _MEMORY, _CHECK, "`measure` is the record; `cannot-resolve`"),
    Row(
        "NM-05",
        "the instrument can resolve the tolerance",
        "ISO 14253-1, JCGM 100",
        _MEMORY,
        _CHECK,
        "`cannot-resolve`, `cannot-judge`, `never-decided`",
    ),
    Row("NM-06", "guard bands; between is neither", "ISO 14253-1", _MEMORY, _LANGUAGE, "`guarded`"),
    Row("NM-07", "no mental arithmetic", _DOE, _MEMORY, _LANGUAGE, "`compute`; the log shows formula and inputs"),
    Row(
        "NM-08",
        "units of the instrument in hand",
        _DOE,
        _MEMORY,
        _RUN,
        "a reading may be typed in any unit of its kind; both are kept",
    ),
    Row(
        "NM-09",
        "limits have a corrective action",
        _GUIDE,
        _READ,
        _RUN,
        "a failing value is never passed over; `silent-failure`",
    ),
    Row("NM-10", "digits of limits match", "JCGM 100, 7.2.6", _MEMORY, _RULE),
    Row(
        "NM-11",
        "numbers are written one way",
        f"{_DOE}, SI practice",
        _MEMORY,
        _RULE,
        "in the language itself `leading-point`; here: texts",
    ),
    Row(
        "NM-12",
        "torque has limits, order and passes",
        "ASME PCC-1 practice",
        _MEMORY,
        _RULE,
        "in how many passes is for the maker to say",
    ),
    Row(
        "DC-01",
        "title, number, revision, date, page",
        _PEC,
        _READ,
        _RULE,
        "`missing-title`; the log has digest and dates",
    ),
    Row(
        "DC-02",
        "sections in the usual order",
        _SURVEY,
        _READ,
        _LANGUAGE,
        "the header has its words; it stands before the sections",
    ),
    Row(
        "DC-03",
        "prerequisites are checked before the first step",
        _SURVEY,
        _READ,
        _RUN,
        "`needs` and `found` are asked for first",
    ),
    Row("DC-04", "materials are listed and named where they are used", _GUIDE, _READ, _RULE),
    Row("DC-05", "what is listed is used", _GUIDE, _READ, _RULE, "instruments: `unused-instrument`"),
    Row(
        "DC-06",
        "limits of use stand by themselves",
        _GUIDE,
        _READ,
        _OPEN,
        "`purpose` is free text; limits of inputs are checked before the run",
    ),
    Row("DC-07", "hold points and witness points differ", _SURVEY, _READ, _LANGUAGE, "`hold`, `witness`"),
    Row(
        "DC-08",
        "a hold point has name, time and result",
        _SURVEY,
        _READ,
        _RUN,
        "each signature is an entry with its time",
    ),
    Row(
        "DC-09",
        "steps are marked done in turn",
        _SURVEY,
        _READ,
        _RUN,
        "one question at a time; nothing is answered ahead",
    ),
    Row("DC-10", "who verifies is not who performs", "DOE-HDBK-1028", _MEMORY, _CHECK, "`own-witness`"),
    Row(
        "DC-11",
        "abbreviations are explained",
        f"{_GUIDE}, {_PEC}",
        _READ,
        _RULE,
        "`check.abbreviations` has those everybody knows",
    ),
    Row("DC-12", "one word for one thing", f"{_PEC}, {_STE}", _READ, _RULE, "by the glossary in `check.glossary`"),
    Row(
        "DC-13",
        "abnormal situations have instructions",
        _IEC,
        _READ,
        _RULE,
        "stops; other situations are procedures of their own",
    ),
    Row(
        "DC-14",
        "a stop leads to a declared state",
        _IEC,
        _MEMORY,
        _RULE,
        "a stop goes on with `if stopped`, whose `now` says the state",
    ),
    Row(
        "DC-15",
        "what is fitted for the work is removed",
        _DOE,
        _MEMORY,
        _CHECK,
        "`left-otherwise`, `left-unsaid`; `counted`",
    ),
    Row(
        "DC-16", "a level of use is stated", _SURVEY, _READ, _OPEN, "every procedure here is in hand, each step marked"
    ),
    Row(
        "DC-17",
        "figures are titled and cited before",
        _PEC,
        _READ,
        _LANGUAGE,
        "`figure` stands in the step it belongs to and has a caption",
    ),
    Row(
        "DC-18",
        "product, use, readers and language are named",
        _IEC,
        _MEMORY,
        _RULE,
        "`purpose`; the rest is free text",
    ),
    Row("DC-19", "large type, mixed case", f"{_GUIDE}, {_PEC}", _READ, _OPEN, "the terminal's type is its user's"),
)


def sources_of(rule: Rule) -> tuple[tuple[str, Standing], ...]:
    """Where a rule comes from, and how well that is known."""
    rows = [row for row in CATALOGUE if row.id in rule.keeps]
    return tuple(dict.fromkeys((row.source, row.standing) for row in rows))


def finding_rows() -> str:
    """The rules of writing as rows of the list of findings."""
    lines = ["| code | what it says |", "|---|---|"]
    for rule in RULES:
        lines.append(f"| `{rule.code}` | *warning*: {rule.says}{'' if rule.usual else ' (off by default)'} |")
    return "\n".join(lines) + "\n"


def decision_rows() -> str:
    """The whole catalogue as tables, a group each."""
    parts = []
    for key, title in _GROUPS.items():
        lines = [f"**{title}**", "", "| | rule | source | looked for by | |", "|---|---|---|---|---|"]
        for row in CATALOGUE:
            if row.id.startswith(key):
                by = ", ".join(f"`{r.code}`{'' if r.usual else ' (off)'}" for r in row.rules) or row.decision.value
                lines.append(f"| {row.id} | {row.says} | {row.source} ({row.standing.value}) | {by} | {row.how} |")
        parts.append("\n".join(lines))
    return "\n\n".join(parts) + "\n"
