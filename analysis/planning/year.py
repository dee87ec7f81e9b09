"""What a stretch of time was to a work: months slack, months tight, peak load, share to look at."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.errors import NotEnoughError
from analysis.results import History, Range

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

HOURS_A_MONTH = 365.25 * 24.0 / 12.0
SURE, POSSIBLE = 0.95, 0.05


@dataclass(frozen=True)
class ListLimits:
    """Above these probabilities a work is to be looked at first."""

    p_visible: float = 0.5
    p_clearance: float = 0.1
    p_hinges: float = 0.2


@dataclass(frozen=True)
class YearSummary:
    """A history in a few numbers, over the hours that are not refused.

    Ranges of months: low counts the hours in which 95 % of the draws agree, high those in which
    5 % do. ``told_months`` is the time that could be told; ``refused_share`` the rest. The share in
    which to look first is also given by reason: waves seen, near the glazing, hinges giving way.
    """

    work_id: str
    told_months: float
    refused_share: float
    months_slack: Range
    months_overtight: Range
    peak_load_n_m: Range
    frame_rh_pct: Range
    print_rh_pct: Range
    look_first_share: float
    visible_share: float = 0.0
    clearance_share: float = 0.0
    hinges_share: float = 0.0


def year_summary(history: History, limits: ListLimits | None = None) -> YearSummary:
    """Return what a history held.

    Parameters
    ----------
    history : History
        One work through time, evenly stepped.
    limits : ListLimits, optional
        When a work is to be looked at first.

    Raises
    ------
    NotEnoughError
        If every hour is refused; the first reason is quoted.
    """
    limits = limits or ListLimits()
    told = np.asarray(history.refused == "", dtype=np.bool_)
    _require_some(history, told)
    months = _step_months(history)
    slack, down = history.p_slack[told], history.headroom_down_pct[told]
    visible = history.p_visible[told] > limits.p_visible
    near = history.p_clearance[told] > limits.p_clearance
    giving_way = history.p_hinges[told] > limits.p_hinges
    return YearSummary(
        work_id=history.work_id,
        told_months=float(told.sum()) * months,
        refused_share=float(1.0 - told.mean()),
        months_slack=_months_likely(slack, months),
        months_overtight=Range(*(float((down[:, i] <= 0.0).sum()) * months for i in (2, 1, 0))),
        peak_load_n_m=Range(*(float(x) for x in history.tension_n_m[told].max(axis=0))),
        frame_rh_pct=_extent(history.frame_rh_pct[told]),
        print_rh_pct=_extent(history.print_rh_pct[told]),
        look_first_share=float((visible | near | giving_way).mean()),
        visible_share=float(visible.mean()),
        clearance_share=float(near.mean()),
        hinges_share=float(giving_way.mean()),
    )


def _step_months(history: History) -> float:
    """Return how many months one row of a history stands for."""
    step = np.diff(history.time_utc[:2]).astype("timedelta64[s]").astype(float)
    return (float(step[0]) / 3600.0 if len(step) else 1.0) / HOURS_A_MONTH


def _months_likely(probability: Floats, months: float) -> Range:
    sure, possible = (probability >= SURE).sum(), (probability > POSSIBLE).sum()
    return Range(float(sure) * months, float(probability.sum()) * months, float(possible) * months)


def _extent(rh_pct: Floats) -> Range:
    """Return the lowest 5 % point, the median and the highest 95 % point of a year [%]."""
    return Range(
        float(rh_pct[:, 0].min()), float(np.median(rh_pct[:, 1])), float(rh_pct[:, 2].max())
    )


def _require_some(history: History, told: Bools) -> None:
    if not told.any():
        reason = str(history.refused[0]) if len(history.refused) else "an empty history"
        raise NotEnoughError(
            read=f"work {history.work_id}",
            where="the room's year",
            found=f"no hour that could be told ({reason})",
            expected="hours with a number",
            action="Bring in more of the room's record, or enter what is missing for this work.",
        )
