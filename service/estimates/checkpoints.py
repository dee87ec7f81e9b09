"""Runs that go on from the latest week that still holds, so that a new week costs only itself.

The state of a work at a Monday is a file of its own, which names all that the state rests on and is
never written to again. A new week adds its own file; then those that are no longer wanted go.
"""

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime

import numpy as np

from analysis.air.room_air import RoomAir
from analysis.results import Floats
from analysis.simulation.checkpoints import Checkpoint, mondays
from analysis.simulation.estimator import Run, run
from analysis.simulation.pasts import Pasts, pasts_of
from analysis.simulation.phases import DrawnPhase
from analysis.simulation.priors import Draws
from analysis.works import Work
from service.estimates.fingerprints import air_chain, facts_at, life_facts
from service.storage.results import Result, Results

KEEP_WEEKS = 8
# The state of a work that was not mounted yet: a run that goes on lets it begin at its first hour.
NOT_YET = np.empty(0)
STATE = "state"


def run_from_checkpoint(
    results: Results,
    works: Sequence[Work],
    draws: Mapping[str, Draws],
    weights: Mapping[str, Floats],
    air: RoomAir,
    *,
    detail_from: datetime,
    earlier: Mapping[str, Sequence[DrawnPhase]] | None = None,
    before: tuple[Pasts, Mapping[str, Mapping[datetime, str]]] | None = None,
) -> Run:
    """Carry works through their air, from the latest kept week before ``detail_from`` on.

    The result is the same to the bit as a run from the start. What was kept of a week counts only
    while the work and its draws in every phase up to that week, and all air up to it, are the same.
    Works of which nothing holds go through the years alone first: the others need not.

    Of a question about the past the weeks are kept under a name of its own: those of the present,
    which most questions go on from, stay.

    ``before`` is what the years before the air were taken to be, and the names of `week_names`,
    where they are at hand.
    """
    if before is None:
        pasts = pasts_of(air)
        chain = air_chain(air, pasts.digest)
        before = pasts, week_names(works, draws, weights, chain, earlier or {})
    pasts, names = before
    since = _latest(results, names, detail_from)
    if since is None and (anew := _without_weeks(results, works, names, detail_from)):
        run_from_checkpoint(
            results,
            anew,
            draws,
            weights,
            air,
            detail_from=detail_from,
            earlier=earlier,
            before=(pasts, {one.work_id: names[one.work_id] for one in anew}),
        )
        since = _latest(results, names, detail_from)
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
    _keep(results, names, found.checkpoints, detail_from)
    return found


def _weeks_to_keep(air: RoomAir, detail_from: datetime) -> list[datetime]:
    """Return the latest weeks of some air, and the one that the same question goes on from."""
    weeks = mondays(air)
    return [*[week for week in weeks[:-KEEP_WEEKS] if week <= detail_from][-1:],
            *weeks[-KEEP_WEEKS:]]  # fmt: skip


def _without_weeks(
    results: Results,
    works: Sequence[Work],
    names: Mapping[str, Mapping[datetime, str]],
    before: datetime,
) -> list[Work]:
    """Return the works of which no kept week holds, where one of the others has some."""
    anew = [
        one
        for one in works
        if not any(week <= before for week in _holding(results, one.work_id, names[one.work_id]))
    ]
    return anew if len(anew) < len(works) else []


def stored_week(
    results: Results,
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
    return _latest(results, names, before)


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
    results: Results, names: Mapping[str, Mapping[datetime, str]], before: datetime
) -> Checkpoint | None:
    """Return the latest kept week that holds for every work, or None: run from the start."""
    kept = {work_id: _holding(results, work_id, weeks) for work_id, weeks in names.items()}
    if not kept:
        return None
    common = set.intersection(*(set(one) for one in kept.values()))
    for week in sorted((one for one in common if one <= before), reverse=True):
        states = {key: _state(results, one[week], names[key][week]) for key, one in kept.items()}
        whole = {key: state for key, state in states.items() if state is not None}
        if len(whole) == len(states):
            return Checkpoint(week, {key: state for key, state in whole.items() if state.size})
    return None


def _holding(results: Results, work_id: str, weeks: Mapping[datetime, str]) -> dict[datetime, str]:
    """Return the kept weeks of a work that hold, each with the name it is kept under."""
    found: dict[datetime, str] = {}
    for folder in (_past_folder(work_id), _folder(work_id)):
        there = set(results.names_in(folder))
        found |= {
            week: f"{folder}/{name}"
            for week, rests_on in weeks.items()
            if (name := _name(week, rests_on)) in there
        }
    return found


def _state(results: Results, name: str, rests_on: str) -> Floats | None:
    """Return a kept state; one that is damaged is forgotten, so that it is kept anew."""
    kept = results.load(name, rests_on)
    if kept is None:
        results.forget(name)
        return None
    return np.asarray(kept.arrays[STATE])


def _keep(
    results: Results,
    names: Mapping[str, Mapping[datetime, str]],
    checkpoints: Sequence[Checkpoint],
    began: datetime,
) -> None:
    """Keep the latest weeks of each work and the one that this question goes on from.

    Those kept before are among them where they still hold. The new ones are written before any
    goes, so that a crash between leaves one too many and never one too few.
    """
    states = {one.time_utc: one.states for one in checkpoints}
    for work_id, weeks in names.items():
        folder = _folder(work_id)
        there = set(results.names_in(folder))
        if weeks and any(_week_of(name) > _week(max(weeks)) for name in there):
            folder = _past_folder(work_id)
            there = set(results.names_in(folder))
        known = {week: name for week, on in weeks.items() if (name := _name(week, on)) in there}
        wanted = _wanted({*known, *(week for week in states if week in weeks)}, began)
        for week in sorted(wanted - set(known)):
            state = states[week].get(work_id, NOT_YET)
            name = f"{folder}/{_name(week, weeks[week])}"
            results.save(name, weeks[week], Result({STATE: state}))
        for name in there - {known[week] for week in wanted & set(known)}:
            results.forget(f"{folder}/{name}")
        results.forget(folder)  # all weeks in one file, as earlier releases had them


def _wanted(weeks: Collection[datetime], began: datetime) -> set[datetime]:
    """Return the latest of some weeks, and the last at which a question begins."""
    ordered = sorted(weeks)
    return {*ordered[-KEEP_WEEKS:], *[week for week in ordered if week <= began][-1:]}


def _past_folder(work_id: str) -> str:
    return f"checkpoints of the past/{work_id}"


def _folder(work_id: str) -> str:
    return f"checkpoints/{work_id}"


def _name(week: datetime, rests_on: str) -> str:
    """Return the name of a week's file, which tells all that the state rests on."""
    return f"{_week(week)} {rests_on.replace('/', '-')}"


def _week_of(name: str) -> str:
    return name.partition(" ")[0]


def _week(time: datetime) -> str:
    return f"{time:%Y-%m-%dT%H}"
