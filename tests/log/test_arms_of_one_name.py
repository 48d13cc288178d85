"""Two arms may hold a step of one name; the log shows the words and people of the arm that was gone through.

A log that showed the other arm would record a mark turned the wrong way.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from log_help import begin, carry_on, log_of, opened

FILES = {
    "job": """\
proclang 1
procedure job "Job"
inputs
  latitude: angle
needs
  crew lead, rigger
  authority lead, rigger
section work "Work"
  according to hemisphere
    north
      step point_mark "Turn the mark due south." by lead
        confirm pointed "The mark points due south" by lead
      hold agreed "South agreed" by lead
    south
      step point_mark "Turn the mark due north." by rigger
        confirm pointed "The mark points due north" by rigger
      hold agreed "North agreed" by rigger
"""
}


SITE = """[site]
name = "hollow_mesa"
title = "Hollow Mesa (invented)"
[facts]
latitude = "{} deg"
"""


@pytest.mark.parametrize(
    ("latitude", "shown", "never"),
    [
        ("31", ("due south", "South agreed", "by lead"), ("due north", "North agreed", "by rigger")),
        ("-31", ("due north", "North agreed", "by rigger"), ("due south", "South agreed", "by lead")),
    ],
)
def test_the_log_shows_the_arm_that_was_gone_through(
    latitude: str, shown: tuple[str, ...], never: tuple[str, ...], tmp_path: Path
) -> None:
    carry_on(begin(tmp_path / "run", FILES, "job", SITE.format(latitude)), {})
    body = log_of(opened(tmp_path / "run")).split("## What differs from run to run")[0]
    for words in shown:
        assert words in body
    for words in never:
        assert words not in body
