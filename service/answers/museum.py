"""A museum as pages and commands see it: stores, and what was computed from them while it holds.

What is kept here names the rooms and works it was made from, and is made anew as soon as one of
them changes (see `service.storage.versions`); what is costly is kept on disk by
`service.estimates.checkpoints` and `service.estimates.learned` under names of its inputs.
"""

from collections.abc import Callable, Hashable, Iterable
from datetime import datetime, timedelta
from typing import TypeVar, cast

import pandas as pd

from analysis.errors import NotEnoughError
from analysis.learning.posterior import Learned
from analysis.records.room_records import Placement, Room, Site
from analysis.results import Event, Judgement, RoomWeek
from analysis.works import Work
from service.answers.cache import Kept
from service.answers.room_weeks import build_room_week
from service.climate.room_events import room_events
from service.climate.room_readings import (
    RoomReadings,
    first_reading_utc,
    full_hour,
    last_reading_utc,
    outdoor_readings,
    room_has_readings,
    room_readings,
)
from service.climate.weeks import week_of, week_span
from service.estimates.assessments import Assessed, assess, learned_now
from service.estimates.hanging_history import Companions, companions
from service.settings import Settings
from service.storage import places
from service.storage import works as work_store
from service.storage.loggers import placements
from service.storage.register import now_utc
from service.storage.stores import Stores
from service.storage.versions import Versions, versions
from service.storage.works import WorkRecord

Found = TypeVar("Found")
# Events are looked for with this much air before them, so that they have a past to stand out from.
BEFORE = timedelta(days=35)
NEW_MUSEUM = Site("museum", "Museum", "UTC")


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
        self._kept = Kept()
        self._versions = Versions()

    def kept(
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
        return self._kept.get(name, stamp, make)

    def versions(self) -> Versions:
        """Return the numbers of all rooms and works as they stand in the register now."""
        self._versions = versions(self.stores.register, self._versions)
        return self._versions

    def forget(self) -> None:
        """Throw away what is kept in memory, after readings were stored by another way."""
        self._kept.forget()

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
        """Return the rooms that have readings of their own air, galleries first."""
        known = places.rooms(self.stores.register)
        return tuple(room for room in known if self._has_readings(room.room))

    def _has_readings(self, room_id: str) -> bool:
        def make() -> bool:
            return room_has_readings(self.stores, room_id)

        return self.kept(("has readings", room_id), make, rooms=[room_id])

    def every_room(self) -> tuple[Room, ...]:
        """Return all rooms, also those without readings."""
        return places.rooms(self.stores.register)

    def room(self, room_id: str) -> Room:
        """Return one room, or raise `UnknownNameError`."""
        return places.room_named(self.stores.register, room_id)

    def placements(self) -> tuple[Placement, ...]:
        """Return where every logger hung."""
        return placements(self.stores.register)

    def as_of(self) -> datetime | None:
        """Return the hour of the newest reading: the present, as far as anybody knows it.

        It is never later than the clock: one file with wrong dates must not age every other room.
        """
        last = last_reading_utc(self.stores)
        return None if last is None else full_hour(min(last, self.clock()))

    def clock(self) -> datetime:
        """Return the time now, by the clock of this machine."""
        return now_utc()

    def first(self) -> datetime | None:
        """Return the time of the oldest reading."""
        return first_reading_utc(self.stores)

    def this_week(self) -> str | None:
        """Return the ISO week of the newest reading."""
        now = self.as_of()
        return None if now is None else week_of(now, self.zone)

    def readings(self, room_id: str) -> RoomReadings:
        """Return a room's whole record, corrected and flagged."""

        def make() -> RoomReadings:
            return room_readings(self.stores, room_id)

        return self.kept(("readings", room_id), make, rooms=[room_id])

    def outdoor(self) -> pd.DataFrame | None:
        """Return the outdoor record, or None."""
        site = self.site.site
        return self.kept("outdoor", lambda: outdoor_readings(self.stores, site), rooms=())

    def assessed(self, room_id: str, at_utc: datetime) -> tuple[Assessed, ...]:
        """Return what can be said at a time of every work that hangs in a room then."""

        def make() -> tuple[Assessed, ...]:
            return self._assess(room_id, at_utc)

        rooms, works = self._concerned(room_id, at_utc)
        name = ("assessed", room_id, at_utc, at_utc == self.as_of())
        return self.kept(name, make, rooms=rooms, works=works)

    def _concerned(self, room_id: str, at_utc: datetime) -> tuple[set[str], set[str]]:
        """Return the rooms and works that a room's answers at a time are made from."""
        groups = [group for group in self._groups(at_utc) if group.room == room_id]
        rooms = {stay.room for group in groups for stay in group.stays}
        return rooms | {room_id}, {work.work_id for group in groups for work in group.works}

    def assessed_before(self, room_id: str) -> tuple[Assessed, ...]:
        """Return what is at hand of a room's works now; empty while nobody has asked for it."""
        now = self.as_of()
        if now is None:
            return ()
        rooms, works = self._concerned(room_id, now)
        stamp = self.versions().stamp(rooms=rooms, works=works)
        found = self._kept.at_hand(("assessed", room_id, now, True), stamp)
        return () if found is None else cast(tuple[Assessed, ...], found)

    def judgements(self, room_id: str, at_utc: datetime) -> tuple[Judgement, ...]:
        """Return the lines of a room's works on the round, in order of need."""
        return tuple(one.judgement for one in self.assessed(room_id, at_utc))

    def works_in(self, room_id: str, at_utc: datetime) -> tuple[Work, ...]:
        """Return the works that hang in a room at a time, as they are mounted and framed then."""
        groups = (group for group in self._groups(at_utc) if group.room == room_id)
        return tuple(work for group in groups for work in group.works)

    def taught(self) -> dict[str, tuple[str, Learned | None]]:
        """Return, by work that hangs now: its room, and what inspections taught of it.

        It is what `assessed` has of them at the newest reading, without judging them.
        """
        return self.kept("taught", self._taught)

    def _taught(self) -> dict[str, tuple[str, Learned | None]]:
        now = self.as_of()
        if now is None:
            return {}
        found: dict[str, tuple[str, Learned | None]] = {}
        for group in self._groups(now):
            learned = learned_now(
                self.stores,
                group,
                {stay.room: self.readings(stay.room) for stay in group.stays},
                now,
                outdoor=self.outdoor(),
                draws=self.settings.draws,
            )
            found |= {one.work_id: (group.room, learned.get(one.work_id)) for one in group.works}
        return found

    def work_over(self, work_id: str, weeks: int) -> Assessed | None:
        """Return what can be said now of one work, with its past weeks; None: it hangs nowhere."""
        return self.kept(("work", work_id, weeks), lambda: self._work_over(work_id, weeks))

    def _work_over(self, work_id: str, weeks: int) -> Assessed | None:
        record = self._record(work_id)
        now = self.as_of()
        group = None if now is None else next(iter(companions([record], now)), None)
        if now is None or group is None:
            return None
        return assess(
            self.stores,
            group,
            {stay.room: self.readings(stay.room) for stay in group.stays},
            now,
            outdoor=self.outdoor(),
            draws=self.settings.draws,
            detail=timedelta(weeks=weeks),
        )[0]

    def events(self, room_id: str, start_utc: datetime, end_utc: datetime) -> tuple[Event, ...]:
        """Return the events in a room's air that touch a span of time."""
        name = ("events", room_id, start_utc, end_utc)
        return self.kept(name, lambda: self._events(room_id, start_utc, end_utc), rooms=[room_id])

    def room_week(self, room_id: str, iso_week: str) -> RoomWeek:
        """Return one room's week, as charts and pages need it."""
        return self.kept_week("week", room_id, iso_week, lambda: self._room_week(room_id, iso_week))

    def kept_week(self, what: str, room_id: str, iso_week: str, make: Callable[[], Found]) -> Found:
        """Return what ``make`` gives of a room's week, while that room and its works are as then.

        A week that the record's newest reading has moved on in is made anew.
        """
        now = self.as_of()
        if now is None:
            return make()
        at = min(full_hour(week_span(iso_week, self.zone)[1]), now)
        rooms, works = self._concerned(room_id, at)
        return self.kept((what, room_id, iso_week, at, at == now), make, rooms=rooms, works=works)

    def _groups(self, at_utc: datetime) -> tuple[Companions, ...]:
        def make() -> tuple[Companions, ...]:
            return companions([self._record(work_id) for work_id in self._work_ids()], at_utc)

        return self.kept(("groups", at_utc), make, rooms=(), works=None)

    def _work_ids(self) -> tuple[str, ...]:
        def make() -> tuple[str, ...]:
            return tuple(sheet.work_id for sheet in work_store.prints(self.stores.register))

        return self.kept("work ids", make, rooms=(), works=None)

    def _record(self, work_id: str) -> WorkRecord:
        """Return all that the register knows of a work."""

        def make() -> WorkRecord:
            return work_store.work_record(self.stores.register, work_id)

        return self.kept(("record", work_id), make, rooms=(), works=[work_id])

    def _assess(self, room_id: str, at_utc: datetime) -> tuple[Assessed, ...]:
        found: list[Assessed] = []
        for group in self._groups(at_utc):
            if group.room != room_id:
                continue
            found += assess(
                self.stores,
                group,
                {stay.room: self.readings(stay.room) for stay in group.stays},
                at_utc,
                outdoor=self.outdoor(),
                draws=self.settings.draws,
                seen_until=None if at_utc == self.as_of() else at_utc,
            )
        return tuple(sorted(found, key=lambda one: one.judgement.order_key))

    def _events(self, room_id: str, start_utc: datetime, end_utc: datetime) -> tuple[Event, ...]:
        band = places.band_at(self.stores.register, room_id, end_utc)
        return room_events(
            self.readings(room_id),
            start_utc,
            end_utc,
            before=BEFORE,
            zone=self.zone,
            band=band,
            outdoor=self.outdoor(),
        )

    def _room_week(self, room_id: str, iso_week: str) -> RoomWeek:
        start, end = week_span(iso_week, self.zone)
        now = self._require_within(iso_week, start, end)
        at = min(full_hour(end), now)
        return build_room_week(
            room=self.room(room_id),
            site=self.site,
            iso_week=iso_week,
            span=(start, end),
            readings=self.readings(room_id),
            band=places.band_at(self.stores.register, room_id, at),
            events=[e for e in self.events(room_id, start, min(end, now)) if e.end_utc >= start],
            assessed=self.assessed(room_id, at),
            stores=self.stores,
        )

    def _require_within(self, iso_week: str, start_utc: datetime, end_utc: datetime) -> datetime:
        """Return the present, or raise where a week lies before or after the record."""
        first, now = self.first(), self.as_of()
        if first is not None and now is not None and first < end_utc and start_utc <= now:
            return now
        there = "no reading"
        if first is not None and now is not None:
            there = f"a record from {week_of(first, self.zone)} to {week_of(now, self.zone)}"
        raise NotEnoughError(
            read="weeks",
            where=iso_week,
            found=there,
            expected="a week that the record touches",
            action="Choose a week of the record, or bring in the readings of that one.",
        )
