"""Bolts: proof and ultimate load by property class, torque from preload and back, the preload a wrench really leaves.

The maker's torque comes before every sum. An anchor in concrete or rock follows its approval: there is no calculation
for one here.
"""

from __future__ import annotations

import math

from proclang.field.declare import Calculation, CannotCompute, Example, Parameter, Result
from proclang.field.threads import STRESS_DIAMETER, THREAD_CAUTION, per_turn
from proclang.values.dimension import FORCE, LENGTH, LENGTH_PER_ANGLE, NUMBER, TORQUE

# ISO 898-1 table 3, from memory, in pascals: stress under proof load and least tensile strength, for diameters up to
# 16 mm and above. The printed proof loads, read, agree with them.
PROOF = {"class_8_8": (580e6, 600e6), "class_10_9": (830e6, 830e6), "class_12_9": (970e6, 970e6)}
ULTIMATE = {"class_8_8": (800e6, 830e6), "class_10_9": (1040e6, 1040e6), "class_12_9": (1220e6, 1220e6)}
# The footnote of ISO 898-1 for structural bolting gives class 8.8 up to M16 the strength of the sizes above.
_STRUCTURAL = 830e6

# Nut factors for steel on steel, from memory of handbooks and makers' tables: least and greatest met with in practice.
NUT_FACTORS = {"dry": (0.20, 0.30), "zinc_plated": (0.17, 0.22), "oiled": (0.15, 0.18), "anti_seize": (0.12, 0.15)}

_COS_FLANK = math.sqrt(3) / 2


def _tabled_area(nominal: float, pitch: float) -> float:
    """The nominal stress area in m^2, to three figures as the tables of the standard have it."""
    if not 1.6e-3 * (1 - 1e-9) <= nominal <= 39e-3 * (1 + 1e-9):
        raise CannotCompute("ISO 898-1 has bolts from M1.6 to M39")
    stressed = nominal - STRESS_DIAMETER * per_turn(nominal, pitch)
    return float(f"{math.pi / 4 * stressed * stressed:.2e}")


def _large(nominal: float) -> bool:
    return nominal > 16e-3 * (1 + 1e-9)


def _proof_load(nominal: float, pitch: float, property_class: str) -> float:
    return _tabled_area(nominal, pitch) * PROOF[property_class][_large(nominal)]


def _ultimate_load(nominal: float, pitch: float, property_class: str, bolting: str) -> float:
    strength = ULTIMATE[property_class][_large(nominal)]
    if bolting == "structural" and property_class == "class_8_8":
        strength = _STRUCTURAL
    return _tabled_area(nominal, pitch) * strength


def _factors(lubrication: str | None, nut_factor: float | None, scatter: float | None) -> tuple[float, float, float]:
    """Least, middle and greatest nut factor."""
    if lubrication is not None:
        low, high = NUT_FACTORS[lubrication]
        return low, (low + high) / 2, high
    if nut_factor is None:
        raise CannotCompute("neither a lubrication nor a nut factor is given")
    share = scatter or 0.0
    return nut_factor * (1 - share), nut_factor, nut_factor * (1 + share)


def _torque_for_preload(
    preload: float, nominal: float, lubrication: str | None, nut_factor: float | None, maker: float | None
) -> tuple[float, float]:
    return _after_maker(_factors(lubrication, nut_factor, None)[1] * nominal * preload, maker)


def _after_maker(summed: float, maker: float | None) -> tuple[float, float]:
    """The torque to use, and how far the sum is above that of the maker."""
    return (summed, 0.0) if maker is None else (maker, summed / maker - 1)


def _preload_from_torque(torque: float, nominal: float, lubrication: str | None, nut_factor: float | None) -> float:
    return torque / (_factors(lubrication, nut_factor, None)[1] * nominal)


def _preload_ends(
    torque: float,
    nominal: float,
    wrench: float,
    lubrication: str | None,
    nut_factor: float | None,
    scatter: float | None,
) -> tuple[float, float, float]:
    if lubrication is not None and scatter is not None:
        raise CannotCompute("a lubrication brings its own scatter; `scatter` belongs to a `nut_factor`")
    if lubrication is None and scatter is None:
        raise CannotCompute("a nut factor without its `scatter` has no ends; ask its maker, or give 0 % on purpose")
    low, middle, high = _factors(lubrication, nut_factor, scatter)
    return (
        torque * (1 - wrench) / (high * nominal),
        torque / (middle * nominal),
        torque * (1 + wrench) / (low * nominal),
    )


def _torque_by_friction(
    preload: float,
    pitch: float,
    pitch_diameter: float,
    bearing_diameter: float,
    thread_friction: float,
    bearing_friction: float,
    maker: float | None,
) -> tuple[float, float]:
    flank = thread_friction / _COS_FLANK
    bearing = bearing_diameter / 2 * bearing_friction
    return _after_maker(preload * (pitch + pitch_diameter / 2 * flank + bearing), maker)


def _torque_by_wedge(
    preload: float,
    pitch: float,
    pitch_diameter: float,
    bearing_diameter: float,
    thread_friction: float,
    bearing_friction: float,
) -> float:
    flank = thread_friction / _COS_FLANK
    # The pitch reaches the work per radian; twice that over the pitch diameter is the tangent of the lead angle.
    lead = 2 * pitch / pitch_diameter
    if flank * lead >= 1:
        raise CannotCompute("with this friction and lead angle the nut cannot be turned at all")
    thread = pitch_diameter / 2 * (lead + flank) / (1 - flank * lead)
    return preload * (thread + bearing_diameter / 2 * bearing_friction)


def _pass_levels(target: float) -> tuple[float, float, float]:
    return 0.3 * target, 0.6 * target, target


BOLT_CAUTION = (
    f"{THREAD_CAUTION} An anchor is tightened as its approval says, never by this sum. Stand so that a slipping wrench"
    " or a breaking bolt does not take you off your feet."
)
_NOMINAL = Parameter("nominal", LENGTH, "nominal diameter of the thread: 20 mm for an M20", above="0 mm")
_PITCH = Parameter(
    "pitch", LENGTH_PER_ANGLE, "how far the thread moves per turn, see `coarse_pitch`", above="0 mm/turn"
)
_CLASS = Parameter("property_class", NUMBER, "class marked on the head", choices=tuple(PROOF), named=True)
_PRELOAD = Parameter("preload", FORCE, "pull wanted in the bolt, such as 0.75 * its proof load", above="0 N")
_TORQUE = Parameter("torque", TORQUE, "torque at the nut or head", above="0 N.m")
_LUBRICATION = Parameter(
    "lubrication",
    NUMBER,
    "state of thread and bearing face, as found on the bolt in hand",
    choices=tuple(NUT_FACTORS),
    optional=True,
    named=True,
)
_NUT_FACTOR = Parameter(
    "nut_factor", NUMBER, "from the maker of the bolt or lubricant, or from a test", optional=True, named=True,
    least="0.05", most="0.5",
)  # fmt: skip
_MAKER = Parameter(
    "maker", TORQUE, "what the maker of the joint says; it is used instead of the sum", optional=True, named=True,
    above="0 N.m",
)  # fmt: skip
_FRICTION = (
    _PRELOAD,
    _PITCH,
    Parameter("pitch_diameter", LENGTH, "pitch diameter, see `thread_diameters`", named=True, above="0 mm"),
    Parameter(
        "bearing_diameter", LENGTH, "mean diameter of the face that turns under nut or head", named=True, above="0 mm"
    ),
    Parameter("thread_friction", NUMBER, "friction in the thread", named=True, least="0.02", most="0.6"),
    Parameter("bearing_friction", NUMBER, "friction under nut or head", named=True, least="0.02", most="0.6"),
)
_GROUP = (("lubrication", "nut_factor"),)
_USED = Result("torque", TORQUE, "the torque to use: the maker's where it is given, else the sum", unit="N.m")
_OFF = Result("off_maker", NUMBER, "how far the sum is above the maker's torque; 0 without one", unit="%")
_K_TEXT = ", ".join(f"{name} {low:.2f} to {high:.2f}" for name, (low, high) in NUT_FACTORS.items())
_K_SOURCE = (
    f"nut factor form of the torque, from memory; ranges by lubrication are common practice, no source: {_K_TEXT}"
)
_K_VALIDITY = "steel bolts and nuts with clean threads; a nut factor from 0.05 to 0.5, or the middle of the range of a"
_K_VALIDITY += " lubrication"
_STRENGTHS = "M1.6 to M39 in classes 8.8, 10.9, 12.9, a pitch above zero and far smaller than the diameter"

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        name="proof_load",
        topic="fasteners",
        parameters=(_NOMINAL, _PITCH, _CLASS),
        results=(Result("load", FORCE, "pull the bolt bears without staying longer", unit="kN"),),
        formula="nominal stress area, to three figures, * stress under proof load: 580 MPa (8.8 up to 16 mm), 600 MPa"
        " (8.8 above), 830 MPa (10.9), 970 MPa (12.9)",
        source="ISO 898-1, stresses from memory; agrees with printed proof loads that were read",
        standing="from memory",
        caution=BOLT_CAUTION,
        safe_direction="down",
        validity=_STRENGTHS,
        print_standing=True,
        examples=(Example("proof_load(12 mm, 1.75 mm/turn, property_class = class_8_8)", ("48.9 kN",)),),
        work=_proof_load,
    ),
    Calculation(
        name="ultimate_load",
        topic="fasteners",
        parameters=(
            _NOMINAL,
            _PITCH,
            _CLASS,
            Parameter(
                "bolting",
                NUMBER,
                "structural bolting has its own figure for class 8.8 up to M16",
                choices=("general", "structural"),
                default="general",
                named=True,
            ),
        ),
        results=(Result("load", FORCE, "least pull at which the bolt may break", unit="kN"),),
        formula="nominal stress area, to three figures, * tensile strength: 800 MPa (8.8 up to 16 mm; structural 830"
        " MPa), 830 MPa (8.8 above), 1040 MPa (10.9), 1220 MPa (12.9)",
        source="ISO 898-1, strengths from memory; agrees with printed ultimate loads that were read",
        standing="from memory",
        caution=BOLT_CAUTION,
        safe_direction="down",
        validity=_STRENGTHS,
        print_standing=True,
        examples=(Example("ultimate_load(20 mm, 2.5 mm/turn, property_class = class_10_9)", ("255 kN",)),),
        work=_ultimate_load,
    ),
    Calculation(
        name="torque_for_preload",
        topic="fasteners",
        parameters=(_PRELOAD, _NOMINAL, _LUBRICATION, _NUT_FACTOR, _MAKER),
        results=(
            _USED,
            _OFF,
        ),
        formula="nut factor * nominal * preload; off_maker = sum / maker - 1",
        source=_K_SOURCE,
        standing="from memory",
        caution=f"{BOLT_CAUTION} Grease where dry was meant stretches a bolt past its proof load.",
        validity=_K_VALIDITY,
        one_of=_GROUP,
        print_standing=True,
        examples=(
            Example("torque_for_preload(36.67 kN, 12 mm, nut_factor = 0.2)", ("88.0 N.m", "0 %")),
            Example("torque_for_preload(30 kN, 12 mm, lubrication = oiled, maker = 60 N.m)", ("60.0 N.m", "-1.0 %")),
        ),
        work=_torque_for_preload,
    ),
    Calculation(
        name="preload_from_torque",
        topic="fasteners",
        parameters=(_TORQUE, _NOMINAL, _LUBRICATION, _NUT_FACTOR),
        results=(
            Result("preload", FORCE, "pull in the bolt; see `preload_ends` for how far off it can be", unit="kN"),
        ),
        formula="torque / (nut factor * nominal)",
        source=_K_SOURCE,
        standing="from memory",
        caution=BOLT_CAUTION,
        validity=_K_VALIDITY,
        one_of=_GROUP,
        print_standing=True,
        examples=(Example("preload_from_torque(200 N.m, 16 mm, nut_factor = 0.18)", ("69.44 kN",)),),
        work=_preload_from_torque,
    ),
    Calculation(
        name="preload_ends",
        topic="fasteners",
        parameters=(
            _TORQUE,
            _NOMINAL,
            Parameter(
                "wrench",
                NUMBER,
                "how far off the wrench may be by its class or certificate, such as 4 %",
                named=True,
                least="0 %",
                most="50 %",
            ),
            _LUBRICATION,
            _NUT_FACTOR,
            Parameter(
                "scatter",
                NUMBER,
                "how far off the nut factor may be, as a share of it; belongs to `nut_factor`",
                optional=True,
                named=True,
                least="0 %",
                most="50 %",
            ),
        ),
        results=(
            Result("least", FORCE, "pull with a wrench that reads high and the greatest friction", unit="kN"),
            Result("middle", FORCE, "pull with the torque and the nut factor as they stand", unit="kN"),
            Result("most", FORCE, "pull with a wrench that reads low and the least friction", unit="kN"),
        ),
        formula="torque * (1 - wrench) / (greatest nut factor * nominal); torque / (nut factor * nominal); torque"
        " * (1 + wrench) / (least nut factor * nominal)",
        source=_K_SOURCE,
        standing="from memory",
        caution=f"{BOLT_CAUTION} Compare the least with what the joint needs, the most with the proof load.",
        validity=_K_VALIDITY,
        one_of=_GROUP,
        print_standing=True,
        examples=(
            Example(
                "preload_ends(80 N.m, 12 mm, wrench = 4 %, lubrication = oiled)", ("35.6 kN", "40.4 kN", "46.2 kN")
            ),
        ),
        work=_preload_ends,
    ),
    Calculation(
        name="torque_by_friction",
        topic="fasteners",
        parameters=(*_FRICTION, _MAKER),
        results=(_USED, _OFF),
        formula="preload * (advance per turn / (2 pi) + pitch_diameter / 2 * thread_friction / cos 30 deg +"
        " bearing_diameter / 2 * bearing_friction)",
        source="friction form as in VDI 2230 and ISO 16047, from memory",
        standing="from memory",
        caution=BOLT_CAUTION,
        validity="60 degree threads, friction from 0.02 to 0.6",
        print_standing=True,
        examples=(
            Example(
                "torque_by_friction(68250 N, 2 mm/turn, pitch_diameter = 14.701 mm, bearing_diameter = 20.25 mm,"
                " thread_friction = 0.12, bearing_friction = 0.12)",
                ("174.2 N.m", "0 %"),
            ),
        ),
        work=_torque_by_friction,
    ),
    Calculation(
        name="torque_by_wedge",
        topic="fasteners",
        parameters=_FRICTION,
        results=(Result("torque", TORQUE, "the same sum with the product of lead and friction kept", unit="N.m"),),
        formula="preload * (pitch_diameter / 2 * (tan(lead) + f) / (1 - f * tan(lead)) + bearing_diameter / 2 *"
        " bearing_friction), f = thread_friction / cos 30 deg",
        source="wedge form of mechanical engineering textbooks, from memory; derived again on an inclined plane",
        standing="from memory",
        caution=BOLT_CAUTION,
        validity="60 degree threads, friction from 0.02 to 0.6",
        print_standing=True,
        examples=(
            Example(
                "torque_by_wedge(68250 N, 2 mm/turn, pitch_diameter = 14.701 mm, bearing_diameter = 20.25 mm,"
                " thread_friction = 0.12, bearing_friction = 0.12)",
                ("174.7 N.m",),
            ),
        ),
        work=_torque_by_wedge,
    ),
    Calculation(
        name="pass_levels",
        topic="fasteners",
        parameters=(Parameter("target", TORQUE, "final torque, the maker's where there is one", above="0 N.m"),),
        results=(
            Result("first", TORQUE, "for the first pass in star order", unit="N.m"),
            Result("second", TORQUE, "for the second", unit="N.m"),
            Result("third", TORQUE, "for the third, and for passes round the circle until no nut turns", unit="N.m"),
        ),
        formula="30 %, 60 % and 100 % of the target",
        source="ASME PCC-1 legacy pattern, from memory (20 to 30 %, 50 to 70 %, 100 %); 30, 60, 100 % read in a page"
        " that reproduces it",
        standing="from memory",
        caution=BOLT_CAUTION,
        validity="a target above zero; the maker's passes come first",
        print_standing=True,
        examples=(Example("pass_levels(90 N.m)", ("27 N.m", "54 N.m", "90 N.m")),),
        work=_pass_levels,
    ),
)
