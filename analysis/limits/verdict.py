"""A verdict on a record against a limit: by time, guarded by the sensor's uncertainty."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import pandas as pd

from analysis.air.time_weights import DAY_S, HOUR_S, Cells, cells
from analysis.limits.judged_time import (
    UNKNOWN,
    LongestRun,
    Outcome,
    Shares,
    codes_of,
    longest_run,
    outcome_of,
    shares_of,
    together,
    weights_of,
)
from analysis.limits.limit_rules import Judging, Rule, limit_rules
from analysis.limits.published_limits import VARIABLE_WORDS, Limit
from analysis.parameters import parameter
from analysis.series import require_readings, usable


@dataclass(frozen=True)
class Check:
    """One rule of a limit on one variable, with what the record shows, by time.

    ``worst`` is the greatest excess beyond the limit, in the variable's unit; zero or less where
    the record never passed it, NaN where the rule cannot be evaluated.
    """

    variable: str
    name: str
    definition: str
    outcome: Outcome
    shares: Shares
    worst: float
    worst_utc: datetime | None
    uncertainty: float


@dataclass(frozen=True)
class LimitVerdict:
    """A record against one limit; ``shares`` are of the time that every rule could be judged."""

    limit: Limit
    outcome: Outcome
    provisional: bool
    record_days: float
    coverage_pct: float
    judged_h: float
    shares: Shares
    required_share_pct: float
    longest_run: LongestRun
    checks: Sequence[Check]
    uncertainty_rh_pct: float
    uncertainty_temp_c: float
    not_judged: Sequence[str]
    basis: str

    @property
    def conforms(self) -> bool:
        """True only for a whole record, inside beyond doubt, by limits that were verified."""
        return self.outcome is Outcome.INSIDE and not self.provisional and self.limit.verified

    @property
    def worst(self) -> Check | None:
        """The check that was passed farthest, in uncertainties of a good sensor; None if none."""
        passed = [check for check in self.checks if check.worst > 0]
        if not passed:
            return None
        return max(passed, key=lambda check: check.worst / _sensor(check.variable, None))

    @property
    def words(self) -> str:
        """Outcome in words; "conforms" only where `conforms` is true."""
        if self.provisional:
            return f"provisional, {self.record_days:.0f} days: {self.outcome.value}"
        return "conforms" if self.conforms else self.outcome.value


def judge(
    limit: Limit,
    readings: pd.DataFrame,
    zone: str = "UTC",
    uncertainty_rh_pct: float | None = None,
    uncertainty_temp_c: float | None = None,
    how: Judging | None = None,
) -> LimitVerdict:
    """Return the verdict on a record.

    Parameters
    ----------
    limit : Limit
        From `analysis.limits.published_limits` or `analysis.limits.bands`.
    readings : pandas.DataFrame
        Readings as in `analysis.series`; flagged ones are left out.
    zone : str
        IANA zone of the site, for calendar days.
    uncertainty_rh_pct, uncertainty_temp_c : float, optional
        Uncertainty of a reading, from the calibration; left out, that of a good logger when new.
    how : Judging, optional
        What else bears on the verdict.

    Returns
    -------
    LimitVerdict
        A reading is outside only where it is so by more than its uncertainty, and inside only
        where it is so by at least that.

    Examples
    --------
    >>> from analysis.limits.published_limits import published_limit
    >>> from analysis.series import readings_frame
    >>> hours = pd.date_range("2030-01-01", periods=48, freq="h", tz="UTC")
    >>> air = readings_frame(hours, temp_c=20.0, rh_pct=50.0)
    >>> judge(published_limit("green_protocol_2023"), air).words
    'provisional, 2 days: inside'
    """
    require_readings(readings, read="readings to be judged")
    how = how or Judging()
    sigma = {
        "rh_pct": _sensor("rh_pct", uncertainty_rh_pct),
        "temp_c": _sensor("temp_c", uncertainty_temp_c),
    }
    rules = [
        rule
        for row in limit.variables.values()
        for rule in limit_rules(row, readings, zone, sigma, how)
    ]
    return _combine(limit, readings, rules, sigma, how)


def _sensor(variable: str, given: float | None) -> float:
    return parameter("record_rules", "sensor", variable).value if given is None else given


def _check(rule: Rule, required_pct: float, index: pd.DatetimeIndex, grid: Cells) -> Check:
    own = pd.DatetimeIndex(rule.excess.index) if len(rule.excess) else index[:0]
    excess = rule.excess.to_numpy(dtype=np.float64)
    weight = weights_of(grid if own.equals(index) else cells(own))
    shares = shares_of(codes_of(excess, rule.uncertainty), weight)
    known = not np.isnan(shares.inside_pct)
    at = int(np.nanargmax(excess)) if known else 0
    return Check(
        variable=rule.variable,
        name=rule.name,
        definition=rule.definition,
        outcome=outcome_of(shares, required_pct if rule.pointwise else 100.0),
        shares=shares,
        worst=float(excess[at]) if known else float("nan"),
        worst_utc=own[at].to_pydatetime() if known else None,
        uncertainty=rule.uncertainty,
    )


def _combine(
    limit: Limit,
    readings: pd.DataFrame,
    rules: list[Rule],
    sigma: dict[str, float],
    how: Judging,
) -> LimitVerdict:
    index = _common_times(limit, readings)
    grid, own = cells(index), how.required_share_pct
    required = limit.required_share_pct if own is None else own
    checks = [_check(rule, required, index, grid) for rule in rules]
    codes = together(rules, index)
    weight = weights_of(grid)
    shares = shares_of(codes, weight)
    days = grid.span_s / DAY_S
    return LimitVerdict(
        limit=limit,
        outcome=_overall(outcome_of(shares, required), checks, grid.coverage_pct),
        provisional=_provisional(limit, days, how),
        record_days=days,
        coverage_pct=grid.coverage_pct,
        judged_h=float(weight[codes != UNKNOWN].sum()) / HOUR_S,
        shares=shares,
        required_share_pct=required,
        longest_run=longest_run(codes, index, grid),
        checks=checks,
        uncertainty_rh_pct=sigma["rh_pct"],
        uncertainty_temp_c=sigma["temp_c"],
        not_judged=[f"{c.variable}: {c.name}" for c in checks if c.outcome is Outcome.CANNOT_TELL],
        basis=_basis(limit, checks, days, grid.coverage_pct, sigma, required),
    )


def _common_times(limit: Limit, readings: pd.DataFrame) -> pd.DatetimeIndex:
    """Return the times at which all of the limit's variables that were measured have a reading."""
    columns = [usable(readings, name) for name in limit.variables]
    measured = [column for column in columns if column.notna().any()]
    valid = np.ones(len(readings), dtype=bool) if measured else np.zeros(len(readings), dtype=bool)
    for column in measured:
        valid &= column.notna().to_numpy()
    return pd.DatetimeIndex(readings.index[valid])


def _overall(combined: Outcome, checks: Sequence[Check], coverage_pct: float) -> Outcome:
    """Outside if any rule says so; else no word while one rule, or too much time, is unknown."""
    outcomes = {combined, *(check.outcome for check in checks)}
    if coverage_pct < parameter("record_rules", "coverage", "verdict").value:
        outcomes.add(Outcome.CANNOT_TELL)
    order = (Outcome.OUTSIDE, Outcome.CANNOT_TELL, Outcome.WITHIN_UNCERTAINTY)
    return next((outcome for outcome in order if outcome in outcomes), Outcome.INSIDE)


def _provisional(limit: Limit, record_days: float, how: Judging) -> bool:
    if how.historic is not None and "historic" in limit.group:
        return how.historic.provisional
    return record_days < limit.minimum_record_days - 1e-6


def _basis(
    limit: Limit,
    checks: Sequence[Check],
    record_days: float,
    coverage_pct: float,
    sigma: dict[str, float],
    required_pct: float,
) -> str:
    """Say by what the record was judged, in one sentence."""
    rules = "; ".join(
        f"{VARIABLE_WORDS[check.variable][0]} {check.name}: {check.definition}" for check in checks
    )
    return (
        f"Judged by {limit.title}: {rules}. "
        f"{record_days:.1f} days of record, {coverage_pct:.0f} % measured; "
        f"{limit.minimum_record_days:g} days are needed ({limit.record_origin}). "
        f"A reading counts as outside beyond ±{sigma['rh_pct']:g} %RH and ±{sigma['temp_c']:g} K; "
        f"{required_pct:g} % of the time inside is asked for."
    )
