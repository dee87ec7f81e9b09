"""Stores → analysis → results: which works are still taut at a time, and why."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import pandas as pd

from analysis.air.room_air import RoomAir, hourly_air
from analysis.answers.judgement import JudgementLimits, judge
from analysis.answers.work_changes import work_changes
from analysis.errors import NotEnoughError
from analysis.learning.posterior import Inspection as Seen
from analysis.learning.posterior import Learned
from analysis.records.inspection_records import TIGHT, Inspection
from analysis.results import Floats, History, Judgement, LeadTime
from analysis.simulation.checkpoints import instant
from analysis.simulation.estimator import Run
from analysis.simulation.lead_time import lead_time
from analysis.simulation.phase_histories import since_mounting
from analysis.simulation.phases import (
    DrawnPhase,
    Phase,
    drawn_at,
    drawn_before,
    lasting_after,
    mounted_since,
)
from analysis.simulation.priors import Draws, draw
from analysis.works import Mount, Work
from service.climate.room_readings import RoomReadings
from service.estimates.checkpoints import run_from_checkpoint
from service.estimates.hanging_history import Companions, air_of, arrival
from service.estimates.learned import learned_draws
from service.storage.inspections import inspections
from service.storage.stores import Stores

# History in detail before the time asked for: the week that is judged, and a day before it.
DETAIL = timedelta(days=8)


@dataclass(frozen=True)
class Assessed:
    """One work at a time: what it is, where it hangs, what was found.

    ``draws`` and ``air`` are None where nothing was run. ``earlier`` holds the phases of its life
    before the present one, since the air began.
    """

    work: Work
    room_id: str
    judgement: Judgement
    history: History | None = None
    learned: Learned | None = None
    draws: Draws | None = None
    air: RoomAir | None = None
    earlier: Sequence[DrawnPhase] = ()


def assess(
    stores: Stores,
    group: Companions,
    readings: Mapping[str, RoomReadings],
    at_utc: datetime,
    *,
    outdoor: pd.DataFrame | None = None,
    limits: JudgementLimits | None = None,
    draws: int = 200,
    detail: timedelta = DETAIL,
    seen_until: datetime | None = None,
) -> list[Assessed]:
    """Return what can be said at a time of works that have had the same air.

    Parameters
    ----------
    readings : mapping of str to RoomReadings
        Room → its readings, for every room of the group's stays.
    at_utc : datetime
        The hour to judge; readings after it are not looked at.
    outdoor : pandas.DataFrame, optional
        Outdoor readings, for works on outside walls.
    detail : timedelta
        How much history before that hour is worked out in detail.
    seen_until : datetime, optional
        Inspections after it are not looked at; None: all, also those newer than the readings.
    """
    frame = air_of(group.stays, readings).loc[: pd.Timestamp(at_utc)]
    air = _air(frame, at_utc, outdoor)
    seen = {work.work_id: _counted(stores, work, seen_until) for work in group.works}
    if air is None:
        return [_without_air(work, group, at_utc, limits, seen) for work in group.works]
    held = [work for work in group.works if work.mount is Mount.TENSION_HELD]
    known = _known(stores, held, seen, air, draws, group)
    found = known.carried(stores, held, air, at_utc - detail)
    leads = lead_time(held, known.draws, found.last, air, weights=known.weights) if held else {}
    return [
        Assessed(
            work=work,
            room_id=group.room,
            judgement=_judged(work, group, found.histories, air, at_utc, leads, limits, seen),
            history=found.histories.get(work.work_id),
            learned=known.learned.get(work.work_id),
            draws=known.draws.get(work.work_id),
            air=air,
            earlier=known.earlier.get(work.work_id, ()),
        )
        for work in group.works
    ]


def learned_now(
    stores: Stores,
    group: Companions,
    readings: Mapping[str, RoomReadings],
    at_utc: datetime,
    *,
    outdoor: pd.DataFrame | None = None,
    draws: int = 200,
) -> Mapping[str, Learned]:
    """Return what all inspections taught of works that have had the same air, as `assess` has it.

    Nothing is carried through the air but what is not kept: see `learned_draws`.
    """
    held = [work for work in group.works if work.mount is Mount.TENSION_HELD]
    seen = {work.work_id: _counted(stores, work, None) for work in held}
    if not any(seen.values()):
        return {}
    air = _air(air_of(group.stays, readings).loc[: pd.Timestamp(at_utc)], at_utc, outdoor)
    return {} if air is None else _learned(stores, held, seen, air, draws, _before(group, air))


@dataclass(frozen=True)
class _Known:
    """What is known of some works before their air: by work, after what was seen of them."""

    learned: Mapping[str, Learned]
    draws: Mapping[str, Draws]
    weights: Mapping[str, Floats]
    earlier: Mapping[str, tuple[DrawnPhase, ...]]

    def carried(
        self, stores: Stores, works: Sequence[Work], air: RoomAir, detail_from: datetime
    ) -> Run:
        """Return the works carried through their air, in detail from an instant on."""
        return run_from_checkpoint(
            stores,
            works,
            self.draws,
            self.weights,
            air,
            detail_from=detail_from,
            earlier=self.earlier,
        )


def _known(
    stores: Stores,
    held: Sequence[Work],
    seen: Mapping[str, Sequence[Inspection]],
    air: RoomAir,
    draws: int,
    group: Companions,
) -> _Known:
    """Return the draws of works, now and in their phases since the air began."""
    before = _before(group, air)
    learned = _learned(stores, held, seen, air, draws, before)
    now, earlier = {}, {}
    for key, work in {work.work_id: work for work in held}.items():
        one, phases = learned.get(key), before.get(key, ())
        now[key] = draw(work, draws) if one is None else one.draws
        if phases:
            earlier[key] = (
                drawn_before(phases, draws) if one is None else drawn_at(phases, one.levels)
            )
    return _Known(learned, now, {key: one.weights for key, one in learned.items()}, earlier)


def _learned(
    stores: Stores,
    held: Sequence[Work],
    seen: Mapping[str, Sequence[Inspection]],
    air: RoomAir,
    draws: int,
    before: Mapping[str, Sequence[Phase]],
) -> dict[str, Learned]:
    """Return what inspections of the register taught of works."""
    asked = {name: [_teaches(one) for one in many] for name, many in seen.items()}
    return learned_draws(stores, held, asked, air, draws, before)


def _before(group: Companions, air: RoomAir) -> dict[str, tuple[Phase, ...]]:
    """Return the phases of works since their air began, before the present one."""
    begun = instant(air.time_utc[0])
    return {key: lasting_after(phases, begun) for key, phases in group.earlier.items()}


def _judged(
    work: Work,
    group: Companions,
    histories: Mapping[str, History],
    air: RoomAir,
    at_utc: datetime,
    leads: Mapping[str, LeadTime],
    limits: JudgementLimits | None,
    seen: Mapping[str, Sequence[Inspection]],
) -> Judgement:
    earlier = group.earlier.get(work.work_id, ())
    mounted = mounted_since(work, earlier)
    history = histories.get(work.work_id)
    judged = judge(
        work,
        None if history is None else since_mounting(history, mounted),
        air,
        at_utc=at_utc,
        lead_time=leads.get(work.work_id),
        limits=limits,
        last_inspection=_last_look(seen[work.work_id], mounted),
    )
    changes = (*arrival(group.stays, at_utc), *work_changes(work, earlier, at_utc))
    return replace(judged, changes=changes)


def _without_air(
    work: Work,
    group: Companions,
    at_utc: datetime,
    limits: JudgementLimits | None,
    seen: Mapping[str, Sequence[Inspection]],
) -> Assessed:
    mounted = mounted_since(work, group.earlier.get(work.work_id, ()))
    last = _last_look(seen[work.work_id], mounted)
    judged = judge(work, None, None, at_utc=at_utc, limits=limits, last_inspection=last)
    return Assessed(work, group.room, judged)


def _last_look(seen: Sequence[Inspection], mounted: datetime | None) -> Seen | None:
    """Return the last look at a work since it was mounted as it is.

    A hinge found loose stays the last word until somebody has found that all hold.
    """
    counted = [one for one in seen if mounted is None or one.at_utc >= mounted]
    at_edges = [one for one in counted if one.released is not None]
    if at_edges and at_edges[-1].released:
        return _look(at_edges[-1])
    return _look(counted[-1]) if counted else None


def _air(frame: pd.DataFrame, at_utc: datetime, outdoor: pd.DataFrame | None) -> RoomAir | None:
    """Return the air on the hourly grid, or None where nothing usable was measured."""
    if len(frame) < 2:
        return None
    try:
        return hourly_air(
            frame,
            start_utc=frame.index[0].to_pydatetime(),
            end_utc=at_utc,
            outdoor_temp_c=None if outdoor is None else outdoor["temp_c"],
        )
    except NotEnoughError:
        return None


def _teaches(one: Inspection) -> Seen:
    """Return what a look teaches: ridges of too much tension say nothing of slack."""
    seen = _look(one)
    return replace(seen, grade=None, wave_mm=None) if one.finding == TIGHT else seen


def _look(one: Inspection) -> Seen:
    """Return an inspection of the register as learning sees it."""
    return Seen(one.at_utc, one.grade, wave_mm=one.wave_mm, released=one.released)


def _counted(stores: Stores, work: Work, until: datetime | None) -> list[Inspection]:
    """Return the inspections of a work up to a time, oldest first; withdrawn ones do not count."""
    every = inspections(stores.register, work.work_id)
    return [one for one in every if until is None or one.at_utc <= until]
