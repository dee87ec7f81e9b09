"""A work's history through the detailed hours: ranges and probabilities, refused ones withheld."""

import numpy as np
import numpy.typing as npt

from analysis.air.room_air import RoomAir
from analysis.results import History
from analysis.simulation import layout
from analysis.simulation.refusals import hourly_refusals, standing_refusal
from analysis.works import GLAZED, Work

Singles = npt.NDArray[np.float32]


def history_of(
    work: Work, air: RoomAir, time: npt.NDArray[np.datetime64], sums: Singles, ranges: Singles
) -> History:
    """Return a work's history; no number where one is refused."""
    standing = standing_refusal(work, air.interval_s)
    refused = hourly_refusals(standing, sums, gaps_before(air, time))
    known = refused == ""
    row = layout.indices(layout.SUMS)
    p = sums.astype(np.float64)
    p[:, ~known] = np.nan
    if work.frame in GLAZED and work.spacer_mm is None and "gap_mm" not in work.overrides:
        p[[row["clearance"], row["clearance_week"]]] = np.nan
    by = ranges.transpose(1, 0, 2).astype(np.float64)
    by[:, ~known] = np.nan
    return History(
        work_id=work.work_id,
        time_utc=time,
        p_slack=p[row["slack"]],
        p_visible=p[row["visible"]],
        p_clearance=p[row["clearance"]],
        p_hinges=p[row["hinges"]],
        p_visible_week=p[row["visible_week"]],
        p_clearance_week=p[row["clearance_week"]],
        p_hinges_week=p[row["hinges_week"]],
        refused=refused,
        **dict(zip(layout.DETAIL, by, strict=True)),
    )


def gaps_before(air: RoomAir, time: npt.NDArray[np.datetime64]) -> npt.NDArray[np.bool_]:
    """Return for each hour whether an hour before it, or itself, was not measured."""
    seen = np.logical_or.accumulate(~air.measured)
    return np.asarray(seen[np.searchsorted(air.time_utc, time)], dtype=np.bool_)
