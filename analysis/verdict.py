"""A verdict on a record against a limit: by time, guarded by the sensor's uncertainty."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.limit_rules import Judging, Rule, limit_rules
from analysis.limits import VARIABLE_WORDS, Limit
from analysis.parameters import parameter
from analysis.series import require_readings, usable
from analysis.time_weights import DAY_S, HOUR_S, cells, seconds

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
class Check:
    """One rule of a limit on one variable, with what the record shows. Shares are by time [%].

    ``worst`` is the greatest excess beyond the limit, in the variable's unit; zero or less where
    the record never passed it, NaN where the rule cannot be evaluated.
    """

    variable: str
    name: str
    definition: str
    outcome: Outcome
    share_inside_pct: float
    share_uncertain_pct: float
    share_outside_pct: float
    worst: float
    worst_utc: datetime | None
    uncertainty: float


@dataclass(frozen=True)
class LimitVerdict:
    """A record against one limit. Shares are of the time that could be judged [%]."""

    limit: Limit
    outcome: Outcome
    provisional: bool
    record_days: float
    coverage_pct: float
    judged_h: float
    share_inside_pct: float
    share_uncertain_pct: float
    share_outside_pct: float
    required_share_pct: float
    longest_run_h: float
    longest_run_start_utc: datetime | None
    longest_run_end_utc: datetime | None
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
        """The check with the greatest excess beyond its limit, or None if none was passed."""
        passed = [check for check in self.checks if check.worst > 0]
        return max(passed, key=lambda check: check.worst) if passed else None

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
        From `analysis.limits` or `analysis.bands`.
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
    >>> from analysis.limits import published_limit
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


def _codes(excess: Floats, uncertainty: float) -> Codes:
    """Inside, uncertain, outside or unknown for each moment."""
    codes = np.full(len(excess), UNCERTAIN, dtype=np.int8)
    codes[excess > uncertainty] = OUTSIDE
    codes[excess <= -uncertainty] = INSIDE
    codes[np.isnan(excess)] = UNKNOWN
    return codes


def _shares(codes: Codes, weight: Floats) -> tuple[float, float, float]:
    total = float(weight[codes != UNKNOWN].sum())
    if total <= 0:
        return float("nan"), float("nan"), float("nan")
    inside, uncertain, outside = (
        100.0 * float(weight[codes == code].sum()) / total for code in (INSIDE, UNCERTAIN, OUTSIDE)
    )
    return inside, uncertain, outside


def _outcome(shares: tuple[float, float, float], required_pct: float) -> Outcome:
    inside, _, outside = shares
    if np.isnan(inside):
        return Outcome.CANNOT_TELL
    if outside > 100.0 - required_pct + 1e-9:
        return Outcome.OUTSIDE
    return Outcome.INSIDE if inside >= required_pct - 1e-9 else Outcome.WITHIN_UNCERTAINTY


def _weights(index: pd.DatetimeIndex) -> Floats:
    width = cells(index).width_s
    return width if width.sum() > 0 else np.ones(len(index))


def _check(rule: Rule, required_pct: float) -> Check:
    excess = rule.excess.to_numpy(dtype=np.float64)
    codes = _codes(excess, rule.uncertainty)
    shares = _shares(codes, _weights(pd.DatetimeIndex(rule.excess.index)) if len(codes) else excess)
    known = not np.isnan(shares[0])
    at = int(np.nanargmax(excess)) if known else 0
    return Check(
        variable=rule.variable,
        name=rule.name,
        definition=rule.definition,
        outcome=_outcome(shares, required_pct if rule.pointwise else 100.0),
        share_inside_pct=shares[0],
        share_uncertain_pct=shares[1],
        share_outside_pct=shares[2],
        worst=float(excess[at]) if known else float("nan"),
        worst_utc=rule.excess.index[at].to_pydatetime() if known else None,
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
    grid, weight = cells(index), _weights(index)
    required = (
        limit.required_share_pct if how.required_share_pct is None else how.required_share_pct
    )
    checks = [_check(rule, required) for rule in rules]
    codes = _together(rules, index)
    shares = _shares(codes, weight)
    run = _longest_run(codes, index)
    record_days, coverage = grid.span_s / DAY_S, grid.coverage_pct
    outcome = _overall(_outcome(shares, required), checks)
    least = parameter("record_rules", "coverage", "verdict").value
    if coverage < least and outcome is not Outcome.OUTSIDE:
        outcome = Outcome.CANNOT_TELL
    return LimitVerdict(
        limit=limit,
        outcome=outcome,
        provisional=_provisional(limit, record_days, coverage, how),
        record_days=record_days,
        coverage_pct=coverage,
        judged_h=float(weight[codes != UNKNOWN].sum()) / HOUR_S,
        share_inside_pct=shares[0],
        share_uncertain_pct=shares[1],
        share_outside_pct=shares[2],
        required_share_pct=required,
        longest_run_h=run[0],
        longest_run_start_utc=run[1],
        longest_run_end_utc=run[2],
        checks=checks,
        uncertainty_rh_pct=sigma["rh_pct"],
        uncertainty_temp_c=sigma["temp_c"],
        not_judged=[f"{c.variable}: {c.name}" for c in checks if c.outcome is Outcome.CANNOT_TELL],
        basis=_basis(limit, checks, record_days, coverage, sigma, required),
    )


def _common_times(limit: Limit, readings: pd.DataFrame) -> pd.DatetimeIndex:
    """Return the times at which all of the limit's variables that were measured have a reading."""
    columns = [usable(readings, name) for name in limit.variables]
    measured = [column for column in columns if column.notna().any()]
    valid = np.ones(len(readings), dtype=bool) if measured else np.zeros(len(readings), dtype=bool)
    for column in measured:
        valid &= column.notna().to_numpy()
    return pd.DatetimeIndex(readings.index[valid])


def _together(rules: list[Rule], index: pd.DatetimeIndex) -> Codes:
    """Return the worst of all rules at each moment; unknown where one of them is.

    A rule that is unknown throughout is left out here and named in ``not_judged``.
    """
    worst = np.full(len(index), INSIDE, dtype=np.int8)
    unknown = np.zeros(len(index), dtype=bool)
    judged = [rule for rule in rules if rule.pointwise and rule.excess.notna().any()]
    for rule in judged:
        codes = _codes(_at(rule.excess, index), rule.uncertainty)
        unknown |= codes == UNKNOWN
        worst = np.maximum(worst, codes)
    worst[unknown | (not judged)] = UNKNOWN
    return worst


def _at(excess: pd.Series, index: pd.DatetimeIndex) -> Floats:
    """Excess at the given times; that of hourly rules from the nearest hour."""
    own = seconds(pd.DatetimeIndex(excess.index))
    wanted = seconds(index)
    right = np.clip(np.searchsorted(own, wanted), 1, max(len(own) - 1, 1))
    right = np.minimum(right, len(own) - 1)
    left = np.maximum(right - 1, 0)
    nearest = np.where(wanted - own[left] <= own[right] - wanted, left, right)
    near = np.abs(own[nearest] - wanted) <= HOUR_S
    return np.where(near, excess.to_numpy(dtype=np.float64)[nearest], np.nan)


def _longest_run(
    codes: Codes, index: pd.DatetimeIndex
) -> tuple[float, datetime | None, datetime | None]:
    """Length [h], beginning and end of the longest run outside; a gap ends a run."""
    outside = codes == OUTSIDE
    if not outside.any():
        return 0.0, None, None
    grid = cells(index)
    touches = np.append(False, grid.from_s[1:] - grid.to_s[:-1] < 1e-3)
    begins = outside & ~(np.append(False, outside[:-1]) & touches)
    run = np.cumsum(begins)[outside] - 1
    first = np.flatnonzero(begins)
    last = np.flatnonzero(outside)[np.append(np.flatnonzero(np.diff(run)), len(run) - 1)]
    length = grid.to_s[last] - grid.from_s[first]
    at = int(np.argmax(length))
    start, end = index[first[at]].to_pydatetime(), index[last[at]].to_pydatetime()
    return float(length[at]) / HOUR_S, start, end


def _overall(together: Outcome, checks: Sequence[Check]) -> Outcome:
    """Outside if any rule says so; else no word while one rule cannot be evaluated."""
    outcomes = {together, *(check.outcome for check in checks)}
    order = (Outcome.OUTSIDE, Outcome.CANNOT_TELL, Outcome.WITHIN_UNCERTAINTY)
    return next((outcome for outcome in order if outcome in outcomes), Outcome.INSIDE)


def _provisional(limit: Limit, record_days: float, coverage_pct: float, how: Judging) -> bool:
    if how.historic is not None and "historic" in limit.group:
        return how.historic.provisional
    least = parameter("record_rules", "coverage", "verdict").value
    return record_days < limit.minimum_record_days - 1e-6 or coverage_pct < least


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
