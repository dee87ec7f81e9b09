"""A work's history through the detailed hours: ranges and probabilities, refused ones withheld."""

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt

from analysis.air.room_air import RoomAir
from analysis.results import HISTORY_ARRAYS, History
from analysis.simulation import layout
from analysis.simulation.closing import closed_unknown
from analysis.simulation.refusals import hourly_refusals, standing_refusal
from analysis.works import GLAZED, Mount, Work

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


# A work's history through its phases: each hour is refused or told by the phase it lies in.

Hours = npt.NDArray[np.datetime64]


# Share of the hours since a closing that may be missing before a gap is named as the reason.
FEW = 0.1


def history_through(
    phases: Sequence[tuple[int, Work]],
    air: RoomAir,
    time: Hours,
    sums: Singles,
    ranges: Singles,
) -> History:
    """Return a work's history; no number where one is refused.

    Parameters
    ----------
    phases : sequence of (int, Work)
        The work, each time with the first of the given hours at which it was so.
    """
    begins = [max(first, 0) for first, _ in phases]
    parts = [slice(*ends) for ends in pairwise([*begins, len(time)])]
    pieces = [
        _named(work, air, history_of(work, air, time[part], sums[:, part], ranges[part]))
        for (_, work), part in zip(phases, parts, strict=True)
        if part.start < part.stop or part is parts[-1]
    ]
    if len(pieces) == 1:
        return pieces[0]
    joined: dict[str, Any] = {
        name: np.concatenate([getattr(one, name) for one in pieces]) for name in HISTORY_ARRAYS
    }
    return History(work_id=phases[-1][1].work_id, **joined)


def _named(work: Work, air: RoomAir, history: History) -> History:
    """Name the refusals that rest on the phase itself."""
    refused = history.refused
    if work.mount is not Mount.TENSION_HELD:
        refused[:] = "not held"
    elif (when := closed_unknown(work)) is not None:
        closed = np.datetime64(when.replace(tzinfo=None), "s")
        if closed > air.time_utc[0]:
            wide = (refused == "gap") | (refused == "starting up")
            since = (history.time_utc > closed) & _few_missing(air, closed, history.time_utc)
            refused[wide & since] = "framed anew"
    return history


def _few_missing(air: RoomAir, closed: np.datetime64, time: Hours) -> npt.NDArray[np.bool_]:
    """Return for each hour whether nearly all hours from a closing up to it were measured."""
    since = air.time_utc > closed
    missing = np.cumsum(since & ~air.measured)[np.searchsorted(air.time_utc, time)]
    hours = np.cumsum(since)[np.searchsorted(air.time_utc, time)]
    return np.asarray(missing <= FEW * hours, dtype=np.bool_)


def joined_histories(one: History, after: History) -> History:
    """Return a history with the hours that follow it."""
    names = ((name, (getattr(one, name), getattr(after, name))) for name in HISTORY_ARRAYS)
    joined: dict[str, Any] = {name: np.concatenate(pair) for name, pair in names}
    return replace(after, **joined)


def since_mounting(history: History, mounted_utc: datetime | None) -> History:
    """Return the hours of a history after a print was mounted anew, perhaps none yet."""
    if mounted_utc is None:
        return history
    hour = np.datetime64(math.ceil(mounted_utc.timestamp() / 3600) * 3600, "s")
    after = history.time_utc > hour
    if after.all():
        return history
    return replace(history, **{name: getattr(history, name)[after] for name in HISTORY_ARRAYS})
