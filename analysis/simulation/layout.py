"""Where each number stands in the arrays of the loop: every place has its name, declared here once.

A block of draws is worked through its hours in one small flat array, one row of draws after
another: row r of draw j is at ``r + j`` with r from `Row`. What belongs to an axis stands in pairs:
the row across the grain is ``ACROSS`` after that along it.
"""

from collections.abc import Sequence
from enum import IntEnum, auto

from analysis.chain.compiled import part
from analysis.results import Floats

BLOCK = 200
LANES = 16  # draws that a processor handles at once, twice over: no block leaves a few of them
WIDTH = 64  # draws side by side: more gain little, and leave less to share out to the cores
ACROSS = BLOCK


class _Place(IntEnum):
    """Places counted from 0, in the order of their declaration."""

    @staticmethod
    def _generate_next_value_(name: str, start: int, count: int, last_values: list[int]) -> int:
        return count


class _BlockRow(IntEnum):
    """Rows of a block: each begins BLOCK after the one before."""

    @staticmethod
    def _generate_next_value_(name: str, start: int, count: int, last_values: list[int]) -> int:
        return count * BLOCK


class Row(_BlockRow):
    """The rows of a block of draws: constant ones, those carried on, those of one hour only."""

    # Constant through a run.
    RH_OFFSET = auto()  # sensor offset [0-1]
    GAP_FILL = auto()  # level between low and high copy [0-1]
    WALL_FACTOR = auto()
    OUTDOOR_C = auto()
    HEAT_BEGIN = auto()  # weights of the thermal lag
    HEAT_END = auto()
    HEAT_BEGIN_HALF = auto()  # the same for half a step
    HEAT_END_HALF = auto()
    HEAT_SCALE = auto()  # net heat of sorption over the table's
    FRAME_RATE = auto()  # ln 2 / half-time [1/h]
    CORE_RATE = auto()
    IMAGE_RATE = auto()
    PANEL_RATE = auto()
    IMAGE_SHARE = auto()
    OUTSIDE = auto()  # expansion outside the linear range over that inside
    BETA_MD = auto()  # strain per unit of psi
    BETA_CD = auto()
    PANEL_MD = auto()
    PANEL_CD = auto()
    ALPHA_MD = auto()  # panel minus print [1/K]
    ALPHA_CD = auto()
    START_MD = auto()  # all that is constant since mounting [strain]
    START_CD = auto()
    SHRINK_MD = auto()
    SHRINK_CD = auto()
    SOFTEN = auto()  # per unit of psi
    SORPTIVE = auto()  # extra loss per unit of psi
    DEADBAND = auto()  # half the sorption loop [psi]
    RELAX_M = auto()
    ZERO_GAIN = auto()  # 1/(1 - S_B)
    MAT_GAIN_MD = auto()
    MAT_GAIN_CD = auto()
    LEFT_MD = auto()  # what a step leaves of the strain that it finds above zero tension
    LEFT_CD = auto()
    GAIN_MD = auto()  # reserve per strain above zero tension
    GAIN_CD = auto()
    EA_MD = auto()
    EA_CD = auto()
    CREEP_MD = auto()  # share of the excess bled off in an hour
    CREEP_CD = auto()
    SUSTAIN_MD = auto()  # reserve at sustained capacity [strain]
    SUSTAIN_CD = auto()
    LOAD_MD = auto()  # load over the hinges' short-term capacity, per strain above zero tension
    LOAD_CD = auto()
    WEEK_LIMIT = auto()
    BUCKLE = auto()  # strain at which the sheet buckles
    SLACK_VISIBLE = auto()
    SLACK_CONTACT = auto()
    WAVELENGTH = auto()
    PER_RH_MD = auto()  # %RH per strain of (print - panel), 0 where the panel moves more
    PER_RH_CD = auto()
    PER_DRY_MD = auto()  # %RH per strain of (panel - print), 0 where the print moves more
    PER_DRY_CD = auto()
    FRAME_C = auto()  # frame warmer than the room's logger [K]
    DRIFT = auto()  # of the logger in a year since its last check [0-1]
    SEASON_COS = auto()  # height of the yearly wave that no link stands for [psi]
    SEASON_SIN = auto()
    PATH_SHARE = auto()  # share of the lag of humidity behind its path, by which expansion lags
    WEIGHT = auto()
    # Carried from hour to hour.
    OUTER_C = auto()  # temperature that drives the print's
    TEMP_C = auto()
    RATIO = auto()  # saturation pressure at the print over that at 20 °C
    SHIFT = auto()  # f
    DRIVE = auto()  # vapour pressure as psi
    PSI_FRAME = auto()
    GAP_WIDTH = auto()  # width between the copies: of the drive, in the frame, in the print
    BAND_FRAME = auto()
    BAND_PRINT = auto()
    PSI_IMAGE = auto()
    PSI_CORE = auto()
    PSI_PANEL = auto()
    PLAY = auto()
    PEAK = auto()
    LOSS_MD = auto()  # strain lost to cycles of moisture
    LOSS_CD = auto()
    CREEP_LOST_MD = auto()  # strain lost by the hinges
    CREEP_LOST_CD = auto()
    WEEK_LOST = auto()
    OVERLOAD = auto()  # greatest hinge load since mounting over short-term capacity
    ABOVE_MD = auto()  # imposed strain over that of zero tension: < 0 is slack
    ABOVE_CD = auto()
    MAT_MD = auto()
    MAT_CD = auto()
    V_MD_0 = auto()
    V_CD_0 = auto()
    V_MD_1 = auto()
    V_CD_1 = auto()
    V_MD_2 = auto()
    V_CD_2 = auto()
    V_MD_3 = auto()
    V_CD_3 = auto()
    V_MD_4 = auto()
    V_CD_4 = auto()
    V_MD_5 = auto()
    V_CD_5 = auto()
    # Within one hour only.
    RATIO_BEFORE = auto()
    RATIO_MIDDLE = auto()
    PSI_BEFORE = auto()
    RATE = auto()
    HEAT = auto()
    PATH = auto()  # psi stretched where expansion is steeper
    RELEASED = auto()  # share of the shrinkage that a damp spell let go
    SOFT = auto()
    CONDENSING = auto()
    CYCLED = auto()  # share of the reserve that the hour's cycling takes
    WAS_MD = auto()  # `ABOVE` an hour before
    WAS_CD = auto()
    LAG = auto()  # humidity as seen through the deadband, over humidity [psi]
    SEEN_MD = auto()  # `ABOVE` as read: with what the chain may be off by
    SEEN_CD = auto()


class Shared(_Place):
    """The numbers that all works share."""

    MAGNUS_A = auto()
    MAGNUS_B = auto()
    GAB_C = auto()
    GAB_K = auto()
    HALF_SLOPE = auto()
    HEAT_0 = auto()
    HEAT_1 = auto()
    HEAT_2 = auto()
    HEAT_3 = auto()
    HEAT_4 = auto()
    HEAT_5 = auto()
    K_0 = auto()
    K_1 = auto()
    K_2 = auto()
    K_3 = auto()
    K_4 = auto()
    K_5 = auto()
    DECAY_0 = auto()
    DECAY_1 = auto()
    DECAY_2 = auto()
    DECAY_3 = auto()
    DECAY_4 = auto()
    DECAY_5 = auto()
    BEGIN_0 = auto()
    BEGIN_1 = auto()
    BEGIN_2 = auto()
    BEGIN_3 = auto()
    BEGIN_4 = auto()
    BEGIN_5 = auto()
    END_0 = auto()
    END_1 = auto()
    END_2 = auto()
    END_3 = auto()
    END_4 = auto()
    END_5 = auto()
    LINEAR_FROM = auto()
    LINEAR_TO = auto()
    RELEASE_FROM = auto()
    RELEASE_PER = auto()
    WEEK_DECAY = auto()
    WIDEST_PCT = auto()
    MOST = auto()


class Hour(_Place):
    """What is known of a room in one hour."""

    ROOM_C = auto()
    OUTDOOR_C = auto()  # NaN: not known
    RH_LOW = auto()  # low and high copy [0-1]
    RH_HIGH = auto()
    ROOM_RATIO = auto()  # saturation pressure over that at 20 °C
    YEAR_COS = auto()  # of the angle of the year
    YEAR_SIN = auto()
    UNCHECKED_A = auto()  # years since the logger was last checked


class Sum(_Place):
    """What is summed over the draws of a work, by the hour: weights of draws, and the mean band."""

    SLACK = auto()
    VISIBLE = auto()
    CLEARANCE = auto()
    HINGES = auto()
    BAND = auto()
    ABOVE_85 = auto()
    CONDENSING = auto()
    TEMPERATURE = auto()
    VISIBLE_WEEK = auto()  # now or at some hour of the last week that was told
    CLEARANCE_WEEK = auto()
    HINGES_WEEK = auto()


class Detail(_Place):
    """What is told of each hour with a range."""

    FRAME_RH_PCT = auto()
    PRINT_RH_PCT = auto()
    TENSION_N_M = auto()
    SLOPE_MRAD = auto()
    WAVE_MM = auto()
    HEADROOM_UP_PCT = auto()
    HEADROOM_DOWN_PCT = auto()
    HEADROOM_QUICK_PCT = auto()  # in a spike, in which the panel does not move
    HEADROOM_DRY_PCT = auto()  # before slack as humidity falls and the panel shrinks more
    HINGE_SLIP_MM_M = auto()  # all that the hinges have given since mounting


def _names(places: Sequence[IntEnum]) -> tuple[str, ...]:
    return tuple(place.name.lower() for place in places)


_ROWS = list(Row)
_CARRIED_FROM, _SCRATCH_FROM = _ROWS.index(Row.OUTER_C), _ROWS.index(Row.RATIO_BEFORE)
# Constant through a run. Shapes (works, len(FIXED), n).
FIXED = _names(_ROWS[:_CARRIED_FROM])
CARRIED = _names(_ROWS[_CARRIED_FROM:_SCRATCH_FROM])
# Hours since a draw was last visibly cockled, near the glazing, its hinges giving way; inf: never.
PAST = ("since_seen_h", "since_near_h", "since_giving_h")
# Shapes (works, len(STATE), n).
STATE = (*CARRIED, *PAST)
ROWS, CONSTANTS = _names(_ROWS), _names(list(Shared))
SUMS, DETAIL = _names(list(Sum)), _names(list(Detail))
HOUR = _names(list(Hour))


def indices(names: Sequence[str]) -> dict[str, int]:
    """Return name → position."""
    return {name: i for i, name in enumerate(names)}


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
