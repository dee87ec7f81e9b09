"""Sites and rooms: bands agreed for them, what a site has set, the calendar; dated, owned."""

import itertools
import re
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from importlib import resources
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from sqlalchemy import or_, select

from analysis.errors import OutOfRangeError, UnknownNameError
from analysis.records.house_records import CalendarEvent, NoticeSettings
from analysis.records.room_records import AgreedBand, Room, Site
from service.storage.records import find, put
from service.storage.register import Register, now_utc
from service.storage.schema import BandRow, EventRow, NoticeLimitsRow, RoomRow, SettingRow, SiteRow

SITES = "sites"


def sites(register: Register) -> tuple[Site, ...]:
    """Return all sites, this house first, then those that borrow."""

    def read() -> tuple[Site, ...]:
        with register.reading() as session:
            return find(session, Site, SiteRow, order=(SiteRow.borrower, SiteRow.site))

    return register.at_this_moment(SITES, read)


def rooms(register: Register) -> tuple[Room, ...]:
    """Return all rooms: galleries first, then stores, each by name."""

    def read() -> tuple[Room, ...]:
        with register.reading() as session:
            return find(session, Room, RoomRow, order=(RoomRow.store, RoomRow.room))

    return register.at_this_moment("rooms", read)


def require_zone(zone: str, *, read: str) -> None:
    """Raise unless a zone is one of the IANA list, so that no calculation meets a wrong one."""
    try:
        ZoneInfo(zone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise OutOfRangeError(
            read=read,
            where="time zone",
            found=repr(zone),
            expected="a zone of the IANA list, such as Europe/Vienna",
            action="Correct the zone of the site in the register.",
        ) from None


def room_named(register: Register, room: str) -> Room:
    """Return one room.

    Raises
    ------
    UnknownNameError
        If there is no such room.
    """
    with register.reading() as session:
        found = find(session, Room, RoomRow, RoomRow.room == room)
        if not found:
            known = session.scalars(select(RoomRow.room))
            raise UnknownNameError(read="rooms", name=room, known=known)
        return found[0]


def away_rooms(register: Register) -> frozenset[str]:
    """Return crates and the rooms of houses that borrow: their air is not this house's."""
    borrowers = {site.site for site in sites(register) if site.borrower}
    every = rooms(register)
    return frozenset(one.room for one in every if one.crate or one.site in borrowers)


def site_of(register: Register, room: str) -> Site:
    """Return the site of a room."""
    wanted = room_named(register, room).site
    return next(site for site in sites(register) if site.site == wanted)


def is_southern(register: Register, site: str) -> bool:
    """Return whether a house is south of the equator: by its latitude, else by its time zone."""
    found = next(one for one in sites(register) if one.site == site)
    latitude = zone_latitude_deg(found.zone) if found.latitude_deg is None else found.latitude_deg
    return latitude is not None and latitude < 0.0


def zone_latitude_deg(zone: str) -> float | None:
    """Return the latitude of the town an IANA zone is named after; None where it names none.

    Examples
    --------
    >>> round(zone_latitude_deg("Australia/Hobart"), 1), zone_latitude_deg("UTC")
    (-42.9, None)
    """
    return _zone_latitudes().get(zone)


@cache
def _zone_latitudes() -> dict[str, float]:
    """Return latitudes by zone, from the table of the IANA time zone database (zone.tab)."""
    table = resources.files("tzdata.zoneinfo").joinpath("zone.tab").read_text(encoding="utf-8")
    rows = (line.split("\t") for line in table.splitlines() if not line.startswith("#"))
    return {row[2]: _degrees(row[1]) for row in rows}


def _degrees(coordinates: str) -> float:
    """Return the latitude of coordinates as ISO 6709 writes them: ±DDMM±DDDMM, or with seconds."""
    sign, figures = re.match(r"([+-])(\d+)", coordinates).groups()  # type: ignore[union-attr]
    degrees = int(figures[:2]) + int(figures[2:4]) / 60.0 + int(figures[4:] or 0) / 3600.0
    return -degrees if sign == "-" else degrees


def bands(register: Register, room: str) -> tuple[AgreedBand, ...]:
    """Return the bands of a room, oldest first."""
    with register.reading() as session:
        found = find(session, AgreedBand, BandRow, BandRow.room == room)
    return tuple(sorted(found, key=lambda b: (b.band_since is not None, b.band_since or 0)))


def band_at(register: Register, room: str, time: datetime) -> AgreedBand | None:
    """Return the band that held in a room at a time, or None."""
    begun = [b for b in bands(register, room) if b.band_since is None or b.band_since <= time]
    return begun[-1] if begun else None


def free_short_name(register: Register, name: str) -> str:
    """Return a name as it can stand in a file and an address, that no room has yet."""
    short = re.sub(r"[^a-z0-9]+", "-", name.casefold()).strip("-")[:40] or "room"
    taken = {room.room for room in rooms(register)}
    numbered = (f"{short}-{number}" for number in itertools.count(2))
    return next(one for one in itertools.chain([short], numbered) if one not in taken)


@dataclass(frozen=True)
class SiteSetting:
    """A value, since when, by whom, why. ``value`` is any plain value."""

    name: str
    value: Any
    from_utc: datetime
    by: str
    why: str = ""


def setting_at(register: Register, name: str, time: datetime | None = None) -> SiteSetting | None:
    """Return the setting that holds at a time (now, when None), or None."""
    time = time or now_utc()
    begun = [setting for setting in settings(register, name) if setting.from_utc <= time]
    return begun[-1] if begun else None


def settings(register: Register, name: str | None = None) -> tuple[SiteSetting, ...]:
    """Return all settings, or those of one name, in order of time."""
    where = [] if name is None else [SettingRow.name == name]
    with register.reading() as session:
        found = find(
            session, SiteSetting, SettingRow, *where, order=(SettingRow.name, SettingRow.from_utc)
        )
    return tuple(SiteSetting(s.name, s.value["value"], s.from_utc, s.by, s.why) for s in found)


def put_setting(register: Register, setting: SiteSetting) -> bool:
    """Add a setting; return whether anything changed."""
    key = {"name": setting.name, "from_utc": setting.from_utc}
    values = {"value": {"value": setting.value}, "by": setting.by, "why": setting.why}
    with register.writing() as session:
        return put(session, SettingRow, key, values, by=setting.by)


def notice_settings(register: Register) -> tuple[NoticeSettings, ...]:
    """Return when notices begin and end, as the house has set it, in order of time."""
    with register.reading() as session:
        return find(session, NoticeSettings, NoticeLimitsRow, order=(NoticeLimitsRow.from_utc,))


def calendar(
    register: Register,
    room: str | None = None,
    start_utc: datetime | None = None,
    end_utc: datetime | None = None,
) -> tuple[CalendarEvent, ...]:
    """Return the events that touch a room (those of its whole site too), in order of time."""
    where = []
    if room is not None:
        where.append(or_(EventRow.room == room, EventRow.room.is_(None)))
    if end_utc is not None:
        where.append(EventRow.from_utc < end_utc)
    if start_utc is not None:
        lasting = EventRow.to_utc > start_utc
        where.append(or_(lasting, EventRow.to_utc.is_(None) & (EventRow.from_utc >= start_utc)))
    with register.reading() as session:
        return find(
            session, CalendarEvent, EventRow, *where, order=(EventRow.from_utc, EventRow.id)
        )
