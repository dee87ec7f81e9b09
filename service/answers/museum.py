"""A museum as pages and commands see it: stores, and what was computed from them while it holds.

What is kept here names the rooms and works it was made from, and is made anew as soon as one of
them changes (see `service.storage.versions`); what is costly is kept on disk by
`service.estimates.checkpoints` and `service.estimates.learned` under names of its inputs.

There are two clocks: now, by the clock on the wall or as declared, and for each room the last
reading that may be used. Nothing here knows a newest reading of the whole museum.
"""

from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial
from typing import TypeVar, cast

import pandas as pd

from analysis.records.room_records import Placement, Room, Site
from analysis.results import Event, Judgement, RoomWeek
from analysis.series import usable
from analysis.works import Work
from service.answers.cache import AnswerCache
from service.answers.hour_by_hour import assess_works
from service.answers.kept_answers import kept_answers
from service.answers.leaving import last_left
from service.answers.room_weeks import build_room_week, cut_to
from service.answers.standing import Standing, hung_together, standing
from service.climate.presence import Presence, presence
from service.climate.room_events import room_events
from service.climate.room_readings import (
    A_MOMENT,
    RoomReadings,
    empty_frame,
    first_reading_utc,
    full_hour,
    outdoor_readings,
    room_reach,
    room_readings,
)
from service.climate.weeks import require_within, shifted, week_of, week_span
from service.engine.engines import engine_of
from service.estimates.assessments import (
    Assessed,
    assessed_without_figures,
    without_past_air,
)
from service.estimates.hanging_history import Companions, companions, of_one_air, stays_until
from service.estimates.questions import DETAIL, Question
from service.estimates.record_problems import RecordProblem, stand_in
from service.settings import Settings
from service.storage import places, works as work_store
from service.storage.loggers import placements
from service.storage.site_clock import clock_of
from service.storage.stores import Stores
from service.storage.versions import Versions, versions
from service.storage.works import WorkRecord

Found = TypeVar("Found")
# Events are looked for with this much air before them, so that they have a past to stand out from.
BEFORE = timedelta(days=35)
# Doubts about readings at the very start of a stretch may differ from those within a long record.
MARGIN = timedelta(days=7)
NEW_MUSEUM = Site("museum", "Museum", "UTC")
# A week belongs to a room's page when the room has so much of it.
LEAST_OF_A_WEEK = timedelta(days=1)


class Museum:
    """Stores and settings, with the answers that were computed from them.

    Parameters
    ----------
    stores : Stores
        Open stores.
    settings : Settings
        The site's settings.
    """

    def __init__(self, stores: Stores, settings: Settings) -> None:
        self.stores, self.settings = stores, settings
        self._cache = AnswerCache(settings.answers_mb * 2**20)
        self._versions = Versions()
        self.engine = engine_of(settings)
        self.time = clock_of(stores.register, settings.as_if)

    def cached(
        self,
        name: Hashable,
        make: Callable[[], Found],
        *,
        rooms: Iterable[str] | None = None,
        works: Iterable[str] | None = (),
    ) -> Found:
        """Return what ``make`` gives, from memory while nothing has changed since. See `Kept`.

        ``rooms`` and ``works`` say what it is made from (``works`` None: all works); without
        ``rooms`` it is made anew whenever anything in the house has changed.
        """
        now = self.versions()
        stamp = now.whole() if rooms is None else now.stamp(rooms=rooms, works=works)
        return self._cache.get(name, stamp, make)

    def versions(self) -> Versions:
        """Return the numbers of all rooms and works as they stand in the register now."""
        self._versions = versions(self.stores.register, self._versions)
        return self._versions

    def forget(self) -> None:
        """Throw away what is kept in memory, after readings were stored by another way."""
        self._cache.forget()

    @property
    def answers_bytes(self) -> int:
        """How much is kept in memory."""
        return self._cache.size_bytes

    def keep_no_more_than(self, most_bytes: int) -> None:
        """Keep no more than this in memory, for now; what is largest goes first."""
        self._cache.keep_no_more_than(most_bytes)

    @property
    def site(self) -> Site:
        """The museum's site; one without a register yet is shown in UTC."""
        return next(iter(places.sites(self.stores.register)), NEW_MUSEUM)

    @property
    def zone(self) -> str:
        """The zone in which people read the times."""
        site = self.site
        places.require_zone(site.zone, read=f"site {site.site}")
        return site.zone

    def rooms(self) -> tuple[Room, ...]:
        """Return this house's rooms that have readings of their own air, galleries first."""
        known, away = places.rooms(self.stores.register), self.away()
        return tuple(one for one in known if one.room not in away and self._has_readings(one.room))

    def away(self) -> frozenset[str]:
        """Return crates and the rooms of houses that borrow."""
        return places.away_rooms(self.stores.register)

    def _has_readings(self, room_id: str) -> bool:
        reach = self.reach(room_id)
        return reach is not None and reach[0] <= self.clock()

    def reach(self, room_id: str) -> tuple[datetime, datetime] | None:
        """Return the first and last reading of a room, also one to come; None: it has none."""
        read = partial(room_reach, self.stores, room_id)
        return self.cached(("reach", room_id), read, rooms=[room_id])

    def _first_here(self, room_id: str) -> datetime | None:
        """Return a room's first reading; None of a crate and of a room elsewhere."""
        reach = None if room_id in self.away() else self.reach(room_id)
        return None if reach is None else reach[0]

    def every_room(self) -> tuple[Room, ...]:
        """Return all rooms, also those without readings."""
        return places.rooms(self.stores.register)

    def room(self, room_id: str) -> Room:
        """Return one room, or raise `UnknownNameError`."""
        return places.room_named(self.stores.register, room_id)

    def placements(self) -> tuple[Placement, ...]:
        """Return where every logger hung."""
        return placements(self.stores.register)

    def clock(self) -> datetime:
        """Return the time now: by the clock on the wall, or as declared."""
        return self.time.now()

    def now(self) -> datetime:
        """Return the full hour for which answers are given: the present one."""
        return full_hour(self.clock())

    def first(self) -> datetime | None:
        """Return the time of the oldest reading, None where there is none yet."""
        first = first_reading_utc(self.stores)
        return None if first is None or first > self.clock() else first

    def presence(self, room_id: str, at_utc: datetime | None = None) -> Presence:
        """Return what a room's readings reach to at a time (default: now)."""
        at = at_utc or self.now()

        def make() -> Presence:
            until = self.seen_until(at)
            frame = self._lately(room_id, until)
            return presence(self.stores.register, self.room(room_id), frame, until)

        return self.cached(("presence", room_id, at, at == self.now()), make, rooms=[room_id])

    def _lately(self, room_id: str, until_utc: datetime) -> pd.DataFrame:
        """Return the last readings of a room up to a time, at least the last usable one of all."""
        reach = self.reach(room_id)
        if reach is None:
            return empty_frame()
        last = min(reach[1] + A_MOMENT, until_utc + A_MOMENT)
        return self.readings_around(room_id, last, last).frame

    def seen_until(self, at_utc: datetime) -> datetime:
        """Return until when readings and inspections count for an hour: for the present, now."""
        return self.clock() if at_utc == self.now() else at_utc

    def this_week(self) -> str:
        """Return the present ISO week."""
        return week_of(self.clock(), self.zone)

    def week_of_room(self, room_id: str) -> str | None:
        """Return a room's latest week of which it has at least a day; None: it has none at all."""
        last = self.presence(room_id).known_until_utc
        if last is None:
            return None
        week = week_of(last, self.zone)
        begun = last - week_span(week, self.zone)[0] >= LEAST_OF_A_WEEK
        reach = self.reach(room_id)
        alone = reach is not None and reach[0] >= week_span(week, self.zone)[0]
        return week if begun or alone else shifted(week, -1)

    def readings(self, room_id: str) -> RoomReadings:
        """Return a room's record up to now, corrected and flagged."""

        def make() -> RoomReadings:
            return room_readings(self.stores, room_id).with_hours(self.stores)

        return self.cached(("readings", room_id), make, rooms=[room_id]).until(self.clock())

    def readings_around(self, room_id: str, start_utc: datetime, end_utc: datetime) -> RoomReadings:
        """Return a room's readings of a span, with the days before it that its events need.

        Where it was silent before the span, the whole record tells since when.
        """
        begin = start_utc - BEFORE - MARGIN

        def make() -> RoomReadings:
            return room_readings(self.stores, room_id, begin, end_utc)

        name = ("around", room_id, begin, end_utc)
        found = self.cached(name, make, rooms=[room_id]).until(self.clock())
        heard = usable(found.frame, "rh_pct").dropna().index
        lately = len(heard) and heard[-1] >= pd.Timestamp(start_utc - MARGIN)
        return found if lately else self.readings(room_id)

    def outdoor(self) -> pd.DataFrame | None:
        """Return the outdoor record up to now, or None."""
        whole = self.whole_outdoor()
        return None if whole is None else whole.loc[: pd.Timestamp(self.clock())]

    def whole_outdoor(self) -> pd.DataFrame | None:
        """Return the outdoor record, also what lies ahead of the clock, or None."""
        site = self.site.site
        return self.cached("outdoor", lambda: outdoor_readings(self.stores, site), rooms=())

    def assessed(self, room_id: str, at_utc: datetime | None = None) -> tuple[Assessed, ...]:
        """Return what can be said at a time (default: now) of every work in a room then."""
        at = at_utc or self.now()
        rooms, works = self.concerned(room_id, at)
        name = ("assessed", room_id, at, at == self.now())
        return self.cached(name, lambda: self.room_over(room_id, at), rooms=rooms, works=works)

    def concerned(self, room_id: str, at_utc: datetime) -> tuple[set[str], set[str]]:
        """Return the rooms and works that a room's answers at a time are made from."""

        def make() -> Mapping[str, Mapping[str, set[str]]]:
            return hung_together(work_store.hangings_in(self.stores.register, None), at_utc)

        here = self.cached(("hung together", at_utc), make, rooms=(), works=None).get(room_id, {})
        return {room_id}.union(*here.values()), set(here)

    def told(self, room_id: str, at_utc: datetime | None = None) -> tuple[Assessed, ...]:
        """Return what `assessed` has, without draws, air and hours: from disk where it is kept."""
        at = at_utc or self.now()
        rooms, works = self.concerned(room_id, at)
        name = ("told", room_id, at, at == self.now())
        read = partial(kept_answers, self, room_id, at, lambda: self.assessed(room_id, at))
        return self.cached(name, read, rooms=rooms, works=works)

    def assessed_before(self, room_id: str) -> tuple[Assessed, ...]:
        """Return what is at hand of a room's works now; empty while nobody has asked for it."""
        rooms, works = self.concerned(room_id, self.now())
        stamp = self.versions().stamp(rooms=rooms, works=works)
        found = self._cache.at_hand(("told", room_id, self.now(), True), stamp)
        return () if found is None else cast(tuple[Assessed, ...], found)

    def judged_before(self, work_id: str) -> Assessed | None:
        """Return what is at hand of a work now; None while nobody has asked for it."""
        stays = stays_until(self._record(work_id).hangings, self.now())
        every = self.assessed_before(stays[-1].room) if stays else ()
        return next((one for one in every if one.work.work_id == work_id), None)

    def judgements(self, room_id: str, at_utc: datetime | None = None) -> tuple[Judgement, ...]:
        """Return the lines of a room's works on the round, in order of need."""
        return tuple(one.judgement for one in self.told(room_id, at_utc))

    def unplaced(self, at_utc: datetime | None = None) -> tuple[Assessed, ...]:
        """Return the works that hang in no room at a time: lent, stored, or never hung."""
        at = at_utc or self.now()

        def make() -> tuple[Assessed, ...]:
            standing = self._standing(at)
            found = [
                replace(self._figureless(one, "", at), left=last_left(self, one, at))
                for one in standing.unplaced
            ]
            found += [
                self._figureless(record, "", at, problem)
                for record, problem in standing.impossible
                if not stays_until(record.hangings, at)
            ]
            return tuple(sorted(found, key=lambda one: one.judgement.order_key))

        return self.cached(("unplaced", at, at == self.now()), make)

    def judged(self, work_id: str, at_utc: datetime | None = None) -> Assessed:
        """Return what can be said at a time (default: now) of one work, wherever it is.

        Raises
        ------
        UnknownNameError
            If the register knows no such work.
        """
        at = at_utc or self.now()
        stays = stays_until(self._record(work_id).hangings, at)
        every = self.assessed(stays[-1].room, at) if stays else self.unplaced(at)
        return next(one for one in every if one.work.work_id == work_id)

    def works_in(self, room_id: str, at_utc: datetime) -> tuple[Work, ...]:
        """Return the works that hang in a room at a time, as they are mounted and framed then."""
        return tuple(w for one in self.groups(at_utc) if one.room == room_id for w in one.works)

    def work_over(self, work_id: str, weeks: int) -> Assessed:
        """Return what can be said now of one work, with its past weeks: as `judged` has it."""
        name = ("work", work_id, weeks, self.now())
        return self.cached(name, lambda: self._work_over(work_id, weeks))

    def _work_over(self, work_id: str, weeks: int) -> Assessed:
        judged = self.judged(work_id)
        if judged.history is None or judged.known_until_utc is None:
            return judged
        now = self.now()
        group = companions([self._record(work_id)], now)[0]
        detail = now - judged.known_until_utc + timedelta(weeks=weeks)
        found = self.assess_group(group, now, detail)[0]
        if found.history is None:
            return judged
        return replace(found, judgement=judged.judgement, last=judged.last)

    def assessed_over(
        self, at_utc: datetime, since_utc: datetime, work_ids: Iterable[str] | None = None
    ) -> tuple[Assessed, ...]:
        """Return what can be said at a time of works that hang then, with all hours since another.

        ``work_ids`` None: of all that hang then.
        """
        records = None if work_ids is None else [self._record(one) for one in work_ids]
        groups = self.groups(at_utc) if records is None else companions(records, at_utc)
        detail = at_utc - since_utc
        return tuple(one for each in self._assess_all(groups, at_utc, detail) for one in each)

    def events(self, room_id: str, start_utc: datetime, end_utc: datetime) -> tuple[Event, ...]:
        """Return the events in a room's air that touch a span of time."""

        def make() -> tuple[Event, ...]:
            return room_events(
                self.readings_around(room_id, start_utc, end_utc),
                start_utc,
                end_utc,
                before=BEFORE,
                zone=self.zone,
                band=places.band_at(self.stores.register, room_id, end_utc),
                outdoor=self.outdoor(),
            )

        return self.cached(("events", room_id, start_utc, end_utc), make, rooms=[room_id])

    def room_week(self, room_id: str, iso_week: str) -> RoomWeek:
        """Return one room's week, as charts and pages need it."""
        return self.cached_week(
            "week", room_id, iso_week, lambda: self._room_week(room_id, iso_week)
        )

    def cached_week(
        self, what: str, room_id: str, iso_week: str, make: Callable[[], Found]
    ) -> Found:
        """Return what ``make`` gives of a room's week, while that room and its works are as then.

        The present week is made anew with every hour.
        """
        now = self.now()
        at = min(full_hour(week_span(iso_week, self.zone)[1]), now)
        rooms, works = self.concerned(room_id, at)
        return self.cached((what, room_id, iso_week, at, at == now), make, rooms=rooms, works=works)

    def groups(self, at_utc: datetime) -> tuple[Companions, ...]:
        """Return all works that hang at a time, those together that have had the same air."""
        groups = self._standing(at_utc).groups
        return tuple(of_one_air(groups, self._first_here, at_utc))

    def _standing(self, at_utc: datetime) -> Standing:
        def make() -> Standing:
            return standing(self.stores.register, self._records(), at_utc)

        return self.cached(("standing", at_utc, at_utc == self.now()), make, rooms=(), works=None)

    def _records(self) -> Mapping[str, WorkRecord]:
        """Return all that the register knows of all works, by number."""
        read = partial(work_store.work_records, self.stores.register)
        return self.cached("records", read, rooms=(), works=None)

    def _record(self, work_id: str) -> WorkRecord:
        """Return all that the register knows of a work, or raise `UnknownNameError`."""
        found = self._records().get(work_id)
        return found or work_store.work_record(self.stores.register, work_id)

    def room_over(
        self, room_id: str, at_utc: datetime, detail: timedelta | None = None
    ) -> tuple[Assessed, ...]:
        """Return what can be said of a room's works at a time, with the hours before it.

        None has its ``air``; `work_over` has that of one work.
        """
        self.room(room_id)
        standing = self._standing(at_utc)
        found: list[Assessed] = []
        here = [group for group in standing.groups if group.room == room_id]
        groups = of_one_air(here, self._first_here, at_utc)
        for each in self._assess_all(groups, at_utc, detail):
            found += [without_past_air(one) for one in each]
        for record, problem in standing.impossible:
            stays = stays_until(record.hangings, at_utc)
            if stays and stays[-1].room == room_id:
                found.append(self._figureless(record, room_id, at_utc, problem))
        return tuple(sorted(found, key=lambda one: one.judgement.order_key))

    def _assess_all(
        self, groups: Sequence[Companions], at_utc: datetime, detail: timedelta | None = None
    ) -> Iterator[list[Assessed]]:
        return self.engine.ahead(lambda one: self.assess_group(one, at_utc, detail), groups)

    def assess_group(
        self, group: Companions, at_utc: datetime, detail: timedelta | None = None
    ) -> list[Assessed]:
        """Return what can be said of works; where one cannot be computed, the others go on."""
        return [
            one
            if isinstance(one, Assessed)
            else self._figureless(self._record(one.work_id), group.room, at_utc, one)
            for one in assess_works(self, group, at_utc, detail)
        ]

    def question(self, group: Companions, at_utc: datetime, detail: timedelta = DETAIL) -> Question:
        """Return what is asked of works at a time, with all that the answer rests on."""
        return Question.read(
            self.stores,
            group,
            {stay.room: self.readings(stay.room) for stay in group.stays},
            at_utc,
            outdoor=self.outdoor(),
            draws=self.settings.draws,
            detail=detail,
            seen_until=self.seen_until(at_utc),
            read_out_utc=self.presence(group.room, at_utc).read_out_utc,
        )

    def _figureless(
        self,
        record: WorkRecord,
        room_id: str,
        at_utc: datetime,
        problem: RecordProblem | None = None,
    ) -> Assessed:
        """Return a work without any estimate; what was seen of it counts all the same."""
        work = stand_in(record) if problem else work_store.as_work(record, at_utc)
        until = self.seen_until(at_utc)
        return assessed_without_figures(self.stores, work, room_id, at_utc, until, problem)

    def _room_week(self, room_id: str, iso_week: str) -> RoomWeek:
        (start, end), now = week_span(iso_week, self.zone), self.now()
        require_within(iso_week, self.zone, self.first(), now)
        at = min(full_hour(end), now)

        def judged() -> list[Assessed]:
            return [cut_to(one, start, end) for one in self.assessed(room_id, at)]

        return build_room_week(
            room=self.room(room_id),
            site=self.site,
            iso_week=iso_week,
            span=(start, end),
            readings=self.readings_around(room_id, start, end),
            band=places.band_at(self.stores.register, room_id, at),
            events=[e for e in self.events(room_id, start, min(end, now)) if e.end_utc >= start],
            assessed=kept_answers(self, room_id, at, judged, iso_week),
            stores=self.stores,
        )
