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
from analysis.learning.likelihood_hinges import released_by_then, released_probability
from analysis.learning.particles import Looked, Particles, seen_otherwise, simulated, stamp, until
from analysis.learning.weighted import effective_sample_size, resampled, weighted_range, weights_of
from analysis.parameters import table
from analysis.results import Floats, Range
from analysis.simulation.phases import Phase, levels_of_life
from analysis.simulation.priors import Draws
from analysis.simulation.redraw import generator, jittered
from analysis.works import Work

__all__ = ["SHOWN", "Inspection", "Learned", "learn", "learning_release", "standing", "until"]

METHOD = 4  # to be raised when the way of learning changes
LEAST_SHARE = 0.2  # below this share of effective draws, draw again
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
class Learned:
    """A work's parameters after its inspections.

    ``weights`` belong to ``draws``; both go into `analysis.simulation.estimator.run`. ``redrawn``
    tells how often draws were made again, ``effective`` how many draws still carry weight.
    ``slope_…`` and ``wave_…`` are what is predicted at the last inspection, ``p_released_…`` the
    probability that hinges had let go by then. From ``levels`` the same sheet can be drawn in
    another frame or mount with `analysis.simulation.redraw.draws_from`, and its earlier phases with
    `analysis.simulation.phases.drawn_at`.
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


@cache
def learning_release() -> str:
    """Return the digest of the numbers by which looks are weighed, and of the way of learning.

    Examples
    --------
    >>> len(learning_release())
    12
    """
    rows = [row for group in table("grades").values() for row in group.values()]
    numbers = [f"{row.name}={row.value!r},{row.low!r},{row.high!r}" for row in rows]
    return sha256("\n".join([f"method {METHOD}", *numbers]).encode()).hexdigest()[:12]


@dataclass
class _Sampler:
    """The moving state of one work's learning."""

    looked: Looked
    prior: Particles
    now: Particles
    rng: np.random.Generator
    weights: Floats
    heat: float = 0.0
    rounds: int = 0
    step: float = STEP
    moves: int = 0
    steps: float = 0.0

    @property
    def done(self) -> bool:
        return self.heat >= 1.0

    @property
    def settled(self) -> bool:
        """Whether its draws have moved enough since they were resampled."""
        enough = STEPS_AT_LAST if self.done else STEPS_ON_THE_WAY
        return self.steps >= enough or self.moves >= MOST_MOVES


def learn(
    works: Sequence[Work],
    inspections: Mapping[str, Sequence[Inspection]],
    air: RoomAir,
    n: int = 200,
    *,
    earlier: Mapping[str, Sequence[Phase]] | None = None,
) -> dict[str, Learned]:
    """Return what inspections teach of each work's parameters.

    Parameters
    ----------
    works : sequence of Work
        Works that have had the same air.
    inspections : mapping of str to sequence of Inspection
        By work; works without one keep their priors.
    air : RoomAir
        Their air from before the first inspection until after the last.
    n : int
        Draws a work.
    earlier : mapping of str to sequence of Phase, optional
        How works were mounted, framed and hung before, oldest first.

    Returns
    -------
    dict of str to Learned

    Notes
    -----
    As long as a fifth of the draws or more still carry weight they are only reweighted. Otherwise
    the likelihood is let in bit by bit (tempering): each time the draws are resampled, then moved
    in the space of `analysis.simulation.redraw`, a step being taken or not by the Metropolis rule.
    Every move runs the whole chain again, but for doubts on which only what is seen depends.
    """
    phases = earlier or {}
    looked = [
        Looked(
            work,
            tuple(phases.get(work.work_id, ())),
            _within(inspections.get(work.work_id, ()), air),
        )
        for work in works
    ]
    samplers = _begun(looked, air, n)
    while any(not s.done for s in samplers):
        _round([s for s in samplers if not s.done], air)
    return {s.looked.work.work_id: _learned(s) for s in samplers}


def _within(inspections: Sequence[Inspection], air: RoomAir) -> tuple[Inspection, ...]:
    """Return the inspections that count and fall within the air."""
    first, last = (air.time_utc[i].astype("datetime64[s]") for i in (0, -1))
    end = last + np.timedelta64(1, "h")
    return tuple(one for one in standing(inspections) if first <= stamp(one.at_utc) <= end)


def _begun(looked: Sequence[Looked], air: RoomAir, n: int) -> list[_Sampler]:
    """Return the works with their original draws, weighed where enough of them carry weight."""
    levels = [levels_of_life(one.work, one.earlier, n) for one in looked]
    samplers = []
    for one, prior in zip(looked, simulated(looked, levels, air), strict=True):
        rng = generator(one.work.work_id, "learning")
        sampler = _Sampler(one, prior, prior, rng, np.full(n, 1.0 / n))
        whole = weights_of(prior.fit)
        if effective_sample_size(whole) >= LEAST_SHARE * n:
            sampler.weights, sampler.heat = whole, 1.0
        samplers.append(sampler)
    return samplers


def _round(samplers: Sequence[_Sampler], air: RoomAir) -> None:
    """Let in as much of the likelihood as enough draws survive; resample; move."""
    for s in samplers:
        s.rounds, s.moves, s.steps = s.rounds + 1, 0, 0.0
        heat = 1.0 if s.rounds >= MAX_ROUNDS else _next_heat(s)
        weights = weights_of((heat - s.heat) * s.now.fit)
        s.now = s.now.take(resampled(weights, float(s.rng.random())))
        s.heat = heat
    moving = list(samplers)
    while moving:
        _move(moving, air)
        moving = [s for s in moving if not s.settled]


def _next_heat(s: _Sampler) -> float:
    """Return the largest share of the likelihood under which enough draws stay effective."""
    least = SURVIVING * len(s.now.fit)

    def enough(heat: float) -> bool:
        return effective_sample_size(weights_of((heat - s.heat) * s.now.fit)) >= least

    if enough(1.0):
        return 1.0
    low, high = s.heat, 1.0
    for _ in range(40):
        middle = (low + high) / 2.0
        low, high = (middle, high) if enough(middle) else (low, middle)
    return low if low > s.heat else high


def _move(samplers: Sequence[_Sampler], air: RoomAir) -> None:
    """Propose one step for every draw of every work; keep it by the Metropolis rule."""
    levels = [jittered(s.now.levels, s.step, s.rng) for s in samplers]
    proposed = simulated([s.looked for s in samplers], levels, air)
    for s, new in zip(samplers, proposed, strict=True):
        taken = _keep(s, new)
        s.moves, s.steps = s.moves + 1, s.steps + taken
        s.step = min(s.step * _change(taken), LONGEST)
        for _ in range(FREE_STEPS):
            _keep(s, seen_otherwise(s.looked, s.now, jittered(s.now.levels, FREE_STEP, s.rng)))


def _change(taken: float) -> float:
    return SHORTER if taken < FEW else LONGER if taken > MANY else 1.0


def _keep(s: _Sampler, new: Particles) -> float:
    """Move the draws that the Metropolis rule lets move; return their share."""
    kept = np.log(s.rng.random(len(new.fit))) < s.heat * (new.fit - s.now.fit)
    s.now = s.now.moved(new, kept)
    return float(kept.mean())


def _effective(s: _Sampler) -> float:
    """Return how many draws still count: by weight, or by being different after a redraw."""
    if s.rounds == 0:
        return effective_sample_size(s.weights)
    return float(len(np.unique(s.now.levels["beta_cd"])))


def _learned(s: _Sampler) -> Learned:
    prior, _ = s.looked.drawn(s.prior.levels)
    draws, _ = s.looked.drawn(s.now.levels)
    found = Learned(
        work_id=s.looked.work.work_id,
        draws=draws,
        weights=s.weights,
        used=s.looked.looks,
        effective=_effective(s),
        redrawn=s.rounds,
        before={name: weighted_range(prior[name]) for name in SHOWN},
        after={name: weighted_range(draws[name], s.weights) for name in SHOWN},
        slope_before_mrad=None,
        slope_after_mrad=None,
        levels=s.now.levels,
    )
    return replace(found, **_at_last_look(s))


def _at_last_look(s: _Sampler) -> dict[str, Any]:
    """Return what is predicted at the last look, before and after; nothing if nothing was told."""
    if not s.looked.looks or not np.isfinite(s.now.shown["slope_mrad"][-1]).all():
        return {}
    told: dict[str, Any] = {}
    for when, one, weights in (("before", s.prior, None), ("after", s.now, s.weights)):
        told[f"slope_{when}_mrad"] = weighted_range(one.shown["slope_mrad"][-1], weights)
        told[f"wave_{when}_mm"] = weighted_range(one.shown["wave_mm"][-1], weights)
    loads, mountings = s.now.shown["overload"], s.looked.mountings()
    first = mountings.index(mountings[-1])
    gone = released_by_then(s.looked.looks[first:], loads[first:])
    told["p_released_before"] = float(released_probability(s.prior.shown["overload"][-1]).mean())
    told["p_released_after"] = float(np.average(gone, weights=s.weights))
    return told
