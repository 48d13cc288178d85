"""Conductors and circuits: against a units library, a summed network, and the tables' own sense."""

from __future__ import annotations

import math

import numpy as np
import pint
import pytest
from field_help import number, refusal, several
from hypothesis import given
from hypothesis import strategies as st

from proclang.field.power_tables import CLASSES, CODE_TABLE, COEFFICIENTS, GAUGES
from proclang.field.registry import TOPICS, find

RESISTIVITY = 17.241e-9
"""ohm m of annealed copper at 20 degC, IEC 60028, from memory."""


@pytest.mark.parametrize("name", [*TOPICS["power"], *TOPICS["circuits"]])
def test_everything_electrical_prints_how_well_it_is_known(name: str) -> None:
    """Somebody may touch the conductor."""
    calc = find(name)
    assert calc is not None
    assert calc.print_standing
    assert "licensed" in calc.caution


@pytest.mark.parametrize("strands", list(CLASSES))
def test_the_tables_are_copper(strands: str) -> None:
    """Resistivity of annealed copper over the nominal area: the printed greatest resistance lies 0 % to 18 % above it
    (a nominal area is not an exact one). A slipped digit would not."""
    for area, resistance in CLASSES[strands].items():
        assert 0.99 < resistance / (RESISTIVITY / (area * 1e-6) * 1000) < 1.18, area
    values = list(CLASSES[strands].values())
    assert values == sorted(values, reverse=True)


def test_the_code_table_is_copper_of_its_gauge() -> None:
    """Resistivity at 75 degC over the area by the definition of the gauge; 4 % for what stranding adds."""
    warm = RESISTIVITY * (1 + 0.00393 * 55)
    for gauge, (solid, stranded) in CODE_TABLE.items():
        area = math.pi / 4 * (0.127e-3 * 92 ** ((36 - GAUGES[gauge]) / 39)) ** 2
        ideal = warm / area * 304.8
        assert stranded == pytest.approx(ideal * 1.015, rel=0.025), gauge
        if solid is not None:
            assert solid == pytest.approx(ideal, rel=0.012), gauge


def test_gauges_halve_their_area_about_every_three() -> None:
    """Rule of the trade; 92^(6/39) is 2.005. And 4/0 is 0.46 inch, by the definition."""
    one, three_on = (several("awg_size", "mm", "mm^2", gauge=f"awg_{n}")[1] for n in (10, 13))
    assert one / three_on == pytest.approx(92 ** (6 / 39))
    assert several("awg_size", "inch", "mm^2", gauge="awg_4_0")[0] == pytest.approx(0.46)
    assert several("awg_size", "inch", "mm^2", gauge="awg_36")[0] == pytest.approx(0.005)


@given(
    resistance=st.floats(0.01, 10), cold=st.integers(-20, 40), warm=st.integers(41, 90),
    metal=st.sampled_from(list(COEFFICIENTS)),
)  # fmt: skip
def test_resistance_there_and_back(resistance: float, cold: int, warm: int, metal: str) -> None:
    """A warm conductor resists more, and cooled again it is what it was."""
    there = number(
        "resistance_at", "ohm", resistance=f"{resistance:.9f} ohm", measured_at=f"{cold} degC",
        wanted_at=f"{warm} degC", metal=metal,
    )  # fmt: skip
    assert there > resistance
    back = number(
        "resistance_at", "ohm", resistance=f"{there:.12f} ohm", measured_at=f"{warm} degC",
        wanted_at=f"{cold} degC", metal=metal,
    )  # fmt: skip
    assert back == pytest.approx(resistance, rel=1e-6)


def test_a_drop_by_a_units_library() -> None:
    """pint does the units: 3.5 A over 180 ft one way at 2.5 ohm per 1000 ft on 48 V."""
    ureg = pint.UnitRegistry()
    drop = 2 * (180 * ureg.ft) * (0.0025 * ureg.ohm / ureg.ft) * (3.5 * ureg.A)
    found = several(
        "voltage_drop", "V", "%", "W", current="3.5 A", resistance="0.0025 ohm/ft", one_way="180 ft", supply="48 V"
    )
    assert found[0] == pytest.approx(drop.to("V").magnitude)
    assert found[1] == pytest.approx(100 * drop.to("V").magnitude / 48)
    assert found[2] == pytest.approx((drop * 3.5 * ureg.A).to("W").magnitude)


@given(current=st.integers(1, 40), length=st.integers(1, 80), most=st.integers(1, 10))
def test_the_smallest_size_keeps_the_drop_and_the_one_before_does_not(current: int, length: int, most: int) -> None:
    """Each size put back into the drop, warm at 70 degC."""
    asked = {"current": f"{current} A", "one_way": f"{length} m", "supply": "48 V"}
    sizes = list(CLASSES["class_2"])

    def drop(area: float) -> float:
        return 2 * length * CLASSES["class_2"][area] / 1000 * (1 + 0.00393 * 50) * current / 48 * 100

    if drop(sizes[-1]) > most:
        found = refusal("smallest_size", most=f"{most} %", conductor="70 degC", strands="class_2", **asked)
        assert "no size" in found.message
        return
    area, _ = several(
        "smallest_size", "mm^2", "ohm/km", most=f"{most} %", conductor="70 degC", strands="class_2", **asked
    )
    place = [round(size, 3) for size in sizes].index(round(area, 3))
    assert drop(sizes[place]) <= most * (1 + 1e-9)
    assert place == 0 or drop(sizes[place - 1]) > most


@pytest.mark.parametrize("area", ["5 mm^2", "0.4 mm^2", "185 mm^2"])
def test_a_size_between_or_beyond_the_printed_ones_is_refused(area: str) -> None:
    """Nothing is interpolated; the smaller neighbour is the careful one."""
    assert "next smaller" in refusal("conductor_resistance", area=area, strands="class_2").message
    assert "no solid" in refusal("awg_resistance", gauge="awg_6", strand="solid").message


def test_a_cable_that_takes_all_the_voltage_is_refused() -> None:
    """A number above the supply would be nonsense, below it at least a warning."""
    found = refusal("voltage_drop", current="50 A", resistance="12.1 ohm/km", one_way="100 m", supply="24 V")
    assert "cannot carry" in found.message
    assert "range" in refusal("load_current", power="10 W", supply="0 V").message


def test_loads_of_a_circuit() -> None:
    """Definitions; a circuit loaded too far has a negative margin, not a refusal: the crew must see by how much."""
    loads = {"mount": "6 A", "heaters": "7.5 A"}
    assert several("circuit_load", "A", "A", loads=loads, rating="16 A", share="80 %") == pytest.approx([13.5, -0.7])
    assert several("inrush_margin", "A", "A", running="6 A", inrush="80 A", trip="80 A") == pytest.approx([86, -6])
    assert number("load_current", "A", power="180 W", supply="22 V", efficiency="90 %") == pytest.approx(180 / 22 / 0.9)


@pytest.mark.parametrize("shape", ["square", "half_sine", "decay"])
def test_what_an_inrush_puts_into_a_fuse(shape: str) -> None:
    """Independent: the square of the current over the pulse, summed by numpy."""
    step, time = 1e-7, 4e-3
    t = np.arange(0, time if shape != "decay" else 20 * time, step)
    wave = {"square": np.ones_like(t), "half_sine": np.sin(math.pi * t / time), "decay": np.exp(-t / time)}[shape]
    integral, share = several("fuse_inrush", "A^2.s", "", peak="55 A", time="4 ms", shape=shape, melting="30 A^2.s")
    assert integral == pytest.approx(float(np.sum((55 * wave) ** 2) * step), rel=1e-4)
    assert share == pytest.approx(integral / 30)


def test_earth_continuity_takes_the_leads_off() -> None:
    """Leads longer than what was read mean dirty points, not a superconductor."""
    found = several("earth_continuity", "mohm", "mohm", measured="142 mohm", leads="65 mohm", limit="100 mohm")
    assert found == pytest.approx([77, 23])
    assert "leads" in refusal("earth_continuity", measured="60 mohm", leads="65 mohm", limit="100 mohm").message
