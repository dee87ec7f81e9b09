"""The uncertain parameters in plain words, and what would settle each."""

import math
from collections.abc import Mapping

from analysis.results import Range
from dashboards.text import wording
from dashboards.text.messages import N_, Worded

PARAMETER_WORDS = Worded(
    {
        "beta_md": N_("movement along the grain"),
        "beta_cd": N_("movement across the grain"),
        "modulus_md_gpa": N_("stiffness along the grain"),
        "modulus_cd_gpa": N_("stiffness across the grain"),
        "thickness_mm": N_("thickness of the print"),
        "grammage_g_m2": N_("weight of the paper"),
        "moisture_slope": N_("water taken up per %RH"),
        "softening_per_pct": N_("softening with moisture"),
        "core_half_time_h": N_("lag of the print"),
        "image_half_time_h": N_("lag of the image layer"),
        "image_share": N_("share of the image layer"),
        "gelatin_share": N_("share of the gelatin"),
        "gelatin_outside_factor": N_("movement of gelatin outside its middle range"),
        "relax_per_decade": N_("loss of tension with time"),
        "mechano_sorptive_per_pct": N_("loss of tension with each swing"),
        "alpha_md": N_("movement with warmth along the grain"),
        "alpha_cd": N_("movement with warmth across the grain"),
        "shrinkage_md": N_("shrinkage after a damp spell, along the grain"),
        "shrinkage_cd": N_("shrinkage after a damp spell, across the grain"),
        "hysteresis_rh_pct": N_("width of the history of damp and dry"),
        "hysteresis_offset_rh_pct": N_("history of damp and dry"),
        "poisson": N_("narrowing under pull"),
        "grain_vertical": N_("direction of the grain"),
        "panel_beta_along_md": N_("movement of the panel along the print's grain"),
        "panel_beta_along_cd": N_("movement of the panel across the print's grain"),
        "panel_alpha_along_md": N_("movement of the panel with warmth, along"),
        "panel_alpha_along_cd": N_("movement of the panel with warmth, across"),
        "panel_half_time_h": N_("lag of the panel"),
        "hinge_stiffness_n_m": N_("stiffness of the hinges"),
        "hinge_free_length_mm": N_("free length of the hinges"),
        "hinge_coverage": N_("share of the edge that is hinged"),
        "hinge_capacity_n_m": N_("strength of the hinges"),
        "hinge_sustained_n_m": N_("load the hinges bear for weeks"),
        "hinge_creep_days": N_("pace at which hinges give"),
        "hinge_week_strain": N_("give of the hinges that counts as giving way"),
        "prestrain": N_("stretch at mounting"),
        "mounted_rh_pct": N_("humidity at mounting"),
        "mounted_temp_c": N_("temperature at mounting"),
        "mounted_years": N_("time since mounting"),
        "half_time_h": N_("half-time of the frame"),
        "thermal_time_h": N_("time the frame takes to warm"),
        "shift_per_k": N_("humidity change with temperature in the frame"),
        "closing_rh_pct": N_("humidity at closing"),
        "gap_fill": N_("course of the room through a gap of the readings"),
        "sensor_offset_pct": N_("how far the room's logger reads off"),
        "frame_minus_logger_k": N_("warmth of the frame against the room's logger"),
        "logger_drift_pct_a": N_("drift of the room's logger"),
        "season_cos_pct": N_("what no reckoning of the seasons shows, winter against summer"),
        "season_sin_pct": N_("what no reckoning of the seasons shows, spring against autumn"),
        "path_share": N_("how far the sheet follows its path of damp and dry"),
        "past": N_("the years before the readings began"),
        "wall_factor": N_("coldness of the wall"),
        "outdoor_temp_c": N_("outdoor temperature"),
        "visible_slope_mrad": N_("slope at which a wave is seen"),
        "wavelength_m": N_("length of the waves"),
        "gap_mm": N_("distance to the glazing"),
    }
)


# The numbers that a person may state: those that are drawn, and two of which one is worked out.
STATED_WORDS = Worded(
    {
        **PARAMETER_WORDS,
        "board_mass_kg_m2": N_("absorbent board around the print, weight per area"),
        "back_permeance": N_("how much vapour the back lets through"),
    }
)


# The tables of published numbers, by their files.
TABLE_WORDS = Worded(
    {
        "ageing": N_("chemical ageing"),
        "ahead": N_("the hours after the last reading"),
        "cold_surfaces": N_("cold surfaces"),
        "discrepancy": N_("what the estimate leaves out"),
        "events": N_("events of the air"),
        "finishes": N_("finishes of the print"),
        "forecast": N_("the days to come"),
        "frames": N_("frames"),
        "gelatin": N_("gelatin"),
        "glazing": N_("glazing and spacer"),
        "grades": N_("grades of waves"),
        "hinges": N_("hinges"),
        "instruments": N_("instruments"),
        "measuring": N_("what to measure next"),
        "moist_air": N_("moist air"),
        "moisture": N_("moisture in board"),
        "mould": N_("mould"),
        "mounting": N_("mounting"),
        "offcuts": N_("strips of offcuts"),
        "panels": N_("panels"),
        "pasts": N_("the years before the readings"),
        "planning": N_("planning"),
        "prints": N_("prints"),
        "quality": N_("readings in doubt"),
        "record_rules": N_("rules for a record"),
        "salts": N_("saturated salts"),
        "walls": N_("walls"),
    }
)


# What "more of it" is called, where "the larger" would not be said.
LARGER_WORDS = Worded(
    {
        "core_half_time_h": N_("the longer"),
        "image_half_time_h": N_("the longer"),
        "panel_half_time_h": N_("the longer"),
        "half_time_h": N_("the longer"),
        "thermal_time_h": N_("the longer"),
        "hinge_creep_days": N_("the slower"),
        "hinge_free_length_mm": N_("the longer"),
        "wavelength_m": N_("the longer"),
        "mounted_years": N_("the longer ago"),
        "thickness_mm": N_("the thicker"),
        "grammage_g_m2": N_("the heavier"),
        "hysteresis_offset_rh_pct": N_("the damper"),
        "gap_fill": N_("the damper"),
        "mounted_rh_pct": N_("the damper"),
        "closing_rh_pct": N_("the damper"),
        "mounted_temp_c": N_("the warmer"),
        "outdoor_temp_c": N_("the warmer"),
        "sensor_offset_pct": N_("the higher"),
        "frame_minus_logger_k": N_("the warmer"),
        "logger_drift_pct_a": N_("the faster upwards"),
        "grain_vertical": N_("where it runs upright"),
    }
)


# What a person could measure or write down so that the range of a parameter narrows.
SETTLED_BY = Worded(
    {
        "beta_md": N_("an offcut strip of the same paper, measured over two salts"),
        "beta_cd": N_("an offcut strip of the same paper, measured over two salts"),
        "modulus_md_gpa": N_("an offcut strip pulled along the grain"),
        "modulus_cd_gpa": N_("an offcut strip pulled across the grain"),
        "thickness_mm": N_("a micrometer on an offcut"),
        "grammage_g_m2": N_("an offcut on the scales"),
        "moisture_slope": N_("an offcut weighed over two salts"),
        "softening_per_pct": N_("an offcut strip pulled dry and damp"),
        "core_half_time_h": N_("an offcut weighed by the hour after a step in humidity"),
        "image_half_time_h": N_("an offcut watched by the minute after a step in humidity"),
        "image_share": N_("an offcut strip measured by the minute and by the day"),
        "gelatin_share": N_("an offcut strip measured over a dry and a damp salt"),
        "gelatin_outside_factor": N_("an offcut strip measured over a dry and a damp salt"),
        "relax_per_decade": N_("an offcut strip held stretched for a week, its pull written down"),
        "mechano_sorptive_per_pct": N_(
            "an offcut strip held stretched while the air goes damp and dry"
        ),
        "alpha_md": N_("an offcut strip measured cool and warm"),
        "alpha_cd": N_("an offcut strip measured cool and warm"),
        "shrinkage_md": N_("an offcut strip measured before and after a damp spell"),
        "shrinkage_cd": N_("an offcut strip measured before and after a damp spell"),
        "hysteresis_rh_pct": N_("an offcut strip measured on the way up and on the way down"),
        "hysteresis_offset_rh_pct": N_("readings of the room in the weeks before the mounting"),
        "poisson": N_("an offcut strip pulled, its width measured"),
        "grain_vertical": N_("the grain direction, from the mount record or from an offcut"),
        "panel_beta_along_md": N_("a strip of the panel's board, measured over two salts"),
        "panel_beta_along_cd": N_("a strip of the panel's board, measured over two salts"),
        "panel_alpha_along_md": N_("a strip of the panel, measured cool and warm"),
        "panel_alpha_along_cd": N_("a strip of the panel, measured cool and warm"),
        "panel_half_time_h": N_(
            "a piece of the board weighed by the hour after a step in humidity"
        ),
        "hinge_stiffness_n_m": N_("a spare hinge pulled"),
        "hinge_free_length_mm": N_("the free length of the hinges, from the mount record"),
        "hinge_coverage": N_("the number and length of the hinges, from the mount record"),
        "hinge_capacity_n_m": N_("spare hinges pulled until they let go"),
        "hinge_sustained_n_m": N_("spare hinges hung with a weight for some weeks"),
        "hinge_creep_days": N_("spare hinges hung with a weight for some weeks"),
        "hinge_week_strain": N_("spare hinges hung with a weight for some weeks"),
        "prestrain": N_("inspections through damp and dry months"),
        "mounted_rh_pct": N_("the RH at mounting, from the mount record"),
        "mounted_temp_c": N_("the temperature at mounting, from the mount record"),
        "mounted_years": N_("the date of mounting"),
        "half_time_h": N_("a logger in the frame for some weeks, when it is next open anyway"),
        "thermal_time_h": N_("a logger in the frame for some days, when it is next open anyway"),
        "shift_per_k": N_("a logger in the frame through a warm and a cool spell"),
        "closing_rh_pct": N_("the RH at closing, from the frame's record"),
        "gap_fill": N_("the missing readings of the room"),
        "sensor_offset_pct": N_("the room's logger compared over a salt"),
        "frame_minus_logger_k": N_("a logger in the frame for some days beside the room's logger"),
        "logger_drift_pct_a": N_("the room's logger compared over a salt, at two dates"),
        "season_cos_pct": N_("inspections in winter and in summer"),
        "season_sin_pct": N_("inspections in spring and in autumn"),
        "path_share": N_("inspections soon after a damp and soon after a dry spell"),
        "past": N_("older readings of the room, from before those that are here"),
        "wall_factor": N_("a thermometer on the wall beside the frame in a cold week"),
        "outdoor_temp_c": N_("outdoor readings"),
        "visible_slope_mrad": N_("inspections, flat and “no change” among them"),
        "wavelength_m": N_("the distance from wave to wave, when waves show"),
        "gap_mm": N_("the spacer's depth, from the frame's record"),
    }
)


# Units in which a person reads a parameter, where the calculation's own are awkward.

# The calculation's unit → (factor, the unit shown).
BY_UNIT: Mapping[str, tuple[float, str]] = {
    "1/%": (1000.0, "mm per m per %RH"),
    "1/K": (1000.0, "mm per m per K"),
}


# The few whose unit is a bare number: parameter → (factor, the unit shown).
BY_NAME: Mapping[str, tuple[float, str]] = {
    "prestrain": (1000.0, "mm per m"),
    "hinge_week_strain": (1000.0, "mm per m"),
    "shrinkage_md": (1000.0, "mm per m"),
    "shrinkage_cd": (1000.0, "mm per m"),
    "relax_per_decade": (100.0, "% per tenfold time"),
    "softening_per_pct": (100.0, "% per % moisture"),
    "mechano_sorptive_per_pct": (100.0, "% per % moisture"),
    "image_share": (100.0, "%"),
    "gelatin_share": (100.0, "%"),
    "hinge_coverage": (100.0, "%"),
}


# The most decimals to which a unit is read, however narrow a range is.
FINEST: Mapping[str, int] = {"%RH": 1, "°C": 1, "%": 0, "N/m": 0, "mrad": 1, "d": 0}


OTHERWISE = 6  # for any other unit


def scale(name: str, unit: str) -> tuple[float, str]:
    """Return the factor from the calculation's unit to the one a person reads, and its words.

    Examples
    --------
    >>> scale("beta_cd", "1/%"), scale("half_time_h", "h")
    ((1000.0, 'mm per m per %RH'), (1.0, 'h'))
    """
    return BY_NAME.get(name) or BY_UNIT.get(unit, (1.0, unit))


def shown(name: str, unit: str, value: Range) -> tuple[Range, str]:
    """Return a parameter's range and unit as a person reads them.

    Examples
    --------
    >>> shown("beta_cd", "1/%", Range(6e-5, 9e-5, 1.5e-4))
    (Range(low=0.06, mid=0.09, high=0.15), 'mm per m per %RH')
    """
    factor, words = scale(name, unit)
    scaled = (round(x * factor, 12) for x in (value.low, value.mid, value.high))
    return Range(*scaled), words


def learned_words(value: Range, unit: str) -> str:
    """Return a number with its 5–95 % range and unit, with no more digits than are known.

    Where a range is wide, each number has two digits that count; where it is narrow, as many as
    tell its ends apart, and never a step finer than the unit is read to.

    Examples
    --------
    >>> learned_words(Range(0.06, 0.081, 0.11), "mm per m per %RH")
    '0.08 mm per m per %RH (0.06 to 0.11)'
    >>> learned_words(Range(9.5, 14.2, 21.0), "h"), learned_words(Range(-1.4, -0.001, 1.4), "%RH")
    ('14 h (10 to 21)', '0.0 %RH (−1.4 to 1.4)')
    >>> learned_words(Range(569.3, 1604.2, 4198.0), "N/m")
    '1600 N/m (570 to 4200)'
    """
    decimals = min(_decimals(value.high - value.low), FINEST.get(unit, OTHERWISE))
    low, mid, high = (_rounded(x, decimals) for x in (value.low, value.mid, value.high))
    shown_decimals = max(0, decimals)
    middle, least, most = (wording.number(one, shown_decimals) for one in (mid, low, high))
    return wording.with_range(middle, least, most, unit)


def _rounded(value: float, decimals: int) -> float:
    """Return a number rounded to so many decimals; left of the point, to two digits that count."""
    if decimals >= 0 or value == 0.0 or not math.isfinite(value):
        return value
    return round(value, max(decimals, 1 - math.floor(math.log10(abs(value)))))


def _decimals(width: float) -> int:
    """Return the decimals that a range of this width deserves; below zero: tens, hundreds."""
    if not math.isfinite(width) or width <= 0.0:
        return 1
    return -math.floor(math.log10(width / 3.0))
