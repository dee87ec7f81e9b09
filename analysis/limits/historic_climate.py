"""The historic climate of a room after EN 15757: seasonal cycle, fluctuations, target band."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.time_weights import (
    DAY_S,
    Cells,
    cells,
    centred_mean,
    hourly_thinned,
    instant_s,
    seconds,
    time_mean,
    time_percentiles,
)
from analysis.errors import NotEnoughError
from analysis.parameters import parameter
from analysis.series import require_readings, usable

Floats = npt.NDArray[np.float64]
YEAR_DAYS = 365.0
CALENDAR_YEAR_S = 365.2425 * DAY_S


@dataclass(frozen=True)
class HistoricClimate:
    """The band of a reference year.

    ``seasonal_rh_pct`` has shape (n,), NaN where no full window was measured; ``lower_pct`` and
    ``upper_pct`` are the ends of the band from the seasonal cycle (negative, positive) [%RH],
    ``percentile_low_pct`` and ``percentile_high_pct`` what they were before the least width.
    ``reference`` marks the readings, shape (n,), whose fluctuations made the percentiles.
    """

    time_utc: pd.DatetimeIndex
    rh_pct: Floats
    seasonal_rh_pct: Floats
    reference: npt.NDArray[np.bool_]
    annual_rh_pct: float
    percentile_low_pct: float
    percentile_high_pct: float
    lower_pct: float
    upper_pct: float
    record_days: float
    central_days: float
    coverage_pct: float
    provisional: bool

    @property
    def fluctuation_pct(self) -> Floats:
        """Reading less seasonal cycle, shape (n,) [%RH]."""
        return np.asarray(self.rh_pct - self.seasonal_rh_pct)


def historic_climate(
    readings: pd.DataFrame,
    *,
    floor_halfwidth_pct: float | None = None,
    reference_start_utc: datetime | None = None,
    hourly_means: bool = True,
) -> HistoricClimate:
    """Return the target band of a room from its own record.

    Parameters
    ----------
    readings : pandas.DataFrame
        Readings as in `analysis.series`.
    floor_halfwidth_pct : float, optional
        The band is at least this wide either side [%RH]; 10 if left out. The literature is not of
        one mind whether 10 is either side or in all.
    reference_start_utc : datetime, optional
        Beginning of the reference year. Left out: the first moment with a full window.
    hourly_means : bool
        Average readings faster than hourly over each hour first; hourly ones are enough for this
        method, and a minute's spike then weighs no more than its time. False takes every reading.

    Returns
    -------
    HistoricClimate
        Marked provisional where the record is shorter than 395 days or less than 90 % measured.
        A window that is not whole or less than 75 % measured gives NaN; it is never shortened.

    Raises
    ------
    NotEnoughError
        If no 30-day window of the record is whole.

    References
    ----------
    EN15757; CamuffoEtAl2022 for what is criticised.

    Examples
    --------
    >>> from analysis.series import readings_frame
    >>> hours = pd.date_range("2030-01-01", periods=395 * 24, freq="h", tz="UTC")
    >>> climate = historic_climate(readings_frame(hours, rh_pct=50.0))
    >>> climate.annual_rh_pct, climate.lower_pct, climate.upper_pct, climate.provisional
    (50.0, -10.0, 10.0, False)
    """
    require_readings(readings, read="readings for the historic climate")
    humidity = usable(readings, "rh_pct").dropna()
    rh = hourly_thinned(humidity) if hourly_means else humidity
    seasonal = centred_mean(rh, _rule("window"), _least_window())
    if not np.isfinite(seasonal).any():
        raise _too_short(rh)
    reference = _reference_year(rh.index, seasonal, reference_start_utc)
    grid = cells(pd.DatetimeIndex(rh.index))
    low, high = _percentiles((rh.to_numpy() - seasonal)[reference], grid.width_s[reference])
    floor = _rule("floor_halfwidth") if floor_halfwidth_pct is None else floor_halfwidth_pct
    return HistoricClimate(
        time_utc=pd.DatetimeIndex(rh.index),
        rh_pct=rh.to_numpy(),
        seasonal_rh_pct=seasonal,
        reference=reference,
        annual_rh_pct=time_mean(rh[reference]),
        percentile_low_pct=low,
        percentile_high_pct=high,
        lower_pct=min(low, -floor),
        upper_pct=max(high, floor),
        record_days=grid.span_s / DAY_S,
        central_days=max(grid.span_s / DAY_S - _rule("window"), 0.0),
        coverage_pct=grid.coverage_pct,
        provisional=_provisional(grid, reference),
    )


def _percentiles(fluctuation: Floats, width_s: Floats) -> tuple[float, float]:
    ends = (_rule("lower_percentile"), _rule("upper_percentile"))
    low, high = time_percentiles(fluctuation, width_s, ends)
    return float(low), float(high)


def _provisional(grid: Cells, reference: npt.NDArray[np.bool_]) -> bool:
    """Whether the record, its reference year or the measured part of that year is too short."""
    chosen = np.flatnonzero(reference)
    year_s = YEAR_DAYS * DAY_S
    spanned_s = float(grid.to_s[chosen[-1]] - grid.from_s[chosen[0]])
    measured_pct = 100.0 * float(grid.width_s[reference].sum()) / year_s
    too_short = grid.span_s / DAY_S < _rule("record") - 1e-6 or spanned_s < year_s - DAY_S / 10
    return too_short or measured_pct < parameter("record_rules", "coverage", "year").value


def _rule(name: str) -> float:
    return parameter("record_rules", "historic", name).value


def _least_window() -> float:
    return parameter("record_rules", "coverage", "window").value


def _too_short(rh: pd.Series) -> NotEnoughError:
    days = cells(pd.DatetimeIndex(rh.index)).span_s / DAY_S
    return NotEnoughError(
        read="readings for the historic climate",
        where="humidity",
        found=f"{len(rh)} usable readings over {days:.1f} days",
        expected="at least one 30-day window that is whole and 75 % measured",
        action="Add more of the record; a band needs 395 days, and is provisional until then.",
    )


def _reference_year(
    index: pd.Index, seasonal: Floats, start_utc: datetime | None
) -> npt.NDArray[np.bool_]:
    """Mark the readings with a full window in the 365 days from the start."""
    at_s = seconds(pd.DatetimeIndex(index))
    full = np.isfinite(seasonal)
    asked = "beginning of the reference year"
    start_s = instant_s(start_utc, read=asked) if start_utc else float(at_s[full][0])
    chosen = full & (at_s >= start_s) & (at_s < start_s + YEAR_DAYS * DAY_S)
    if not chosen.any():
        raise NotEnoughError(
            read="readings for the historic climate",
            where=f"the year from {start_utc}",
            found="no reading with a full 30-day window",
            expected="a reference year inside the record",
            action="Choose a reference year that the record holds.",
        )
    return np.asarray(chosen)


def band_at(climate: HistoricClimate, time_utc: pd.DatetimeIndex) -> tuple[Floats, Floats]:
    """Return the ends of the band at any times, the reference year's cycle repeated every year.

    Parameters
    ----------
    climate : HistoricClimate
        Band of the reference year.
    time_utc : pandas.DatetimeIndex, shape (n,)
        Times within the record or after it.

    Returns
    -------
    low_rh_pct, high_rh_pct : numpy.ndarray, shape (n,)
        NaN where the reference year has no cycle for that time of year. Inside the reference year
        this is its own band.
    """
    own_s = seconds(climate.time_utc)[climate.reference]
    cycle = climate.seasonal_rh_pct[climate.reference]
    wanted_s = seconds(time_utc)
    phase = (wanted_s - own_s[0]) % CALENDAR_YEAR_S
    nearest = np.interp(phase, own_s - own_s[0], cycle, period=CALENDAR_YEAR_S)
    distance = _distance_s(phase, own_s - own_s[0])
    seasonal = np.where(distance <= 2 * DAY_S, nearest, np.nan)
    return seasonal + climate.lower_pct, seasonal + climate.upper_pct


def _distance_s(phase: Floats, own: Floats) -> Floats:
    """Time from each phase to the nearest of the reference year's, round the year's end."""
    after = np.searchsorted(own, phase)
    left = np.abs(phase - own[np.clip(after - 1, 0, len(own) - 1)])
    right = np.abs(own[np.clip(after, 0, len(own) - 1)] - phase)
    round_end = np.minimum(
        np.abs(phase - (own[-1] - CALENDAR_YEAR_S)), np.abs(own[0] + CALENDAR_YEAR_S - phase)
    )
    return np.asarray(np.minimum(np.minimum(left, right), round_end))


def outside_band_pct(climate: HistoricClimate, readings: pd.DataFrame) -> pd.Series:
    """Return how far each reading lies beyond the band: positive outside, zero or less inside.

    The index is that of ``readings``; NaN where there is no reading or no band [%RH].
    """
    rh = usable(readings, "rh_pct")
    low, high = band_at(climate, pd.DatetimeIndex(rh.index))
    values = rh.to_numpy()
    return pd.Series(np.maximum(low - values, values - high), index=rh.index)
