"""Rooms compared: loggers of one room, two rooms, indoors against outdoors, month against month."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.moist_air import vapour_pressure_pa
from analysis.air.time_weights import cells, hourly_grid, time_mean, time_percentiles
from analysis.errors import NotEnoughError
from analysis.harm.condensation import at_times
from analysis.limits.limit_rules import Judging
from analysis.series import readings_frame, require_readings, usable

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class SpatialSpread:
    """Greatest difference between the loggers of one room at the same time.

    ``spread`` is indexed by time and goes into `analysis.limits.limit_rules.Judging`, where half of
    it is taken from the short-term allowance; ``room_mean`` is the mean of the loggers.
    """

    column: str
    spread: pd.Series
    room_mean: pd.Series
    mean: float
    p95: float
    highest: float
    highest_utc: datetime
    pair_at_highest: tuple[str, str]


@dataclass(frozen=True)
class RoomsCompared:
    """The second room less the first, by time, over the hours both measured."""

    hours: int
    rh_pct: float
    temp_c: float
    vapour_pressure_pa: float
    rh_correlation: float


@dataclass(frozen=True)
class MoistureAgainstOutdoors:
    """Vapour pressure of a room less that outdoors, hour by hour [Pa].

    ``excess_pa`` is positive where the room holds more moisture: people, water, humidifiers.
    ``follows`` is the correlation of daily means of vapour pressure, 1 for a room open to the
    weather; None for fewer than seven days.
    """

    excess_pa: pd.Series
    mean_pa: float
    low_pa: float
    high_pa: float
    wetter_inside_pct: float
    follows: float | None


@dataclass(frozen=True)
class MonthStatistics:
    """A calendar month of the site. ``coverage_pct`` is of the whole month."""

    year: int
    month: int
    coverage_pct: float
    rh_mean: float
    rh_p05: float
    rh_p95: float
    temp_mean: float
    mean_dayspan_rh: float


def spatial_spread(loggers: Mapping[str, pd.DataFrame], column: str = "rh_pct") -> SpatialSpread:
    """Return how far the loggers of one room differ.

    Parameters
    ----------
    loggers : mapping of str to pandas.DataFrame
        Readings by the logger's name, as in `analysis.series`. Compared by hourly means.
    column : str
        ``rh_pct`` or ``temp_c``.

    Raises
    ------
    NotEnoughError
        If no hour was measured by two of them.

    Examples
    --------
    >>> from analysis.series import readings_frame
    >>> hours = pd.date_range("2030-01-01", periods=24, freq="h", tz="UTC")
    >>> east, west = readings_frame(hours, rh_pct=50.0), readings_frame(hours, rh_pct=53.0)
    >>> spatial_spread({"east": east, "west": west}).highest
    3.0
    """
    for name, frame in loggers.items():
        require_readings(frame, read=f"readings of {name}")
    hours = pd.DataFrame({n: hourly_grid(usable(f, column)) for n, f in loggers.items()})
    shared = hours[hours.notna().sum(axis=1) >= 2]
    if shared.empty:
        raise NotEnoughError(
            read="loggers of one room",
            where=column,
            found="no hour that two of them measured",
            expected="two loggers at the same time",
            action="Choose loggers whose records overlap.",
        )
    spread = shared.max(axis=1) - shared.min(axis=1)
    worst = int(np.argmax(spread.to_numpy()))
    return SpatialSpread(
        column=column,
        spread=spread,
        room_mean=shared.mean(axis=1),
        mean=float(spread.mean()),
        p95=float(np.percentile(spread, 95)),
        highest=float(spread.max()),
        highest_utc=pd.DatetimeIndex(shared.index)[worst].to_pydatetime(),
        pair_at_highest=(str(shared.iloc[worst].idxmin()), str(shared.iloc[worst].idxmax())),
    )


def room_and_spread(loggers: Mapping[str, pd.DataFrame]) -> tuple[pd.DataFrame, Judging]:
    """Return the hourly mean air of a room with several loggers, and how to judge it.

    The spread of both quantities goes into the judging, for the short-term allowance of the
    climate classes. An hour that a single logger measured has its reading and no spread.
    """
    means, spreads = {}, {}
    for column in ("temp_c", "rh_pct"):
        hours = pd.DataFrame({n: hourly_grid(usable(f, column)) for n, f in loggers.items()})
        means[column] = hours.mean(axis=1)
        spreads[column] = hours.max(axis=1) - hours.min(axis=1)
    index = pd.DatetimeIndex(means["rh_pct"].index.union(means["temp_c"].index))
    room = readings_frame(index, **{name: mean.reindex(index) for name, mean in means.items()})
    return room, Judging(spread_rh_pct=spreads["rh_pct"], spread_temp_c=spreads["temp_c"])


def compare_rooms(first: pd.DataFrame, second: pd.DataFrame) -> RoomsCompared:
    """Return how the second room's air stood to the first's, by hourly means.

    Raises
    ------
    NotEnoughError
        If they have no hour in common.
    """
    one, two = _hourly(first, "the first room"), _hourly(second, "the second room")
    shared = one.add_suffix("_one").join(two.add_suffix("_two"), how="inner").dropna()
    if shared.empty:
        raise NotEnoughError(
            read="two rooms",
            where="time",
            found="no hour that both measured",
            expected="records that overlap",
            action="Choose a period in which both rooms were logged.",
        )
    moisture = _vapour(shared, "_two") - _vapour(shared, "_one")
    return RoomsCompared(
        hours=len(shared),
        rh_pct=float((shared["rh_pct_two"] - shared["rh_pct_one"]).mean()),
        temp_c=float((shared["temp_c_two"] - shared["temp_c_one"]).mean()),
        vapour_pressure_pa=float(np.nanmean(moisture)),
        rh_correlation=_correlation(shared["rh_pct_one"], shared["rh_pct_two"]),
    )


def _hourly(frame: pd.DataFrame, read: str) -> pd.DataFrame:
    require_readings(frame, read=f"readings of {read}")
    return pd.DataFrame({name: hourly_grid(usable(frame, name)) for name in ("temp_c", "rh_pct")})


def _vapour(shared: pd.DataFrame, suffix: str) -> Floats:
    temp, rh = shared[f"temp_c{suffix}"].to_numpy(), shared[f"rh_pct{suffix}"].to_numpy()
    return np.asarray(vapour_pressure_pa(temp, rh))


def _correlation(one: pd.Series, two: pd.Series) -> float:
    if len(one) < 3 or one.std() == 0 or two.std() == 0:
        return float("nan")
    return float(np.corrcoef(one, two)[0, 1])


def moisture_against_outdoors(
    room: pd.DataFrame, outdoors: pd.DataFrame
) -> MoistureAgainstOutdoors:
    """Compare a room with the outdoors by moisture, never by relative humidity.

    Parameters
    ----------
    room, outdoors : pandas.DataFrame
        Readings as in `analysis.series`; the outdoor record is read between neighbours, never
        across a gap.

    Raises
    ------
    NotEnoughError
        If they never overlap.
    """
    inside = _hourly(room, "the room")
    require_readings(outdoors, read="readings outdoors")
    hours = pd.DatetimeIndex(inside.index)
    outside = [at_times(usable(outdoors, name), hours) for name in ("temp_c", "rh_pct")]
    inner = np.asarray(vapour_pressure_pa(inside["temp_c"].to_numpy(), inside["rh_pct"].to_numpy()))
    excess = pd.Series(inner - vapour_pressure_pa(*outside), index=hours)
    known = excess.dropna()
    if known.empty:
        raise NotEnoughError(
            read="a room against the outdoors",
            where="time",
            found="no hour that both measured",
            expected="records that overlap",
            action="Add an outdoor record of the same period.",
        )
    daily = pd.DataFrame({"in": inner, "out": inner - excess}, index=hours).dropna()
    days = daily.resample("D").mean().dropna()
    return MoistureAgainstOutdoors(
        excess_pa=excess,
        mean_pa=float(known.mean()),
        low_pa=float(np.percentile(known, 5)),
        high_pa=float(np.percentile(known, 95)),
        wetter_inside_pct=100.0 * float((known > 0).mean()),
        follows=_correlation(days["in"], days["out"]) if len(days) >= 7 else None,
    )


def month_statistics(readings: pd.DataFrame, year: int, month: int, zone: str) -> MonthStatistics:
    """Return the statistics of a calendar month of the site, by time.

    What cannot be worked out is NaN; a page says "cannot tell" where the coverage is low.
    """
    require_readings(readings, read="readings of a month")
    start, end = _month(year, month, zone)
    part = readings[(readings.index >= start) & (readings.index < end)]
    rh = usable(part, "rh_pct").dropna()
    width_s = cells(pd.DatetimeIndex(rh.index)).width_s
    low, high = time_percentiles(rh.to_numpy(), width_s, (5.0, 95.0))
    local = pd.DatetimeIndex(rh.index).tz_convert(ZoneInfo(zone))
    days = rh.groupby(local.date)
    spans = days.max() - days.min()
    return MonthStatistics(
        year=year,
        month=month,
        coverage_pct=min(100.0 * float(width_s.sum()) / (end - start).total_seconds(), 100.0),
        rh_mean=time_mean(rh),
        rh_p05=float(low),
        rh_p95=float(high),
        temp_mean=time_mean(usable(part, "temp_c")),
        mean_dayspan_rh=float(spans.mean()) if len(spans) else float("nan"),
    )


def same_month_last_year(
    readings: pd.DataFrame, year: int, month: int, zone: str
) -> tuple[MonthStatistics, MonthStatistics]:
    """Return a month and the same month of the year before."""
    return (
        month_statistics(readings, year, month, zone),
        month_statistics(readings, year - 1, month, zone),
    )


def _month(year: int, month: int, zone: str) -> tuple[pd.Timestamp, pd.Timestamp]:
    start = pd.Timestamp(year=year, month=month, day=1, tz=ZoneInfo(zone))
    return start.tz_convert("UTC"), (start + pd.offsets.MonthBegin(1)).tz_convert("UTC")
