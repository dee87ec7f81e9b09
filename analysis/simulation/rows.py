"""Where each number of a draw stands in a block of the loop, and each number that all works share.

Row r of draw j is at ``r + j``. What belongs to an axis stands in pairs: the row of the axis across
the grain is ``ACROSS`` after that along it.
"""

from analysis.chain.compiled import part
from analysis.results import Floats
from analysis.simulation.layout import BLOCK, offset

ACROSS = BLOCK

RH_OFFSET = offset("rh_offset")
GAP_FILL = offset("gap_fill")
WALL_FACTOR = offset("wall_factor")
OUTDOOR_C = offset("outdoor_c")
HEAT_BEGIN = offset("heat_begin")
HEAT_END = offset("heat_end")
HEAT_BEGIN_HALF = offset("heat_begin_half")
HEAT_END_HALF = offset("heat_end_half")
HEAT_SCALE = offset("heat_scale")
FRAME_RATE = offset("frame_rate")
CORE_RATE = offset("core_rate")
IMAGE_RATE = offset("image_rate")
PANEL_RATE = offset("panel_rate")
IMAGE_SHARE = offset("image_share")
OUTSIDE = offset("outside")
BETA_MD = offset("beta_md")
BETA_CD = offset("beta_cd")
PANEL_MD = offset("panel_md")
PANEL_CD = offset("panel_cd")
ALPHA_MD = offset("alpha_md")
ALPHA_CD = offset("alpha_cd")
START_MD = offset("start_md")
START_CD = offset("start_cd")
SHRINK_MD = offset("shrink_md")
SHRINK_CD = offset("shrink_cd")
SOFTEN = offset("soften")
SORPTIVE = offset("sorptive")
DEADBAND = offset("deadband")
RELAX_M = offset("relax_m")
ZERO_GAIN = offset("zero_gain")
MAT_GAIN_MD = offset("mat_gain_md")
MAT_GAIN_CD = offset("mat_gain_cd")
GAIN_MD = offset("gain_md")
GAIN_CD = offset("gain_cd")
EA_MD = offset("ea_md")
EA_CD = offset("ea_cd")
CREEP_MD = offset("creep_md")
CREEP_CD = offset("creep_cd")
SUSTAIN_MD = offset("sustain_md")
SUSTAIN_CD = offset("sustain_cd")
LOAD_MD = offset("load_md")
LOAD_CD = offset("load_cd")
WEEK_LIMIT = offset("week_limit")
BUCKLE = offset("buckle")
SLACK_VISIBLE = offset("slack_visible")
SLACK_CONTACT = offset("slack_contact")
WAVELENGTH = offset("wavelength")
PER_RH_MD = offset("per_rh_md")
PER_RH_CD = offset("per_rh_cd")
WEIGHT = offset("weight")
OUTER_C = offset("outer_c")
TEMP_C = offset("temp_c")
RATIO = offset("ratio")
SHIFT = offset("shift")
DRIVE = offset("drive")
PSI_FRAME = offset("psi_frame")
GAP_WIDTH = offset("gap_width")
BAND_FRAME = offset("band_frame")
BAND_PRINT = offset("band_print")
PSI_IMAGE = offset("psi_image")
PSI_CORE = offset("psi_core")
PSI_PANEL = offset("psi_panel")
PLAY = offset("play")
PEAK = offset("peak")
LOSS_MD = offset("loss_md")
LOSS_CD = offset("loss_cd")
CREEP_LOST_MD = offset("creep_lost_md")
CREEP_LOST_CD = offset("creep_lost_cd")
WEEK_LOST = offset("week_lost")
OVERLOAD = offset("overload")
ABOVE_MD = offset("above_md")
ABOVE_CD = offset("above_cd")
MAT_MD = offset("mat_md")
MAT_CD = offset("mat_cd")
V_MD = offset("v_md_0")  # the next internal strain of the axis: two rows on
RATIO_BEFORE = offset("ratio_before")
RATIO_MIDDLE = offset("ratio_middle")
PSI_BEFORE = offset("psi_before")
RATE = offset("rate")
HEAT = offset("heat")
PATH = offset("path")
RELEASED = offset("released")
SOFT = offset("soft")
CONDENSING = offset("condensing")

# Constants of all works, in `analysis.simulation.layout.CONSTANTS`.
MAGNUS_A, MAGNUS_B, GAB_C, GAB_K, HALF_SLOPE = range(5)
NET_HEAT, PRONY_K, PRONY_DECAY, PRONY_BEGIN, PRONY_END = 5, 11, 17, 23, 29
LINEAR_FROM, LINEAR_TO, RELEASE_FROM, RELEASE_PER, WEEK_DECAY, WIDEST_PCT, MOST = range(35, 42)


@part
def six(values: Floats, at: int, apart: int) -> tuple[float, float, float, float, float, float]:
    """Return six numbers that stand one after another, ``apart`` from each other."""
    return (
        values[at],
        values[at + apart],
        values[at + 2 * apart],
        values[at + 3 * apart],
        values[at + 4 * apart],
        values[at + 5 * apart],
    )
