"""Everything a report says of a room's record in figures, each with the definition it used."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.coverage import coverage
from analysis.air.moist_air import dew_point_c
from analysis.air.sampling import usual_step_s
from analysis.air.swings import (
    DEFINITIONS,
    CycleClass,
    cycle_classes,
    dayspan,
    dev24,
    lag24,
    local_days,
    range24,
    rate1h,
    seasonal_drift,
)
from analysis.air.time_weights import TimeWithin, cells, time_percentiles, time_within
from analysis.errors import NotEnoughError
from analysis.results import Band, Coverage
from analysis.series import require_readings, usable

Floats = npt.NDArray[np.float64]
PERCENTS = (1.0, 5.0, 50.0, 95.0, 99.0)
SWING_SIZES = (5.0, 10.0, 15.0, 20.0)


@dataclass(frozen=True)
class Level:
    """Mean, extremes and percentiles (keyed by per cent) of a quantity, by time."""

    mean: float
    lowest: float
    highest: float
    percentiles: Mapping[float, float]


@dataclass(frozen=True)
class SwingFigures:
    """How a swing by one definition was distributed, by time.

    ``share_above_pct`` maps a size to the share of time in which the swing was larger [%].
    """

    name: str
    definition: str
    median: float
    p95: float
    highest: float
    share_above_pct: Mapping[float, float]


@dataclass(frozen=True)
class Month:
    """One local calendar month: means, and the mean and 95th percentile of the daily span."""

    month: str
    rh_pct: float
    temp_c: float
    mean_dayspan_rh_pct: float
    p95_dayspan_rh_pct: float


@dataclass(frozen=True)
class RoomStatistics:
    """Figures of one room's record. Humidity in %RH, temperature and dew point in °C.

    ``days_above_pct`` maps a size to the share of local days with a larger span [%]; ``words`` is
    "" or says why the figures should not be relied on.
    """

    first_utc: pd.Timestamp
    last_utc: pd.Timestamp
    readings: int
    coverage: Coverage
    rh_pct: Level
    temp_c: Level
    dew_point_c: Level
    swings_rh_pct: tuple[SwingFigures, ...]
    swings_temp_c: tuple[SwingFigures, ...]
    mean_dayspan_rh_pct: float
    days_above_pct: Mapping[float, float]
    drift30_rh_pct: float
    drift90_rh_pct: float
    cycles_rh_pct: tuple[CycleClass, ...]
    months: tuple[Month, ...]
    rh_within: TimeWithin | None
    temp_within: TimeWithin | None


def room_statistics(
    frame: pd.DataFrame,
    zone: str,
    band: Band | None = None,
    *,
    smoothing_min: float = 30.0,
) -> RoomStatistics:
    """Return the figures of a record for a report.

    Parameters
    ----------
    frame : pandas.DataFrame, n readings
        Flagged readings; those with a flag of `analysis.series.UNFIT` are left out and show in the
        coverage.
    zone : str
        IANA zone of the site; decides what a day and a month are.
    band : Band, optional
        Limits for the share of time within, the longest run outside and the exceedance.
    smoothing_min : float
        Window of the means whose hourly change is taken, 15 to 30 minutes.

    Raises
    ------
    NotEnoughError
        If fewer than two readings of humidity can be used.
    """
    require_readings(frame, read="readings for statistics")
    rh, temp = usable(frame, "rh_pct").dropna(), usable(frame, "temp_c").dropna()
    _require_two(rh)
    covered = _coverage(frame)
    spans = dayspan(rh, zone)
    return RoomStatistics(
        first_utc=frame.index[0],
        last_utc=frame.index[-1],
        readings=len(frame),
        coverage=covered,
        rh_pct=level(rh),
        temp_c=level(temp),
        dew_point_c=level(_dew_points(rh, temp)),
        swings_rh_pct=swing_figures(rh, spans, smoothing_min),
        swings_temp_c=swing_figures(temp, dayspan(temp, zone), smoothing_min),
        mean_dayspan_rh_pct=float(spans.mean()),
        days_above_pct={size: 100.0 * float((spans > size).mean()) for size in SWING_SIZES},
        drift30_rh_pct=seasonal_drift(rh, 30.0),
        drift90_rh_pct=seasonal_drift(rh, 90.0),
        cycles_rh_pct=cycle_classes(rh),
        months=months(rh, temp, spans, zone),
        rh_within=time_within(rh, band.low_rh_pct, band.high_rh_pct) if band else None,
        temp_within=_temp_within(temp, band),
    )


def _require_two(rh: pd.Series) -> None:
    if len(rh) < 2:
        raise NotEnoughError(
            read="readings for statistics",
            where="rh_pct",
            found=f"{len(rh)} usable readings",
            expected="at least two",
            action="Choose a longer period, or look at the flags of the readings.",
        )


def _coverage(frame: pd.DataFrame) -> Coverage:
    """Return the coverage from the first reading to one usual step after the last."""
    end = frame.index[-1] + pd.Timedelta(seconds=usual_step_s(frame.index))
    return coverage(frame, frame.index[0].to_pydatetime(), end.to_pydatetime())


def _dew_points(rh: pd.Series, temp: pd.Series) -> pd.Series:
    both = rh.index.intersection(temp.index)
    return pd.Series(dew_point_c(temp[both], rh[both]), index=both).dropna()


def level(values: pd.Series) -> Level:
    """Return mean, extremes and percentiles by time of readings without missing ones."""
    if values.empty:
        nan = float("nan")
        return Level(nan, nan, nan, dict.fromkeys(PERCENTS, nan))
    x = values.to_numpy(dtype=np.float64)
    width = _weights(values)
    points = _percentiles(x, width, PERCENTS)
    return Level(
        mean=float(np.average(x, weights=width)),
        lowest=float(x.min()),
        highest=float(x.max()),
        percentiles=dict(zip(PERCENTS, map(float, points), strict=True)),
    )


def swing_figures(
    values: pd.Series, spans: pd.Series, smoothing_min: float
) -> tuple[SwingFigures, ...]:
    """Return the distribution of a swing by every definition, side by side; ``spans`` by day."""
    return (
        _figures("range24", range24(values)),
        _figures("lag24", lag24(values)),
        _figures("dev24", dev24(values)),
        _figures("dayspan", spans),
        _figures("rate1h", rate1h(values, smoothing_min)),
    )


def months(rh: pd.Series, temp: pd.Series, spans: pd.Series, zone: str) -> tuple[Month, ...]:
    """Return the figures of every local calendar month that has a reading."""
    rh_means, temp_means = (_monthly_means(values, zone) for values in (rh, temp))
    by_month = spans.groupby(pd.DatetimeIndex(spans.index).to_period("M"))
    table = pd.DataFrame(
        {
            "rh": rh_means,
            "temp": temp_means,
            "span": by_month.mean(),
            "p95": by_month.quantile(0.95),
        }
    )
    rows = zip(table.index.astype(str), table.to_numpy(dtype=np.float64), strict=True)
    return tuple(Month(month, *map(float, row)) for month, row in rows)


def _monthly_means(values: pd.Series, zone: str) -> pd.Series:
    """Return means by time, by local month."""
    month = local_days(pd.DatetimeIndex(values.index), zone).to_period("M")
    width = _weights(values)
    sums = pd.DataFrame({"area": values.to_numpy() * width, "width": width}).groupby(month).sum()
    means: pd.Series = sums["area"] / sums["width"]
    return means


def _figures(name: str, swing: pd.Series) -> SwingFigures:
    known = swing.dropna()
    nan = float("nan")
    if known.empty:
        return SwingFigures(name, DEFINITIONS[name], nan, nan, nan, dict.fromkeys(SWING_SIZES, nan))
    x = known.to_numpy(dtype=np.float64)
    width = np.ones(len(x)) if name == "dayspan" else _weights(known)
    median, p95 = _percentiles(x, width, (50.0, 95.0))
    total = float(width.sum())
    above = {size: 100.0 * float(width[x > size].sum()) / total for size in SWING_SIZES}
    return SwingFigures(name, DEFINITIONS[name], float(median), float(p95), float(x.max()), above)


def _weights(values: pd.Series) -> Floats:
    width = cells(pd.DatetimeIndex(values.index)).width_s
    return width if width.sum() > 0 else np.ones(len(values))


def _percentiles(x: Floats, width_s: Floats, percents: tuple[float, ...]) -> Floats:
    """Return percentiles by time; where all readings weigh the same, without sorting them."""
    if len(x) > 2 and float(np.ptp(width_s)) == 0.0:
        return np.asarray(np.percentile(x, percents))
    return time_percentiles(x, width_s, percents)


def _temp_within(temp: pd.Series, band: Band | None) -> TimeWithin | None:
    if band is None or (band.low_temp_c is None and band.high_temp_c is None):
        return None
    return time_within(temp, band.low_temp_c, band.high_temp_c)
