"""Draws of works with inspections, as levels: what they show at each look, and how that fits."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby

import numpy as np
import numpy.typing as npt

from analysis.air.room_air import RoomAir, part_of
from analysis.learning.inspections import Inspection
from analysis.learning.likelihood import LOOKED_AT, log_likelihood
from analysis.results import Floats
from analysis.simulation.checkpoints import Checkpoint
from analysis.simulation.discrepancy import angle_at
from analysis.simulation.estimator import Run, run
from analysis.simulation.pasts import Pasts
from analysis.simulation.phases import DrawnPhase, Phase, drawn_at, mounted_anew
from analysis.simulation.priors import Draws
from analysis.simulation.redraw import draws_from, surface_at
from analysis.works import Work

Levels = Mapping[str, Floats]
# Doubts on which nothing of the chain depends, only how its reserve is read and seen.
SEEN_ONLY = ("visible_slope_mrad", "wavelength_m", "season_cos_pct", "season_sin_pct", "path")


@dataclass(frozen=True)
class Inspected:
    """A work, what it was before, and the looks at it that count, in order."""

    work: Work
    earlier: tuple[Phase, ...]
    inspections: tuple[Inspection, ...]

    def drawn(self, levels: Levels) -> tuple[Draws, tuple[DrawnPhase, ...]]:
        """Return the draws that stand at levels, of the work now and of what it was before."""
        return draws_from(self.work, levels), drawn_at(self.earlier, levels)

    def mountings(self) -> list[int]:
        """Return under which mounting each look fell, counted from 0."""
        phases = [*(one.work for one in self.earlier), self.work]
        begins = [
            one.until_utc
            for one, after in zip(self.earlier, phases[1:], strict=True)
            if mounted_anew(one.work, after)
        ]
        return [
            sum(begin <= inspection.at_utc for begin in begins) for inspection in self.inspections
        ]

    def fit(self, particles: "Particles", inspections: int) -> Floats:
        """Return the log likelihood of the first so many looks for each draw, shape (n,)."""
        shown = {name: values[:inspections] for name, values in particles.shown.items()}
        visible = surface_at(self.work, particles.levels)["visible_slope_mrad"]
        if not inspections:
            return np.zeros(len(visible))
        mountings = self.mountings()[:inspections]
        return log_likelihood(
            self.inspections[:inspections], shown, self.work.finish, visible, mountings
        )


@dataclass(frozen=True)
class Particles:
    """Draws of one work by their levels.

    Parameters
    ----------
    levels : mapping of str to ndarray, shape (n,)
    shown : mapping of str to ndarray, shape (looks, n)
        What they show at the first looks, by the names in `analysis.learning.likelihood.LOOKED_AT`.
    state : ndarray, shape (len(layout.STATE), n), or None
        How they are at the full hour of the last of those looks; None where the work is not held by
        tension, or was not mounted yet.
    """

    levels: Levels
    shown: Mapping[str, Floats]
    state: Floats | None

    @property
    def n_inspections(self) -> int:
        """How many looks they were carried through."""
        return len(self.shown["slope_mrad"])

    def take(self, index: npt.NDArray[np.intp]) -> "Particles":
        """Return the draws at ``index``."""
        return Particles(
            {name: level[index] for name, level in self.levels.items()},
            {name: values[:, index] for name, values in self.shown.items()},
            None if self.state is None else self.state[:, index],
        )

    def moved(self, to: "Particles", where: npt.NDArray[np.bool_]) -> "Particles":
        """Return these draws, and those of ``to`` where told."""
        state = self.state
        if state is not None and to.state is not None:
            state = np.where(where, to.state, state)
        return Particles(
            {name: np.where(where, to.levels[name], level) for name, level in self.levels.items()},
            {name: np.where(where, to.shown[name], values) for name, values in self.shown.items()},
            state,
        )


def simulated(
    works: Sequence[Inspected],
    levels: Sequence[Levels],
    air: RoomAir,
    pasts: Pasts,
    inspections: Sequence[int],
) -> list[Particles]:
    """Return the draws at these levels, each work carried from its mounting to its look so many.

    Looks at a work that is not held by tension, or not mounted yet, say nothing.
    """
    asked = [i for i, count in enumerate(inspections) if count]
    ends = {i: _hour(works[i].inspections[inspections[i] - 1].at_utc) for i in asked}
    drawn = {i: works[i].drawn(levels[i]) for i in asked}
    found = _run(works, drawn, air, ends, {i: range(inspections[i]) for i in asked}, pasts=pasts)
    return [
        _particles(works[i], levels[i], found, 0, inspections[i], ends.get(i))
        for i in range(len(works))
    ]


def continued(
    works: Sequence[Inspected], particles: Sequence[Particles], air: RoomAir, pasts: Pasts
) -> list[Particles]:
    """Return draws carried on from their last look to the last look at each work.

    The result is the same to the bit as of `simulated`.
    """
    out = list(particles)
    missing = [
        i for i, one in enumerate(particles) if one.n_inspections < len(works[i].inspections)
    ]
    fresh = [i for i in missing if not particles[i].n_inspections or particles[i].state is None]
    if fresh:
        whole = simulated(
            [works[i] for i in fresh],
            [particles[i].levels for i in fresh],
            air,
            pasts,
            [len(works[i].inspections) for i in fresh],
        )
        for i, one in zip(fresh, whole, strict=True):
            out[i] = one

    def since(i: int) -> datetime:
        return _hour(works[i].inspections[particles[i].n_inspections - 1].at_utc)

    rest = sorted((i for i in missing if i not in fresh), key=since)
    for begin, group in groupby(rest, key=since):
        for i, one in _carried(list(group), begin, works, particles, air).items():
            out[i] = one
    return out


def _carried(
    group: Sequence[int],
    begin: datetime,
    works: Sequence[Inspected],
    particles: Sequence[Particles],
    air: RoomAir,
) -> dict[int, Particles]:
    """Return draws whose last looks fell into one hour, carried on from it."""
    states = {works[i].work.work_id: particles[i].state for i in group}
    known = Checkpoint(begin, {key: s.copy() for key, s in states.items() if s is not None})
    drawn = {i: works[i].drawn(particles[i].levels) for i in group}
    ends = {i: _hour(works[i].inspections[-1].at_utc) for i in group}
    inspections = {i: range(particles[i].n_inspections, len(works[i].inspections)) for i in group}
    found = _run(works, drawn, air, ends, inspections, since=known)
    return {i: _joined(works[i], particles[i], found, ends[i]) for i in group}


def _joined(inspected: Inspected, before: Particles, found: Run | None, end: datetime) -> Particles:
    """Return draws with what they show at further looks."""
    after = _particles(
        inspected, before.levels, found, before.n_inspections, len(inspected.inspections), end
    )
    shown = {k: np.concatenate([values, after.shown[k]]) for k, values in before.shown.items()}
    return Particles(before.levels, shown, after.state)


def _run(
    works: Sequence[Inspected],
    drawn: Mapping[int, tuple[Draws, tuple[DrawnPhase, ...]]],
    air: RoomAir,
    ends: Mapping[int, datetime],
    inspections: Mapping[int, range],
    *,
    pasts: Pasts | None = None,
    since: Checkpoint | None = None,
) -> Run | None:
    """Carry draws through the air up to their looks, keeping their state at the last one."""
    if not drawn:
        return None
    end = max(ends.values())
    probe = {
        works[i].work.work_id: [works[i].inspections[k].at_utc for k in inspections[i]]
        for i in drawn
    }
    return run(
        [works[i].work for i in drawn],
        {works[i].work.work_id: now for i, (now, _) in drawn.items()},
        until(air, end),
        since=since,
        detail_from=end,
        week_starts=sorted(set(ends.values())),
        probe=probe,
        earlier={works[i].work.work_id: before for i, (_, before) in drawn.items()},
        pasts=pasts,
    )


def _particles(
    inspected: Inspected,
    levels: Levels,
    found: Run | None,
    first: int,
    last: int,
    end: datetime | None,
) -> Particles:
    """Return draws with what a run showed of the looks from one to another."""
    n, key, count = len(next(iter(levels.values()))), inspected.work.work_id, last - first
    probes = {} if found is None else found.probes.get(key, {})
    nothing = np.full((count, n), np.nan)
    shown = {name: probes[name][:count] if name in probes else nothing for name in LOOKED_AT}
    kept = () if found is None else found.checkpoints
    states = [one.states[key] for one in kept if one.time_utc == end and key in one.states]
    return Particles(levels, shown, states[0] if states else None)


def seen_otherwise(inspected: Inspected, now: Particles, levels: Levels) -> Particles:
    """Return draws that differ in nothing but `SEEN_ONLY`, without running the chain again.

    The reserve that the chain gave is read anew with another season and path; the height of waves
    is proportional to their length.
    """
    changed = {**now.levels, **{name: levels[name] for name in SEEN_ONLY if name in levels}}
    seen = surface_at(inspected.work, changed)
    angles = np.array(
        [[angle_at(_hour(one.at_utc))] for one in inspected.inspections[: now.n_inspections]]
    )
    season = seen["season_cos_pct"] * np.cos(angles) + seen["season_sin_pct"] * np.sin(angles)
    delta = season - seen["path_share"] * now.shown["play_lag_pct"]
    md, cd = (now.shown[f"reserve_{a}"] + now.shown[f"beta_{a}"] * delta for a in ("md", "cd"))
    slack = np.maximum(np.maximum(-md, -cd) - now.shown["buckle"], 0.0)
    wave = 2000.0 * seen["wavelength_m"] * np.sqrt(slack) / np.pi
    shown = {**now.shown, "slope_mrad": 2000.0 * np.sqrt(slack), "wave_mm": wave}
    return Particles(changed, shown, now.state)


def until(air: RoomAir, end_utc: datetime) -> RoomAir:
    """Return a room's air up to the hour after an instant, two hours at least."""
    hours = int(np.searchsorted(air.time_utc, stamp(end_utc + timedelta(hours=1)), "right"))
    return part_of(air, slice(max(hours, 2)))


def stamp(at_utc: datetime) -> np.datetime64:
    """Return an instant as the hourly grid has it."""
    return np.datetime64(int(at_utc.timestamp()), "s")


def _hour(at_utc: datetime) -> datetime:
    """Return the full hour before an instant: what a look sees is taken from there."""
    return at_utc.replace(minute=0, second=0, microsecond=0)
