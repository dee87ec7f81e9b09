"""What a site has arranged about notices: limits, delays, quiet hours, and who is told of what.

The limits are a dated, owned setting of the register; the newest that has begun holds, and an
earlier one is never overwritten. People are `service.storage.people.Contact`.
"""

from dataclasses import asdict, dataclass
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from analysis.errors import OutOfRangeError
from service.notices.causes import AIR, Kind, NoticeLimits
from service.storage import places
from service.storage.people import Contact, contacts
from service.storage.register import Register, now_utc

NAME = "notices"
DEFAULT = NoticeLimits()
# What need not wake anybody: nobody can look at a logger's battery at night with profit.
WAITS = (Kind.NO_DATA, Kind.HOUSE)


class NoticeSettings(BaseModel):
    """What a site may set about notices, with the bounds of each value."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)
    open_p: float = Field(default=DEFAULT.open_p, ge=0.1, le=0.9)
    keep_p: float = Field(default=DEFAULT.keep_p, ge=0.05, le=0.9)
    long_excursion_h: float = Field(default=DEFAULT.long_excursion_h, ge=1.0, le=720.0)
    quiet_h: float = Field(default=DEFAULT.quiet_h, ge=0.5, le=72.0)
    silence_days: float = Field(default=DEFAULT.silence_days, ge=0.05, le=200.0)
    again_h: float = Field(default=DEFAULT.again_h, ge=0.5, le=168.0)
    again_rh_pct: float = Field(default=DEFAULT.again_rh_pct, ge=1.0, le=30.0)
    quiet_from: str = Field(default="", pattern=r"^$|^([01]\d|2[0-3]):[0-5]\d$")
    quiet_to: str = Field(default="", pattern=r"^$|^([01]\d|2[0-3]):[0-5]\d$")
    air_waits: bool = False
    review_on: date | None = None


@dataclass(frozen=True)
class Arrangement:
    """What holds at a time.

    Parameters
    ----------
    values : NoticeSettings
    people : tuple of Contact
    from_utc, by, why
        Since when, by whom, why; None and empty while nothing has been arranged.
    """

    values: NoticeSettings
    people: tuple[Contact, ...] = ()
    from_utc: datetime | None = None
    by: str = ""
    why: str = ""

    @property
    def limits(self) -> NoticeLimits:
        """The limits by which notices are raised, told again and ended."""
        mine = self.values.model_dump()
        return NoticeLimits(**{k: v for k, v in mine.items() if k in asdict(DEFAULT)})

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
    found = places.setting_at(register, NAME, at_utc)
    people = contacts(register)
    if found is None:
        return Arrangement(NoticeSettings(), people)
    values = NoticeSettings.model_validate(found.value)
    return Arrangement(values, people, found.from_utc, found.by, found.why)


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
    try:
        checked = NoticeSettings.model_validate(values)
    except ValidationError as problem:
        first = problem.errors()[0]
        raise OutOfRangeError(
            read="limits of notices",
            where=str(first["loc"][-1]),
            found=str(first.get("input")),
            expected=str(first["msg"]).removeprefix("Input should be "),
            action="Correct it and send the form again. Nothing was stored.",
        ) from problem
    if checked == arrangement(register).values:
        return False
    plain = checked.model_dump(mode="json")
    setting = places.SiteSetting(NAME, plain, from_utc or now_utc(), by, why)
    return places.put_setting(register, setting)
