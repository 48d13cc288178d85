"""Optics against the published rows: returned beams, a flat at 45 degrees, screws, plate scale."""

from __future__ import annotations

import math
import sys
from pathlib import Path

import pytest
from rows import row

from proclang.text.diagnostic import Problem

sys.path.insert(0, str(Path(__file__).parents[1] / "field"))

from field_help import inside, number, run


@pytest.mark.parametrize(
    ("tilt", "throw", "beam", "offset"),
    [
        pytest.param("60", "10 m", 120, 5.8178, marks=row("OPT-R01")),
        pytest.param("10", "25 m", 20, 2.4241, marks=row("OPT-R02")),
    ],
)
def test_a_mirror_doubles_its_tilt(tilt: str, throw: str, beam: float, offset: float) -> None:
    """Law of reflection, computed rows, tolerance 1e-4; and the offset read back as the tilt."""
    found = run("spot_offset", tilt=f"{tilt} arcsec", throw=throw)
    assert not isinstance(found, Problem)
    assert inside(found[0], "arcsec") == pytest.approx(beam, rel=1e-4)
    assert inside(found[1], "mm") == pytest.approx(offset, rel=1e-4)
    for dx, dy in ((f"{offset} mm", "0 mm"), ("0 mm", f"{offset} mm"), (f"-{offset} mm", "0 mm")):
        assert number("spot_tilt", "arcsec", dx=dx, dy=dy, throw=throw) == pytest.approx(float(tilt), rel=1e-4)


@row("OPT-R03")
def test_tilt_from_the_returned_spot() -> None:
    """Computed: 4.0 mm at 8.0 m is 51.566 arcsec, tolerance 1e-3."""
    assert number("spot_tilt", "arcsec", dx="4 mm", dy="0 mm", throw="8 m") == pytest.approx(51.566, rel=1e-3)


@row("OPT-R04")
def test_a_flat_tilted_in_its_plane_doubles() -> None:
    """Vector reflection, computed: factor 2.0000, tolerance 1e-3. Nothing leaves the plane."""
    for tilt in (1, -3, 60):
        found = run("flat_45", in_plane=f"{tilt} arcmin", out_of_plane="0 deg")
        assert not isinstance(found, Problem)
        assert inside(found[0], "arcmin") == pytest.approx(2.0 * tilt, rel=1e-3)
        assert found[1] == 0


@row("OPT-R05")
def test_a_flat_tilted_out_of_its_plane_turns_the_beam_by_1_4142() -> None:
    """Vector reflection, computed: factor 1.4142 = 2 cos 45 deg, tolerance 1e-3."""
    for tilt in (1, -3):
        found = run("flat_45", in_plane="0 deg", out_of_plane=f"{tilt} arcmin")
        assert not isinstance(found, Problem)
        assert inside(found[1], "arcmin") == pytest.approx(1.4142 * tilt, rel=1e-3)


@pytest.mark.parametrize(
    ("travel", "lever", "tilt", "minutes"),
    [
        pytest.param("0.125", "100 mm", 257.831, 4.2972, marks=row("OPT-R06")),
        pytest.param("0.05", "75 mm", 137.510, 2.2918, marks=row("OPT-R07")),
    ],
)
def test_a_screw_on_a_lever(travel: str, lever: str, tilt: float, minutes: float) -> None:
    """Computed rows atan(dl / r), tolerance 1e-3; and the screws that a spot of that tilt asks for."""
    found = number("screw_tilt", "arcsec", turn=f"{travel} turn", pitch="1 mm/turn", lever=lever)
    assert found == pytest.approx(tilt, rel=1e-3)
    assert found / 60 == pytest.approx(minutes, rel=1e-3)
    offset = 10_000 * math.tan(2 * math.radians(tilt / 3600))
    turns = run("tilt_screws", dx=f"{offset} mm", dy="0 mm", throw="10 m", lever=lever, pitch="0.5 mm/turn")
    assert not isinstance(turns, Problem)
    assert inside(turns[0], "turn") * 0.5 == pytest.approx(-float(travel), rel=1e-3)


@row("OPT-R08")
def test_one_of_three_screws() -> None:
    """Geometry, computed: 0.25 turn of 0.5 mm on radius 100 mm tilts by 171.887", the middle rises 0.04167 mm; 1e-3.

    The turns for that tilt, the middle held, differ by as much: two thirds back at this screw, a third at the others.
    """
    found = run("one_of_three_screws", turn="0.25 turn", pitch="0.5 mm/turn", radius="100 mm")
    assert not isinstance(found, Problem)
    assert inside(found[0], "arcsec") == pytest.approx(171.887, rel=1e-3)
    assert inside(found[1], "mm") == pytest.approx(0.04167, rel=1e-3)
    offset = 8000 * math.tan(2 * math.radians(171.887 / 3600))
    turns = run(
        "three_screw_turns", dx="0 mm", dy=f"{offset} mm", throw="8 m", radius="100 mm", pitch="0.5 mm/turn",
        a="0 deg", b="120 deg", c="240 deg",
    )  # fmt: skip
    assert not isinstance(turns, Problem)
    a, b, c = (inside(turn, "turn") for turn in turns)
    assert a - b == pytest.approx(0.25, rel=1e-3)
    assert b == pytest.approx(c, rel=1e-9)
    assert b * 0.5 == pytest.approx(-0.04167, rel=1e-3)


@pytest.mark.parametrize(
    ("focal_length", "pixel", "scale"),
    [
        pytest.param("1200 mm", "5 um", 0.85944, marks=row("OPT-R09")),
        pytest.param("2500 mm", "9 um", 0.74255, marks=row("OPT-R10")),
    ],
)
def test_plate_scale(focal_length: str, pixel: str, scale: float) -> None:
    """Computed rows 206.265 p / f in arcsec a pixel, tolerance 1e-5."""
    assert number("plate_scale", "arcsec", focal_length=focal_length, pixel=pixel) == pytest.approx(scale, rel=1e-5)


@row("OPT-R11")
def test_autocollimator() -> None:
    """Computed: a mirror 12" off returns 24", which is 0.05818 mm at 500 mm; tolerance 1e-4."""
    found = run("autocollimator", tilt="12 arcsec", focal_length="500 mm")
    assert not isinstance(found, Problem)
    assert inside(found[0], "arcsec") == pytest.approx(24, rel=1e-4)
    assert inside(found[1], "mm") == pytest.approx(0.05818, rel=1e-4)
    back = number("autocollimator_tilt", "arcsec", shift="0.05818 mm", focal_length="500 mm")
    assert back == pytest.approx(12, rel=1e-4)
