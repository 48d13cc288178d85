"""Weather against the published rows: wind chill, dew, heat, the standard atmosphere, Beaufort."""

from __future__ import annotations

import math
import sys
from fractions import Fraction
from pathlib import Path

import pytest
from rows import row

sys.path.insert(0, str(Path(__file__).parents[1] / "field"))

from field_help import number, refusal

MILES_PER_HOUR = Fraction(1_609_344, 1_000_000)  # km/h, by definition of the international mile


def celsius(fahrenheit: int) -> str:
    return f"{Fraction(5 * (fahrenheit - 32), 9)} degC"


def chill_in_fahrenheit(fahrenheit: int, miles: int) -> float:
    found = number("wind_chill", "degC", temperature=celsius(fahrenheit), wind=f"{miles * MILES_PER_HOUR} km/h")
    return found * 1.8 + 32


def by_american_formula(fahrenheit: float, miles: float) -> float:
    return 35.74 + 0.6215 * fahrenheit - 35.75 * miles**0.16 + 0.4275 * fahrenheit * miles**0.16


@pytest.mark.parametrize(
    ("temperature", "wind", "printed", "formula"),
    [
        pytest.param(40, 5, 36, 36.47, marks=row("WX-R01")),
        pytest.param(30, 10, 21, 21.25, marks=row("WX-R02")),
        pytest.param(20, 15, 6, 6.22, marks=row("WX-R03")),
        pytest.param(10, 25, -11, -10.72, marks=row("WX-R04")),
        pytest.param(0, 30, -26, -25.86, marks=row("WX-R05")),
        pytest.param(-10, 20, -35, -35.11, marks=row("WX-R06")),
        pytest.param(-20, 40, -57, -56.62, marks=row("WX-R07")),
        pytest.param(-35, 60, -84, -83.65, marks=row("WX-R08")),
    ],
)
def test_wind_chill_of_the_chart(temperature: int, wind: int, printed: int, formula: float) -> None:
    """Chart of the weather service, in a page reproducing it; tolerance 0.5 F. Ours is the metric form, whose rounded
    coefficients make it up to 0.1 F colder than the American one."""
    found = chill_in_fahrenheit(temperature, wind)
    assert found == pytest.approx(printed, abs=0.5)
    assert found == pytest.approx(formula, abs=0.1)


@row("WX-R09")
def test_the_whole_chart() -> None:
    """All 204 cells: 203 are the rounded American formula, and -73 at -30 F and 50 mph is a misprint of -74; 1 F."""
    cells = 0
    for temperature in range(-40, 41, 5):
        for wind in range(5, 61, 5):
            exact = by_american_formula(temperature, wind)
            found = chill_in_fahrenheit(temperature, wind)
            assert found == pytest.approx(exact, abs=0.1)
            assert found == pytest.approx(round(exact), abs=1)
            cells += 1
    assert cells == 204
    assert chill_in_fahrenheit(-30, 50) == pytest.approx(-73.74, abs=0.1)


@row("WX-R10")
@pytest.mark.parametrize(
    ("temperature", "wind"), [("10.1 degC", "20 km/h"), ("0 degC", "4.8 km/h"), ("0 degC", "0 m/s")]
)
def test_wind_chill_outside_its_range_is_refused(temperature: str, wind: str) -> None:
    """Defined up to 10 degC (50 F) and above 4.8 km/h (3 mph), as the weather service has it; we refuse beyond."""
    found = refusal("wind_chill", temperature=temperature, wind=wind)
    assert found.code == "cannot-compute"
    assert "range" in found.message
    assert number("wind_chill", "degC", temperature="10 degC", wind="4.81 km/h") < 11


@row("WX-R11")
def test_a_mislabelled_chart_is_not_reproduced() -> None:
    """DO NOT USE row: a page prints -28 at -10 F and 5 mph, which is the row of -15 F; right is -22."""
    assert chill_in_fahrenheit(-10, 5) == pytest.approx(-22, abs=0.5)
    assert abs(chill_in_fahrenheit(-10, 5) + 28) > 5
    assert chill_in_fahrenheit(-15, 5) == pytest.approx(-28, abs=0.5)


@pytest.mark.parametrize(
    ("temperature", "wind", "expected"),
    [
        pytest.param("-5", "20", -11.55, marks=row("WX-R12")),
        pytest.param("-20", "30", -32.57, marks=row("WX-R13")),
        pytest.param("-10", "60", -22.62, marks=row("WX-R14")),
        pytest.param("0", "10", -3.31, marks=row("WX-R15")),
    ],
)
def test_wind_chill_in_metric_form(temperature: str, wind: str, expected: float) -> None:
    """Coefficients read in a page, values computed; tolerance 0.01."""
    found = number("wind_chill", "degC", temperature=f"{temperature} degC", wind=f"{wind} km/h")
    assert found == pytest.approx(expected, abs=0.01)


@row("WX-R16")
def test_a_published_dew_point() -> None:
    """Worked example with 17.27 and 237.7, in a page reproducing it; tolerance 0.01 K."""
    found = number("dew_point", "degC", constants="older", temperature="22 degC", humidity="78 %")
    assert found == pytest.approx(17.98, abs=0.01)


def by_hyland_and_wexler(temperature: float) -> float:
    """Saturation pressure over water in hPa after Hyland and Wexler 1983, from memory; from 0 to 200 degC."""
    t = temperature + 273.15
    return math.exp(
        -5800.2206 / t + 1.3914993 - 0.048640239 * t + 4.1764768e-5 * t**2 - 1.4452093e-8 * t**3
        + 6.5459673 * math.log(t)
    ) / 100  # fmt: skip


@pytest.mark.parametrize(
    ("temperature", "humidity", "sonntag", "alduchov"),
    [
        pytest.param(20, 50, 9.26, 9.26, marks=row("WX-R17")),
        pytest.param(5, 90, 3.50, 3.50, marks=row("WX-R18")),
        pytest.param(30, 65, 22.70, 22.70, marks=row("WX-R19")),
        pytest.param(-5, 80, -7.92, -7.92, marks=row("WX-R20")),
        pytest.param(12, 35, -3.01, -3.00, marks=row("WX-R21")),
    ],
)
def test_dew_points_over_water(temperature: int, humidity: int, sonntag: float, alduchov: float) -> None:
    """Computed rows; tolerance 0.02 K. Above freezing also against another equation, solved by scipy."""
    from scipy.optimize import brentq

    given = {"temperature": f"{temperature} degC", "humidity": f"{humidity} %"}
    found = number("dew_point", "degC", constants="sonntag", **given)
    assert found == pytest.approx(sonntag, abs=0.02)
    assert number("dew_point", "degC", constants="alduchov_eskridge", **given) == pytest.approx(alduchov, abs=0.02)
    if sonntag > 0:
        wanted = by_hyland_and_wexler(temperature) * humidity / 100
        assert found == pytest.approx(brentq(lambda t: by_hyland_and_wexler(t) - wanted, 0, 60), abs=0.02)


@row("WX-R22")
@pytest.mark.parametrize(
    ("temperature", "magnus", "other"), [(0, 6.112, 6.1121), (20, 23.326, 23.3880), (40, 73.675, 73.8346)]
)
def test_saturation_pressure_over_water(temperature: int, magnus: float, other: float) -> None:
    """Computed; tolerance 0.01 hPa for one formula, and the two agree within 0.3 %."""
    found = number("saturation_pressure", "hPa", temperature=f"{temperature} degC")
    assert found == pytest.approx(magnus, abs=0.01)
    assert by_hyland_and_wexler(temperature) == pytest.approx(other, abs=0.01)
    assert found == pytest.approx(other, rel=3e-3)


@row("WX-R23")
def test_a_published_absolute_humidity() -> None:
    """Worked example with 17.67 and 243.5, in a page reproducing it; tolerance 0.01 g/m^3. Its constant 2.1674 is one
    over a gas constant of 461.38 J/(kg K); ours follows from the molar mass of water."""
    found = number("absolute_humidity", "g/m^3", constants="bolton", temperature="22 degC", humidity="78 %")
    assert found == pytest.approx(15.14, abs=0.01)


@row("WX-R24")
@pytest.mark.parametrize(("temperature", "humidity", "expected"), [(86, 45, 87), (96, 60, 116)])
def test_heat_index(temperature: int, humidity: int, expected: int) -> None:
    """Values of the weather service's own calculator, read in tests of an open library; tolerance 0.5 F."""
    found = number("heat_index", "degC", temperature=celsius(temperature), humidity=f"{humidity} %")
    assert found * 1.8 + 32 == pytest.approx(expected, abs=0.5)


@row("WX-R25")
@pytest.mark.parametrize(("pressure", "expected"), [("975.2", 321.5), ("956", 487.6)])
def test_height_of_a_pressure(pressure: str, expected: float) -> None:
    """The row's heights, 0.1 m, are of an atmosphere of 288 K at sea level. ISO 2533 has 288.15 K, which is what the
    rows WX-R26 and WX-R27 need, so ours are higher by that ratio: 0.17 m and 0.25 m. Both are right for what they
    assume."""
    found = number("standard_height", "m", pressure=f"{pressure} hPa")
    assert found * 288 / 288.15 == pytest.approx(expected, abs=0.1)
    assert expected < found < expected * 1.001


@pytest.mark.parametrize(
    ("height", "expected"),
    [pytest.param("1000 m", 898.75, marks=row("WX-R26")), pytest.param("2400 m", 756.26, marks=row("WX-R27"))],
)
def test_pressure_at_a_height(height: str, expected: float) -> None:
    """Formula of ISO 2533, and the value of an open library; tolerance 0.1 hPa."""
    found = number("standard_pressure", "hPa", height=height)
    assert found == pytest.approx(expected, abs=0.1)
    assert number("standard_height", "m", pressure=f"{found:.9f} hPa") == pytest.approx(float(height[:-2]), abs=1e-3)


@pytest.mark.parametrize(
    ("low", "high", "force"),
    [
        pytest.param("5.5", "7.9", 4, marks=row("WX-R28")),
        pytest.param("10.8", "13.8", 6, marks=row("WX-R29")),
        pytest.param("17.2", "20.7", 8, marks=row("WX-R30")),
    ],
)
def test_beaufort_forces(low: str, high: str, force: int) -> None:
    """WMO table, from memory; the middle of the range is 0.836 B^1.5 m/s, which is how the table came about."""
    for wind in (low, f"{0.836 * force**1.5:.3f}", high):
        assert number("beaufort", "", wind=f"{wind} m/s") == force
    assert number("beaufort", "", wind=f"{float(low) - 0.1:.1f} m/s") == force - 1
    assert number("beaufort", "", wind=f"{float(high) + 0.05:.2f} m/s") == force + 1
