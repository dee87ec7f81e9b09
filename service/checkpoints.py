"""Runs that go on from the latest week that still holds, so that a new week costs only itself."""

from collections.abc import Mapping, Sequence
from datetime import datetime

import numpy as np

from analysis.checkpoints import Checkpoint
from analysis.estimator import Run, run
from analysis.priors import Draws
from analysis.results import Floats
from analysis.room_air import RoomAir
from analysis.works import Work
from service.fingerprints import air_chain, draws_facts
from service.storage.results import Result
from service.storage.stores import Stores

KEEP_WEEKS = 8


def run_from_checkpoint(
    stores: Stores,
    works: Sequence[Work],
    draws: Mapping[str, Draws],
    weights: Mapping[str, Floats],
    air: RoomAir,
    *,
    detail_from: datetime,
) -> Run:
    """Carry works through their air, from the latest kept week before ``detail_from`` on.

    The result is the same to the bit as a run from the start. What was kept counts only while the
    work, its draws and all air up to that week are the same.
    """
    chain = air_chain(air)
    facts = {
        work.work_id: draws_facts(work, draws[work.work_id], weights.get(work.work_id))
        for work in works
    }
    since = _latest(stores, facts, chain, detail_from)
    found = run(
        works,
        draws,
        air,
        since=since,
        weights=weights,
        detail_from=detail_from,
        keep_weeks=KEEP_WEEKS,
    )
    _keep(stores, facts, chain, found.checkpoints)
    return found


def _latest(
    stores: Stores,
    facts: Mapping[str, str],
    chain: Mapping[datetime, str],
    before: datetime,
) -> Checkpoint | None:
    """Return the latest kept week that holds for every work, or None: run from the start."""
    kept = {work_id: stores.results.load(_name(work_id), fact) for work_id, fact in facts.items()}
    if not kept or any(result is None for result in kept.values()):
        return None
    for week in sorted((time for time in chain if time <= before), reverse=True):
        states = {
            work_id: result.arrays[_week(week)]
            for work_id, result in kept.items()
            if result is not None and result.facts.get(_week(week)) == chain[week]
        }
        if len(states) == len(facts):
            return Checkpoint(week, states)
    return None


def _keep(
    stores: Stores,
    facts: Mapping[str, str],
    chain: Mapping[datetime, str],
    checkpoints: Sequence[Checkpoint],
) -> None:
    """Keep the latest weeks of each work, those kept before among them where they still hold."""
    for work_id, fact in facts.items():
        before = stores.results.load(_name(work_id), fact) or Result()
        arrays = {
            _week(week): before.arrays[_week(week)]
            for week, name in chain.items()
            if before.facts.get(_week(week)) == name
        }
        known = len(arrays)
        arrays |= {
            _week(c.time_utc): c.states[work_id]
            for c in checkpoints
            if work_id in c.states and c.time_utc in chain
        }
        latest = sorted(arrays)[-KEEP_WEEKS:]
        if len(arrays) == known and len(latest) == len(before.arrays):
            continue
        names = {_week(week): name for week, name in chain.items()}
        stores.results.save(
            _name(work_id),
            fact,
            Result({w: np.asarray(arrays[w]) for w in latest}, {w: names[w] for w in latest}),
        )


def _name(work_id: str) -> str:
    return f"checkpoints/{work_id}"


def _week(time: datetime) -> str:
    return f"{time:%Y-%m-%dT%H}"
