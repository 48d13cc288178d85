"""Procedures of the tests of the log: a training stand that does not exist, on sites that do not exist."""

from __future__ import annotations

STAND = """\
# Invented for the tests: no such machine exists.
proclang 1
machine stand "Invented training stand"
kind cover
  states fitted, removed
kind foot
  states slack, tight
kind lamp
  states off, on
lid: cover "lid over the seat"
feet[a, b, c]: foot "foot"
lamp: lamp "aiming lamp"
interlock lamp is on only while lid is removed
danger glare "Bright lamp"
  risk "Eye damage."
  avoid "Look at the card, never into the lamp."
  asks glasses "Marking on the glasses"
  asks wind "Wind now" in m/s
"""

SEAT = """\
# Invented for the tests: every value is made up.
proclang 1
procedure seat "Set the stand on its seat"
revision 4
purpose "The stand is level on three feet, and its mark points to the pole."

inputs
  latitude: angle
  arm: length = 400 mm
  pull: torque = 20 N.m

needs
  instrument bar "bubble level", reads to 0.1 arcmin, calibrated within 12 months
  instrument dial "dial gauge", reads to 0.01 mm
  tool key "hex key, 8 mm"
  crew lead, rigger
  authority lead

machine stand
  lid found fitted, left fitted
  lamp found off, left off
  feet found slack, left tight

labels corners a, b, c

section level "Level and tighten"
  warning pinch "Foot can pinch a finger"
    risk "A finger is crushed."
    avoid "Hold the stand by its arms."
  repeat levelling at most 3 times
    step look "Read the level both ways round." by rigger
      measure tip[direct, reversed] in arcmin using bar
        plausible -90 .. 90 arcmin
        spread at most 60 arcmin
    compute tilt = reverse_level(tip)
      within 0 ± 2 arcmin
    leave when tilt passes
    step turn "Turn the low foot by {tilt to 0.1 arcmin, raise or lower}." by rigger
      upsets tilt
  otherwise
    perform shimming as rescue
      with reach = arm
      gives residue
  for each corner of corners
    step tighten "Tighten foot {corner} to {pull}." by rigger
      measure moment[corner] in N.m
        within pull ± 10 %
      now feet[corner] is tight
  step gap "Measure the gap under the arm."
    measure slot "gap under the arm" in mm using dial
      within 1 ± 0.2 mm

section point "Point the mark"
  danger glare
  step light "Take the lid off, then switch the lamp on." by lead
    now lid is removed
    now lamp is on
  according to hemisphere
    north
      step face_north "Turn the mark north." by lead
        measure mark in deg true
          within 0 ± 1 deg
    south
      step face_south "Turn the mark south." by lead
        measure mark in deg true
          within 180 ± 1 deg
  set offset "mark offset" to mark + 10 deg ± 0.1 deg, read back
  in any order
    step card "Look at the card."
      choose tint from white, amber "Colour of the spot"
      note seen "What was seen on the card"
    step seat_look "Look at the seat."
      confirm clean "The seat is clean." by lead
      photo seat_photo "The seat, wiped."
  step dark "Lamp off, then the lid on." by lead
    now lamp is off
    now lid is fitted
  hold accepted "Level and mark accepted" by lead, witness rigger
  if stopped
    step make_dark "Lamp off; lid on if it can be reached."
      now lamp is off
"""

SHIMMING = """\
# Invented for the tests.
proclang 1
procedure shimming "Shim the low side"
revision 1
purpose "What the feet cannot do, a shim does."
inputs
  reach: length
gives residue
needs
  crew lead, rigger
  authority lead
section shim "Shim"
  step place "Put the shim in." by rigger
    measure height in mm
      within 0 .. 5 mm
  compute residue = height / reach
    at most 1
"""

SEAT_SET = {"seat": SEAT, "stand": STAND, "shimming": SHIMMING}

PLAIN_DAY = {
    "look/tip[direct]": "1.5 arcmin",
    "look/tip[reversed]": "0.5",
    "/moment": ["20 N.m", "2100 N.cm", "19.5"],
    "gap/slot": "1.05",
    "glare/glasses": "KL 4",
    "glare/wind": "3 m/s",
    "face_north/mark": "359.6 deg",
    "face_south/mark": "179.6 deg",
    "card/tint": "amber",
    "card/seen": "a round spot",
    "seat_look/seat_photo": "IMG 12",
}

BAD_DAY = {
    **PLAIN_DAY,
    "levelling#1/look/tip[direct]": "really 95 arcmin",
    "levelling#1/look/tip[reversed]": "40",
    "levelling#2/look/tip[direct]": ["!the bubble creeps in the sun", "9 arcmin"],
    "levelling#3/look/tip[direct]": "6 arcmin",
    "rescue/shim/place/height": ["5.5 mm", "1/8 in"],
    "rescue/shim/place/height/verdict": "adjust",
    "gap/slot": ["1.4 mm", "1.3", "0.7 mm", "1.1"],
    "gap/slot/verdict": ["again", "adjust", "again"],
    "face_north/mark": "2",
    "face_north/mark/verdict": "accept",
    "face_north/mark/reason": "The mark is [wide] | *two* fingers",
    "seat_look/clean": ["no", "yes"],
    "offset/read_back": ["11.5", "12 deg"],
}
