"""The museum → the planning functions of `analysis.planning`, for the command and the pages alike.

Plans rest on the same draws as the pages: what inspections taught of a work over its whole record.
"""

import hashlib
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import closing
from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta
from functools import cached_property
from typing import Any

import numpy as np

from analysis.air.room_air import RoomAir, hourly_air
from analysis.answers.judgement import JudgementLimits
from analysis.errors import NotEnoughError
from analysis.learning.posterior import Learned, thinned
from analysis.planning.hanging import HangingTable, Place, hanging_table, look_first_at
from analysis.planning.mount_sheet import MountSheet, mount_sheet
from analysis.planning.mounting import MountingCurve, mounting_curve
from analysis.planning.sealing import SealingComparison, sealing_comparison
from analysis.planning.seasonal import Schedule, ScheduleYear, schedule_years
from analysis.planning.spacer import Clearance, clearance
from analysis.planning.year import LookFirst, history_of
from analysis.records.room_records import Room
from analysis.results import Range
from analysis.simulation.checkpoints import instant
from analysis.simulation.pasts import pasts_of
from analysis.simulation.priors import Draws
from analysis.works import Mount, Wall, Work
from dashboards.text.messages import _
from dashboards.text.sentences import room_of_many
from service.answers.museum import Museum
from service.climate.room_readings import full_hour
from service.engine.engines import Engine, Threads
from service.estimates.assessments import learned_now
from service.estimates.fingerprints import air_between, work_facts
from service.estimates.hanging_history import Companions
from service.estimates.questions import counted_looks
from service.storage import works
from service.storage.results import Result, Results

YEAR = timedelta(days=365)


MONTH = timedelta(days=30)  # before the year, for the percentiles through gaps


RUN_UP = timedelta(days=90)


SHORT_WEEKS = 1


BESIDE = 2  # places in hand: while one is in the loop, which takes all cores, the other is not


def last_year(museum: Museum, room_id: str) -> RoomAir:
    """Return a room's air over the last year that was measured, hourly.

    Raises
    ------
    UnknownNameError
        If the register knows no such room.
    NotEnoughError
        If the room has no usable readings.
    """
    return museum.cached(("year", room_id), lambda: _last_year(museum, room_id, timedelta(0)))


def with_run_up(museum: Museum, room_id: str) -> tuple[RoomAir, datetime]:
    """Return a room's last year with the weeks before it, where measured, and when it begins.

    Slow frames take weeks to forget how they began: those weeks are run, and not counted.
    """
    year = last_year(museum, room_id)
    whole = museum.cached(("run up", room_id), lambda: _last_year(museum, room_id, RUN_UP))
    return whole, instant(year.time_utc[0])


def _last_year(museum: Museum, room_id: str, run_up: timedelta) -> RoomAir:
    room = museum.readings(room_id)
    whole = room.frame
    if len(whole) < 2:
        raise NotEnoughError(
            read=f"room {room_id}",
            where="readings",
            found="none",
            expected="the readings of its last year",
            action="Take in a file of a logger that hangs in this room.",
        )
    end = full_hour(whole.index[-1].to_pydatetime())
    start = max(end - YEAR - run_up, whole.index[0].to_pydatetime())
    outdoor = museum.outdoor()
    return hourly_air(
        whole.loc[start - MONTH :],
        start_utc=start,
        end_utc=end,
        outdoor_temp_c=None if outdoor is None else outdoor["temp_c"],
        checked_utc=room.checked_utc,
        southern=room.southern,
    )


def room_of(museum: Museum, work_id: str) -> str:
    """Return the room in which a work hangs, or hung last.

    Raises
    ------
    NotEnoughError
        If it never hung anywhere.
    """
    hung = works.work_record(museum.stores.register, work_id).hangings
    if not hung:
        raise NotEnoughError(
            read=f"work {work_id}",
            where="room",
            found="none",
            expected="the room whose year is to be used",
            action="Name a room with --room, or enter where the work hangs.",
        )
    return hung[-1].room


def work_now(museum: Museum, work_id: str) -> Work:
    """Return a work as it is mounted and framed now."""
    return works.work_at(museum.stores.register, work_id, museum.now())


def posterior_of(museum: Museum, work_id: str) -> Learned | None:
    """Return what inspections taught of a work over its whole record, as its own page has it."""
    found = museum.work_over(work_id, SHORT_WEEKS)
    return found.learned


def posteriors(museum: Museum) -> dict[str, tuple[str, Learned | None]]:
    """Return, by work that hangs now: its room, and what inspections taught of it.

    It is what the works are judged with now, without judging them.
    """

    def taught(group: Companions) -> Mapping[str, Learned]:
        if not any(counted_looks(museum.stores, work, museum.clock()) for work in group.works):
            return {}
        question = museum.question(group, museum.now())
        return museum.engine.run(learned_now, museum.stores.results, question)

    def make() -> dict[str, tuple[str, Learned | None]]:
        groups = museum.groups(museum.now())
        each = zip(groups, museum.engine.ahead(taught, groups), strict=True)
        return {
            one.work_id: (group.room, learned.get(one.work_id))
            for group, learned in each
            for one in group.works
        }

    return museum.cached("taught", make)


def plan_mounting(museum: Museum, work_id: str, room_id: str | None = None) -> MountingCurve:
    """Return the mounting curve of a work over a room's last year."""

    def make() -> MountingCurve:
        work, air = _work_and_air(museum, work_id, room_id)
        return mounting_curve(
            work, air, n=museum.settings.draws, learned=posterior_of(museum, work_id)
        )

    return museum.cached(("plan mount", work_id, room_id), make)


def plan_sealing(
    museum: Museum,
    work_id: str,
    room_id: str | None = None,
    *,
    target_rh_pct: float | None = None,
) -> SealingComparison:
    """Return how a work would fare in each frame build over a room's last year."""

    def make() -> SealingComparison:
        work, air = _work_and_air(museum, work_id, room_id)
        return sealing_comparison(
            work,
            air,
            target_rh_pct=target_rh_pct,
            n=museum.settings.draws,
            learned=posterior_of(museum, work_id),
        )

    return museum.cached(("plan seal", work_id, room_id, target_rh_pct), make)


def plan_hanging(
    museum: Museum,
    work_ids: Sequence[str] = (),
    room_ids: Sequence[str] = (),
    walls: Sequence[Wall] = (Wall.INSIDE,),
) -> HangingTable:
    """Return works by walls of rooms; every work and room with readings where none is named."""
    found = hanging_of(museum, work_ids, room_ids, walls)
    return hanging_table(found.works, found.years, found.rooms_now)


@dataclass(frozen=True)
class Hung:
    """Works, what each wall's year would be to them, and by work the name of its room now."""

    works: Sequence[Work]
    years: Mapping[Place, Mapping[str, LookFirst]]
    rooms_now: Mapping[str, str]


def hanging_of(
    museum: Museum,
    work_ids: Sequence[str] = (),
    room_ids: Sequence[str] = (),
    walls: Sequence[Wall] = (Wall.INSIDE,),
    *,
    draws: int | None = None,
    tell: Callable[[str], None] | None = None,
) -> Hung:
    """Return what the last year on each wall would be to works; ``tell`` is told how far it is."""
    told = tell or (lambda _words: None)
    register, n = museum.stores.register, draws or museum.settings.draws
    chosen = list(work_ids) or [sheet.work_id for sheet in works.prints(register)]
    rooms = [museum.room(room) for room in room_ids] or [*museum.rooms()]
    told(_("what looks taught of the works"))
    candidates = museum.cached(("candidates", *chosen), lambda: _candidates(museum, chosen))
    coarse = n < museum.settings.draws
    asked = [_with_draws(one, n) for one in candidates] if coarse else candidates

    def on_wall(place: tuple[Room, Wall]) -> dict[str, LookFirst]:
        (room, wall), engine = place, museum.engine
        air, begins = with_run_up(museum, room.room)
        year = RoomYear(room.room, air, begins, n, coarse)
        return hanging_years(museum.stores.results, asked, year, wall, engine)

    found = {}
    places = [(room, wall) for room in rooms for wall in walls]
    with closing(museum.engine.ahead(on_wall, places, beside=BESIDE)) as years:
        for number, room in enumerate(rooms, 1):
            told(room_of_many(number, len(rooms), room.name))
            for wall in walls:
                found[Place(room.name, wall)] = next(years)
    names = {room.room: room.name for room in museum.every_room()}
    now = {one.work.work_id: names.get(one.room_id, "") for one in candidates}
    return Hung([one.work for one in candidates], found, now)


def works_now(museum: Museum, work_ids: Iterable[str]) -> list[Work]:
    """Return works as they are mounted and framed now; those the register knows, in order."""
    known, now = works.work_records(museum.stores.register), museum.now()
    return [works.as_work(known[one], now) for one in sorted(work_ids) if one in known]


@dataclass(frozen=True)
class Candidate:
    """A work to be hung, the room it hangs in now ("" where in none), and what was learned."""

    work: Work
    room_id: str
    learned: Learned | None

    def facts(self, room_id: str) -> str:
        """Return a name for everything about the work that its year in a room rests on."""
        return f"{self._facts}/{self.room_id == room_id}"

    @cached_property
    def _facts(self) -> str:
        made = hashlib.blake2b(work_facts(self.work).encode(), digest_size=16)
        if self.learned is not None:
            for array in (self.learned.weights, *self.learned.levels.values()):
                made.update(np.ascontiguousarray(array).tobytes())
        return made.hexdigest()


def _with_draws(one: Candidate, n: int) -> Candidate:
    """Return a candidate whose draws are few; those that were learned are thinned."""
    return one if one.learned is None else replace(one, learned=thinned(one.learned, n))


def _candidates(museum: Museum, work_ids: Sequence[str]) -> list[Candidate]:
    """Return works with what was learned of them and the room they hang in now."""
    known = posteriors(museum)
    now = {work.work_id: work for work in works_now(museum, work_ids)}
    return [
        Candidate(now.get(work_id) or work_now(museum, work_id), *known.get(work_id, ("", None)))
        for work_id in work_ids
    ]


def plan_spacer(
    museum: Museum,
    work_id: str,
    room_id: str | None = None,
    *,
    spacer_mm: float | None = None,
    agreed_minimum_mm: float | None = None,
) -> Clearance:
    """Return the clearance of a work at the worst hour of a room's last year."""
    work, air = _work_and_air(museum, work_id, room_id)
    wave = museum.cached(
        ("highest wave", work_id, room_id), lambda: _highest_wave(museum, work, air)
    )
    tried = work if spacer_mm is None else replace(work, spacer_mm=spacer_mm)
    return clearance(tried, wave, agreed_minimum_mm)


def _highest_wave(museum: Museum, work: Work, air: RoomAir) -> Range | None:
    """Return the highest waves of a year [mm], or None where no hour can be told."""
    n, learned = museum.settings.draws, posterior_of(museum, work.work_id)
    history = history_of(work, air, n, learned)
    judged = history.refused == ""
    if not judged.any():
        return None
    return Range(*(float(x) for x in history.wave_mm[judged].max(axis=0)))


def plan_schedules(
    museum: Museum, work_id: str, schedules: Sequence[Schedule], room_id: str | None = None
) -> list[ScheduleYear]:
    """Return a work's year as it was and under each schedule of set points or setback."""

    def make() -> list[ScheduleYear]:
        work, air = _work_and_air(museum, work_id, room_id)
        learned = posterior_of(museum, work_id)
        return schedule_years(work, air, schedules, n=museum.settings.draws, learned=learned)

    return museum.cached(("plan seasons", work_id, room_id, repr(schedules)), make)


def plan_mount_sheet(
    museum: Museum,
    work_id: str,
    *,
    target_rh_pct: float | None = None,
    pitch_mm: float | None = None,
) -> MountSheet:
    """Return the mount sheet of a work."""
    work = work_now(museum, work_id)
    return mount_sheet(work, target_rh_pct=target_rh_pct, pitch_mm=pitch_mm)


def _work_and_air(museum: Museum, work_id: str, room_id: str | None) -> tuple[Work, RoomAir]:
    work = work_now(museum, work_id)
    return work, last_year(museum, room_id or room_of(museum, work_id))


# Works in rooms they do not hang in: the shares of the last year, kept until something changes.
#
# A result holds one wall of one room; a work is worked out again when it, or what was learned of
# it,
# has changed, and all works are when the room's air has.

LIMITS = JudgementLimits()


@dataclass(frozen=True)
class RoomYear:
    """A room's air, the instant from which its hours count, and the number of draws."""

    room_id: str
    air: RoomAir
    counted_from: datetime
    draws: int
    coarse: bool = False  # of fewer draws than usual, and kept beside what has them all

    @property
    def inputs(self) -> str:
        """A name for what all years in the room rest on."""
        air = air_between(self.air, 0, self.air.hours)
        past = pasts_of(self.air).digest + repr(self.air.checked_utc)
        return "/".join((air, past, str(self.counted_from), str(self.draws), repr(LIMITS)))


def hanging_years(
    results: Results,
    candidates: Sequence[Candidate],
    year: RoomYear,
    wall: Wall,
    engine: Engine | None = None,
) -> dict[str, LookFirst]:
    """Return, by work, what a room's last year would have been to it on a wall of that room."""
    name, inputs = result_name(year.room_id, wall), year.inputs
    if year.coarse:
        name = f"{name}/{year.draws} draws"
    held = [one for one in candidates if one.work.mount is Mount.TENSION_HELD]
    facts = {one.work.work_id: one.facts(year.room_id) for one in held}
    stored = results.load(name, inputs)
    known: dict[str, Any] = dict(stored.facts) if stored else {}
    missing = [
        one for one in held if known.get(one.work.work_id, {}).get("of") != facts[one.work.work_id]
    ]
    if missing:
        new = (engine or Threads()).run(worked_out, results, WallYear.of(missing, year, wall))
        known |= {key: {"of": facts[key], **asdict(found)} for key, found in new.items()}
        results.save(name, inputs, Result(facts=known))
    return {work_id: _from_facts(known[work_id]) for work_id in facts}


def result_name(room_id: str, wall: Wall) -> str:
    """Return the name under which the years on a wall of a room are kept."""
    return f"hanging/{room_id}/{wall.value}"


@dataclass(frozen=True)
class WallYear:
    """Works on a wall of a room for a year: all that is needed to work it out anywhere."""

    works: Sequence[Work]
    year: RoomYear
    wall: Wall
    learned: Mapping[str, Learned]
    at_home: Sequence[str]

    @classmethod
    def of(cls, candidates: Sequence[Candidate], year: RoomYear, wall: Wall) -> "WallYear":
        """Return the year of candidates, without what was learned of them but not needed."""
        learned = {
            one.work.work_id: _bare(one.learned) for one in candidates if one.learned is not None
        }
        home = [one.work.work_id for one in candidates if one.room_id == year.room_id]
        return cls([one.work for one in candidates], year, wall, learned, home)


def _bare(learned: Learned) -> Learned:
    """Return what was learned with levels and weights alone, from which a plan draws."""
    none = Draws(learned.work_id, learned.draws.release, {})
    return replace(learned, draws=none, used=(), before={}, after={}, reached=None)


def worked_out(_results: Results, asked: WallYear) -> dict[str, LookFirst]:
    """Return the years of works on a wall."""
    return look_first_at(
        asked.works,
        asked.year.air,
        asked.wall,
        n=asked.year.draws,
        learned=asked.learned,
        at_home=asked.at_home,
        counted_from=asked.year.counted_from,
        limits=LIMITS,
    )


def _from_facts(stored: Mapping[str, Any]) -> LookFirst:
    return LookFirst(**{name: value for name, value in stored.items() if name != "of"})
