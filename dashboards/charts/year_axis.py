"""A year across a chart: months named, humidity by the day, what cannot be told left as paper."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from matplotlib.axes import Axes

from analysis.results import Floats
from dashboards.inks import HAIR, SOFT
from dashboards.text.wording import month_short, number


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
