"""Stores → the planning functions of `analysis.planning`, for the command and the pages alike."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

import numpy as np

from analysis.errors import NotEnoughError
from analysis.learning import Inspection as Seen
from analysis.learning import Learned, learn
from analysis.planning.hanging import HangingTable, hanging_table
from analysis.planning.mount_sheet import MountSheet, mount_sheet
from analysis.planning.mounting import MountingCurve, mounting_curve
from analysis.planning.sealing import SealingComparison, sealing_comparison
from analysis.planning.seasonal import Schedule, ScheduleYear, schedule_years
from analysis.planning.spacer import Clearance, clearance
from analysis.planning.variants import require_tension_held, years_of
from analysis.results import Range
from analysis.room_air import RoomAir, hourly_air
from analysis.works import Mount, Work
from service.room_readings import full_hour, outdoor_readings, room_readings
from service.storage import places, works
from service.storage.inspections import inspections
from service.storage.stores import Stores

YEAR = timedelta(days=365)
MONTH = timedelta(days=30)  # before the year, for the percentiles through gaps


def last_year(stores: Stores, room_id: str) -> RoomAir:
    """Return a room's air over the last year that was measured, hourly.

    Raises
    ------
    UnknownNameError
        If the register knows no such room.
    NotEnoughError
        If the room has no usable readings.
    """
    whole = room_readings(stores, room_id).frame
    if len(whole) < 2:
        raise NotEnoughError(
            read=f"room {room_id}",
            where="readings",
            found="none",
            expected="the readings of its last year",
            action="Take in a file of a logger that hangs in this room.",
        )
    end = full_hour(whole.index[-1].to_pydatetime())
    start = max(end - YEAR, whole.index[0].to_pydatetime())
    site = places.room_named(stores.register, room_id).site
    outdoor = outdoor_readings(stores, site, start - MONTH, end)
    return hourly_air(
        whole.loc[start - MONTH :],
        start_utc=start,
        end_utc=end,
        outdoor_temp_c=None if outdoor is None else outdoor["temp_c"],
    )


def room_of(stores: Stores, work_id: str) -> str:
    """Return the room in which a work hangs, or hung last.

    Raises
    ------
    NotEnoughError
        If it never hung anywhere.
    """
    hung = works.work_record(stores.register, work_id).hangings
    if not hung:
        raise NotEnoughError(
            read=f"work {work_id}",
            where="room",
            found="none",
            expected="the room whose year is to be used",
            action="Name a room with --room, or enter where the work hangs.",
        )
    return hung[-1].room


def taught(stores: Stores, work: Work, air: RoomAir, draws: int) -> Learned | None:
    """Return what the inspections of the year taught of a work, or None where there are none."""
    seen = [Seen(one.at_utc, one.grade) for one in inspections(stores.register, work.work_id)]
    first = air.time_utc[0]
    used = [s for s in seen if np.datetime64(int(s.at_utc.timestamp()), "s") >= first]
    if not used or work.mount is not Mount.TENSION_HELD:
        return None
    return learn([work], {work.work_id: used}, air, draws)[work.work_id]


def plan_mounting(
    stores: Stores, work_id: str, room_id: str | None = None, *, draws: int = 200
) -> MountingCurve:
    """Return the mounting curve of a work over a room's last year."""
    work, air = _work_and_air(stores, work_id, room_id)
    return mounting_curve(work, air, n=draws, learned=taught(stores, work, air, draws))


def plan_sealing(
    stores: Stores,
    work_id: str,
    room_id: str | None = None,
    *,
    target_rh_pct: float | None = None,
    draws: int = 200,
) -> SealingComparison:
    """Return how a work would fare in each frame build over a room's last year."""
    work, air = _work_and_air(stores, work_id, room_id)
    learned = taught(stores, work, air, draws)
    return sealing_comparison(work, air, target_rh_pct=target_rh_pct, n=draws, learned=learned)


def plan_hanging(
    stores: Stores,
    work_ids: Sequence[str] | None = None,
    room_ids: Sequence[str] | None = None,
    *,
    draws: int = 200,
) -> HangingTable:
    """Return works by rooms; every work and every room with readings where none are named."""
    chosen = work_ids or [sheet.work_id for sheet in works.prints(stores.register)]
    named = {room.room: room.name for room in places.rooms(stores.register)}
    wanted = room_ids or list(named)
    airs = {}
    for room_id in wanted:
        try:
            airs[places.room_named(stores.register, room_id).name] = last_year(stores, room_id)
        except NotEnoughError:
            if room_ids:
                raise
    held = [works.work_at(stores.register, work_id) for work_id in chosen]
    return hanging_table(held, airs, n=draws)


def plan_spacer(
    stores: Stores,
    work_id: str,
    room_id: str | None = None,
    *,
    spacer_mm: float | None = None,
    agreed_minimum_mm: float | None = None,
    draws: int = 200,
) -> Clearance:
    """Return the clearance of a work at the worst hour of a room's last year."""
    work, air = _work_and_air(stores, work_id, room_id)
    if spacer_mm is not None:
        work = replace(work, spacer_mm=spacer_mm)
    wave = highest_wave(work, air, draws, taught(stores, work, air, draws))
    return clearance(work, wave, agreed_minimum_mm)


def highest_wave(work: Work, air: RoomAir, draws: int, learned: Learned | None) -> Range | None:
    """Return the highest waves of a year [mm], or None where no hour can be told."""
    require_tension_held(work)
    history = years_of({work.work_id: work}, air, draws, learned)[work.work_id].history
    told = history.refused == ""
    if not told.any():
        return None
    return Range(*(float(x) for x in history.wave_mm[told].max(axis=0)))


def plan_schedules(
    stores: Stores,
    work_id: str,
    schedules: Sequence[Schedule],
    room_id: str | None = None,
    *,
    draws: int = 200,
) -> list[ScheduleYear]:
    """Return a work's year as it was and under each schedule of set points or setback."""
    work, air = _work_and_air(stores, work_id, room_id)
    return schedule_years(work, air, schedules, n=draws, learned=taught(stores, work, air, draws))


def plan_mount_sheet(
    stores: Stores,
    work_id: str,
    *,
    target_rh_pct: float | None = None,
    pitch_mm: float | None = None,
) -> MountSheet:
    """Return the mount sheet of a work."""
    work = works.work_at(stores.register, work_id)
    return mount_sheet(work, target_rh_pct=target_rh_pct, pitch_mm=pitch_mm)


def _work_and_air(stores: Stores, work_id: str, room_id: str | None) -> tuple[Work, RoomAir]:
    work = works.work_at(stores.register, work_id)
    return work, last_year(stores, room_id or room_of(stores, work_id))
