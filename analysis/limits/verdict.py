"""A verdict on a record against a limit: by time, guarded by the sensor's uncertainty.

Each moment is inside, within uncertainty, outside or unknown; a verdict is made of their sums.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.time_weights import DAY_S, HOUR_S, Cells, cells, seconds
from analysis.limits.limit_rules import Judging, Rule, RuleBasis, RuleName, limit_rules
from analysis.limits.published_limits import Limit
from analysis.parameters import parameter
from analysis.series import require_readings, usable

Floats = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int8]
UNKNOWN, INSIDE, UNCERTAIN, OUTSIDE = -1, 0, 1, 2


class Outcome(StrEnum):
    """What may be said of a record against a limit."""

    INSIDE = "inside"
    WITHIN_UNCERTAINTY = "within uncertainty"
    OUTSIDE = "outside"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True)
class Shares:
    """Shares of the time that could be judged [%]; NaN where none could."""

    inside_pct: float
    uncertain_pct: float
    outside_pct: float


@dataclass(frozen=True)
class LongestRun:
    """The longest unbroken run outside; a gap ends a run. No times where there was none."""

    hours: float = 0.0
    start_utc: datetime | None = None
    end_utc: datetime | None = None


def codes_of(excess: Floats, uncertainty: float) -> Codes:
    """Return for each moment whether it is inside, uncertain, outside or unknown.

    Examples
    --------
    >>> codes_of(np.array([-5.0, -1.0, 1.0, 5.0, np.nan]), 3.0)
    array([ 0,  1,  1,  2, -1], dtype=int8)
    """
    codes = np.full(len(excess), UNCERTAIN, dtype=np.int8)
    codes[excess > uncertainty] = OUTSIDE
    codes[excess <= -uncertainty] = INSIDE
    codes[np.isnan(excess)] = UNKNOWN
    return codes


def shares_of(codes: Codes, weight: Floats) -> Shares:
    """Return the shares of the judged time."""
    total = float(weight[codes != UNKNOWN].sum())
    if total <= 0:
        return Shares(float("nan"), float("nan"), float("nan"))
    return Shares(
        *(100.0 * float(weight[codes == c].sum()) / total for c in (INSIDE, UNCERTAIN, OUTSIDE))
    )


def outcome_of(shares: Shares, required_pct: float) -> Outcome:
    """Return what the shares say, where a share of time inside is asked for."""
    if np.isnan(shares.inside_pct):
        return Outcome.CANNOT_TELL
    if shares.outside_pct > 100.0 - required_pct + 1e-9:
        return Outcome.OUTSIDE
    enough = shares.inside_pct >= required_pct - 1e-9
    return Outcome.INSIDE if enough else Outcome.WITHIN_UNCERTAINTY


def weights_of(grid: Cells) -> Floats:
    """Return the weight of each moment: its time, or one each where there is a single moment."""
    width = grid.width_s
    return width if width.sum() > 0 else np.ones(len(width))


def together(rules: list[Rule], index: pd.DatetimeIndex) -> Codes:
    """Return the worst of all rules at each moment; unknown where one of them is.

    A rule that is unknown throughout is left out here and named in ``not_judged``.
    """
    worst = np.full(len(index), INSIDE, dtype=np.int8)
    unknown = np.zeros(len(index), dtype=bool)
    judged = [rule for rule in rules if rule.pointwise and rule.excess.notna().any()]
    for rule in judged:
        codes = codes_of(_at(rule.excess, index), rule.uncertainty)
        unknown |= codes == UNKNOWN
        worst = np.maximum(worst, codes)
    worst[unknown | (not judged)] = UNKNOWN
    return worst


def _at(excess: pd.Series, index: pd.DatetimeIndex) -> Floats:
    """Excess at the given times; that of hourly rules from the nearest hour."""
    if index.equals(excess.index):
        return excess.to_numpy(dtype=np.float64)
    own = seconds(pd.DatetimeIndex(excess.index))
    wanted = seconds(index)
    right = np.clip(np.searchsorted(own, wanted), 1, max(len(own) - 1, 1))
    right = np.minimum(right, len(own) - 1)
    left = np.maximum(right - 1, 0)
    nearest = np.where(wanted - own[left] <= own[right] - wanted, left, right)
    near = np.abs(own[nearest] - wanted) <= HOUR_S
    return np.where(near, excess.to_numpy(dtype=np.float64)[nearest], np.nan)


def longest_run(codes: Codes, index: pd.DatetimeIndex, grid: Cells) -> LongestRun:
    """Return the longest run outside."""
    outside = codes == OUTSIDE
    if not outside.any():
        return LongestRun()
    touches = np.append(False, grid.from_s[1:] - grid.to_s[:-1] < 1e-3)
    begins = outside & ~(np.append(False, outside[:-1]) & touches)
    run = np.cumsum(begins)[outside] - 1
    first = np.flatnonzero(begins)
    last = np.flatnonzero(outside)[np.append(np.flatnonzero(np.diff(run)), len(run) - 1)]
    length = grid.to_s[last] - grid.from_s[first]
    at = int(np.argmax(length))
    start, end = index[first[at]].to_pydatetime(), index[last[at]].to_pydatetime()
    return LongestRun(float(length[at]) / HOUR_S, start, end)


@dataclass(frozen=True)
class Check:
    """One rule of a limit on one variable, with what the record shows, by time.

    ``worst`` is the greatest excess beyond the limit, in the variable's unit; zero or less where
    the record never passed it, NaN where the rule cannot be evaluated.
    """

    variable: str
    name: RuleName
    basis: RuleBasis
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
    def not_judged(self) -> list[Check]:
        """The checks for which too little was measured."""
        return [check for check in self.checks if check.outcome is Outcome.CANNOT_TELL]


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
        From `analysis.limits.published_limits` or `analysis.limits.published_limits`.
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
    >>> found = judge(published_limit("green_protocol_2023"), air)
    >>> found.outcome.value, found.provisional, found.record_days
    ('inside', True, 2.0)
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
        basis=rule.basis,
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
