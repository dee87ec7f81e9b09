"""Set points through the year and setback at night: what a schedule would do inside the frames."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from analysis.air.moist_air import rh_from_vapour_pressure, vapour_pressure_pa
from analysis.air.room_air import RoomAir
from analysis.answers.judgement import JudgementLimits
from analysis.errors import OutOfRangeError
from analysis.learning.posterior import Learned
from analysis.planning.year import YearSummary, years_of
from analysis.results import Floats, History
from analysis.simulation.pasts import pasts_of
from analysis.works import Work

AS_IT_WAS = "As it was"
WINTER, SUMMER = (12, 1, 2), (6, 7, 8)
HARDLY_MONTHS, HARDLY_PCT = 0.3, 2.0


@dataclass(frozen=True)
class Schedule:
    """A change to a room's air, laid over its last year.

    Parameters
    ----------
    name : str
        As people call it; empty: by what it changes.
    setback_k : float
        How much cooler the room is in the setback hours [K]; the water in the air stays.
    from_hour, to_hour : int
        Setback hours of the day in ``zone``, 0 to 24; ``from_hour`` may lie after ``to_hour``.
    shift_rh_pct : mapping of int to float
        Month, 1 to 12 → change of relative humidity [%RH].
    glide_days : int
        Days over which a change of set point is spread; 0: from one hour to the next.
    zone : str
        IANA zone of the hours.
    """

    name: str = ""
    setback_k: float = 0.0
    from_hour: int = 0
    to_hour: int = 0
    shift_rh_pct: Mapping[int, float] = field(default_factory=dict)
    glide_days: int = 0
    zone: str = "UTC"


def set_points(
    *,
    winter_pct: float = 0.0,
    summer_pct: float = 0.0,
    glide_days: int = 0,
    setback_k: float = 0.0,
    from_hour: int = 20,
    to_hour: int = 6,
    zone: str = "UTC",
) -> Schedule | None:
    """Return a schedule of seasonal set points and night setback, or None where nothing changes.

    Parameters
    ----------
    winter_pct, summer_pct : float
        Change of humidity from December to February, and from June to August [%RH].

    Examples
    --------
    >>> set_points(summer_pct=4.0, glide_days=30).shift_rh_pct[7], set_points(glide_days=30)
    (4.0, None)
    """
    if not (winter_pct or summer_pct or setback_k):
        return None
    shifts = dict.fromkeys(WINTER, winter_pct) | dict.fromkeys(SUMMER, summer_pct)
    return Schedule("", setback_k, from_hour, to_hour, shifts, glide_days, zone)


@dataclass(frozen=True)
class ScheduleYear:
    """A work's year under one schedule.

    ``room_swing_pct`` and ``frame_swing_pct`` are the medians over days of highest less lowest
    humidity, of the room and of the middle draw in the frame [%RH].
    """

    schedule: Schedule
    air: RoomAir
    history: History
    year: YearSummary
    room_swing_pct: float
    frame_swing_pct: float


def scheduled(air: RoomAir, schedule: Schedule) -> RoomAir:
    """Return a room's air under a schedule.

    Raises
    ------
    OutOfRangeError
        If hours, months, setback or shift cannot be.
    """
    _require_possible(schedule)
    local = pd.DatetimeIndex(air.time_utc).tz_localize("UTC").tz_convert(schedule.zone)
    hour = np.asarray(local.hour)
    start, end = schedule.from_hour, schedule.to_hour
    inside = (hour >= start) & (hour < end) if start <= end else (hour >= start) | (hour < end)
    temp = air.temp_c - schedule.setback_k * inside
    shift = _gliding(
        np.array([schedule.shift_rh_pct.get(int(month), 0.0) for month in local.month]),
        24 * schedule.glide_days,
    )
    return replace(
        air,
        temp_c=temp,
        rh_low_pct=_at_temperature(air.temp_c, air.rh_low_pct, temp, shift),
        rh_high_pct=_at_temperature(air.temp_c, air.rh_high_pct, temp, shift),
    )


def _gliding(shift: Floats, hours: int) -> Floats:
    """Return a change of set point spread evenly over some hours around each step."""
    if hours < 2:
        return shift
    spread = pd.Series(shift).rolling(hours, center=True, min_periods=1).mean()
    return np.asarray(spread, dtype=np.float64)


def _at_temperature(was_c: Floats, rh_pct: Floats, now_c: Floats, shift: Floats) -> Floats:
    now = np.where(
        was_c == now_c, rh_pct, rh_from_vapour_pressure(now_c, vapour_pressure_pa(was_c, rh_pct))
    )
    return np.clip(now + shift, 0.0, 100.0)


def _require_possible(schedule: Schedule) -> None:
    hours = all(0 <= h <= 24 for h in (schedule.from_hour, schedule.to_hour))
    months = all(1 <= month <= 12 for month in schedule.shift_rh_pct)
    shifts = all(abs(shift) <= 30.0 for shift in schedule.shift_rh_pct.values())
    glide = 0 <= schedule.glide_days <= 90
    if not (hours and months and shifts and glide and 0.0 <= schedule.setback_k <= 15.0):
        raise OutOfRangeError(
            read=f"schedule {schedule.name}",
            where="hours, months, setback, shift or glide",
            found=f"{schedule.from_hour} to {schedule.to_hour} h, {schedule.setback_k:g} K, "
            f"{dict(schedule.shift_rh_pct)}, {schedule.glide_days} days",
            expected="hours 0 to 24, months 1 to 12, setback 0 to 15 K, shift within 30 %RH, a "
            "glide of 0 to 90 days",
            action="Correct the schedule.",
        )


def schedule_years(
    work: Work,
    air: RoomAir,
    schedules: Sequence[Schedule],
    *,
    n: int = 200,
    learned: Learned | None = None,
    limits: JudgementLimits | None = None,
) -> list[ScheduleYear]:
    """Return a work's year as it was, then under each schedule, on the same draws.

    No energy figures are given: they are not ours to claim.

    Raises
    ------
    OutOfRangeError
        If the work is not held by tension, or a schedule cannot be.
    NotEnoughError
        If no hour of the year can be told.
    """
    return [
        _under(schedule, work, air, n, learned, limits)
        for schedule in (Schedule(AS_IT_WAS), *schedules)
    ]


def _under(
    schedule: Schedule,
    work: Work,
    air: RoomAir,
    n: int,
    learned: Learned | None,
    limits: JudgementLimits | None,
) -> ScheduleYear:
    changed = scheduled(air, schedule)
    years = years_of(
        {work.work_id: work}, changed, n, learned, hourly_ranges=True, pasts=pasts_of(air)
    )
    found = years[work.work_id]
    room = _daily_swing(changed.time_utc, (changed.rh_low_pct + changed.rh_high_pct) / 2.0)
    frame = _frame_swing(found.history)
    year = found.summary(limits)
    return ScheduleYear(schedule, changed, found.history, year, room, frame)


@dataclass(frozen=True)
class ScheduleChange:
    """What a schedule changes against the year as it was: months, and a share of the year."""

    months_slack: float
    months_overtight: float
    look_first: float

    @property
    def hardly(self) -> bool:
        """Whether it would have been hardly different."""
        months = max(abs(self.months_slack), abs(self.months_overtight))
        return months < HARDLY_MONTHS and 100.0 * abs(self.look_first) < HARDLY_PCT


def schedule_change(was: ScheduleYear, new: ScheduleYear) -> ScheduleChange:
    """Return what a schedule would have changed."""
    before, after = was.year, new.year
    return ScheduleChange(
        after.months_slack.mid - before.months_slack.mid,
        after.months_overtight.mid - before.months_overtight.mid,
        after.look_first.share - before.look_first.share,
    )


def _frame_swing(history: History) -> float:
    judged = history.refused == ""
    return _daily_swing(history.time_utc[judged], history.frame_rh_pct[judged, 1])


def _daily_swing(time_utc: np.typing.NDArray[np.datetime64], rh_pct: Floats) -> float:
    days = pd.Series(rh_pct).groupby(time_utc.astype("datetime64[D]"))
    return float((days.max() - days.min()).median())
