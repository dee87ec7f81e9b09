"""Climate-control classes: yearly mean, seasonal level, drift and short-term limit of a record.

The handbook gives design targets and no rule for judging a record; the rule here is ours, built
on its limits (ASHRAE2019; MichalskiControl for the drift), and every verdict says so.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.time_weights import (
    DAY_S,
    centred_mean,
    hourly_grid,
    hourly_thinned,
    seconds,
    time_mean,
)
from analysis.harm.mould import Sensitivity, hourly_mould_index
from analysis.limits.published_limits import VariableLimit
from analysis.parameters import parameter

Floats = npt.NDArray[np.float64]
YEAR_DAYS = 365


@dataclass(frozen=True)
class SeasonalLevel:
    """Yearly mean and the centred running mean of one variable, on the record's hours."""

    yearly_mean: float
    time_utc: pd.DatetimeIndex
    level: Floats

    def at(self, index: pd.DatetimeIndex) -> Floats:
        """Return the level at any times; NaN where no full window was measured."""
        return np.asarray(np.interp(seconds(index), seconds(self.time_utc), self.level))


def seasonal_level(
    values: pd.Series, *, yearly_mean: float | None = None, window_days: float = 30.0
) -> SeasonalLevel:
    """Return the yearly mean of the last 12 months and the seasonal level.

    Parameters
    ----------
    values : pandas.Series, shape (n,)
        Readings indexed by sorted UTC times.
    yearly_mean : float, optional
        The object's historic mean, in place of the last 12 months of the record.
    window_days : float
        Centred window of the running mean: 30 (default) or 90 days.
    """
    thinned = hourly_thinned(values)
    index = pd.DatetimeIndex(thinned.index)
    last_year = thinned[index > index[-1] - pd.Timedelta(days=YEAR_DAYS)] if len(index) else thinned
    least = parameter("record_rules", "coverage", "window").value
    return SeasonalLevel(
        yearly_mean=time_mean(last_year) if yearly_mean is None else yearly_mean,
        time_utc=index,
        level=centred_mean(thinned, window_days, least),
    )


def has_season(row: VariableLimit) -> bool:
    """Whether the class lets the seasonal level move at all."""
    return bool(row.season_up or row.season_down)


def season_excess(row: VariableLimit, season: SeasonalLevel) -> pd.Series:
    """Return how far the seasonal level lies beyond yearly mean ± seasonal adjustment."""
    up = np.inf if row.season_up is None else row.season_up
    down = np.inf if row.season_down is None else row.season_down
    shift = season.level - season.yearly_mean
    return pd.Series(np.maximum(shift - up, -shift - down), index=season.time_utc)


def drift_excess(row: VariableLimit, season: SeasonalLevel) -> pd.Series:
    """Return how far the change of the seasonal level over 30 days passes the short-term limit."""
    days = parameter("record_rules", "classes", "drift_window").value
    at_s = seconds(season.time_utc)
    before = np.interp(at_s - days * DAY_S, at_s, season.level, left=np.nan)
    limit = np.inf if row.short_limit is None else row.short_limit
    return pd.Series(np.abs(season.level - before) - limit, index=season.time_utc)


def short_term_excess(
    row: VariableLimit, values: pd.Series, season: SeasonalLevel, spread: float | pd.Series = 0.0
) -> pd.Series:
    """Return how far readings lie beyond the short-term limit about the clipped seasonal level.

    The level is kept within the seasonal limits, else a slow drift beyond them would pass as a
    season. ``spread`` is the greatest difference between simultaneous loggers of the room; half of
    it is taken from the same allowance.
    """
    mean = season.yearly_mean
    level = np.full(len(values), mean)
    if has_season(row):
        up = np.inf if row.season_up is None else row.season_up
        down = np.inf if row.season_down is None else row.season_down
        level = np.clip(season.at(pd.DatetimeIndex(values.index)), mean - down, mean + up)
    limit = np.inf if row.short_limit is None else row.short_limit
    excess: pd.Series = (values - level).abs() + 0.5 * spread - limit
    return excess


def damp_excess(row: VariableLimit, rh_pct: pd.Series, temp_c: pd.Series) -> pd.Series:
    """Return by how much humidity passes the line above which mould must not find its time.

    Positive only once the mould index of the running damp spell, begun at nought and in its most
    sensitive class, has reached 1. Between that line and the onset of growth (about 80 %RH) the
    index sees none, so the length of damp spells is worth reading beside it.
    """
    line = np.inf if row.mould_rh is None else row.mould_rh
    rh_hours = hourly_grid(rh_pct)
    rh = rh_hours.to_numpy()
    temp = hourly_grid(temp_c).reindex(rh_hours.index).to_numpy()
    index = hourly_mould_index(temp, rh, Sensitivity.VERY_SENSITIVE, restart=rh <= line)
    beyond = np.where((rh > line) & (index < 1.0), line - rh, rh - line)
    return pd.Series(beyond, index=rh_hours.index).where(np.isfinite(temp) | (rh <= line))
