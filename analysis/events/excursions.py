"""What lasts: runs beyond a limit, days that range too widely, days that run the same course.

Runs are merged over short returns, short ones are left out, and silence breaks them.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.swings import range24
from analysis.air.time_weights import DAY_S, HOUR_S
from analysis.events.air_record import AirRecord, EventSettings

Floats = npt.NDArray[np.float64]
Marks = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Run:
    """First and last reading of a run, as places in the record."""

    first: int
    last: int


@dataclass(frozen=True)
class RunRule:
    """When runs are one, and when they are too short to count."""

    merge_s: float
    break_s: float
    least_readings: int = 2
    least_s: float = 0.0


def runs(at_s: Floats, beyond: Marks, near: Marks, rule: RunRule) -> list[Run]:
    """Return the runs of readings beyond a limit.

    Parameters
    ----------
    at_s : numpy.ndarray, shape (n,)
        Times [s].
    beyond : numpy.ndarray of bool, shape (n,)
        Readings beyond the limit.
    near : numpy.ndarray of bool, shape (n,)
        Readings beyond the limit less its hysteresis: between two runs they do not part them.
    rule : RunRule
        Runs closer than ``merge_s`` are one, unless ``break_s`` passed without any reading.

    Returns
    -------
    list of Run
        Each begins and ends with a reading beyond the limit.
    """
    out = np.flatnonzero(beyond)
    if len(out) == 0:
        return []
    silent = np.append(0, np.cumsum(np.diff(at_s) > rule.break_s))
    returned = np.cumsum(~near & ~beyond)
    apart = np.diff(at_s[out]) > rule.merge_s
    parted = (apart & (np.diff(returned[out]) > 0)) | (np.diff(silent[out]) > 0)
    starts = out[np.append(True, parted)]
    ends = out[np.append(parted, True)]
    counts = np.searchsorted(out, ends) - np.searchsorted(out, starts) + 1
    long = (counts >= rule.least_readings) & (at_s[ends] - at_s[starts] >= rule.least_s)
    return [Run(int(a), int(b)) for a, b in zip(starts[long], ends[long], strict=True)]


@dataclass(frozen=True)
class SwingRun:
    """A stretch with too wide a range24, as places in the record.

    ``earlier`` and ``later`` are the two extremes of its widest 24 hours; ``first`` is the earlier
    extreme of its first window, ``last`` the later extreme of its last.
    """

    first: int
    last: int
    earlier: int
    later: int
    over: bool


def swing_runs(record: AirRecord, settings: EventSettings) -> list[SwingRun]:
    """Return the stretches whose rolling 24-hour range exceeds ``settings.swing_rh_pct``.

    Only windows of which enough was measured are looked at.
    """
    if len(record) < 2:
        return []
    wide = range24(record.humidity).to_numpy()
    begins = np.searchsorted(record.at_s, record.at_s - DAY_S - 1e-6)
    measured = record.measured_s - record.measured_s[begins]
    enough = measured >= settings.swing_least_pct / 100.0 * DAY_S
    beyond = enough & (wide > settings.swing_rh_pct)
    rule = RunRule(merge_s=settings.swing_merge_gap_h * HOUR_S, break_s=record.gap_s)
    counted = np.where(beyond, wide, 0.0)
    found = []
    for run in runs(record.at_s, beyond, beyond, rule):
        widest = run.first + int(np.argmax(counted[run.first : run.last + 1]))
        earlier, later = _extremes(record, int(begins[widest]), widest)
        first, _ = _extremes(record, int(begins[run.first]), run.first)
        _, last = _extremes(record, int(begins[run.last]), run.last)
        over = record.at_s[-1] - record.at_s[run.last] > 0.0
        found.append(SwingRun(first, max(last, later), earlier, later, over))
    return found


def _extremes(record: AirRecord, begin: int, end: int) -> tuple[int, int]:
    """Return the places of the extremes of a window, the earlier one first."""
    window = record.rh_pct[begin : end + 1]
    low, high = begin + int(np.argmin(window)), begin + int(np.argmax(window))
    return min(low, high), max(low, high)


@dataclass(frozen=True)
class Cycling:
    """A stretch of like days.

    ``low`` and ``high`` are the hours of the mean day at which humidity is lowest and highest, as
    (temperature [°C], humidity [%RH]); ``first`` and ``last`` are places in the record, ``peak``
    the place of the highest reading of the widest day.
    """

    first: int
    peak: int
    last: int
    low: tuple[float, float]
    high: tuple[float, float]
    days: int


def daily_cycling(record: AirRecord, zone: str, settings: EventSettings) -> list[Cycling]:
    """Return the stretches of days whose hourly means swing alike, local time."""
    if len(record) < 48:
        return []
    wall = record.index.tz_convert(zone).tz_localize(None)
    day = wall.normalize()
    rh = _day_table(day, wall.hour, record.rh_pct)
    temp = _day_table(day, wall.hour, record.temp_c).reindex(rh.index)
    like = _like_days(rh, settings)
    stretches = []
    for first, last in _stretches(like, int(settings.cycling_days)):
        days = slice(first, last + 1)
        stretches.append(_cycling(record, day, rh.iloc[days], temp.iloc[days]))
    return stretches


def _day_table(day: pd.DatetimeIndex, hour: pd.Index, values: Floats) -> pd.DataFrame:
    """Return hourly means as a table of local days × 24 hours, with a row for every day."""
    long = pd.DataFrame({"day": day, "hour": hour, "value": values})
    table = long.pivot_table(index="day", columns="hour", values="value", aggfunc="mean")
    table = table.reindex(columns=range(24))
    return table.reindex(pd.date_range(day.min(), day.max(), freq="D"))


def _like_days(rh: pd.DataFrame, settings: EventSettings) -> npt.NDArray[np.bool_]:
    """Mark days that swing enough and run the course of the day before."""
    table = rh.to_numpy()
    measured = np.isfinite(table).sum(axis=1) >= settings.cycling_least_hours
    filled = np.where(measured[:, None], table, 0.0)
    span = np.nanmax(filled, axis=1) - np.nanmin(filled, axis=1)
    course = np.nan_to_num(filled - np.nanmean(filled, axis=1, keepdims=True))
    length = np.sqrt((course**2).sum(axis=1))
    both = length[1:] * length[:-1]
    likeness = (course[1:] * course[:-1]).sum(axis=1) / np.where(both > 0, both, 1.0)
    wide = measured & (span >= settings.cycling_rh_pct)
    return np.append(False, wide[1:] & wide[:-1] & (likeness >= settings.cycling_likeness))


def _stretches(like: npt.NDArray[np.bool_], least_days: int) -> list[tuple[int, int]]:
    """Return first and last day of each stretch; the day that the first is like belongs to it."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], like.astype(int), [0]])))
    pairs = zip(edges[::2] - 1, edges[1::2] - 1, strict=True)
    return [(int(a), int(b)) for a, b in pairs if b - a + 1 >= least_days]


def _cycling(
    record: AirRecord, day: pd.DatetimeIndex, rh: pd.DataFrame, temp: pd.DataFrame
) -> Cycling:
    first = int(np.searchsorted(day, rh.index[0]))
    last = int(np.searchsorted(day, rh.index[-1], side="right")) - 1
    widest = rh.index[int((rh.max(axis=1) - rh.min(axis=1)).to_numpy().argmax())]
    begin, end = (int(np.searchsorted(day, widest, side=side)) for side in ("left", "right"))
    mean_rh, mean_temp = rh.mean().to_numpy(), temp.mean().to_numpy()
    low, high = int(np.nanargmin(mean_rh)), int(np.nanargmax(mean_rh))
    return Cycling(
        first=first,
        peak=begin + int(np.argmax(record.rh_pct[begin:end])),
        last=last,
        low=(float(mean_temp[low]), float(mean_rh[low])),
        high=(float(mean_temp[high]), float(mean_rh[high])),
        days=len(rh),
    )
