"""What works lived through before the first reading: each draw a past, from its mounting on."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from analysis.parameters import parameter
from analysis.simulation import layout
from analysis.simulation.checkpoints import Checkpoint
from analysis.simulation.passage import Passage
from analysis.simulation.pasts import COUNT, STEPS, YEAR_H, Pasts, years_before
from analysis.simulation.phases import DrawnPhase
from analysis.simulation.priors import Draws
from analysis.works import Mount, Work

STEPS_AT_ONCE = 500
Indices = npt.NDArray[np.intp]


@dataclass(frozen=True)
class _HeldPhase:
    """A work as it was at the first reading, and its draws."""

    work: Work
    draws: Draws

    def mounted_years(self, index: Indices, start_utc: datetime) -> float:
        """Return for how long some of its draws had been mounted at the first reading."""
        if self.work.mounted_utc is not None:
            return years_before(self.work.mounted_utc, start_utc)
        return float(np.median(self.draws["mounted_years"][index]))


def simulated_before_record(
    works: Sequence[Work],
    draws: Mapping[str, Draws],
    pasts: Pasts,
    earlier: Mapping[str, Sequence[DrawnPhase]] | None = None,
) -> Checkpoint:
    """Return the state of works at the first reading, those that were mounted before it.

    Parameters
    ----------
    works : sequence of Work
        Works that hang in the room of ``pasts``.
    draws : mapping of str to Draws
        Work → its draws; ``past`` says which past each lives through.
    earlier : mapping of str to sequence of DrawnPhase, optional
        How they were mounted, framed and hung before: the phase that held at the first reading is
        taken to have held since its mounting.
    """
    start, at_most = pasts.start_utc, parameter("pasts", "years", "at_most").value
    held = [_at_first(work, draws, (earlier or {}).get(work.work_id, ()), start) for work in works]
    mounted = [one for one in held if _was_mounted(one.work, start)]
    states = {
        one.work.work_id: np.full((len(layout.STATE), one.draws.n), np.nan) for one in mounted
    }
    for which in range(COUNT) if mounted else ():
        index = [np.flatnonzero(_which(one.draws) == which) for one in mounted]
        most = max(len(draw) for draw in index)
        if not most:
            continue
        padded = [np.resize(draw if len(draw) else 0, most) for draw in index]
        years = [one.mounted_years(i, start) for one, i in zip(mounted, padded, strict=True)]
        begun = [_begun(one, year, start) for one, year in zip(mounted, years, strict=True)]
        part = {one.work.work_id: one.draws.take(i) for one, i in zip(mounted, padded, strict=True)}
        ended = _through(begun, part, pasts, which, min(max(years), at_most))
        for one, draw in zip(mounted, index, strict=True):
            key = one.work.work_id
            states[key][:, draw] = ended.states[key][:, : len(draw)]
    for state in states.values():
        state[-len(layout.PAST) :] = np.inf  # nobody was told of anything yet
    return Checkpoint(start, states)


def unmeasured_years(
    works: Sequence[Work], draws: Mapping[str, Draws], pasts: Pasts
) -> dict[str, float]:
    """Return how many years each work had been mounted before the first reading of its room."""
    start = pasts.start_utc
    held = [_HeldPhase(work, draws[work.work_id]) for work in works if work.work_id in draws]
    return {
        one.work.work_id: one.mounted_years(np.arange(one.draws.n), start)
        for one in held
        if _was_mounted(one.work, start)
    }


def _which(draws: Draws) -> Indices:
    """Return through which past each draw lives, shape (n,)."""
    return np.clip(np.floor(draws["past"]), 0, COUNT - 1).astype(np.intp)


def _at_first(
    work: Work, draws: Mapping[str, Draws], earlier: Sequence[DrawnPhase], start: datetime
) -> _HeldPhase:
    """Return a work in the phase that holds at the first reading."""
    for one in earlier:
        if one.until_utc > start:
            return _HeldPhase(one.work, one.draws)
    return _HeldPhase(work, draws[work.work_id])


def _was_mounted(work: Work, start: datetime) -> bool:
    if work.mount is not Mount.TENSION_HELD:
        return False
    return work.mounted_utc is None or work.mounted_utc <= start - timedelta(hours=2)


def _begun(phase: _HeldPhase, years: float, start: datetime) -> Work:
    """Return a work mounted so many years before the first reading, where its date is not known."""
    if phase.work.mounted_utc is not None:
        return phase.work
    return replace(phase.work, mounted_utc=start - timedelta(hours=years * YEAR_H))


def _through(
    works: Sequence[Work], draws: Mapping[str, Draws], pasts: Pasts, which: int, years: float
) -> Checkpoint:
    """Return the state of works at the end of one past: long steps first, then shorter ones."""
    state: Checkpoint | None = None
    for from_h, until_h, step_h in reversed(_spans(math.ceil(years * YEAR_H))):
        air = pasts.air(which, from_h, until_h, step_h)
        passage = Passage(works, draws, air, state, None)
        before, last = passage.first, passage.last
        stops = {last, *range(before, last, STEPS_AT_ONCE), *passage.events()}
        for at in sorted(i for i in stops if before <= i <= last):
            passage.advance(before, at, detail=False)
            passage.happen(at)
            before = at
        state = passage.checkpoint(last)
    assert state is not None
    return state


def _spans(hours: int) -> list[tuple[int, int, int]]:
    """Return the spans of a past, from the first reading back: (from, until, step), in hours."""
    spans, until = [], 0
    for reach, step_h in STEPS:
        if until < hours:
            end = min(hours, reach)
            spans.append((until + -(-(end - until) // step_h) * step_h, until, step_h))
            until = spans[-1][0]
    return spans
