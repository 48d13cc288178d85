"""Conductor resistances as printed: IEC 60228 by area, the table of the United States code by gauge."""

from __future__ import annotations

# IEC 60228, plain copper, greatest resistance at 20 degC in ohm/km by area in mm^2: classes 1 and 2 agree up to
# 150 mm^2. Read in pages: 1.5, 4, 6, 10, 25, 50 and 95 of class 2, 1.5, 4 and 10 of class 5; the others from memory.
SOLID_OR_STRANDED: dict[float, float] = {
    0.5: 36.0, 0.75: 24.5, 1.0: 18.1, 1.5: 12.1, 2.5: 7.41, 4.0: 4.61, 6.0: 3.08, 10.0: 1.83, 16.0: 1.15, 25.0: 0.727,
    35.0: 0.524, 50.0: 0.387, 70.0: 0.268, 95.0: 0.193, 120.0: 0.153, 150.0: 0.124,
}  # fmt: skip
FLEXIBLE: dict[float, float] = {
    0.5: 39.0, 0.75: 26.0, 1.0: 19.5, 1.5: 13.3, 2.5: 7.98, 4.0: 4.95, 6.0: 3.30, 10.0: 1.91, 16.0: 1.21, 25.0: 0.780,
    35.0: 0.554, 50.0: 0.386, 70.0: 0.272, 95.0: 0.206, 120.0: 0.161, 150.0: 0.129,
}  # fmt: skip
CLASSES = {"class_1": SOLID_OR_STRANDED, "class_2": SOLID_OR_STRANDED, "class_5": FLEXIBLE}

GAUGES: dict[str, int] = {
    "awg_4_0": -3, "awg_3_0": -2, "awg_2_0": -1, "awg_1_0": 0, **{f"awg_{n}": n for n in range(1, 41)}
}  # fmt: skip
"""Number of each gauge in the defining series; 1/0 is number 0, 4/0 is number -3."""

# Direct current, copper, uncoated, 75 degC, ohm per 1000 ft: solid, stranded. 14, 12 and 10 stranded, and every size
# that no test names, are from memory; the others are read in a page that reproduces the table.
CODE_TABLE: dict[str, tuple[float | None, float]] = {
    "awg_18": (7.77, 7.95), "awg_16": (4.89, 4.99), "awg_14": (3.07, 3.14), "awg_12": (1.93, 1.98),
    "awg_10": (1.21, 1.24), "awg_8": (0.764, 0.778), "awg_6": (None, 0.491), "awg_4": (None, 0.308),
    "awg_3": (None, 0.245), "awg_2": (None, 0.194), "awg_1": (None, 0.154), "awg_1_0": (None, 0.122),
    "awg_2_0": (None, 0.0967), "awg_3_0": (None, 0.0766), "awg_4_0": (None, 0.0608),
}  # fmt: skip

COEFFICIENTS: dict[str, tuple[float, float]] = {
    "copper": (0.00393, 20.0),
    "aluminium": (0.00403, 20.0),
    "copper_iec_60228": (0.004, 20.0),
    "copper_75": (0.00323, 75.0),
    "aluminium_75": (0.0033, 75.0),
}
"""Change of resistance per kelvin, of the resistance at a temperature in degC. Copper at 20 degC as in IEC 60028;
0.004 is the rounded coefficient of the correction table of IEC 60228; those at 75 degC stand under the table of the
United States code (copper read, aluminium from memory)."""
