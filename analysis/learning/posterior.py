"""Learning from what people saw: inspections reweight a work's draws, or draw them again.

Every answer is worked out from the original draws and the inspections that stand, so a grade that
is withdrawn leaves no trace.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from hashlib import sha256
from typing import Any

import numpy as np

from analysis.air.room_air import RoomAir
from analysis.learning.inspections import Inspection, standing
from analysis.learning.likelihood import LOOKED_AT, released_by_then, released_probability
from analysis.learning.particles import (
    Inspected,
    Particles,
    continued,
    seen_otherwise,
    simulated,
    stamp,
    until,
)
from analysis.learning.weighted import effective_sample_size, resampled, weighted_range, weights_of
from analysis.parameters import table
from analysis.results import Floats, Range
from analysis.simulation.pasts import Pasts, pasts_of
from analysis.simulation.phases import Phase, levels_of_phases
from analysis.simulation.priors import Draws
from analysis.simulation.redraw import generator, jittered
from analysis.works import Work

__all__ = ["SHOWN", "Inspection", "Learned", "learn", "learning_release", "standing", "until"]

METHOD = 5  # to be raised when the way of learning changes
LEAST_SHARE = 0.5  # below this share of effective draws, draw again
SURVIVING = 0.5  # share of draws that stay effective when more of the likelihood is let in
# Resampled draws move until they have taken so many steps on average; the last time longer.
STEPS_ON_THE_WAY, STEPS_AT_LAST, MOST_MOVES = 0.7, 1.5, 12
STEP = 0.5  # size of a first step, in standard deviations of the prior
# Share of steps taken below which the next is made shorter, above which longer, up to a size.
FEW, MANY, SHORTER, LONGER, LONGEST = 0.25, 0.4, 0.7, 1.3, 0.8
# Steps, and their size, of the doubts that the chain need not be run again for.
FREE_STEPS, FREE_STEP = 2, 0.7
MAX_ROUNDS = 30

# The parameters shown before and after.
SHOWN = (
    "beta_cd",
    "beta_md",
    "half_time_h",
    "core_half_time_h",
    "prestrain",
    "mounted_rh_pct",
    "sensor_offset_pct",
    "relax_per_decade",
    "panel_beta_along_cd",
    "hysteresis_offset_rh_pct",
    "hinge_capacity_n_m",
    "wavelength_m",
    "visible_slope_mrad",
)


@dataclass(frozen=True)
class Reached:
    """Where learning stands after the last look: from here the next one goes on."""

    prior: Particles
    now: Particles


@dataclass(frozen=True)
class Learned:
    """A work's parameters after its inspections.

    ``weights`` belong to ``draws``; both go into `analysis.simulation.estimator.run`. ``redrawn``
    tells how often draws were made again, ``effective`` how many draws still carry weight.
    ``slope_…`` and ``wave_…`` are what is predicted at the last inspection, ``p_released_…`` the
    probability that hinges had let go by then. From ``levels`` the same sheet can be drawn in
    another frame or mount with `analysis.simulation.redraw.draws_from`, and its earlier phases with
    `analysis.simulation.phases.drawn_at`. From
    ``reached`` the next look is learned by itself.
    """

    work_id: str
    draws: Draws
    weights: Floats
    used: Sequence[Inspection]
    effective: float
    redrawn: int
    before: Mapping[str, Range]
    after: Mapping[str, Range]
    slope_before_mrad: Range | None
    slope_after_mrad: Range | None
    levels: Mapping[str, Floats] = field(default_factory=dict)
    wave_before_mm: Range | None = None
    wave_after_mm: Range | None = None
    p_released_before: float | None = None
    p_released_after: float | None = None
    reached: Reached | None = None


def thinned(learned: Learned, n: int) -> Learned:
    """Return what was learned with fewer draws of equal weight, taken evenly through the weights.

    Only ``levels`` and ``weights`` are thinned: what a plan draws from.

    Parameters
    ----------
    n : int
        How many draws are kept; where there are no more, all stay as they are.
    """
    if len(learned.weights) <= n:
        return learned
    passed = np.cumsum(learned.weights) / learned.weights.sum()
    taken = np.searchsorted(passed, (np.arange(n) + 0.5) / n)
    levels = {name: level[taken] for name, level in learned.levels.items()}
    return replace(learned, levels=levels, weights=np.full(n, 1.0 / n))


@cache
def learning_release() -> str:
    """Return the digest of the numbers by which looks are weighed, and of the way of learning.

    Examples
    --------
    >>> len(learning_release())
    12
    """
    groups = (group for name in ("grades", "discrepancy") for group in table(name).values())
    rows = [row for group in groups for row in group.values()]
    numbers = [f"{row.name}={row.value!r},{row.low!r},{row.high!r}" for row in rows]
    return sha256("\n".join([f"method {METHOD}", *numbers]).encode()).hexdigest()[:12]


@dataclass
class _Sampler:
    """The moving state of one work's learning, after its first ``absorbed`` looks."""

    inspected: Inspected
    prior: Particles
    now: Particles
    weights: Floats
    absorbed: int = 0
    rounds: int = 0

    @property
    def done(self) -> bool:
        return self.absorbed == len(self.inspected.inspections)

    def gain(self) -> Floats:
        """Return what the next look adds to the log likelihood of each draw."""
        inspected, now, k = self.inspected, self.now, self.absorbed
        return np.asarray(inspected.fit(now, k + 1) - inspected.fit(now, k))


@dataclass
class _Redraw:
    """One work's draws while the next look is let into them bit by bit."""

    sampler: _Sampler
    rng: np.random.Generator
    now: Particles
    before: Floats
    gain: Floats
    heat: float = 0.0
    step: float = STEP
    moves: int = 0
    steps: float = 0.0

    @property
    def settled(self) -> bool:
        """Whether its draws have moved enough since they were resampled."""
        enough = STEPS_AT_LAST if self.heat >= 1.0 else STEPS_ON_THE_WAY
        return self.steps >= enough or self.moves >= MOST_MOVES

    @property
    def n_inspections(self) -> int:
        return self.sampler.absorbed + 1

    def fits(self, particles: Particles) -> tuple[Floats, Floats]:
        """Return the log likelihood of the looks before, and what the next one adds."""
        inspected, k = self.sampler.inspected, self.sampler.absorbed
        before = inspected.fit(particles, k)
        return before, np.asarray(inspected.fit(particles, k + 1) - before)


def learn(
    works: Sequence[Work],
    inspections: Mapping[str, Sequence[Inspection]],
    air: RoomAir,
    n: int = 200,
    *,
    earlier: Mapping[str, Sequence[Phase]] | None = None,
    resume: Mapping[str, Learned] | None = None,
) -> dict[str, Learned]:
    """Return what inspections teach of each work's parameters.

    Parameters
    ----------
    works : sequence of Work
        Works that have had the same air.
    inspections : mapping of str to sequence of Inspection
        By work; works without one keep their priors.
    air : RoomAir
        Their air from before the first inspection until after the last; the years before it are
        drawn from its beginning.
    n : int
        Draws a work.
    earlier : mapping of str to sequence of Phase, optional
        How works were mounted, framed and hung before, oldest first.
    resume : mapping of str to Learned, optional
        Work → what its first looks taught, with the same air up to them: only the looks after them
        are then worked through, to the same result.

    Returns
    -------
    dict of str to Learned

    Notes
    -----
    Looks are taken in one after another (Chopin 2002): each multiplies the weights of the draws. As
    long as half of the draws carry weight that is all. Otherwise the look is let in bit by bit:
    each time the draws are resampled, then moved in the space of `redraw`, a step being taken or
    not by the Metropolis rule under all looks so far. Every move runs the whole chain again, but
    for doubts on which only what is seen depends.
    """
    pasts, phases = pasts_of(air), earlier or {}
    inspected = [
        Inspected(
            work,
            tuple(phases.get(work.work_id, ())),
            _within(inspections.get(work.work_id, ()), air),
        )
        for work in works
    ]
    samplers = _begun(inspected, air, pasts, n, resume or {})
    while moving := [s for s in samplers if not s.done]:
        stuck = [s for s in moving if not _weighed(s)]
        if stuck:
            _redrawn(stuck, air, pasts)
    return {s.inspected.work.work_id: _learned(s) for s in samplers}


def _within(inspections: Sequence[Inspection], air: RoomAir) -> tuple[Inspection, ...]:
    """Return the inspections that count and fall within the air."""
    first, last = (air.time_utc[i].astype("datetime64[s]") for i in (0, -1))
    end = last + np.timedelta64(1, "h")
    return tuple(one for one in standing(inspections) if first <= stamp(one.at_utc) <= end)


def _begun(
    inspected: Sequence[Inspected],
    air: RoomAir,
    pasts: Pasts,
    n: int,
    resume: Mapping[str, Learned],
) -> list[_Sampler]:
    """Return the works with their draws before or after the first looks, carried to the last."""
    samplers = []
    for one in inspected:
        levels = levels_of_phases(one.work, one.earlier, n)
        known = resume.get(one.work.work_id)
        if known is None or known.reached is None:
            fresh = Particles(levels, {name: np.empty((0, n)) for name in LOOKED_AT}, None)
            samplers.append(_Sampler(one, fresh, fresh, np.full(n, 1.0 / n)))
            continue
        prior, now = (_with_new(levels, p) for p in (known.reached.prior, known.reached.now))
        absorbed = now.n_inspections
        samplers.append(_Sampler(one, prior, now, known.weights, absorbed, known.redrawn))
    for s, prior in zip(samplers, _to_the_last(samplers, "prior", air, pasts), strict=True):
        s.prior, s.now = prior, prior if s.now is s.prior else s.now
    for s, now in zip(samplers, _to_the_last(samplers, "now", air, pasts), strict=True):
        s.now = now
    return samplers


def _to_the_last(
    samplers: Sequence[_Sampler], which: str, air: RoomAir, pasts: Pasts
) -> list[Particles]:
    """Return one kind of draws of each work, carried to its last look."""
    particles = [getattr(s, which) for s in samplers]
    return continued([s.inspected for s in samplers], particles, air, pasts)


def _with_new(levels: Mapping[str, Floats], kept: Particles) -> Particles:
    """Return kept draws with the doubts of a mounting or framing that has come since."""
    return replace(kept, levels={**levels, **kept.levels})


def _weighed(s: _Sampler) -> bool:
    """Take in looks by weight as long as enough draws carry some; False where one is too much."""
    while not s.done:
        weights = weights_of(np.log(s.weights) + s.gain())
        if effective_sample_size(weights) < LEAST_SHARE * len(weights):
            return False
        s.weights, s.absorbed = weights, s.absorbed + 1
    return True


def _redrawn(samplers: Sequence[_Sampler], air: RoomAir, pasts: Pasts) -> None:
    """Let the next look at each work in bit by bit: resample, move, until all of it is in."""
    redraws = []
    for s in samplers:
        rng = generator(s.inspected.work.work_id, f"learning {s.absorbed}")
        r = _Redraw(s, rng, s.now, np.zeros(0), np.zeros(0))
        r.before, r.gain = r.fits(s.now)
        redraws.append(r)
    while going := [r for r in redraws if r.heat < 1.0]:
        for r in going:
            _resample(r)
        moving = going
        while moving:
            _move(moving, air, pasts)
            moving = [r for r in moving if not r.settled]
    for r in redraws:
        r.sampler.now, r.sampler.absorbed = r.now, r.n_inspections
    for s, now in zip(samplers, _to_the_last(samplers, "now", air, pasts), strict=True):
        s.now = now


def _resample(r: _Redraw) -> None:
    """Let in as much of the look as enough draws survive, and resample them."""
    s, n = r.sampler, len(r.gain)
    weights = s.weights if r.heat == 0.0 else np.full(n, 1.0 / n)
    heat = 1.0 if s.rounds >= MAX_ROUNDS * (r.n_inspections + 1) else _next_heat(r, weights)
    share = weights_of(np.log(weights) + (heat - r.heat) * r.gain)
    index = resampled(share, float(r.rng.random()))
    r.now, r.before, r.gain = r.now.take(index), r.before[index], r.gain[index]
    r.heat, r.moves, r.steps = heat, 0, 0.0
    s.rounds, s.weights = s.rounds + 1, np.full(n, 1.0 / n)


def _next_heat(r: _Redraw, weights: Floats) -> float:
    """Return the largest share of the look under which enough draws stay effective."""
    least = SURVIVING * min(effective_sample_size(weights), len(weights))

    def enough(heat: float) -> bool:
        share = weights_of(np.log(weights) + (heat - r.heat) * r.gain)
        return effective_sample_size(share) >= least

    if enough(1.0):
        return 1.0
    low, high = r.heat, 1.0
    for _ in range(40):
        middle = (low + high) / 2.0
        low, high = (middle, high) if enough(middle) else (low, middle)
    return low if low > r.heat else high


def _move(redraws: Sequence[_Redraw], air: RoomAir, pasts: Pasts) -> None:
    """Propose one step for every draw of every work; keep it by the Metropolis rule."""
    levels = [jittered(r.now.levels, r.step, r.rng) for r in redraws]
    inspected, inspections = (
        [r.sampler.inspected for r in redraws],
        [r.n_inspections for r in redraws],
    )
    proposed = simulated(inspected, levels, air, pasts, inspections)
    for r, new in zip(redraws, proposed, strict=True):
        r.now = _cut(r.now, r.n_inspections)
        taken = _keep(r, new)
        r.moves, r.steps = r.moves + 1, r.steps + taken
        r.step = min(r.step * _change(taken), LONGEST)
        for _ in range(FREE_STEPS):
            free = jittered(r.now.levels, FREE_STEP, r.rng)
            _keep(r, seen_otherwise(r.sampler.inspected, r.now, free))


def _cut(now: Particles, inspections: int) -> Particles:
    """Return draws with what they show at the first looks alone; their state is of the last."""
    if now.n_inspections == inspections:
        return now
    shown = {name: values[:inspections] for name, values in now.shown.items()}
    return Particles(now.levels, shown, None)


def _change(taken: float) -> float:
    return SHORTER if taken < FEW else LONGER if taken > MANY else 1.0


def _keep(r: _Redraw, new: Particles) -> float:
    """Move the draws that the Metropolis rule lets move; return their share."""
    before, gain = r.fits(new)
    better = before - r.before + r.heat * (gain - r.gain)
    kept = np.log(r.rng.random(len(gain))) < better
    r.now = r.now.moved(new, kept)
    r.before, r.gain = np.where(kept, before, r.before), np.where(kept, gain, r.gain)
    return float(kept.mean())


def _effective(s: _Sampler) -> float:
    """Return how many draws still count: those that differ, by the weight that each carries."""
    _, which = np.unique(s.now.levels["beta_cd"], return_inverse=True)
    return effective_sample_size(np.bincount(which, weights=s.weights).astype(np.float64))


def _learned(s: _Sampler) -> Learned:
    prior, _ = s.inspected.drawn(s.prior.levels)
    draws, _ = s.inspected.drawn(s.now.levels)
    found = Learned(
        work_id=s.inspected.work.work_id,
        draws=draws,
        weights=s.weights,
        used=s.inspected.inspections,
        effective=_effective(s),
        redrawn=s.rounds,
        before={name: weighted_range(prior[name]) for name in SHOWN},
        after={name: weighted_range(draws[name], s.weights) for name in SHOWN},
        slope_before_mrad=None,
        slope_after_mrad=None,
        levels=s.now.levels,
        reached=Reached(s.prior, s.now),
    )
    return replace(found, **_at_last_inspection(s))


def _at_last_inspection(s: _Sampler) -> dict[str, Any]:
    """Return what is predicted at the last look, before and after; nothing if nothing was told."""
    if not s.inspected.inspections or not np.isfinite(s.now.shown["slope_mrad"][-1]).all():
        return {}
    released: dict[str, Any] = {}
    for when, one, weights in (("before", s.prior, None), ("after", s.now, s.weights)):
        released[f"slope_{when}_mrad"] = weighted_range(one.shown["slope_mrad"][-1], weights)
        released[f"wave_{when}_mm"] = weighted_range(one.shown["wave_mm"][-1], weights)
    loads, mountings = s.now.shown["overload"], s.inspected.mountings()
    first = mountings.index(mountings[-1])
    gone = released_by_then(s.inspected.inspections[first:], loads[first:])
    released["p_released_before"] = float(
        released_probability(s.prior.shown["overload"][-1]).mean()
    )
    released["p_released_after"] = float(np.average(gone, weights=s.weights))
    return released
