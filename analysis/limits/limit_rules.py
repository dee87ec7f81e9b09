"""The rules that a limit consists of, and how far a record lies beyond each at every moment.

An excess is positive outside, zero or less inside, NaN where nothing is known.
"""

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air import swings
from analysis.air.time_weights import (
    DAY_S,
    HOUR_S,
    cells,
    centred_mean,
    hourly_grid,
    hourly_thinned,
    seconds,
    time_mean,
)
from analysis.errors import NotEnoughError, UnknownNameError
from analysis.harm.mould import Sensitivity, hourly_mould_index
from analysis.limits.historic_climate import HistoricClimate, historic_climate, outside_band_pct
from analysis.limits.published_limits import Definition, VariableLimit
from analysis.parameters import parameter
from analysis.series import usable


def outer_excess(values: pd.Series, low: float | None, high: float | None) -> pd.Series:
    """Return the excess over a closed range: readings at its very ends are inside.

    Examples
    --------
    >>> outer_excess(pd.Series([39.5, 40.0, 60.0, 60.5]), 40.0, 60.0).tolist()
    [0.5, 0.0, 0.0, 0.5]
    """
    below = -np.inf if low is None else low - values
    above = -np.inf if high is None else values - high
    return pd.Series(np.maximum(below, above), index=values.index).where(values.notna())


def short_term_excess(
    values: pd.Series, limit: float, definition: Definition, zone: str = "UTC"
) -> pd.Series:
    """Return how far the 24-hour change at each reading passes a limit, by one definition.

    Parameters
    ----------
    values : pandas.Series, shape (n,)
        Readings without missing ones, indexed by sorted UTC times.
    limit : float
        Greatest change that is still inside.
    definition : Definition
        ``range24``, ``lag24``, ``dev24`` or ``dayspan`` of `analysis.air.swings`.
    zone : str
        IANA zone of the site, for calendar days.

    Returns
    -------
    pandas.Series, shape (n,)
        NaN in the first 24 hours and where less than 75 % of the 24 hours was measured, unless
        what was measured already passes the limit.

    Raises
    ------
    UnknownNameError
        If the definition is none of these four.
    """
    if definition is Definition.DAYSPAN:
        return _dayspan(values, zone) - limit
    if definition is Definition.RANGE24:
        excess = swings.range24(values) - limit
        return excess.where((excess > 0) | swings.dev24(values).notna())
    if definition is Definition.LAG24:
        return swings.lag24(values) - limit
    if definition is Definition.DEV24:
        return swings.dev24(values) - limit
    known = ("range24", "lag24", "dev24", "dayspan")
    raise UnknownNameError(read="definition of 24 hours", name=definition, known=known)


def _dayspan(values: pd.Series, zone: str) -> pd.Series:
    """Daily span at each reading; NaN on days of which less than 75 % was measured."""
    index = pd.DatetimeIndex(values.index)
    days = swings.local_days(index, zone)
    span = swings.dayspan(values, zone).reindex(days).to_numpy()
    width_s = pd.Series(cells(index).width_s, index=days)
    measured_h = width_s.groupby(level=0).sum().reindex(days).to_numpy() / HOUR_S
    least_h = 24.0 * parameter("record_rules", "coverage", "day").value / 100.0
    return pd.Series(np.where(measured_h >= least_h, span, np.nan), index=index)


@dataclass(frozen=True)
class Judging:
    """How a record is judged, beyond the limit itself.

    Parameters
    ----------
    swing_uncertainty_rh_pct, swing_uncertainty_temp_c : float
        Uncertainty of a difference between two readings of the same sensor; an error of
        calibration cancels in it [%RH], [K].
    yearly_rh_pct, yearly_temp_c : float, optional
        Historic yearly means, in place of the last 12 months of the record.
    spread_rh_pct, spread_temp_c : float or pandas.Series
        Greatest difference between simultaneous loggers of the room; counts in the short-term
        allowance of the climate classes.
    season_window_days : float
        Window of the seasonal level of the climate classes: 30, or 90.
    definition : Definition, optional
        Reads a limit "per 24 hours" by this definition instead of the table's.
    historic : HistoricClimate, optional
        Band of an earlier reference year. Left out: made from the record itself.
    required_share_pct : float, optional
        Share of time inside that is asked for, in place of the limit's own [%].
    """

    swing_uncertainty_rh_pct: float = 0.0
    swing_uncertainty_temp_c: float = 0.0
    yearly_rh_pct: float | None = None
    yearly_temp_c: float | None = None
    spread_rh_pct: float | pd.Series = 0.0
    spread_temp_c: float | pd.Series = 0.0
    season_window_days: float = 30.0
    definition: Definition | None = None
    historic: HistoricClimate | None = None
    required_share_pct: float | None = None


class RuleName(StrEnum):
    """The rules that a limit may consist of."""

    MEASURED = "measured at all"
    OUTER = "outer limits"
    MEAN = "mean of the record"
    ABOUT_MEAN = "about the mean"
    SHORT_TERM = "short term"
    SEASON = "season"
    DRIFT = "seasonal drift"
    MOULD = "mould time"
    HISTORIC = "historic band"


@dataclass(frozen=True)
class RuleBasis:
    """What a rule is judged by, as far as its kind has it.

    Parameters
    ----------
    row : VariableLimit
        The limits of the variable.
    mean : float, optional
        Mean of the record, or yearly mean, in the variable's unit.
    window_days : float, optional
        Window of the seasonal level, where the rule is on it or about it.
    definition : Definition, optional
        How the change in 24 hours is taken.
    climate : HistoricClimate, optional
        The band of a reference year; ``earlier_year``: not of this same record.
    problem : str
        Why there is no such band.
    """

    row: VariableLimit
    mean: float | None = None
    window_days: float | None = None
    definition: Definition | None = None
    climate: HistoricClimate | None = None
    earlier_year: bool = False
    problem: str = ""


@dataclass(frozen=True)
class Rule:
    """A rule with the excess of each moment; ``pointwise`` is false for a rule on a mean."""

    variable: str
    name: RuleName
    basis: RuleBasis
    excess: pd.Series
    uncertainty: float
    pointwise: bool = True


def limit_rules(
    row: VariableLimit,
    readings: pd.DataFrame,
    zone: str,
    sigma: dict[str, float],
    how: Judging,
) -> list[Rule]:
    """Return the rules of one variable's limits, each with the excess at every moment.

    A variable that was never measured gives one rule without any excess.
    """
    values = usable(readings, row.variable).dropna()
    nothing = pd.Series(dtype="float64")
    blank = Rule(row.variable, RuleName.MEASURED, RuleBasis(row), nothing, sigma[row.variable])
    if values.empty:
        return [blank]
    rules = []
    if row.low is not None or row.high is not None:
        excess = outer_excess(values, row.low, row.high)
        rules.append(replace(blank, name=RuleName.OUTER, excess=excess))
    rules += _mean_rules(row, values, blank)
    if row.season_up is not None or row.season_down is not None:
        rules += _class_rules(row, values, blank, how)
    elif row.short_limit is not None:
        rules.append(_short_rule(row, values, readings, zone, blank, how))
    if row.mould_rh is not None:
        damp = damp_excess(row, values, usable(readings, "temp_c"))
        rules.append(replace(blank, name=RuleName.MOULD, excess=damp))
    return rules


def _mean_rules(row: VariableLimit, values: pd.Series, blank: Rule) -> list[Rule]:
    has_mean = row.mean_low is not None or row.mean_high is not None
    if not has_mean and row.tolerance is None:
        return []
    mean, rules = time_mean(values), []
    if has_mean:
        at_end = pd.Series([mean], index=values.index[-1:])
        rules.append(
            replace(
                blank,
                name=RuleName.MEAN,
                excess=outer_excess(at_end, row.mean_low, row.mean_high),
                pointwise=False,
            )
        )
    if row.tolerance is not None:
        basis, excess = RuleBasis(row, mean=mean), (values - mean).abs() - row.tolerance
        rules.append(replace(blank, name=RuleName.ABOUT_MEAN, basis=basis, excess=excess))
    return rules


def _swing(variable: str, how: Judging) -> float:
    return how.swing_uncertainty_rh_pct if variable == "rh_pct" else how.swing_uncertainty_temp_c


def _class_rules(row: VariableLimit, values: pd.Series, blank: Rule, how: Judging) -> list[Rule]:
    """Short term, season and drift of a climate class.

    A yearly mean from elsewhere brings the sensor's whole error in; one from the record cancels it.
    """
    humid = row.variable == "rh_pct"
    given = how.yearly_rh_pct if humid else how.yearly_temp_c
    season = seasonal_level(values, yearly_mean=given, window_days=how.season_window_days)
    spread = how.spread_rh_pct if humid else how.spread_temp_c
    level = RuleBasis(row, mean=season.yearly_mean, window_days=how.season_window_days)
    swing = replace(blank, uncertainty=_swing(row.variable, how))
    base = swing if given is None else blank
    rules = []
    if row.short_limit is not None:
        about = level if has_season(row) else replace(level, window_days=None)
        excess = class_short_term_excess(row, values, season, _at(spread, values))
        rules.append(replace(base, name=RuleName.SHORT_TERM, basis=about, excess=excess))
    if has_season(row):
        rules += _season_rules(row, season, level, base, swing)
    return rules


def _at(spread: float | pd.Series, values: pd.Series) -> float | pd.Series:
    """Spread at the times of readings; none is counted where only one logger measured."""
    if not isinstance(spread, pd.Series):
        return spread
    hour = pd.Timedelta(hours=1)
    near = spread.dropna().reindex(values.index, method="nearest", tolerance=hour)
    return near.fillna(0.0)


# Climate-control classes: yearly mean, seasonal level, drift and short-term limit of a record.
#
# The handbook gives design targets and no rule for judging a record; the rule here is ours, built
# on its limits (ASHRAE2019; MichalskiControl for the drift), and every verdict says so.

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class SeasonalLevel:
    """Yearly mean and the centred running mean of one variable, on the record's hours."""

    yearly_mean: float
    time_utc: pd.DatetimeIndex
    level: Floats

    def at(self, index: pd.DatetimeIndex) -> Floats:
        """Return the level at any times; NaN where no full window was measured."""
        return np.asarray(np.interp(seconds(index), seconds(self.time_utc), self.level))


def _season_rules(
    row: VariableLimit,
    season: SeasonalLevel,
    level: RuleBasis,
    base: Rule,
    swing: Rule,
) -> list[Rule]:
    excess = season_excess(row, season)
    rules = [replace(base, name=RuleName.SEASON, basis=level, excess=excess)]
    if row.short_limit is not None:
        drift = drift_excess(row, season)
        rules.append(replace(swing, name=RuleName.DRIFT, basis=level, excess=drift))
    return rules


def _short_rule(
    row: VariableLimit,
    values: pd.Series,
    readings: pd.DataFrame,
    zone: str,
    blank: Rule,
    how: Judging,
) -> Rule:
    if row.short_definition is Definition.HISTORIC:
        return _historic_rule(row, readings, blank, how)
    definition = how.definition or row.short_definition or Definition.RANGE24
    limit = row.short_limit or 0.0
    basis = RuleBasis(row, definition=definition)
    excess = short_term_excess(values, limit, definition, zone)
    swing = _swing(row.variable, how)
    return replace(blank, name=RuleName.SHORT_TERM, basis=basis, excess=excess, uncertainty=swing)


def _historic_rule(row: VariableLimit, readings: pd.DataFrame, blank: Rule, how: Judging) -> Rule:
    try:
        climate = how.historic or historic_climate(readings)
    except NotEnoughError as error:
        return replace(blank, name=RuleName.HISTORIC, basis=RuleBasis(row, problem=str(error)))
    basis = RuleBasis(row, climate=climate, earlier_year=how.historic is not None)
    excess = outside_band_pct(climate, readings).dropna()
    uncertainty = blank.uncertainty if how.historic else _swing("rh_pct", how)
    return replace(
        blank, name=RuleName.HISTORIC, basis=basis, excess=excess, uncertainty=uncertainty
    )


YEAR_DAYS = 365


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


def class_short_term_excess(
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
