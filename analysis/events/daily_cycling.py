"""Day–night cycling: days in a row whose humidity runs the same course."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.events.air_record import AirRecord
from analysis.events.event_settings import EventSettings

Floats = npt.NDArray[np.float64]


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
