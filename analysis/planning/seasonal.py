"""Set points through the year and setback at night: what a schedule would do inside the frames."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from analysis.errors import OutOfRangeError
from analysis.learning import Learned
from analysis.moist_air import rh_from_vapour_pressure, vapour_pressure_pa
from analysis.planning.variants import start_utc, years_of
from analysis.planning.year import ListLimits, YearSummary
from analysis.results import Floats, History
from analysis.room_air import RoomAir
from analysis.works import Work


@dataclass(frozen=True)
class Schedule:
    """A change to a room's air, laid over its last year.

    Parameters
    ----------
    name : str
        As people call it.
    setback_k : float
        How much cooler the room is in the setback hours [K]; the water in the air stays.
    from_hour, to_hour : int
        Setback hours of the day in ``zone``, 0 to 24; ``from_hour`` may lie after ``to_hour``.
    shift_rh_pct : mapping of int to float
        Month, 1 to 12 → change of relative humidity [%RH].
    zone : str
        IANA zone of the hours.
    """

    name: str
    setback_k: float = 0.0
    from_hour: int = 0
    to_hour: int = 0
    shift_rh_pct: Mapping[int, float] = field(default_factory=dict)
    zone: str = "UTC"


@dataclass(frozen=True)
class ScheduleYear:
    """A work's year under one schedule.

    ``room_swing_pct`` and ``frame_swing_pct`` are the medians over days of highest less lowest
    humidity, of the room and of the middle draw in the frame [%RH].
    """

    schedule: Schedule
    year: YearSummary
    room_swing_pct: float
    frame_swing_pct: float
    sentence: str


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
    shift = np.array([schedule.shift_rh_pct.get(int(month), 0.0) for month in local.month])
    return replace(
        air,
        temp_c=temp,
        rh_low_pct=_at_temperature(air.temp_c, air.rh_low_pct, temp, shift),
        rh_high_pct=_at_temperature(air.temp_c, air.rh_high_pct, temp, shift),
    )


def _at_temperature(was_c: Floats, rh_pct: Floats, now_c: Floats, shift: Floats) -> Floats:
    now = np.where(
        was_c == now_c, rh_pct, rh_from_vapour_pressure(now_c, vapour_pressure_pa(was_c, rh_pct))
    )
    return np.clip(now + shift, 0.0, 100.0)


def _require_possible(schedule: Schedule) -> None:
    hours = all(0 <= h <= 24 for h in (schedule.from_hour, schedule.to_hour))
    months = all(1 <= month <= 12 for month in schedule.shift_rh_pct)
    shifts = all(abs(shift) <= 30.0 for shift in schedule.shift_rh_pct.values())
    if not (hours and months and shifts and 0.0 <= schedule.setback_k <= 15.0):
        raise OutOfRangeError(
            read=f"schedule {schedule.name}",
            where="hours, months, setback or shift",
            found=f"{schedule.from_hour} to {schedule.to_hour} h, {schedule.setback_k:g} K, "
            f"{dict(schedule.shift_rh_pct)}",
            expected="hours 0 to 24, months 1 to 12, setback 0 to 15 K, shift within 30 %RH",
            action="Correct the schedule.",
        )


def schedule_years(
    work: Work,
    air: RoomAir,
    schedules: Sequence[Schedule],
    *,
    n: int = 200,
    learned: Learned | None = None,
    limits: ListLimits | None = None,
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
    found = []
    for schedule in (Schedule("as it was"), *schedules):
        changed = scheduled(air, schedule)
        found_year = years_of({work.work_id: work}, changed, n, learned)[work.work_id]
        room = _daily_swing(changed.time_utc, (changed.rh_low_pct + changed.rh_high_pct) / 2.0)
        frame = _frame_swing(found_year.history)
        year = found_year.summary(limits)
        words = (
            f"{schedule.name}: the room's day spans {room:.1f} %RH, the frame's {frame:.1f}; "
            f"slack for about {year.months_slack.mid:.1f} months since {start_utc(air):%Y-%m-%d}."
        )
        found.append(ScheduleYear(schedule, year, room, frame, words))
    return found


def _frame_swing(history: History) -> float:
    told = history.refused == ""
    return _daily_swing(history.time_utc[told], history.frame_rh_pct[told, 1])


def _daily_swing(time_utc: np.typing.NDArray[np.datetime64], rh_pct: Floats) -> float:
    days = pd.Series(rh_pct).groupby(time_utc.astype("datetime64[D]"))
    return float((days.max() - days.min()).median())
