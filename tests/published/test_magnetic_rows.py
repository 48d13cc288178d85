"""Magnetic declination: the official points of the World Magnetic Model, its error model, bearings.

Sources: NOAA/NCEI test values (tests/published/wmm), the constants printed in the pygeomag library, textbook signs.
"""

from __future__ import annotations

import math

import pytest
from rows import HERE, row
from sky_help import call, outcome, refused, seconds

from proclang.field.declare import CannotCompute
from proclang.field.magnetic import decimal_year, field_at, spread_of
from proclang.field.sky import seconds_of

NOT_COVERED: dict[str, str] = {}

WMM2025 = [
    [float(word) for word in line.split()]
    for line in (HERE / "wmm" / "WMM2025_TEST_VALUES.txt").read_text(encoding="ascii").splitlines()
    if line.strip() and not line.startswith("#")
]
WMM2020 = [
    [float(word) for word in line.split()]
    for line in (HERE / "wmm" / "WMM2020testvalues.txt").read_text(encoding="ascii").splitlines()
    if line.strip() and not line.startswith("#")
]


def at(year: float, height: float, latitude: float, longitude: float) -> tuple[float, float, float]:
    """Declination and inclination in degrees, horizontal field in nT; kilometres in."""
    declination, inclination, horizontal = field_at(latitude, longitude, 1000 * height, year)
    return math.degrees(declination), math.degrees(inclination), horizontal * 1e9


@row("MAG-R01")
def test_all_hundred_official_points() -> None:
    """D and I to the two decimals printed (0.005 deg); H, and X and Y that follow from H and D, to 0.001 nT.

    Z and F are not results of a built-in; Z = H tan I and F = H / cos I follow from the two that are, so they are held
    to 1e-8 of F, what the unrounded angles give. The annual rates are the differences of two dates a year apart, up to
    the curvature of the angles: they are held for H, which the model changes nearly evenly, to 1 % of the largest.
    """
    assert len(WMM2025) == 100
    for year, height, lat, lon, d, i, h, x, y, z, f, *_ in WMM2025:
        declination, inclination, horizontal = field_at(lat, lon, 1000 * height, year)
        h_nt = horizontal * 1e9
        assert math.degrees(declination) == pytest.approx(d, abs=0.0051)
        assert math.degrees(inclination) == pytest.approx(i, abs=0.0051)
        assert h_nt == pytest.approx(h, abs=0.001)
        assert h_nt * math.cos(declination) == pytest.approx(x, abs=0.001)
        assert h_nt * math.sin(declination) == pytest.approx(y, abs=0.001)
        assert h_nt * math.tan(inclination) == pytest.approx(z, abs=1e-8 * f + 0.001)
        assert h_nt / math.cos(inclination) == pytest.approx(f, abs=1e-8 * f + 0.001)


@row("MAG-R01")
def test_the_official_points_change_as_the_model_says() -> None:
    """Annual rates of X and Y, columns 15 and 16: the model is linear in time, so the difference of two dates half a
    year apart is the rate exactly, to the digits of a float."""
    for year, height, lat, lon, *rest in WMM2025:
        x_rate, y_rate = rest[10], rest[11]
        start = min(year, 2029.0)
        ends = []
        for moment in (start, start + 0.5):
            declination, _, horizontal = field_at(lat, lon, 1000 * height, moment)
            ends.append((horizontal * 1e9 * math.cos(declination), horizontal * 1e9 * math.sin(declination)))
        assert (ends[1][0] - ends[0][0]) * 2 == pytest.approx(x_rate, abs=0.001)
        assert (ends[1][1] - ends[0][1]) * 2 == pytest.approx(y_rate, abs=0.001)


@pytest.mark.parametrize(
    ("date", "height", "lat", "lon", "d", "i", "h"),
    [
        pytest.param("2025-01-01", 65, 43, 93, 0.50, 64.10, 24300.8, marks=row("MAG-R02")),
        pytest.param("2025-01-01", 94, -29, -110, 15.74, -38.25, 24182.0, marks=row("MAG-R03")),
        pytest.param("2025-07-02T12", 69, 38, -144, 12.93, 56.97, 23096.3, marks=row("MAG-R04")),
        pytest.param("2027-01-01", 12, -63, 178, 57.87, -79.14, 11720.7, marks=row("MAG-R05")),
        pytest.param("2028-01-01", 86, -85, -79, 41.09, -70.25, 16867.5, marks=row("MAG-R06")),
        pytest.param("2029-07-02T12", 66, -21, 32, -14.63, -56.68, 16100.3, marks=row("MAG-R07")),
    ],
)
def test_points_called_as_a_procedure_calls_them(
    date: str, height: int, lat: int, lon: int, d: float, i: float, h: float
) -> None:
    """Official points through the door, the decimal year written as the date and hour it stands for."""
    where = {"latitude": f"{lat} deg", "longitude": f"{lon} deg", "height": f"{height} km", "instant": seconds(date)}
    assert call("magnetic_declination", **where)[0] == pytest.approx(d, abs=0.01)
    inclination, horizontal = call("magnetic_field", **where)
    assert inclination == pytest.approx(i, abs=0.01)
    assert horizontal * 1e9 == pytest.approx(h, abs=0.1)


@row("MAG-R08")
def test_the_model_of_2020_sums_alike() -> None:
    """The official table of WMM2020 (one decimal, 0.05 nT; 0.005 deg). No built-in takes its dates any more: the row
    holds the summation that the built-ins share against a second set of coefficients."""
    assert len(WMM2020) == 15
    for year, height, lat, lon, _x, _y, _z, h, _f, i, d, *_ in WMM2020:
        declination, inclination, horizontal = field_at(lat, lon, 1000 * height, year, issue=2020)
        assert horizontal * 1e9 == pytest.approx(h, abs=0.0501)
        assert math.degrees(inclination) == pytest.approx(i, abs=0.00501)
        assert math.degrees(declination) == pytest.approx(d, abs=0.00501)


@pytest.mark.parametrize(
    ("field", "spread"),
    [pytest.param("20000 nT", 0.3754, marks=row("MAG-R09")), pytest.param("5000 nT", 1.1142, marks=row("MAG-R10"))],
)
def test_the_error_model_grows_as_the_field_falls(field: str, spread: float) -> None:
    """Constants 0.26 deg and 5417 deg nT of WMM2025, as in the pygeomag source."""
    assert call("declination_uncertainty", horizontal=field)[0] == pytest.approx(spread, abs=1e-4)


@row("MAG-R11")
def test_below_2000_nt_a_compass_is_refused_and_below_6000_it_is_doubtful() -> None:
    """Blackout zone H < 2000 nT, caution zone up to 6000 nT (definition of the model): the edge itself is allowed, and
    in the caution zone the declination is doubtful by 0.94 deg or more."""
    assert "2000 nT" in refused("declination_uncertainty", horizontal="1999.999 nT")
    assert isinstance(outcome("declination_uncertainty", horizontal="2000 nT"), tuple)
    assert spread_of(2000e-9) == pytest.approx(math.radians(math.hypot(0.26, 5417 / 2000)), rel=1e-12)
    assert call("declination_uncertainty", horizontal="5999 nT")[0] > 0.93
    # The first official point, at lat 89, lon -121 has H = 1504 nT (WMM2025, first row of the file).
    _, _, horizontal = at(2025.0, 28, 89, -121)
    assert horizontal == pytest.approx(1504.298, abs=0.001)
    with pytest.raises(CannotCompute):
        spread_of(horizontal * 1e-9)


@row("MAG-R12")
def test_a_date_as_a_year_and_its_part() -> None:
    """Values of the pygeomag test suite; a leap year has 366 days."""
    for date, year in (((2020, 1, 2), 2020.0027), ((2020, 7, 2), 2020.5), ((2022, 7, 2), 2022.4986)):
        assert decimal_year(seconds_of(*date)) == pytest.approx(year, abs=5e-5)


@row("MAG-R13")
def test_a_magnetic_bearing_and_its_declination_make_a_true_bearing() -> None:
    """T = M + D, east positive, taken round (textbook sign rule)."""
    for magnetic, declination, true in (("350", "15.5", 5.5), ("5", "-12.25", 352.75)):
        (got,) = call("to_true", magnetic=f"{magnetic} deg magnetic", declination=f"{declination} deg")
        assert got == pytest.approx(true, abs=1e-9)
