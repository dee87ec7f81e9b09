"""Draws and room air → histories, probabilities and checkpoints."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from analysis.air.room_air import RoomAir
from analysis.parameters import parameter
from analysis.results import Floats, History
from analysis.simulation import layout
from analysis.simulation.chain_state import probe_state, stacked_probes
from analysis.simulation.checkpoints import Checkpoint, mondays
from analysis.simulation.discrepancy import year_angle
from analysis.simulation.histories import history_through
from analysis.simulation.packing import stacked_part
from analysis.simulation.passage import Passage
from analysis.simulation.pasts import COUNT, STEPS, YEAR_H, Pasts, years_before
from analysis.simulation.phases import DrawnPhase
from analysis.simulation.priors import Draws
from analysis.simulation.slack_causes import slack_causes
from analysis.simulation.step import N_DETAIL, N_SUMS
from analysis.simulation.together import Together
from analysis.works import Mount, Work

Singles = npt.NDArray[np.float32]


@dataclass(frozen=True)
class Run:
    """What a run found.

    Parameters
    ----------
    histories : mapping of str to History
        Hourly from ``detail_from`` on. Only works held by tension have one.
    time_utc : ndarray of datetime64[s], shape (h,)
        All hours of the run.
    hourly : mapping of str to ndarray, shape (len(layout.SUMS), h)
        Per work and hour of the whole run, rows as `analysis.simulation.layout.SUMS`:
        probabilities, and the mean width of the band between low and high copy (0 to 1). NaN before
        mounting.
    checkpoints : tuple of Checkpoint
        At the week starts that were kept, oldest first.
    last : Checkpoint
        At the last hour.
    probes : mapping of str to mapping of str to ndarray
        Work → name → array of shape (instants, n): ``slope_mrad``, ``slack``, ``print_rh_pct``,
        ``tension_n_m``, ``headroom_up_pct``, ``overload``; NaN before mounting.
    """

    histories: Mapping[str, History]
    time_utc: npt.NDArray[np.datetime64]
    hourly: Mapping[str, Singles]
    checkpoints: tuple[Checkpoint, ...]
    last: Checkpoint
    probes: Mapping[str, Mapping[str, Floats]]


def run(
    works: Sequence[Work],
    draws: Mapping[str, Draws],
    air: RoomAir,
    *,
    since: Checkpoint | None = None,
    weights: Mapping[str, Floats] | None = None,
    detail_from: datetime | None = None,
    probe: Mapping[str, Sequence[datetime]] | None = None,
    week_starts: Sequence[datetime] | None = None,
    keep_weeks: int | None = None,
    earlier: Mapping[str, Sequence[DrawnPhase]] | None = None,
    pasts: Pasts | None = None,
    hours_only: bool = False,
) -> Run:
    """Carry works through the hours of a room's air.

    Parameters
    ----------
    works : sequence of Work
        Works that hang in one room all the time. Those not held by tension are left out.
    draws : mapping of str to Draws
        Work → its draws, all of one length n.
    air : RoomAir
        The room's air. With ``since``, hours up to that instant are not run again.
    since : Checkpoint, optional
        State to go on from; the results are then the same to the bit as from the start. A work that
        it lacks begins at its first hour, as in a run from the start.
    weights : mapping of str to ndarray, shape (n,), optional
        Weights of a work's draws (from inspections); equal where absent.
    detail_from : datetime, optional
        From here on histories hold ranges by the hour; default: the whole run. Ranges cost nearly
        as much again as the run itself, and 230 bytes a work and hour.
    probe : mapping of str to sequence of datetime, optional
        Instants at which a work's draws are wanted one by one, taken at the full hour before.
    week_starts : sequence of datetime, optional
        Instants at which a checkpoint is made; default Mondays 00:00 UTC.
    keep_weeks : int, optional
        How many of the latest checkpoints to keep; default all. One takes 62 kB a work at n = 200.
    earlier : mapping of str to sequence of DrawnPhase, optional
        Work → how it was mounted, framed and hung before, oldest first; each phase holds from the
        first hour at or after the end of the one before. Mounted anew it begins again; framed anew
        only the air in the frame does; otherwise the state goes on. In phases in which it was not
        held by tension nothing is worked out. Where the humidity at closing is not known it may be
        anywhere the room was in the thirty days before: give their air for the same to the bit.
    pasts : Pasts, optional
        What the room's air may have been before its first reading, `pasts.pasts_of` its record: a
        work that was mounted before begins as it came out of those years. Without it, it is taken
        to have been held at the strain of the first hour since it was mounted. With ``since`` its
        length alone is told.
    hours_only : bool
        Whether ``hourly`` is all that is wanted: there are no histories then.

    Returns
    -------
    Run

    Raises
    ------
    NotEnoughError
        If draws are missing, or hours lie between ``since`` and the beginning of the air.
    OutOfRangeError
        If earlier phases are not those of one print, in order of time.
    """
    held = [work for work in works if work.mount is Mount.TENSION_HELD]
    if pasts is not None and since is None:
        since = simulated_before_record(held, draws, pasts, earlier)
    passage = Passage(held, draws, air, since, weights, earlier)
    asked = {w.work_id: tuple((probe or {}).get(w.work_id, ())) for w in held}
    probes = {key: [passage.index(when) for when in times] for key, times in asked.items()}
    weeks = sorted({passage.index(when) for when in (week_starts or mondays(air))})
    first_detail = passage.index_at_or_after(detail_from) if detail_from else passage.first
    unmeasured = {} if pasts is None else unmeasured_years(held, draws, pasts)
    collected = _Collected(
        passage,
        first_detail,
        probes,
        _weeks_with_checkpoint(weeks, passage, keep_weeks),
        unmeasured,
    )
    collected.collect([*weeks, *(i for at in probes.values() for i in at)])
    return collected.result(hours_only=hours_only)


def hourly_ahead(
    works: Sequence[Work],
    draws: Mapping[str, Draws],
    ahead: RoomAir,
    since: Checkpoint,
    *,
    weights: Mapping[str, Floats] | None = None,
    earlier: Mapping[str, Sequence[DrawnPhase]] | None = None,
) -> dict[str, Singles]:
    """Return `Run.hourly` of works that go on from a state, and nothing else: see `run`."""
    held = [work for work in works if work.mount is Mount.TENSION_HELD]
    passage = Passage(held, draws, ahead, since, weights, earlier)
    collected = _Collected(passage, passage.last, {work.work_id: () for work in held}, (), {})
    collected.collect(())
    return collected.hourly()


def _weeks_with_checkpoint(weeks: Sequence[int], passage: Passage, keep: int | None) -> list[int]:
    """Return the hours of the checkpoints to keep: all, or the latest few."""
    within = [i for i in weeks if passage.first <= i <= passage.last]
    return within if keep is None else within[max(len(within) - keep, 0) :]


class _Collected:
    """What is kept of a passage: sums of all hours, ranges of the last ones, states asked for."""

    def __init__(
        self,
        passage: Passage,
        first_detail: int,
        probes: Mapping[str, Sequence[int]],
        checkpoint_weeks: Sequence[int],
        unmeasured: Mapping[str, float],
    ) -> None:
        self.unmeasured = unmeasured
        self.passage, self.first_detail = passage, first_detail
        self.probes, self.checkpoint_weeks = probes, checkpoint_weeks
        works, hours = len(passage.works), passage.last - passage.first
        # hour by hour, as they come: to turn each stretch over would cost as much as its run
        self.sums = np.empty((works, hours, N_SUMS), dtype=np.float32)
        detailed = passage.last - first_detail
        self.ranges = np.empty((works, detailed, N_DETAIL, 3), dtype=np.float32)
        self.found: dict[str, dict[int, dict[str, Floats]]] = {key: {} for key in probes}
        self.checkpoints: list[Checkpoint] = []

    def collect(self, wanted: Sequence[int]) -> None:
        """Run from the first hour to the last, stopping where something is wanted or happens."""
        passage = self.passage
        stops = {*wanted, *passage.events(), passage.first, self.first_detail, passage.last}
        before = passage.first
        for at in sorted(i for i in stops if passage.first <= i <= passage.last):
            self._advance(before, at)
            passage.happen(at)
            if at in self.checkpoint_weeks:
                self.checkpoints.append(passage.checkpoint(at))
            self._probe(at)
            before = at

    def _advance(self, before: int, at: int) -> None:
        detail = before >= self.first_detail
        sums, ranges = self.passage.advance(before, at, detail=detail)
        first = self.passage.first
        self.sums[:, before - first : at - first] = sums
        if detail:
            self.ranges[:, before - self.first_detail : at - self.first_detail] = ranges

    def _probe(self, at: int) -> None:
        passage = self.passage
        angle = float(year_angle(passage.air.time_utc[[at]])[0])
        for i, work in enumerate(passage.works):
            if at in self.probes[work.work_id] and passage.active[i]:
                state, fixed = passage.state[i], passage.fixed[i]
                self.found[work.work_id][at] = probe_state(state, fixed, angle)

    def _whole(self, i: int, history: History) -> History:
        """Return a history with what is told of it as a whole."""
        passage, causes = self.passage, {}
        if passage.active[i] and passage.stacked is not None:
            angle = float(year_angle(passage.air.time_utc[[passage.last]])[0])
            drawn = stacked_part(passage.stacked, [i])
            causes = slack_causes(passage.state[i], passage.fixed[i], drawn, angle)
        years = self.unmeasured.get(history.work_id, 0.0)
        return replace(history, slack_causes=causes, unmeasured_years=years)

    def hourly(self) -> dict[str, Singles]:
        """Return the sums of all hours, by work."""
        return {work.work_id: self.sums[i].T for i, work in enumerate(self.passage.works)}

    def result(self, *, hours_only: bool) -> Run:
        """Return what was found."""
        passage, skip = self.passage, self.first_detail - self.passage.first
        time, n = passage.air.time_utc[passage.first + 1 :], passage.state.shape[2]
        histories = {
            work.work_id: self._whole(
                i,
                history_through(
                    [(hour - self.first_detail, one) for hour, one in passage.phases(i)],
                    passage.air,
                    time[skip:].copy(),  # a view would keep all hours in memory
                    self.sums[i, skip:].T,
                    self.ranges[i],
                ),
            )
            for i, work in enumerate(() if hours_only else passage.works)
        }
        return Run(
            histories=histories,
            time_utc=time,
            hourly=self.hourly(),
            checkpoints=tuple(self.checkpoints),
            last=passage.checkpoint(passage.last),
            probes={key: stacked_probes(at, self.found[key], n) for key, at in self.probes.items()},
        )


# What works lived through before the first reading: each draw a past, from its mounting on.

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
        counts = [len(draw) for draw in index]
        ended = _through(begun, part, counts, (pasts, which), min(max(years), at_most))
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
    works: Sequence[Work],
    draws: Mapping[str, Draws],
    counts: Sequence[int],
    past: tuple[Pasts, int],
    years: float,
) -> Checkpoint:
    """Return the state of works at the end of one past: long steps first, then shorter ones.

    Of each work as many draws live through it as ``counts`` says; the others fill its row.
    """
    state: Checkpoint | None = None
    pasts, which = past
    for from_h, until_h, step_h in reversed(_spans(math.ceil(years * YEAR_H))):
        air = pasts.air(which, from_h, until_h, step_h)
        passage = Passage(works, draws, air, state, None)
        together = Together(passage, counts)
        before, last = passage.first, passage.last
        stops = {last, *range(before, last, STEPS_AT_ONCE), *passage.events()}
        for at in sorted(i for i in stops if before <= i <= last):
            together.advance(before, at)
            together.happen(at)
            before = at
        together.end()
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
