"""Time across a week's chart: hours since its start, local days named, gaps left as paper."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from matplotlib.axes import Axes

from analysis.results import Floats, RoomWeek
from analysis.series import UNFIT, sample_interval_s
from dashboards.inks import HAIR, SOFT
from dashboards.text import wording
from dashboards.text.wording import month_short, number

GAP_STEPS = 2.5  # a wait longer than this many intervals is a gap


GAP_H = 0.5  # and longer than this, so that jitter is none


@dataclass(frozen=True)
class Days:
    """The time scale of one week in the site's zone."""

    start_utc: datetime
    end_utc: datetime
    zone: str
    known_until_utc: datetime | None = None

    @classmethod
    def of(cls, week: RoomWeek) -> "Days":
        """Return the time scale of a week; what lies after its judgements is not known yet."""
        until = max((j.at_utc for j in week.judgements), default=None)
        return cls(week.start_utc, week.end_utc, week.zone, until)

    @property
    def length_h(self) -> float:
        """Return the length of the week; 167 or 169 hours where clocks change [h]."""
        return self.at(self.end_utc)

    @property
    def known_h(self) -> float:
        """Return the end of what can be known by now: the week's end once that is past [h]."""
        if self.known_until_utc is None:
            return self.length_h
        return min(max(self.at(self.known_until_utc), 0.0), self.length_h)

    def at(self, time_utc: datetime) -> float:
        """Return the place of an instant across the chart [h since the week's start]."""
        return (time_utc - self.start_utc).total_seconds() / 3600.0

    def along(self, times: Any) -> Floats:
        """Return the places of an array of instants [h since the week's start]."""
        index = pd.DatetimeIndex(times)
        index = index.tz_localize("UTC") if index.tz is None else index
        hours: Floats = ((index - self.start_utc) / pd.Timedelta(hours=1)).to_numpy(float)
        return hours

    def midnights(self) -> Iterator[tuple[datetime, float, float]]:
        """Yield each local day of the week with the places of its beginning and end."""
        midnight = wording.local(self.start_utc, self.zone).replace(
            hour=0, minute=0, second=0, microsecond=0
        )
        while midnight < self.end_utc:
            following = midnight + timedelta(days=1)  # wall time: the zone moves the instant
            yield midnight, self._place(midnight), self._place(following)
            midnight = following

    def _place(self, here: datetime) -> float:
        return min(max(self.at(wording.local(here, "UTC")), 0.0), self.length_h)


def rule_days(axes: Axes, days: Days) -> None:
    """Set the scale, and draw a hairline at each local midnight."""
    axes.set_xlim(0.0, days.length_h)
    axes.set_xticks([])
    for _, first, _ in days.midnights():
        axes.axvline(first, color=HAIR, linewidth=0.5, zorder=0.5)


def name_days(axes: Axes, days: Days, *, short: bool, size: float) -> None:
    """Write the name of each day above the axes."""
    for midnight, first, last in days.midnights():
        words = wording.day_heading(midnight.date(), short=short)
        axes.annotate(
            words,
            ((first + last) / 2, 1.0),
            xycoords=("data", "axes fraction"),
            xytext=(0, 4),
            textcoords="offset points",
            ha="center",
            va="bottom",
            size=size,
            color=SOFT,
        )


def fit_values(readings: pd.DataFrame, column: str) -> Floats:
    """Return a column with the readings that may not be judged turned to NaN."""
    values = readings[column].to_numpy(dtype=float, copy=True)
    values[(readings["flags"].to_numpy() & int(UNFIT)) != 0] = np.nan
    return values


def gaps(readings: pd.DataFrame, days: Days, column: str = "rh_pct") -> list[tuple[float, float]]:
    """Return the stretches without a measured value, as places across the chart [h].

    A flagged reading is a measured value: it is drawn hollow, so its hour is no gap. The time
    still to come is none either.
    """
    measured = pd.DatetimeIndex(readings.index[readings[column].notna().to_numpy()])
    step_h = sample_interval_s(measured) / 3600.0
    least = max(GAP_H, GAP_STEPS * step_h) if np.isfinite(step_h) else GAP_H
    places = days.along(measured)
    edges = np.concatenate(
        [[0.0], places, [max(days.known_h, float(places[-1]) if places.size else 0.0)]]
    )
    waits = np.diff(edges)
    return [(float(edges[i]), float(edges[i + 1])) for i in np.flatnonzero(waits > least)]


def broken_line(places: Floats, values: Floats, breaks: list[tuple[float, float]]) -> Any:
    """Return places and values with a NaN inside each gap, so that no line bridges it."""
    if not breaks:
        return places, values
    middles = np.array([(first + last) / 2 for first, last in breaks])
    where = np.searchsorted(places, middles)
    return np.insert(places, where, middles), np.insert(values, where, np.nan)


def hatch_gaps(axes: Axes, breaks: list[tuple[float, float]]) -> None:
    """Leave gaps as paper, hatched."""
    for first, last in breaks:
        axes.axvspan(first, last, facecolor="none", edgecolor=HAIR, hatch="////", linewidth=0.0)


# A year across a chart: months named, humidity by the day, what cannot be told left as paper.


@dataclass(frozen=True)
class DailyHumidity:
    """Humidity by the day: days since 1970, and each day's least, middle and most [%]."""

    days: Floats
    low_pct: Floats
    mid_pct: Floats
    high_pct: Floats


def daily(time_utc: npt.NDArray[np.datetime64], rh_pct: Floats) -> DailyHumidity:
    """Return hours gathered into days.

    Parameters
    ----------
    rh_pct : ndarray, shape (n, 3) or (n,)
        Low, middle and high by the hour [%], or one number; NaN where it cannot be told.
    """
    columns = rh_pct if rh_pct.ndim == 2 else np.column_stack([rh_pct] * 3)
    frame = pd.DataFrame(columns, index=time_utc.astype("datetime64[D]").astype(np.int64))
    days = frame.groupby(level=0)
    return DailyHumidity(
        days=days.size().index.to_numpy(float),
        low_pct=days[0].min().to_numpy(float),
        mid_pct=days[1].median().to_numpy(float),
        high_pct=days[2].max().to_numpy(float),
    )


def name_months(axes: Axes, days: Floats, *, every: int = 1, named: bool = True) -> None:
    """Rule the months of a span of days, and name every so many of them."""
    first, last = (np.datetime64(int(day), "D").astype("datetime64[M]") for day in days[[0, -1]])
    months = np.arange(first + 1, last + 1)
    at = months.astype("datetime64[D]").astype(np.int64)
    axes.set_xlim(days[0], days[-1] + 1.0)
    for place in at:
        axes.axvline(place, color=HAIR, lw=0.4, zorder=0.4)
    numbers = months.astype(np.int64) % 12
    names = [month_short(n + 1) if i % every == 0 else "" for i, n in enumerate(numbers)]
    axes.set_xticks(at, names if named else [""] * len(at), ha="left", size=8)


def humidity_ticks(axes: Axes, low: float, high: float) -> None:
    """Set the scale of humidity to whole tens that hold a range [%]."""
    bottom, top = 10.0 * np.floor(low / 10.0), 10.0 * np.ceil(high / 10.0)
    axes.set_ylim(bottom, top)
    step = 10.0 if top - bottom <= 40.0 else 20.0
    ticks = np.arange(bottom, top + 1.0, step)
    axes.set_yticks(ticks, [number(tick) for tick in ticks], size=8, color=SOFT)
