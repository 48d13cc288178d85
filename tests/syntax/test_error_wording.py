"""What people read when a line is wrong. Review the golden file as prose."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from proclang.syntax.parse import parse
from proclang.text.decode import decode
from proclang.text.printable import printable
from proclang.text.render import render_text

HEAD = 'proclang 1\nprocedure p "P"\n'
IN_SECTION = HEAD + 'section s "S"\n'
IN_STEP = IN_SECTION + '  step a "A"\n'

WRONG: dict[str, str] = {
    "no version": 'procedure p "P"\n',
    "no title": "proclang 1\nrevision 2\n",
    "misspelt version": 'prclang 1\nprocedure p "P"\n',
    "misspelt title": 'proclang 1\nprocedrue p "P"\n',
    "nothing at all": "# later\n",
    "title without text": "proclang 1\nprocedure p\n",
    "misspelt first word": IN_SECTION + '  stpe a "A"\n',
    "capital first word": IN_SECTION + '  Step a "A"\n',
    "unknown first word": IN_SECTION + '  frobnicate a "A"\n',
    "misspelt word inside": IN_STEP + "    measure gap in mm usng bar\n",
    "word of the language as a name": IN_SECTION + '  step hold "A"\n',
    "text missing": IN_SECTION + "  step a by rigger\n",
    "quote not closed": IN_SECTION + '  step a "A by rigger\n',
    "curly quotes": IN_SECTION + "  step a “A” by rigger\n",
    "single quotes": IN_SECTION + "  step a 'A'\n",
    "foreign letter": IN_SECTION + '  step rеad "A"\n',
    "foreign digit": IN_STEP + "    measure gap１ in mm\n",
    "no-break space": IN_SECTION + '  step\u00a0a "A"\n',
    "dash for minus": IN_STEP + "    measure gap in mm\n      within –1 .. 1 mm\n",
    "sign of no use": IN_STEP + "    now cap is @removed\n",
    "semicolon": IN_STEP + "    now cap is removed;\n",
    "no unit": IN_STEP + "    measure gap in using bar\n",
    "unit missing altogether": IN_STEP + "    measure gap using bar\n",
    "value missing": IN_SECTION + "  compute a =\n",
    "bracket not closed": IN_SECTION + "  compute a = (b + c\n",
    "bracket too many": IN_SECTION + "  compute a = b + c)\n",
    "two operators": IN_SECTION + "  compute a = b * / c\n",
    "chained comparison": IN_SECTION + "  when a < b < c\n",
    "people by comma": IN_SECTION + '  step a "A" by lead, rigger\n',
    "list without comma": HEAD + "needs\n  crew lead rigger\n",
    "loop without bound": IN_SECTION + "  repeat a\n",
    "bound without times": IN_SECTION + "  repeat a at most 5\n",
    "limit beside its reading": IN_STEP + "    measure gap in mm\n    at most 2 mm\n",
    "limit far from a reading": IN_STEP + "    now cap is removed\n    plausible 1 .. 2 mm\n",
    "step at the margin": HEAD + 'step a "A"\n',
    "block missing": HEAD + 'inputs\nsection s "S"\n',
    "block with nothing to belong to": HEAD + "revision 1\n  gives a\n",
    "odd blanks": IN_SECTION + '   step a "A"\n  step b "B"\n',
    "one jump": IN_SECTION + '  step b "B"\n      step a "A"\n',
    "tab": IN_SECTION + '  step b "B"\n\tstep a "A"\n',
    "tabs throughout": HEAD + 'section s "S"\n\tstep a "A"\n\t\tnow cap is off\n',
    "braces with nothing": IN_SECTION + '  step a "Turn {} by {b to}."\n',
    "brace without partner": IN_SECTION + '  step a "Turn {b."\n',
    "unknown escape": IN_SECTION + r'  step a "Turn \n."' + "\n",
    "merge marks": HEAD + "<<<<<<< ours\nrevision 1\n=======\nrevision 2\n>>>>>>> theirs\n",
    "hidden character": HEAD + 'purpose "a\u202eb"\n',
    "arm not in a choice": IN_SECTION + "  north\n",
    "too deep": IN_SECTION + "  compute a = " + "(" * 150 + "1" + ")" * 150 + "\n",
}


def page(text: str) -> str:
    """The input with line numbers, and what is said of it."""
    decoded = decode(text.encode(), "a.proc")
    findings = (*decoded.findings, *(parse(decoded.source).findings if decoded.usable else ()))
    return render_text(findings, {"a.proc": decoded.source})


def test_wording_of_every_kind_of_mistake(golden: Callable[[str, str], None]) -> None:
    """One file with each input beside its findings."""
    parts = []
    for name, text in WRONG.items():
        shown = text if len(text) < 300 else text[:100] + "...\n"
        shown = "".join(c if c in "\n\t" else printable(c) for c in shown)
        parts.append(f"=== {name}\n{shown}---\n{page(text)}")
    golden("syntax/error-wording.txt", "\n".join(parts))


@pytest.mark.parametrize("text", WRONG.values(), ids=WRONG)
def test_house_voice(text: str) -> None:
    """Lower-case start or a quotation, no full stop, and always something to do."""
    findings = parse(decode(text.encode(), "a.proc").source).findings + decode(text.encode(), "a.proc").findings
    assert findings
    for finding in findings:
        assert finding.message[0].islower() or finding.message[0] == "`"
        assert not finding.message.endswith(".")
        assert finding.hint, finding
