"""What a site has arranged about notices: limits, delays, quiet hours, and who is told of what.

The limits are a dated, owned record of the register (`analysis.records.house_records`); the newest
that has begun holds, and an earlier one is never overwritten. People are
`service.storage.people.Contact`.
"""

from dataclasses import asdict, dataclass, fields, replace
from datetime import datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from analysis.errors import OutOfRangeError
from analysis.records.declaration import EARLIEST
from analysis.records.house_records import NoticeSettings
from service.notices.causes import AIR, Kind, NoticeLimits
from service.storage.people import Contact, contacts
from service.storage.places import notice_settings
from service.storage.records import put_record
from service.storage.register import Register, now_utc

KNOWN = {one.name for one in fields(NoticeSettings)}
LIMITS = {one.name for one in fields(NoticeLimits)} & KNOWN
# What need not wake anybody: nobody can look at a logger's battery at night with profit.
WAITS = (Kind.NO_DATA, Kind.HOUSE)
USUAL = NoticeSettings(EARLIEST)


@dataclass(frozen=True)
class Arrangement:
    """What holds at a time.

    Parameters
    ----------
    values : NoticeSettings
        With since when, by whom and why.
    people : tuple of Contact
    set_ : bool
        Whether somebody has set them; else they are the usual ones.
    """

    values: NoticeSettings
    people: tuple[Contact, ...] = ()
    set_: bool = False

    @property
    def from_utc(self) -> datetime | None:
        """Since when they hold; None while nothing has been arranged."""
        return self.values.from_utc if self.set_ else None

    @property
    def by(self) -> str:
        """By whose word they hold."""
        return self.values.by

    @property
    def why(self) -> str:
        """Why they hold."""
        return self.values.why

    @property
    def limits(self) -> NoticeLimits:
        """The limits by which notices are raised, told again and ended."""
        mine = asdict(self.values)
        return NoticeLimits(**{name: mine[name] for name in LIMITS})

    def on_call(self, room: str | None) -> tuple[Contact, ...]:
        """Return whom to call about a room."""
        return tuple(one for one in self.people if one.on_call and _for_room(one, room))

    def recipients_of(
        self, kind: str, room: str | None, *, after_h: float = 0.0
    ) -> tuple[Contact, ...]:
        """Return who is written to about a kind of notice in a room, up to a delay."""
        return tuple(
            one
            for one in self.people
            if one.email
            and one.after_h <= after_h
            and (not one.kinds or kind in one.kinds)
            and _for_room(one, room)
        )

    def due(self, kind: str, at_utc: datetime, zone: str, *, pressing: bool) -> datetime:
        """Return when a letter may go: at once, or after the quiet hours.

        ``pressing``: works are concerned; that never waits.
        """
        waits = kind in WAITS or (kind in AIR and self.values.air_waits and not pressing)
        begin, end = self.values.quiet_from, self.values.quiet_to
        if not waits or not begin or not end or begin == end:
            return at_utc
        local = at_utc.astimezone(ZoneInfo(zone))
        first, last = time.fromisoformat(begin), time.fromisoformat(end)
        now = local.time()
        quiet = first <= now < last if first < last else now >= first or now < last
        if not quiet:
            return at_utc
        day = local.date() + timedelta(days=1 if first > last and now >= first else 0)
        return datetime.combine(day, last, ZoneInfo(zone)).astimezone(at_utc.tzinfo)


def _for_room(one: Contact, room: str | None) -> bool:
    return not one.rooms or room is None or room in one.rooms


def arrangement(register: Register, at_utc: datetime | None = None) -> Arrangement:
    """Return what holds now, or at a time."""
    at = at_utc or now_utc()
    begun = [one for one in notice_settings(register) if one.from_utc <= at]
    people = contacts(register)
    return Arrangement(begun[-1], people, set_=True) if begun else Arrangement(USUAL, people)


def arrange(
    register: Register,
    values: dict[str, Any],
    *,
    by: str,
    why: str = "",
    from_utc: datetime | None = None,
) -> bool:
    """Keep new limits and delays from now on; return whether anything changed.

    Raises
    ------
    OutOfRangeError
        If a value is outside its bounds; nothing is kept then.
    """
    unknown = sorted(set(values) - KNOWN)
    if unknown:
        raise OutOfRangeError(
            read="limits of notices",
            where=unknown[0],
            found="a limit that is not known",
            expected=f"one of {', '.join(sorted(KNOWN))}",
            action="Correct it and send the form again. Nothing was stored.",
        )
    before = arrangement(register, from_utc).values
    after = replace(before, **values)
    if after == before:
        return False
    begins = from_utc or now_utc()
    return put_record(register, replace(after, from_utc=begins, by=by, why=why), by=by)
