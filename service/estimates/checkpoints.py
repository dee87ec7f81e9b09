"""Runs that go on from the latest week that still holds, so that a new week costs only itself."""

from collections.abc import Mapping, Sequence
from datetime import datetime

import numpy as np

from analysis.air.room_air import RoomAir
from analysis.results import Floats
from analysis.simulation.checkpoints import Checkpoint, mondays
from analysis.simulation.estimator import Run, run
from analysis.simulation.pasts import pasts_of
from analysis.simulation.phases import DrawnPhase
from analysis.simulation.priors import Draws
from analysis.works import Work
from service.estimates.fingerprints import air_chain, facts_at, life_facts, program
from service.storage.results import Result
from service.storage.stores import Stores

KEEP_WEEKS = 8
# The state of a work that was not mounted yet: a run that goes on lets it begin at its first hour.
NOT_YET = np.empty(0)


def run_from_checkpoint(
    stores: Stores,
    works: Sequence[Work],
    draws: Mapping[str, Draws],
    weights: Mapping[str, Floats],
    air: RoomAir,
    *,
    detail_from: datetime,
    earlier: Mapping[str, Sequence[DrawnPhase]] | None = None,
) -> Run:
    """Carry works through their air, from the latest kept week before ``detail_from`` on.

    The result is the same to the bit as a run from the start. What was kept of a week counts only
    while the work and its draws in every phase up to that week, and all air up to it, are the same.
    Works of which nothing holds go through the years alone first: the others need not.

    Of a question about the past the weeks are kept under a name of its own: those of the present,
    which most questions go on from, stay.
    """
    pasts = pasts_of(air)
    names = week_names(works, draws, weights, air_chain(air, pasts.digest), earlier or {})
    since = _latest(stores, names, detail_from)
    if since is None and (anew := _without_weeks(stores, works, names, detail_from)):
        run_from_checkpoint(
            stores, anew, draws, weights, air, detail_from=detail_from, earlier=earlier
        )
        since = _latest(stores, names, detail_from)
    found = run(
        works,
        draws,
        air,
        since=since,
        weights=weights,
        detail_from=detail_from,
        week_starts=_weeks_to_keep(air, detail_from),
        earlier=earlier,
        pasts=pasts,
    )
    _keep(stores, names, found.checkpoints, detail_from)
    return found


def _weeks_to_keep(air: RoomAir, detail_from: datetime) -> list[datetime]:
    """Return the latest weeks of some air, and the one that the same question goes on from."""
    weeks = mondays(air)
    return [*[week for week in weeks[:-KEEP_WEEKS] if week <= detail_from][-1:],
            *weeks[-KEEP_WEEKS:]]  # fmt: skip


def _without_weeks(
    stores: Stores,
    works: Sequence[Work],
    names: Mapping[str, Mapping[datetime, str]],
    before: datetime,
) -> list[Work]:
    """Return the works of which no kept week holds, where one of the others has some."""
    anew = [one for one in works if not _latest(stores, {one.work_id: names[one.work_id]}, before)]
    return anew if len(anew) < len(works) else []


def stored_week(
    stores: Stores,
    work: Work,
    draws: Draws,
    weights: Floats | None,
    air: RoomAir,
    earlier: Sequence[DrawnPhase],
    *,
    before: datetime,
) -> Checkpoint | None:
    """Return the latest kept week of one work at or before a time, or None where none holds."""
    key = work.work_id
    weighing = {} if weights is None else {key: weights}
    chain = air_chain(air, pasts_of(air).digest)
    names = week_names([work], {key: draws}, weighing, chain, {key: earlier})
    return _latest(stores, names, before)


def week_names(
    works: Sequence[Work],
    draws: Mapping[str, Draws],
    weights: Mapping[str, Floats],
    chain: Mapping[datetime, str],
    earlier: Mapping[str, Sequence[DrawnPhase]],
) -> dict[str, dict[datetime, str]]:
    """Return, for each work and week, a name for all that its state rests on."""
    names: dict[str, dict[datetime, str]] = {}
    for work in works:
        key = work.work_id
        facts = life_facts(work, draws[key], weights.get(key), earlier.get(key, ()))
        names[key] = {week: f"{facts_at(facts, week)}/{air}" for week, air in chain.items()}
    return names


def _latest(
    stores: Stores, names: Mapping[str, Mapping[datetime, str]], before: datetime
) -> Checkpoint | None:
    """Return the latest kept week that holds for every work, or None: run from the start."""
    kept = {work_id: _holding(stores, work_id, weeks) for work_id, weeks in names.items()}
    if not kept:
        return None
    common = set.intersection(*(set(one) for one in kept.values()))
    latest = max((week for week in common if week <= before), default=None)
    if latest is None:
        return None
    states = {work_id: one[latest] for work_id, one in kept.items()}
    return Checkpoint(latest, {key: state for key, state in states.items() if state.size})


def _holding(stores: Stores, work_id: str, names: Mapping[datetime, str]) -> dict[datetime, Floats]:
    """Return the kept states of a work that hold, by week."""
    found = {}
    for name in (_name(work_id), _name_of_past(work_id)):
        kept = stores.results.load(name, program()) or Result()
        for week, rests_on in names.items():
            if kept.facts.get(_week(week)) == rests_on:
                found[week] = np.asarray(kept.arrays[_week(week)])
    return found


def _keep(
    stores: Stores,
    names: Mapping[str, Mapping[datetime, str]],
    checkpoints: Sequence[Checkpoint],
    began: datetime,
) -> None:
    """Keep the latest weeks of each work and the one that this question goes on from.

    Those kept before are among them where they still hold.
    """
    for work_id, weeks in names.items():
        name = _name(work_id)
        before = stores.results.load(name, program()) or Result()
        if weeks and any(week > _week(max(weeks)) for week in before.arrays):
            name = _name_of_past(work_id)
            before = stores.results.load(name, program()) or Result()
        arrays = {
            _week(week): before.arrays[_week(week)]
            for week, rests_on in weeks.items()
            if before.facts.get(_week(week)) == rests_on
        }
        known = set(arrays)
        arrays |= {
            _week(c.time_utc): c.states.get(work_id, NOT_YET)
            for c in checkpoints
            if c.time_utc in weeks
        }
        begin = [week for week in sorted(arrays) if week <= _week(began)]
        latest = {*sorted(arrays)[-KEEP_WEEKS:], *begin[-1:]}
        if latest <= known and len(latest) >= len(before.arrays):
            continue
        rests_on = {_week(week): rests for week, rests in weeks.items()}
        stores.results.save(
            name,
            program(),
            Result(
                {w: np.asarray(arrays[w]) for w in sorted(latest)},
                {w: rests_on[w] for w in sorted(latest)},
            ),
        )


def _name_of_past(work_id: str) -> str:
    return f"checkpoints of the past/{work_id}"


def _name(work_id: str) -> str:
    return f"checkpoints/{work_id}"


def _week(time: datetime) -> str:
    return f"{time:%Y-%m-%dT%H}"
