"""The numbers a person may state of a work in place of the tables': groups, words, table rows."""

from collections.abc import Mapping

from analysis.parameters import Parameter, table
from analysis.simulation.drawer import group_of
from analysis.simulation.drawn_parameters import BUILD_FACTS, UNITS
from analysis.simulation.priors import wall_factor_row
from analysis.works import ADHESIVE_ROWS, GLAZED, Work

GROUPS: Mapping[str, tuple[str, ...]] = {
    "print": (
        "beta_md",
        "beta_cd",
        "thickness_mm",
        "grammage_g_m2",
        "modulus_md_gpa",
        "modulus_cd_gpa",
        "core_half_time_h",
        "image_half_time_h",
        "image_share",
        "gelatin_share",
        "gelatin_outside_factor",
        "moisture_slope",
        "softening_per_pct",
        "relax_per_decade",
        "mechano_sorptive_per_pct",
        "alpha_md",
        "alpha_cd",
        "shrinkage_md",
        "shrinkage_cd",
        "hysteresis_rh_pct",
        "poisson",
    ),
    "panel": (
        "panel_beta_along_md",
        "panel_beta_along_cd",
        "panel_alpha_along_md",
        "panel_alpha_along_cd",
        "panel_half_time_h",
    ),
    "hinges": (
        "hinge_stiffness_n_m",
        "hinge_free_length_mm",
        "hinge_coverage",
        "hinge_capacity_n_m",
        "hinge_sustained_n_m",
        "hinge_creep_days",
        "hinge_week_strain",
    ),
    "frame": (
        "half_time_h",
        "board_mass_kg_m2",
        "back_permeance",
        "thermal_time_h",
        "shift_per_k",
        "closing_rh_pct",
        "gap_mm",
        "sensor_offset_pct",
        "logger_drift_pct_a",
        "frame_minus_logger_k",
        "wall_factor",
        "outdoor_temp_c",
    ),
    "mounting": ("mounted_rh_pct", "mounted_temp_c", "mounted_years", "prestrain"),
    "surface": ("visible_slope_mrad", "wavelength_m"),
}
# What is measured of a place on a wall ends when the work is hung elsewhere.
OF_A_HANGING = ("frame_minus_logger_k",)
# What is measured of a frame ends when the frame is opened or taped anew; its board goes on.
OF_A_FRAME = ("half_time_h", "thermal_time_h", "back_permeance", "closing_rh_pct", "gap_mm")
# Drawn, but never stated here: each is a coin toss or a history, not a number of the work.
NOT_STATED: Mapping[str, str] = {
    "grain_vertical": "the direction of the grain is a field of the print",
    "season_cos_pct": "what the chain may be off by is tried on invented works, not measured",
    "season_sin_pct": "what the chain may be off by is tried on invented works, not measured",
    "path_share": "what the chain may be off by is tried on invented works, not measured",
    "past": "which of a room's possible pasts a draw lived through",
    "gap_fill": "what a room did in a gap of its readings",
    "hysteresis_offset_rh_pct": "where between damp and dry the print's history stands",
}
# Where a number comes from when no row of a table holds it.
OTHERWISE: Mapping[str, str] = {
    "board_mass_kg_m2": "no table: it is weighed",
    "panel_beta_along_md": "the panel's table, its grain either way",
    "panel_beta_along_cd": "the panel's table, its grain either way",
    "panel_alpha_along_md": "the panel's table, its grain either way",
    "panel_alpha_along_cd": "the panel's table, its grain either way",
    "closing_rh_pct": "the framing in the record",
    "gap_mm": "the spacer in the record",
    "mounted_rh_pct": "the mounting in the record",
    "mounted_temp_c": "the mounting in the record",
}
STATED_UNITS: Mapping[str, str] = {**UNITS, **BUILD_FACTS}


def table_row(work: Work, name: str) -> Parameter | None:
    """Return the row of the tables that holds for a work; None where it is worked out otherwise.

    Examples
    --------
    >>> from analysis.works import Finish, Paper
    >>> work = Work("W1", "Quay", 1500, 1000, Paper.FIBRE_BASE, Finish.GLOSSY)
    >>> table_row(work, "beta_cd").unit
    '1/%'
    """
    print_rows = table("prints")[group_of(work.paper)]
    if name in print_rows:
        return print_rows[name]
    return _rows_of_the_build(work).get(name)


def _rows_of_the_build(work: Work) -> dict[str, Parameter]:
    hinge, frames = table("hinges"), table("frames")
    bond = hinge[ADHESIVE_ROWS[work.adhesive]]
    build = frames[f"build_{work.frame.value.lower()}"]
    rows = {
        "poisson": table("prints")["sheet"]["poisson"],
        "gelatin_outside_factor": table("prints")["gelatin"]["outside_factor"],
        "panel_half_time_h": table("panels")[group_of(work.panel)]["half_time_h"],
        "hinge_stiffness_n_m": hinge["tissue"]["stiffness_n_m"],
        "hinge_free_length_mm": hinge["tissue"]["free_length_mm"],
        "hinge_coverage": hinge["tissue"]["coverage"],
        "hinge_capacity_n_m": bond["capacity_n_m"],
        "hinge_sustained_n_m": bond["sustained_n_m"],
        "hinge_creep_days": bond["creep_days"],
        "hinge_week_strain": hinge["giving_way"]["strain_in_a_week"],
        "prestrain": hinge["mounting"]["prestrain"],
        "mounted_years": hinge["mounting"]["age_years"],
        "half_time_h": build["half_time_h"],
        "thermal_time_h": build["thermal_time_h"],
        "shift_per_k": frames["glazed" if work.frame in GLAZED else "open"]["shift_per_k"],
        "back_permeance": frames["board"]["permeance"],
        "sensor_offset_pct": frames["sensor"]["offset_pct"],
        "frame_minus_logger_k": frames["logger"]["frame_minus_logger_k"],
        "logger_drift_pct_a": frames["logger"]["logger_drift_pct_a"],
        "wall_factor": wall_factor_row(work),
        "outdoor_temp_c": table("walls")["outdoors"]["temp_c"],
        "visible_slope_mrad": table("finishes")[group_of(work.finish)]["visible_slope_mrad"],
        "wavelength_m": table("finishes")["waves"]["wavelength_m"],
    }
    return rows
