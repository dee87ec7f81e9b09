"""Stores → analysis → results: which works are still taut at a time, and why."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import pandas as pd

from analysis.errors import NotEnoughError
from analysis.judgement import JudgementLimits, judge
from analysis.lead_time import lead_time
from analysis.learning import Inspection as Seen
from analysis.learning import Learned
from analysis.priors import Draws, draw
from analysis.results import History, Judgement, LeadTime
from analysis.room_air import RoomAir, hourly_air
from analysis.works import Mount, Work
from service.checkpoints import run_from_checkpoint
from service.learned import learned_draws
from service.room_readings import RoomReadings
from service.storage.inspections import Inspection, inspections
from service.storage.stores import Stores
from service.travels import Companions, air_of

# History in detail before the time asked for: the week that is judged, and a day before it.
DETAIL = timedelta(days=8)


@dataclass(frozen=True)
class Assessed:
    """One work at a time: what it is, where it hangs, what was found.

    ``draws`` and ``air`` are None where nothing was run.
    """

    work: Work
    room_id: str
    judgement: Judgement
    history: History | None = None
    learned: Learned | None = None
    draws: Draws | None = None
    air: RoomAir | None = None


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
    if air is None:
        return [_without_air(work, group.room, at_utc) for work in group.works]
    held = [work for work in group.works if work.mount is Mount.TENSION_HELD]
    seen = {work.work_id: _counted(stores, work, seen_until) for work in group.works}
    asked = {name: [Seen(one.at_utc, one.grade) for one in many] for name, many in seen.items()}
    learned = learned_draws(stores, held, asked, air, draws)
    known = {
        work.work_id: learned[work.work_id].draws if work.work_id in learned else draw(work, draws)
        for work in held
    }
    weights = {name: found.weights for name, found in learned.items()}
    found = run_from_checkpoint(stores, held, known, weights, air, detail_from=at_utc - detail)
    leads = lead_time(held, known, found.last, air, weights=weights) if held else {}
    limits = limits or JudgementLimits()
    return [
        Assessed(
            work=work,
            room_id=group.room,
            judgement=_judged(work, found.histories, air, at_utc, leads, limits, seen),
            history=found.histories.get(work.work_id),
            learned=learned.get(work.work_id),
            draws=known.get(work.work_id),
            air=air,
        )
        for work in group.works
    ]


def _judged(
    work: Work,
    histories: Mapping[str, History],
    air: RoomAir,
    at_utc: datetime,
    leads: Mapping[str, LeadTime],
    limits: JudgementLimits,
    seen: Mapping[str, Sequence[Inspection]],
) -> Judgement:
    last = next(reversed(seen[work.work_id]), None)
    return judge(
        work,
        histories.get(work.work_id),
        air,
        at_utc=at_utc,
        lead_time=leads.get(work.work_id),
        limits=limits,
        last_inspection=None if last is None else (last.at_utc, last.grade),
    )


def _without_air(work: Work, room_id: str, at_utc: datetime) -> Assessed:
    return Assessed(work, room_id, judge(work, None, None, at_utc=at_utc))


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


def _counted(stores: Stores, work: Work, until: datetime | None) -> list[Inspection]:
    """Return the inspections of a work up to a time, oldest first; withdrawn ones do not count."""
    every = inspections(stores.register, work.work_id)
    return [one for one in every if until is None or one.at_utc <= until]
