"""Every built-in by name. A topic is imported when one of its calculations is first asked for."""

from __future__ import annotations

import importlib

from proclang.field.declare import Calculation, Parameter, Result, signature
from proclang.values.dimension import Dimension

TOPICS: dict[str, tuple[str, ...]] = {
    "arithmetic": (
        "abs", "min", "max", "smallest", "largest", "mean", "sum", "spread", "count",
        "round_to", "round_down", "round_up", "sqrt", "hypot",
    ),
    "angles": (
        "sin", "cos", "tan", "asin", "acos", "atan", "atan2", "difference", "to_true", "to_magnetic", "grid_to_true",
    ),
    "setting_out": ("circle_fit", "pattern_fit", "hole_clearance"),
    "levelling": ("reverse_level", "level_zero", "levelling_turns", "reach_of_hand"),
    "levelling_plane": ("plane_fit", "plane_residuals", "total_tilt", "downhill"),
    "levelling_readings": (
        "bubble_radius", "bubble_sensitivity", "bubble_offset", "bubble_tilt", "slope_angle", "tilt_over", "rise_over",
        "height_difference", "reversed_means", "zero_drift",
    ),
    "levelling_nuts": (
        "turn_for_height", "foot_turn", "turns_by_heights", "turns_at", "three_of", "studs_after_turns",
    ),
    "travel": (
        "stopping_distance", "mid_travel", "plus_limit", "minus_limit", "mark_error", "readout_sign", "wrap_count",
        "readout_for", "backlash",
    ),
    "motion": ("slew_time", "stopping_time", "deceleration_for"),
    "balance": ("balance", "gravity_torque", "counterweight_arm", "counterweight_mass", "balance_by_pulls"),
    "threads": ("coarse_pitch", "thread_diameters", "stress_area"),
    "fasteners": (
        "proof_load", "ultimate_load", "torque_for_preload", "preload_from_torque", "preload_ends",
        "torque_by_friction", "torque_by_wedge", "pass_levels",
    ),
    "rigging_lift": ("lift_weight", "chart_share"),
    "rigging": (
        "tension_factor", "tension_factor_by_length", "sling_tension", "leg_tension",
        "four_leg_tension", "hanging_force", "bridle_tension", "sling_capacity",
    ),
    "rigging_picks": ("two_picks", "three_picks", "four_picks", "bilinear_shares"),
    "rigging_eyebolts": (
        "eyebolt_din_580", "eyebolt_b18_15", "eyebolt_derated", "eyebolt_seat", "shackle_side_load", "shackle_two_legs",
    ),
    "rigging_hitches": ("choker_capacity", "bending_efficiency", "basket_capacity", "least_sling_length"),
    "rigging_wind": ("wind_pressure", "wind_force"),
    "optics": ("spot_tilt", "tilt_screws"),
    "optics_mirror": (
        "screw_tilt", "one_of_three_screws", "three_screw_turns", "two_screw_turns", "flat_45", "flat_45_tilts",
    ),
    "optics_beam": (
        "spot_offset", "beam_angle", "laser_turning", "autocollimator", "autocollimator_tilt", "wedge_deviation",
        "window_shift",
    ),
    "optics_focus": ("filter_shift", "back_focus_spacer", "plate_scale", "collimation_budget"),
    "structure": ("torque", "pier_tilt", "pier_growth", "age", "cure_margin"),
    "weather": (
        "dew_point", "dew_margin", "frost_point", "relative_humidity", "saturation_pressure", "absolute_humidity",
        "standard_pressure", "standard_height",
    ),
    "wind": ("wind_at_height", "gust_at_height", "beaufort"),
    "people": ("wind_chill", "heat_index", "lightning_distance", "lightning_wait"),
    "lifting": ("one_person_limit", "lifting_index", "team_limit"),
    "power": (
        "awg_size", "awg_resistance", "conductor_resistance", "resistance_at", "voltage_drop", "smallest_size",
    ),
    "circuits": ("load_current", "circuit_load", "inrush_margin", "fuse_inrush", "earth_continuity"),
    "schedule": (
        "three_point_time", "triangular_time", "triangular_chance", "chain_time", "chance_in_time", "earliest_finish",
    ),
    "magnetic": ("magnetic_declination", "magnetic_field", "declination_uncertainty"),
    "orientation": ("grid_convergence", "utm_zone", "true_to_grid"),
    "sun": (
        "sun_azimuth", "sun_elevation", "shadow_bearing", "shadow_rate", "sun_place", "meridian_passage", "sunrise",
        "sunset", "equal_shadows",
    ),
    "stars": (
        "pole_star_azimuth", "pole_star_altitude", "pole_star_place", "greatest_elongation", "sidereal_time",
        "star_hour_angle", "azimuth_altitude", "hour_angle_declination", "parallactic_angle", "angular_separation",
    ),
    "refraction": ("refraction_of_apparent", "refraction_of_true", "air_mass"),
    "sky_motion": ("tracking_rates", "zenith_blind_zone", "reachable_declinations"),
}  # fmt: skip
"""Names by topic, which is also the module that declares them. A test holds this against the declarations."""

TITLES: dict[str, str] = {
    "arithmetic": "Arithmetic", "angles": "Angles and bearings",
    "levelling": "Levelling: the level and the nuts", "levelling_readings": "Levelling: readings",
    "levelling_plane": "Levelling: the plane through points", "levelling_nuts": "Levelling: many studs",
    "setting_out": "Setting out",
    "orientation": "Orientation: grids", "magnetic": "Orientation: the compass",
    "sun": "Orientation: the Sun and shadows",
    "stars": "Orientation: stars", "refraction": "Sky: refraction and air mass", "sky_motion": "Sky: rates and reach",
    "rigging_lift": "Rigging sums: the weight", "rigging": "Rigging sums: legs",
    "rigging_picks": "Rigging sums: picks and the centre of gravity",
    "rigging_eyebolts": "Rigging sums: eyebolts and shackles", "rigging_hitches": "Rigging sums: hitches and ropes",
    "rigging_wind": "Rigging sums: wind on a load",
    "threads": "Fasteners: threads", "fasteners": "Fasteners: torque and preload",
    "optics": "Optics: the returned spot", "optics_mirror": "Optics: mirrors and their screws",
    "optics_beam": "Optics: beams", "optics_focus": "Optics: focus and collimation",
    "travel": "Travel: stops and limits", "motion": "Travel: speed", "balance": "Balance about an axis",
    "weather": "Weather: air and water", "wind": "Weather: wind", "people": "People: cold, heat, lightning",
    "lifting": "People: lifting by hand", "structure": "Structure: piers and curing",
    "power": "Power: conductors", "circuits": "Power: circuits", "schedule": "Time: how long a day takes",
}  # fmt: skip
"""What each topic is called in the reference, in the order of its chapter."""

_TOPIC_OF = {name: topic for topic, names in TOPICS.items() for name in names}
_loaded: dict[str, Calculation] = {}


def names() -> tuple[str, ...]:
    """The name of every calculation; nothing is imported."""
    return tuple(_TOPIC_OF)


def find(name: str) -> Calculation | None:
    """The calculation of that name, or none."""
    topic = _TOPIC_OF.get(name)
    if topic is None:
        return None
    if name not in _loaded:
        module = importlib.import_module(f"proclang.field.{topic}")
        _loaded.update((calc.name, calc) for calc in module.CALCULATIONS)
    return _loaded[name]


def all_calculations() -> tuple[Calculation, ...]:
    """Every calculation, by topic, in the order of the table."""
    return tuple(calc for calc in map(find, _TOPIC_OF) if calc is not None)


def reference_chapter() -> str:
    """The chapter of all calculations, in markdown: what there is, by topic, then a page for each."""
    topics = [
        (title, [calc for calc in map(find, TOPICS[topic]) if calc is not None]) for topic, title in TITLES.items()
    ]
    lines = ["| topic | calculations |", "|---|---|"]
    for title, listed in topics:
        lines.append(f"| {title} | {', '.join(f'[`{calc.name}`](#{calc.name})' for calc in listed)} |")
    pages = [f"\n### {title}\n\n" + "\n".join(calculation_page(calc) for calc in listed) for title, listed in topics]
    return "\n".join(lines) + "\n" + "".join(pages)


def calculation_page(calc: Calculation) -> str:
    """The reference entry of a calculation, in markdown, ending in a newline."""
    lines = [f"#### `{calc.name}`", "", f"`{signature(calc)}`", "", "Takes", ""]
    lines += [f"- `{p.name}`: {_takes(p)}. {_sentence(p.meaning)}" for p in calc.parameters]
    lines += ["", "Gives", ""]
    lines += [f"- `{r.name}`: {_gives(r)}. {_sentence(r.meaning)}" for r in calc.results]
    lines += ["", f"Formula: {calc.formula}.", ""]
    for example in calc.examples:
        lines += [f"Example: `{example.call}` gives {' and '.join(f'`{text}`' for text in example.gives)}.", ""]
    for group in calc.one_of:
        lines += [f"Exactly one of {' and '.join(f'`{name}`' for name in group)} is given.", ""]
    if calc.validity:
        lines += [f"Valid for {calc.validity}; anything else is refused.", ""]
    if calc.safe_direction:
        lines += [f"As a limit, round it {calc.safe_direction}.", ""]
    lines += [f"Source: {calc.source}. Standing: {calc.standing}.", ""]
    if calc.print_standing:
        lines += ["The standing is printed with every result.", ""]
    if calc.own_uncertainty is not None:
        lines += ["Its own uncertainty joins that of the readings.", ""]
    if calc.caution:
        lines += [f"**Caution.** {calc.caution}", ""]
    how = "Computed exactly." if calc.exact else "Rounded to 12 significant digits."
    return "\n".join([*lines, how]) + "\n"


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")


def _takes(parameter: Parameter) -> str:
    takes = parameter.takes
    if parameter.choices:
        text = f"one of {', '.join(f'`{word}`' for word in parameter.choices)}"
    elif parameter.whole:
        text = "a whole number known before the run"
    elif isinstance(takes, Dimension):
        text = takes.phrase
    elif takes.bearing:
        text = "a bearing, from the same north throughout"
    elif takes.frames:
        text = "any dimension"
    else:
        text = "any dimension without a frame, the same wherever the call takes it"
    if parameter.labels:
        text = f"{text}, a series with the labels {' and '.join(parameter.labels)}"
    elif parameter.series:
        text = f"{text}, a series"
    if parameter.range_text:
        text = f"{text}, {parameter.range_text}"
    if parameter.optional:
        text = f"{text}; may be left out"
    return text


def _gives(result: Result) -> str:
    gives = result.gives
    if isinstance(gives, Dimension):
        text = gives.phrase
    else:
        text = "the dimension it takes" if type(gives).__name__ == "Like" else "the root of the dimension it takes"
    return f"{text}, a series over `{result.labels}`" if result.labels else text
