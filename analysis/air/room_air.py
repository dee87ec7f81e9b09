"""Readings of a room → the hourly grid, with a low and a high copy through gaps.

Nothing is filled silently: an hour without a usable reading is marked as not measured, and its
humidity is given twice, as the 1st and the 99th percentile of the thirty days before it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.hour_means import HourMeans, RecordHours
from analysis.errors import NotEnoughError, OutOfRangeError
from analysis.parameters import parameter
from analysis.results import Floats
from analysis.series import require_readings, sample_interval_s

WINDOW_DAYS = 30
YEAR_S = 8766.0 * 3600.0
LOW_PERCENTILE, HIGH_PERCENTILE = 0.01, 0.99


@dataclass(frozen=True)
class RoomAir:
    """A room's air on the hourly grid. Arrays of shape (h,).

    Parameters
    ----------
    time_utc : ndarray of datetime64[s]
        Full hours.
    temp_c : ndarray
        Temperature; in unmeasured hours the median of the thirty days before.
    rh_low_pct, rh_high_pct : ndarray
        Low and high copy of relative humidity, equal where measured.
    outdoor_temp_c : ndarray
        Outdoor temperature, NaN where not known.
    measured : ndarray of bool
        Whether the hour rests on usable readings.
    interval_s : float
        Median interval of the readings.
    first_low_pct, first_high_pct : float
        1st and 99th percentile of the first thirty days: where a frame may have started.
    checked_utc : tuple of datetime64
        When the room's logger was checked or begun, in order: from then on it may drift.
    southern : bool
        Whether the room is south of the equator, which turns the season of the years before the
        record, where the record is too short to show it.
    read_until_utc : datetime64, optional
        The last hour of the record, where more was carried on from it: what nobody read tells no
        season. None: all hours are of the record.
    """

    time_utc: npt.NDArray[np.datetime64]
    temp_c: Floats
    rh_low_pct: Floats
    rh_high_pct: Floats
    outdoor_temp_c: Floats
    measured: npt.NDArray[np.bool_]
    interval_s: float
    first_low_pct: float
    first_high_pct: float
    checked_utc: tuple[np.datetime64, ...] = ()
    southern: bool = False
    read_until_utc: np.datetime64 | None = None

    def __post_init__(self) -> None:
        """Take a logger as checked when its record begins, where nothing else is known."""
        if not self.checked_utc:
            object.__setattr__(self, "checked_utc", (self.time_utc[0],))

    @property
    def step_h(self) -> float:
        """Hours from one value to the next."""
        return float((self.time_utc[1] - self.time_utc[0]) / np.timedelta64(3600, "s"))

    @property
    def hours(self) -> int:
        """Number of hours."""
        return len(self.time_utc)

    @property
    def hours_of_record(self) -> int:
        """Number of hours without those carried on."""
        if self.read_until_utc is None:
            return self.hours
        return int(np.searchsorted(self.time_utc, self.read_until_utc, "right"))


HOUR_BY_HOUR = ("time_utc", "temp_c", "rh_low_pct", "rh_high_pct", "outdoor_temp_c", "measured")


def part_of(air: RoomAir, keep: slice) -> RoomAir:
    """Return some hours of some air alone: copies, which do not hold all the others in memory."""
    return replace(air, **{name: getattr(air, name)[keep].copy() for name in HOUR_BY_HOUR})


def _grid(start_utc: datetime, end_utc: datetime) -> pd.DatetimeIndex:
    for name, when in (("start_utc", start_utc), ("end_utc", end_utc)):
        if when.tzinfo is None:
            raise OutOfRangeError(
                read="room air",
                where=name,
                found=f"{when} without a zone",
                expected="a time in UTC",
                action="State the zone.",
            )
    grid = pd.date_range(
        pd.Timestamp(start_utc).tz_convert("UTC").ceil("h"),
        pd.Timestamp(end_utc).tz_convert("UTC").floor("h"),
        freq="h",
    )
    if len(grid) < 2:
        raise NotEnoughError(
            read="room air",
            where=f"{start_utc} to {end_utc}",
            found=f"{len(grid)} full hours",
            expected="two or more",
            action="Ask for a longer span.",
        )
    return grid


def _through_gaps(at: Floats, skip: int, level: float, fallback: float) -> Floats:
    """Fill unmeasured hours with a percentile of the measured hours of the thirty days before.

    The first ``skip`` hours serve those percentiles only.
    """
    if np.isfinite(at[skip:]).all():
        return at[skip:]
    series = pd.Series(at)
    window = WINDOW_DAYS * 24
    before = series.rolling(window, min_periods=24).quantile(level).ffill()
    filled = series.where(series.notna(), before.fillna(fallback))
    return np.asarray(filled, dtype=np.float64)[skip:]


def hourly_air(
    readings: pd.DataFrame,
    *,
    start_utc: datetime,
    end_utc: datetime,
    outdoor_temp_c: pd.Series | None = None,
    checked_utc: Sequence[datetime] = (),
    southern: bool = False,
) -> RoomAir:
    """Return a room's readings on the hourly grid, with low and high copies through gaps.

    Parameters
    ----------
    readings : pandas.DataFrame
        As from `analysis.series.readings_frame`. Readings before ``start_utc`` are used only for
        the percentiles of gaps: give thirty days of them where they exist.
    start_utc, end_utc : datetime
        Span of the grid, both with a zone.
    outdoor_temp_c : pandas.Series, optional
        Outdoor temperature with a UTC index. [°C]
    checked_utc : sequence of datetime
        Dates of its calibrations, with a zone: each begins the logger's drift anew.
    southern : bool
        Whether the room is south of the equator.

    Returns
    -------
    RoomAir

    Raises
    ------
    NotEnoughError
        If the span has no usable reading, or less than two hours.
    """
    require_readings(readings, read="room air")
    return air_between(
        RecordHours.of(readings),
        None,
        None,
        start_utc=start_utc,
        end_utc=end_utc,
        outdoor_temp_c=outdoor_temp_c,
        checked_utc=checked_utc,
        southern=southern,
    )


def air_between(
    record: RecordHours,
    first: pd.Timestamp | None,
    last: pd.Timestamp | None,
    *,
    start_utc: datetime,
    end_utc: datetime,
    outdoor_temp_c: pd.Series | None = None,
    checked_utc: Sequence[datetime] = (),
    southern: bool = False,
) -> RoomAir:
    """Return the same as `hourly_air` of a record's readings from ``first`` to ``last`` alone.

    Both are included; None: no bound. Of a record whose hours are at hand it takes a tenth of the
    time.
    """
    grid = _grid(start_utc, end_utc)
    early = pd.date_range(grid[0] - pd.Timedelta(days=WINDOW_DAYS), grid[0], freq="h")[:-1]
    wide = pd.DatetimeIndex(early.append(grid))
    interval_s = record.interval_s(first, last)
    rh = np.clip(record.rh_pct.at(wide, interval_s, first, last), 0.0, 100.0)
    rh = np.where(rh > 0.0, rh, np.nan)  # no room is at 0 %RH: a sensor that has failed
    temp = record.temp_c.at(wide, interval_s, first, last)
    both = np.isfinite(rh) & np.isfinite(temp)
    if not both[len(early) :].any():
        raise NotEnoughError(
            read="room air",
            where=f"{grid[0]} to {grid[-1]}",
            found="no usable pair of temperature and humidity",
            expected="readings of the room",
            action="Bring in the readings of this span, or choose another.",
        )
    rh, temp = np.where(both, rh, np.nan), np.where(both, temp, np.nan)
    air = _copies(rh, temp, both, wide, len(early), interval_s, outdoor_temp_c)
    checks = sorted(np.datetime64(int(one.timestamp()), "s") for one in checked_utc)
    return replace(air, checked_utc=(air.time_utc[0], *checks), southern=southern)


def _copies(
    rh: Floats,
    temp: Floats,
    measured: npt.NDArray[np.bool_],
    wide: pd.DatetimeIndex,
    skip: int,
    interval_s: float,
    outdoor: pd.Series | None,
) -> RoomAir:
    first = rh[measured][: WINDOW_DAYS * 24]
    low, high = np.quantile(first, [LOW_PERCENTILE, HIGH_PERCENTILE])
    middle = float(np.median(temp[measured][: WINDOW_DAYS * 24]))
    out = np.full(len(wide), np.nan)
    if outdoor is not None:
        step_s = sample_interval_s(pd.DatetimeIndex(outdoor.index))
        out = HourMeans.of(outdoor).at(wide, step_s)
    return RoomAir(
        time_utc=wide[skip:].tz_localize(None).to_numpy().astype("datetime64[s]"),
        temp_c=_through_gaps(temp, skip, 0.5, middle),
        rh_low_pct=_through_gaps(rh, skip, LOW_PERCENTILE, float(low)),
        rh_high_pct=_through_gaps(rh, skip, HIGH_PERCENTILE, float(high)),
        outdoor_temp_c=out[skip:],
        measured=measured[skip:],
        interval_s=interval_s,
        first_low_pct=float(low),
        first_high_pct=float(high),
    )


def unchecked_years(air: RoomAir) -> Floats:
    """Return for each hour the years since the logger was last checked, shape (h,).

    Before the first check 0; at most as long as a logger is taken to go on drifting.

    Examples
    --------
    >>> time = np.datetime64("2025-01-01T00", "s") + np.arange(3) * np.timedelta64(8766, "h")
    >>> flat = np.full(3, 50.0)
    >>> known = np.ones(3, dtype=np.bool_)
    >>> air = RoomAir(time, flat, flat, flat, flat, known, 3600.0, 45.0, 55.0)
    >>> unchecked_years(air).tolist()
    [0.0, 1.0, 2.0]
    """
    checks = np.array(sorted(air.checked_utc), dtype="datetime64[s]")
    last = checks[np.maximum(np.searchsorted(checks, air.time_utc, "right") - 1, 0)]
    years = (air.time_utc - last).astype(np.float64) / YEAR_S
    most = parameter("frames", "logger", "drift_years_at_most").value
    return np.asarray(np.clip(years, 0.0, most))
