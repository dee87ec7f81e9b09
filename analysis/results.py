"""What the calculations find, as frozen records that pages, charts, notices and commands share."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from datetime import datetime
from enum import StrEnum

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.works import Work

Floats = npt.NDArray[np.float64]


class Listing(StrEnum):
    """Where a work belongs: four lists, and the works that no estimate covers."""

    LOOK_FIRST = "look first"
    WATCH = "watch"
    LEAVE_BE = "leave be"
    CANNOT_TELL = "cannot tell"
    NOT_COVERED = "not covered"


class State(StrEnum):
    """The state of a work; each has its own drawn mark and its word."""

    TAUT = "taut"
    EASING = "easing"
    SLACK = "slack"
    NEAR_GLAZING = "near the glazing"
    HINGES = "hinges giving way"
    CANNOT_TELL = "cannot tell"
    NOT_HELD_BY_TENSION = "not held by tension"


@dataclass(frozen=True)
class Range:
    """A number with its 5 % and 95 % points."""

    low: float
    mid: float
    high: float


@dataclass(frozen=True)
class History:
    """A work through time. Arrays of shape (n,), ranges of shape (n, 3) as 5, 50, 95 %.

    ``p_…_week`` is the probability that it was so at any told hour of the week up to each hour.
    ``refused`` holds, per hour, the key of the reason why no number is given ("" where one is).

    ``headroom_up_pct`` is the spare of a slow rise, which the panel follows, ``headroom_quick_pct``
    that of a spike, in which the print alone moves; ``headroom_dry_pct`` is how far humidity may
    fall before the panel's shrinking slackens the print, ``headroom_down_pct`` before the hinges
    are at capacity. ``hinge_slip_mm_m`` is all that hinges have given since mounting.
    ``slack_causes`` says of the last hour, by cause, the probability that the print is slack by it;
    ``unmeasured_years`` how many years before the first reading were drawn, not measured.
    """

    work_id: str
    time_utc: npt.NDArray[np.datetime64]
    frame_rh_pct: Floats
    print_rh_pct: Floats
    tension_n_m: Floats
    slope_mrad: Floats
    wave_mm: Floats
    headroom_up_pct: Floats
    headroom_down_pct: Floats
    headroom_quick_pct: Floats
    headroom_dry_pct: Floats
    hinge_slip_mm_m: Floats
    p_slack: Floats
    p_visible: Floats
    p_clearance: Floats
    p_hinges: Floats
    p_visible_week: Floats
    p_clearance_week: Floats
    p_hinges_week: Floats
    refused: npt.NDArray[np.str_]
    slack_causes: Mapping["SlackCause", float] = field(default_factory=dict)
    unmeasured_years: float = 0.0


OF_THE_WHOLE = ("work_id", "slack_causes", "unmeasured_years")
# The fields of a history that run hour by hour.
HISTORY_ARRAYS = tuple(one.name for one in fields(History) if one.name not in OF_THE_WHOLE)


@dataclass(frozen=True)
class LeadTime:
    """Hours until the probability of visible cockling passes one half; None: it does not."""

    if_room_stays_h: float | None
    if_trend_goes_on_h: float | None
    horizon_h: float


class Because(StrEnum):
    """What put a work on its list; the limits that decide it are a setting."""

    LOOSE_HINGE = "a hinge was found loose"
    GRADED = "it was graded and not seen since"
    WAVES_NOW = "waves now"
    WAVES_SINCE = "waves since the last look or read-out"
    TOO_DAMP_TO_TELL = "too damp for any estimate"
    GLAZING = "near the glazing this week"
    HINGES = "hinges giving way this week"
    LEAD_TIME = "waves soon if the room stays"


class SlackCause(StrEnum):
    """Why a print is, or is likely to become, slack."""

    TOO_DAMP = "too damp"
    PANEL = "panel shrank"
    RELAXED = "relaxed"
    HINGES = "hinges slipped"
    MOUNTED_SLACK = "mounted slack"


class Change(StrEnum):
    """What became otherwise of a work at an instant."""

    ARRIVED = "hung in this room"
    WALL = "another wall"
    SUN_GONE = "no sun or spotlight any more"
    MOUNTED = "mounted anew"
    FRAMED = "framed anew"
    MEASURED = "a number was measured"


@dataclass(frozen=True)
class ChangeAt:
    """A change of a work, the step of the chain on which it bears, and its instant.

    ``detail`` is the wall it hangs on, or the parameter that was measured.
    """

    change: Change
    step: str
    at_utc: datetime
    detail: str = ""


@dataclass(frozen=True)
class AirNow:
    """What was measured in a room at an hour and in the week before it; NaN where nothing was."""

    measured: bool
    rh_pct: float
    temp_c: float
    week_low_rh_pct: float
    week_high_rh_pct: float


@dataclass(frozen=True)
class WorkNow:
    """The chain of one work at an hour, in ranges.

    ``headroom_change_pct`` is how far the spare upwards moved over the week [%RH];
    ``likeliest_utc`` is the hour of the week at which waves were most probable.
    """

    p_slack: float
    frame_rh_pct: Range
    print_rh_pct: Range
    tension_n_m: Range
    slope_mrad: Range
    headroom_up_pct: Range
    headroom_down_pct: Range
    headroom_change_pct: float
    likeliest_utc: datetime | None = None
    headroom_quick_pct: Range | None = None
    headroom_dry_pct: Range | None = None
    hinge_slip_mm_m: Range | None = None
    slack_causes: Mapping[SlackCause, float] = field(default_factory=dict)
    unmeasured_years: float = 0.0


@dataclass(frozen=True)
class LastLook:
    """A look that asks for another: when, what grade, whether a hinge was found loose."""

    at_utc: datetime
    grade: int | None
    released: bool = False


@dataclass(frozen=True)
class SinceLook:
    """What was so at some hour of a span that ends with the hour that is judged.

    Parameters
    ----------
    since_utc : datetime
        When the span begins: the last look or the last read-out, whichever is longer ago.
    p_visible, p_clearance, p_hinges : float
        Chance that it was so at some told hour of the span.
    shown_utc : tuple of datetime or None
        First and last hour in which waves were more likely than not, where there is one.
    beyond_utc : datetime or None
        Last hour for which the print may have been damper than any estimate holds.
    p_low, p_high : float
        ``p_visible`` where the fact that nobody knows is as kind, and as unkind, as it may be.
    inspected : bool
        Whether anybody has looked at the work since it was mounted as it is.
    """

    since_utc: datetime
    p_visible: float
    p_clearance: float
    p_hinges: float
    shown_utc: tuple[datetime, datetime] | None = None
    beyond_utc: datetime | None = None
    p_low: float = float("nan")
    p_high: float = float("nan")
    inspected: bool = True


@dataclass(frozen=True)
class Judgement:
    """One work's line on the round: where it belongs, and everything its sentences are made of.

    `dashboards.text` words it. ``refusal`` is a key of `analysis.simulation.refusals`, or "";
    ``missing`` names facts of the register without which something cannot be told. Where ``since``
    is known, ``p_visible_week`` and its like are chances over that span, else over a week. The
    judgement rests on readings up to ``known_until_utc``; ``impossible`` says what the work's
    record holds that nothing can be computed with.
    """

    work_id: str
    title: str
    listing: Listing
    state: State
    at_utc: datetime
    p_visible_now: float
    p_visible_week: float
    p_clearance: float
    p_hinges: float
    headroom_up_pct: Range | None
    headroom_down_pct: Range | None
    print_rh_pct: Range | None
    lead_time: LeadTime | None
    look_again_utc: datetime | None
    work: Work
    because: tuple[Because, ...] = ()
    cause: SlackCause | None = None
    refusal: str = ""
    air: AirNow | None = None
    now: WorkNow | None = None
    asks: LastLook | None = None
    changes: tuple[ChangeAt, ...] = ()
    missing: tuple[str, ...] = ()
    order_key: tuple[float, ...] = ()
    since: SinceLook | None = None
    known_until_utc: datetime | None = None
    impossible: str = ""

    @property
    def carried_on(self) -> bool:
        """Whether it rests on what the room usually does, after its last reading."""
        until = self.known_until_utc
        return until is not None and self.at_utc > until


class Cause(StrEnum):
    """Likely cause of a humidity change, from its split into temperature and moisture parts."""

    MOISTURE_ADDED = "moist air or water coming in"
    MOISTURE_REMOVED = "dry air coming in or drying"
    COOLED = "cooling"
    WARMED = "warming"
    MIXED = "temperature and moisture together"
    SENSOR = "perhaps the sensor"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class Event:
    """A swing, excursion, spike, step or silence in one room's air."""

    kind: str
    channel: str
    start_utc: datetime
    peak_utc: datetime
    end_utc: datetime
    from_value: float
    peak_value: float
    size: float
    rate_per_h: float
    area: float
    cause: str
    coverage_pct: float
    confirmed_by: str = ""
    over: bool = True
    quantity: str = "rh_pct"


@dataclass(frozen=True)
class Band:
    """An agreed range of humidity, named, dated and owned."""

    name: str
    low_rh_pct: float
    high_rh_pct: float
    owner: str = ""
    since: str = ""
    review: str = ""
    low_temp_c: float | None = None
    high_temp_c: float | None = None


@dataclass(frozen=True)
class Coverage:
    """How much of a period was really measured."""

    valid_pct: float
    flagged: int
    missing: int
    longest_gap_h: float
    interval_s: float
    needed_pct: float = 0.0
    flags: Mapping[str, int] | None = None

    @property
    def enough(self) -> bool:
        """Whether so much was measured that something may be said."""
        return self.valid_pct >= self.needed_pct


@dataclass(frozen=True)
class Planned:
    """What the calendar holds for some hours; ``to_utc`` None: one moment."""

    title: str
    from_utc: datetime
    to_utc: datetime | None = None


class Beside(StrEnum):
    """What a room's week is drawn beside: the week before, the same week a year ago, outdoors."""

    WEEK = "week"
    YEAR = "year"
    OUTDOORS = "outdoors"


@dataclass(frozen=True)
class RoomWeek:
    """One gallery's week: what the chart, the sheet and the page of a room are made from.

    ``readings`` has the columns of `analysis.series` plus ``dew_point_c``, in UTC, covering the
    week and nothing else; ``histories`` are cut to the week, hourly. ``zone`` is the site's IANA
    zone, in which people read the times. ``planned`` is what the calendar holds of the week;
    ``before`` the readings it is drawn ``beside``, of another week moved to this one.
    """

    room_id: str
    room_name: str
    zone: str
    iso_week: str
    start_utc: datetime
    end_utc: datetime
    readings: pd.DataFrame
    band: Band | None
    events: Sequence[Event]
    works: Mapping[str, Work]
    histories: Mapping[str, History]
    judgements: Sequence[Judgement]
    coverage: Coverage
    loggers: Sequence[str]
    calibration: str = ""
    clock: str = ""
    sentence: str = ""
    planned: Sequence[Planned] = ()
    before: pd.DataFrame | None = None
    beside: Beside = Beside.WEEK
