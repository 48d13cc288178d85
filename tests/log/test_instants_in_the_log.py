"""An instant from the terminal to the journal, the log and back through `verify`."""

from __future__ import annotations

from pathlib import Path

from log_help import NORTH, log_of, ran

from proclang.log.verify import passed, verify
from proclang.session.files import Files

POUR = {
    "pour": """\
# Invented for the tests: every value is made up.
proclang 1
procedure pour "Pour the grout below the stand"
revision 1
inputs
  began: instant "when work on the site began"
needs
  instrument watch "watch", reads to 1 s, accurate to 2 s
  crew lead
  authority lead
section pouring "Pour"
  step look "Note when the last of the grout went in."
    measure poured in UTC using watch
      plausible 2026-01-01T00:00Z .. 2027-01-01T00:00Z
      at least began
  compute third = poured + (poured - began) / 3
  compute strike = poured + 12 h
    within 2026-11-26T02:30Z ± 1 h
  step tell "Strike from {strike to 1 min}."
    confirm told "The crew knows."
"""
}
SITE = f"{NORTH}began = 2026-11-25T08:00:00Z\n"


def test_an_instant_goes_into_the_journal_and_verifies(tmp_path: Path) -> None:
    """The site file has it as TOML writes it; a third of a time that no decimals write is kept exactly."""
    run = ran(tmp_path / "run", POUR, "pour", {"poured": "2026-11-25 14:30:01"}, site=SITE)
    journal = (tmp_path / "run" / "journal.jsonl").read_text(encoding="utf-8")
    assert '"2026-11-25T14:30:01 UTC"' in journal
    assert '"2026-11-26T02:30:01 UTC"' in journal
    log = log_of(run)
    assert "2026-11-25 14:30:01 UTC" in log
    assert "2026-11-26 02:30:01.0 UTC ± 2.4 s" in log
    run.folder.write_log(log)
    checks = verify(tmp_path / "run", Files(), None)
    assert isinstance(checks, tuple), checks
    assert passed(checks), checks
