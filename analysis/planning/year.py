"""What a stretch of time was to a work: the share in which to look first, months slack and tight.

"Look first" means what it means on the round: the chance that something showed at any hour of the
week up to now, against the limits of the four lists.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
import numpy.typing as npt

from analysis.air.room_air import RoomAir
from analysis.answers.judgement import JudgementLimits
from analysis.results import Floats, Range
from analysis.simulation import layout
from analysis.simulation.estimator import Run
from analysis.simulation.histories import gaps_before
from analysis.simulation.refusals import hourly_refusals, standing_refusal
from analysis.works import GLAZED, Work

HOURS_A_MONTH = 365.25 * 24.0 / 12.0
WEEKLY = ("visible_week", "clearance_week", "hinges_week")


@dataclass(frozen=True)
class Chances:
    """One work through time, by the hour: arrays of shape (h,).

    The chances are those of the week up to an hour; ``clearance`` is NaN where the depth in front
    of the print is not known. ``refused`` holds the key of the reason why nothing is said, or "".
    """

    work_id: str
    time_utc: npt.NDArray[np.datetime64]
    visible: Floats
    clearance: Floats
    hinges: Floats
    refused: npt.NDArray[np.str_]

    @property
    def told(self) -> npt.NDArray[np.bool_]:
        """Whether anything can be said, by the hour."""
        return np.asarray(self.refused == "", dtype=np.bool_)

    def since(self, time_utc: datetime) -> "Chances":
        """Return the hours from an instant on."""
        first = np.searchsorted(self.time_utc, np.datetime64(int(time_utc.timestamp()), "s"))
        names = ("time_utc", "visible", "clearance", "hinges", "refused")
        return replace(self, **{name: getattr(self, name)[first:] for name in names})


@dataclass(frozen=True)
class LookFirst:
    """The share of a stretch of time in which a work would have stood on the first list.

    Shares are of the hours that can be told, and an hour with two reasons counts under each.
    ``clearance`` is None where the spacer is not known. ``refused`` gives, by reason, the share of
    all hours that cannot be told; where that is all of them, shares are NaN.
    """

    share: float
    visible: float
    clearance: float | None
    hinges: float
    told_months: float
    refused: Mapping[str, float]

    @property
    def told(self) -> bool:
        """Whether anything can be said."""
        return self.told_months > 0.0

    @property
    def refused_share(self) -> float:
        """Share of all hours that cannot be told."""
        return sum(self.refused.values())


@dataclass(frozen=True)
class YearSummary:
    """A year in a few numbers; ranges are over the draws: 5, 50, 95 %.

    Months and the peak load count the hours that can be told, of which there are
    ``look_first.told_months``.
    """

    work_id: str
    look_first: LookFirst
    months_slack: Range
    months_overtight: Range
    peak_load_n_m: Range


def chances_of(work: Work, air: RoomAir, found: Run) -> Chances:
    """Return what a run says of one work by the hour, refused hours named."""
    sums = found.hourly[work.work_id]
    rows = layout.indices(layout.SUMS)
    visible, clearance, hinges = (sums[rows[name]].astype(np.float64) for name in WEEKLY)
    if work.frame in GLAZED and work.spacer_mm is None and "gap_mm" not in work.overrides:
        clearance = np.full_like(clearance, np.nan)
    standing = standing_refusal(work, air.interval_s)
    refused = hourly_refusals(standing, sums, gaps_before(air, found.time_utc))
    return Chances(work.work_id, found.time_utc, visible, clearance, hinges, refused)


def look_first(chances: Chances, limits: JudgementLimits | None = None) -> LookFirst:
    """Return the share of time in which a work would have stood on the first list, by reason."""
    limit, told = limits or JudgementLimits(), chances.told
    visible = chances.visible[told] > limit.first_visible
    near = chances.clearance[told] > limit.first_clearance
    giving_way = chances.hinges[told] > limit.first_hinges
    known = bool(np.isfinite(chances.clearance[told]).any())
    return LookFirst(
        share=_share(visible | near | giving_way),
        visible=_share(visible),
        clearance=_share(near) if known else None,
        hinges=_share(giving_way),
        told_months=float(told.sum()) * step_months(chances.time_utc),
        refused=refused_shares(chances),
    )


def _share(hours: npt.NDArray[np.bool_]) -> float:
    return float(hours.mean()) if len(hours) else float("nan")


def refused_shares(chances: Chances) -> dict[str, float]:
    """Return, by reason, the share of hours that cannot be told; the commonest reason first."""
    keys, counts = np.unique(chances.refused[~chances.told], return_counts=True)
    order = np.argsort(-counts, kind="stable")
    return {str(keys[i]): float(counts[i]) / len(chances.refused) for i in order}


def step_months(time_utc: npt.NDArray[np.datetime64]) -> float:
    """Return how many months one hour of the grid stands for."""
    step = np.diff(time_utc[:2]).astype("timedelta64[s]").astype(float)
    return (float(step[0]) / 3600.0 if len(step) else 1.0) / HOURS_A_MONTH
