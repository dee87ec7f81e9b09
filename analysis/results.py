"""What the calculations find, as frozen records that pages, charts, notices and commands share."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.works import Work

Floats = npt.NDArray[np.float64]


class Listing(StrEnum):
    """The four lists."""

    LOOK_FIRST = "look first"
    WATCH = "watch"
    LEAVE_BE = "leave be"
    CANNOT_TELL = "cannot tell"


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
    p_slack: Floats
    p_visible: Floats
    p_clearance: Floats
    p_hinges: Floats
    p_visible_week: Floats
    p_clearance_week: Floats
    p_hinges_week: Floats
    refused: npt.NDArray[np.str_]


@dataclass(frozen=True)
class LeadTime:
    """Hours until the probability of visible cockling passes one half; None: it does not."""

    if_room_stays_h: float | None
    if_trend_goes_on_h: float | None
    horizon_h: float


@dataclass(frozen=True)
class Judgement:
    """One work's line on the round: where it belongs and why.

    ``chain`` holds the five steps room → frame → print → tension → surface as (name, sentence).
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
    reason: str
    chain: Sequence[tuple[str, str]]
    condition: str
    look_again_utc: datetime | None
    what_would_mend: str = ""
    order_key: tuple[float, ...] = ()


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
    words: str = ""
    flags: Mapping[str, int] | None = None


@dataclass(frozen=True)
class RoomWeek:
    """One gallery's week: what the chart, the sheet and the page of a room are made from.

    ``readings`` has the columns of `analysis.series` plus ``dew_point_c``, in UTC, covering the
    week and nothing else; ``histories`` are cut to the week, hourly. ``zone`` is the site's IANA
    zone, in which people read the times.
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
