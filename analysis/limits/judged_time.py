"""Each moment of a record as inside, within uncertainty, outside or unknown, and their sums."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.time_weights import HOUR_S, Cells, seconds
from analysis.limits.limit_rules import Rule

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
