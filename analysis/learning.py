"""Learning from what people saw: inspections reweight a work's draws, or draw them again.

Every answer is worked out from the original draws and the inspections that stand, so a grade that
is withdrawn leaves no trace.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from analysis.errors import OutOfRangeError
from analysis.estimator import run
from analysis.grades import CALL, log_likelihood, require_grade
from analysis.priors import Draws
from analysis.redraw import draws_from, generator, jittered, levels_of
from analysis.results import Floats, Range
from analysis.room_air import RoomAir
from analysis.weighted import effective_sample_size, resampled, weighted_range, weights_of
from analysis.works import Work

LEAST_SHARE = 0.2  # below this share of effective draws, draw again
MOVES = 5  # moves after each resampling
STEP = 0.5  # size of a move, in standard deviations of the prior
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
    "visible_slope_mrad",
)


@dataclass(frozen=True)
class Inspection:
    """One short look at a work.

    Parameters
    ----------
    at_utc : datetime
        When, with its zone.
    grade : int or None
        0 to 4; None: "no change" since the inspection before, which is an observation too.
    withdrawn : bool
        Found to be wrong later: kept in the record, left out of learning.
    """

    at_utc: datetime
    grade: int | None
    withdrawn: bool = False


@dataclass(frozen=True)
class Learned:
    """A work's parameters after its inspections.

    ``weights`` belong to ``draws``; both go into `analysis.estimator.run`. ``slope_mrad`` is the
    predicted slope at the last inspection. ``redrawn`` tells how often draws were made again,
    ``effective`` how many draws still carry weight. From ``levels`` the same sheet can be drawn in
    another frame or mount with `analysis.redraw.draws_from`.
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


@dataclass
class _Sampler:
    """The moving state of one work's learning."""

    work: Work
    seen: Sequence[Inspection]
    levels: dict[str, Floats]
    draws: Draws
    slope_mrad: Floats
    fit: Floats
    rng: np.random.Generator
    weights: Floats
    heat: float = 0.0
    rounds: int = 0

    @property
    def done(self) -> bool:
        return self.heat >= 1.0


def standing(inspections: Sequence[Inspection]) -> list[Inspection]:
    """Return the inspections that count, in order, "no change" given the grade it refers to.

    A "no change" without an earlier grade says nothing and is left out.

    Raises
    ------
    OutOfRangeError
        If a grade is not 0 to 4, or a time has no zone.
    """
    counted: list[Inspection] = []
    for one in sorted((i for i in inspections if not i.withdrawn), key=lambda i: i.at_utc):
        if one.at_utc.tzinfo is None:
            raise OutOfRangeError(
                read="inspection",
                where="time",
                found=f"{one.at_utc} without a zone",
                expected="a time in UTC",
                action="State the zone.",
            )
        grade = one.grade if one.grade is not None or not counted else counted[-1].grade
        if grade is not None:
            require_grade(grade)
            counted.append(replace(one, grade=grade))
    return counted


def learn(
    works: Sequence[Work],
    inspections: Mapping[str, Sequence[Inspection]],
    air: RoomAir,
    n: int = 200,
) -> dict[str, Learned]:
    """Return what inspections teach of each work's parameters.

    Parameters
    ----------
    works : sequence of Work
        Works in one room.
    inspections : mapping of str to sequence of Inspection
        By work; works without one keep their priors.
    air : RoomAir
        The room from before the first inspection until after the last.
    n : int
        Draws a work.

    Returns
    -------
    dict of str to Learned

    Notes
    -----
    As long as a fifth of the draws or more still carry weight they are only reweighted. Otherwise
    the likelihood is let in step by step (tempering), each step resampling the draws and moving
    them in the space of `analysis.redraw`, a move being kept or not by the Metropolis rule; every
    move runs the whole chain again.
    """
    samplers = [_begin(work, inspections.get(work.work_id, ()), air, n) for work in works]
    _simulate(samplers, air)
    prior_slopes = {s.work.work_id: s.slope_mrad for s in samplers}
    for sampler in samplers:
        whole = weights_of(sampler.fit)
        if effective_sample_size(whole) >= LEAST_SHARE * n:
            sampler.weights, sampler.heat = whole, 1.0
    while any(not s.done for s in samplers):
        _round([s for s in samplers if not s.done], air)
    return {s.work.work_id: _learned(s, prior_slopes[s.work.work_id], n) for s in samplers}


def _begin(work: Work, inspections: Sequence[Inspection], air: RoomAir, n: int) -> _Sampler:
    first, last = (air.time_utc[i].astype("datetime64[s]") for i in (0, -1))
    seen = [
        one
        for one in standing(inspections)
        if first <= _stamp(one.at_utc) <= last + np.timedelta64(1, "h")
    ]
    levels = levels_of(work, n)
    return _Sampler(
        work=work,
        seen=seen,
        levels=levels,
        draws=draws_from(work, levels),
        slope_mrad=np.zeros((len(seen), n)),
        fit=np.zeros(n),
        rng=generator(work.work_id, "learning"),
        weights=np.full(n, 1.0 / n),
    )


def _stamp(at_utc: datetime) -> np.datetime64:
    return np.datetime64(int(at_utc.timestamp()), "s")


def _simulate(samplers: Sequence[_Sampler], air: RoomAir) -> None:
    """Run the chain for the samplers that have inspections; set their slopes and their fit."""
    asked = [s for s in samplers if s.seen]
    if not asked:
        return
    end = max(one.at_utc for s in asked for one in s.seen)
    found = run(
        [s.work for s in asked],
        {s.work.work_id: s.draws for s in asked},
        until(air, end),
        detail_from=end,
        probe={s.work.work_id: [one.at_utc for one in s.seen] for s in asked},
    )
    for s in asked:
        if s.work.work_id in found.probes:
            s.slope_mrad = found.probes[s.work.work_id]["slope_mrad"]
            s.fit = _fit(s)


def until(air: RoomAir, end_utc: datetime) -> RoomAir:
    """Return a room's air up to the hour after an instant, two hours at least."""
    hours = int(np.searchsorted(air.time_utc, _stamp(end_utc + timedelta(hours=1)), "right"))
    keep = slice(0, max(hours, 2))
    names = ("time_utc", "temp_c", "rh_low_pct", "rh_high_pct", "outdoor_temp_c", "measured")
    return replace(air, **{name: getattr(air, name)[keep] for name in names})


def _fit(sampler: _Sampler) -> Floats:
    """Return each draw's log likelihood; hours without a slope (not yet mounted) say nothing."""
    visible = sampler.draws["visible_slope_mrad"]
    total = np.zeros(sampler.draws.n)
    for one, slope in zip(sampler.seen, sampler.slope_mrad, strict=True):
        if one.grade is None or one.grade == CALL:
            continue
        told = np.isfinite(slope)
        likelihood = log_likelihood(
            one.grade, np.where(told, slope, 0.0), sampler.work.finish, visible
        )
        total += np.where(told, likelihood, 0.0)
    return total


def _round(samplers: Sequence[_Sampler], air: RoomAir) -> None:
    """Let in as much of the likelihood as half of the draws survive; resample; move."""
    for s in samplers:
        s.rounds += 1
        heat = 1.0 if s.rounds >= MAX_ROUNDS else _next_heat(s)
        index = resampled(weights_of((heat - s.heat) * s.fit), float(s.rng.random()))
        _take(s, index)
        s.heat = heat
    for _ in range(MOVES):
        _move(samplers, air)


def _next_heat(s: _Sampler) -> float:
    """Return the largest share of the likelihood under which half of the draws stay effective."""
    n = len(s.fit)
    if effective_sample_size(weights_of((1.0 - s.heat) * s.fit)) >= n / 2:
        return 1.0
    low, high = s.heat, 1.0
    for _ in range(40):
        middle = (low + high) / 2.0
        enough = effective_sample_size(weights_of((middle - s.heat) * s.fit)) >= n / 2
        low, high = (middle, high) if enough else (low, middle)
    return low if low > s.heat else high


def _take(s: _Sampler, index: npt.NDArray[np.intp]) -> None:
    s.levels = {name: level[index] for name, level in s.levels.items()}
    s.draws, s.slope_mrad, s.fit = s.draws.take(index), s.slope_mrad[:, index], s.fit[index]


def _move(samplers: Sequence[_Sampler], air: RoomAir) -> None:
    """Propose one step for every draw of every work; keep it by the Metropolis rule."""
    proposals = []
    for s in samplers:
        levels = jittered(s.levels, STEP, s.rng)
        proposals.append(replace(s, levels=levels, draws=draws_from(s.work, levels)))
    _simulate(proposals, air)
    for s, new in zip(samplers, proposals, strict=True):
        kept = np.log(s.rng.random(len(s.fit))) < s.heat * (new.fit - s.fit)
        s.levels = {k: np.where(kept, new.levels[k], level) for k, level in s.levels.items()}
        s.draws = draws_from(s.work, s.levels)
        s.slope_mrad = np.where(kept, new.slope_mrad, s.slope_mrad)
        s.fit = np.where(kept, new.fit, s.fit)


def _effective(s: _Sampler) -> float:
    """Return how many draws still count: by weight, or by being different after a redraw."""
    if s.rounds == 0:
        return effective_sample_size(s.weights)
    return float(len(np.unique(s.draws["beta_cd"])))


def _learned(s: _Sampler, prior_slope: Floats, n: int) -> Learned:
    prior = draws_from(s.work, levels_of(s.work, n))
    told = len(s.seen) > 0 and bool(np.isfinite(s.slope_mrad[-1]).all())
    return Learned(
        work_id=s.work.work_id,
        draws=s.draws,
        weights=s.weights,
        used=tuple(s.seen),
        effective=_effective(s),
        redrawn=s.rounds,
        before={name: weighted_range(prior[name]) for name in SHOWN},
        after={name: weighted_range(s.draws[name], s.weights) for name in SHOWN},
        slope_before_mrad=weighted_range(prior_slope[-1]) if told else None,
        slope_after_mrad=weighted_range(s.slope_mrad[-1], s.weights) if told else None,
        levels=s.levels,
    )
