"""Where each number stands in the arrays of the loop: one row of draws after another.

A block of draws is worked through its hours in one small flat array. Row r of draw j is at
``r * BLOCK + j``; the names below are already multiplied by BLOCK.
"""

from collections.abc import Sequence

BLOCK = 200

# Constant through a run. Shapes (works, len(FIXED), n).
FIXED = (
    "rh_offset",  # sensor offset [0-1]
    "gap_fill",  # level between low and high copy [0-1]
    "wall_factor",
    "outdoor_c",
    "heat_begin",  # weights of the thermal lag
    "heat_end",
    "heat_begin_half",  # the same for half a step
    "heat_end_half",
    "heat_scale",  # net heat of sorption over the table's
    "frame_rate",  # ln 2 / half-time [1/h]
    "core_rate",
    "image_rate",
    "panel_rate",
    "image_share",
    "outside",  # expansion outside the linear range over that inside
    "beta_md",  # strain per unit of psi
    "beta_cd",
    "panel_md",
    "panel_cd",
    "alpha_md",  # panel minus print [1/K]
    "alpha_cd",
    "start_md",  # all that is constant since mounting [strain]
    "start_cd",
    "shrink_md",
    "shrink_cd",
    "soften",  # per unit of psi
    "sorptive",  # extra loss per unit of psi
    "deadband",  # half the sorption loop [psi]
    "relax_m",
    "zero_gain",  # 1/(1 - S_B)
    "mat_gain_md",
    "mat_gain_cd",
    "gain_md",  # reserve per strain above zero tension
    "gain_cd",
    "ea_md",
    "ea_cd",
    "creep_md",  # share of the excess bled off in an hour
    "creep_cd",
    "sustain_md",  # reserve at sustained capacity [strain]
    "sustain_cd",
    "load_md",  # load over the hinges' short-term capacity, per strain above zero tension
    "load_cd",
    "week_limit",
    "buckle",  # strain at which the sheet buckles
    "slack_visible",
    "slack_contact",
    "wavelength",
    "per_rh_md",  # %RH per strain of (print - panel), 0 where the panel moves more
    "per_rh_cd",
    "weight",
)
# Carried from hour to hour in a block.
CARRIED = (
    "outer_c",  # temperature that drives the print's
    "temp_c",
    "ratio",  # saturation pressure at the print over that at 20 °C
    "shift",  # f
    "drive",  # vapour pressure as psi
    "psi_frame",
    "gap_width",  # width between the copies: of the drive, in the frame, in the print
    "band_frame",
    "band_print",
    "psi_image",
    "psi_core",
    "psi_panel",
    "play",
    "peak",
    "loss_md",  # strain lost to cycles of moisture
    "loss_cd",
    "creep_lost_md",  # strain lost by the hinges
    "creep_lost_cd",
    "week_lost",
    "overload",  # greatest hinge load since mounting over short-term capacity
    "above_md",  # imposed strain over that of zero tension: < 0 is slack
    "above_cd",
    "mat_md",
    "mat_cd",
    *(f"v_{axis}_{i}" for i in range(6) for axis in ("md", "cd")),  # internal strains
)
# Hours since a draw was last visibly cockled, near the glazing, its hinges giving way; inf: never.
PAST = ("since_seen_h", "since_near_h", "since_giving_h")
# Shapes (works, len(STATE), n).
STATE = (*CARRIED, *PAST)
# Within one hour only.
SCRATCH = (
    "ratio_before",
    "ratio_middle",
    "psi_before",
    "rate",
    "heat",
    "path",  # psi stretched where expansion is steeper
    "released",  # share of the shrinkage that a damp spell let go
    "soft",
    "condensing",
)

CONSTANTS = (
    "magnus_a",
    "magnus_b",
    "gab_c",
    "gab_k",
    "half_slope",
    *(f"heat_{i}" for i in range(6)),
    *(f"k_{i}" for i in range(6)),
    *(f"decay_{i}" for i in range(6)),
    *(f"begin_{i}" for i in range(6)),
    *(f"end_{i}" for i in range(6)),
    "linear_from",
    "linear_to",
    "release_from",
    "release_per",
    "week_decay",
    "widest_pct",
    "most",
)
SUMS = (
    "slack",
    "visible",
    "clearance",
    "hinges",
    "band",
    "above_85",
    "condensing",
    "temperature",
    "visible_week",  # now or at some hour of the last week that was told
    "clearance_week",
    "hinges_week",
)
DETAIL = (
    "frame_rh_pct",
    "print_rh_pct",
    "tension_n_m",
    "slope_mrad",
    "wave_mm",
    "headroom_up_pct",
    "headroom_down_pct",
)
ROWS = (*FIXED, *CARRIED, *SCRATCH)


def offset(name: str) -> int:
    """Return where a row begins in a block's flat array."""
    return ROWS.index(name) * BLOCK


def state_row(name: str) -> int:
    """Return the row of a state in arrays of shape (len(STATE), n)."""
    return STATE.index(name)


def indices(names: Sequence[str]) -> dict[str, int]:
    """Return name → position."""
    return {name: i for i, name in enumerate(names)}
