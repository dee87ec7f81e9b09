"""What was going on in a house, and what is planned."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Annotated

from analysis.records.declaration import Declaration, Field, Kind
from analysis.records.room_records import SITE
from analysis.records.work_records import SPAN, choices_of


class EventKind(StrEnum):
    """What was going on."""

    OPENING = "opening"
    DELIVERY = "delivery"
    CLEANING = "cleaning"
    WORKS = "works"
    PLANT = "plant"
    CLOSURE = "closure"
    WEATHER = "weather"
    MOVE = "move"
    OTHER = "other"


EVENT_WORDS = {
    "opening": "an opening or another crowd",
    "delivery": "a delivery, doors held open",
    "cleaning": "cleaning",
    "works": "building works",
    "plant": "the plant off or changed",
    "closure": "the house closed",
    "weather": "weather",
    "move": "works moved",
    "other": "something else",
}


@dataclass(frozen=True)
class CalendarEvent:
    """Something people know about. ``room`` None: the whole site; ``to_utc`` None: an instant."""

    site: Annotated[str, SITE]
    kind: Annotated[
        str,
        Field(
            label="What",
            kind=Kind.CHOICE,
            choices=choices_of(EventKind, EVENT_WORDS),
            example="opening",
        ),
    ]
    from_utc: Annotated[datetime, Field(label="From", kind=Kind.WHEN, example="2025-03-19T18:00Z")]
    title: Annotated[str, Field(label="In a few words", example="Opening of the spring show")]
    room: Annotated[
        str | None,
        Field(
            label="Where",
            kind=Kind.REFERENCE,
            of="rooms.csv",
            example="north",
            words="a room of rooms.csv; empty: the whole site",
            empty="the whole house",
        ),
    ] = None
    to_utc: Annotated[
        datetime | None,
        Field(
            label="Until",
            kind=Kind.WHEN,
            example="2025-03-19T22:00Z",
            without="it is taken as one moment",
        ),
    ] = None
    note: Annotated[str, Field(label="Note", kind=Kind.NOTE)] = ""


@dataclass(frozen=True)
class NoticeSettings:
    """When notices begin, are told again and end, as a house has set it from a day on.

    The usual values are common-sense first settings without a source.
    """

    from_utc: Annotated[
        datetime, Field(label="From", kind=Kind.WHEN, example="2025-03-01", asked=False)
    ]
    silence_days: Annotated[
        float,
        Field(
            label="A logger is silent after",
            kind=Kind.NUMBER,
            unit="days",
            low=0.05,
            high=200,
            example="8",
            help="A little more than between two rounds. A room of a stated rhythm has its own.",
        ),
    ] = 8.0
    quiet_h: Annotated[
        float,
        Field(
            label="The air must have been back for",
            kind=Kind.NUMBER,
            unit="h",
            low=0.5,
            high=72,
            example="6",
            help="Before its notice ends.",
        ),
    ] = 6.0
    long_excursion_h: Annotated[
        float,
        Field(
            label="Outside the agreed band is told of after",
            kind=Kind.NUMBER,
            unit="h",
            low=1,
            high=720,
            example="24",
        ),
    ] = 24.0
    again_h: Annotated[
        float,
        Field(
            label="No second letter about the same cause within",
            kind=Kind.NUMBER,
            unit="h",
            low=0.5,
            high=168,
            example="6",
        ),
    ] = 6.0
    again_rh_pct: Annotated[
        float,
        Field(
            label="A second letter where the humidity has changed further by",
            kind=Kind.NUMBER,
            unit="%RH",
            low=1,
            high=30,
            example="5",
        ),
    ] = 5.0
    open_p: Annotated[
        float,
        Field(
            label="A work joins a notice from a chance of",
            kind=Kind.NUMBER,
            low=0.1,
            high=0.9,
            example="0.5",
            asked=False,
        ),
    ] = 0.5
    keep_p: Annotated[
        float,
        Field(
            label="A work leaves a notice below a chance of",
            kind=Kind.NUMBER,
            low=0.05,
            high=0.9,
            example="0.4",
            asked=False,
        ),
    ] = 0.4
    quiet_from: Annotated[
        str,
        Field(
            label="Quiet hours from",
            kind=Kind.TIME_OF_DAY,
            example="22:00",
            help="What can wait is sent at their end.",
            empty="none",
        ),
    ] = ""
    quiet_to: Annotated[
        str,
        Field(label="Quiet hours to", kind=Kind.TIME_OF_DAY, example="07:00", empty="none"),
    ] = ""
    air_waits: Annotated[
        bool,
        Field(
            label="Notices of air wait for the end of the quiet hours",
            kind=Kind.YES_NO,
            example="no",
            help="Unless works are concerned: those never wait.",
        ),
    ] = False
    review_on: Annotated[
        datetime | None,
        Field(
            label="Look at these again by", kind=Kind.WHEN, example="2026-03-01", empty="no day set"
        ),
    ] = None
    by: Annotated[str, Field(label="Set by", example="A. Person", asked=False)] = ""
    why: Annotated[str, Field(label="Why", kind=Kind.NOTE, example="read twice a week")] = ""


EVENTS = (
    Declaration(
        "events.csv",
        "events",
        CalendarEvent,
        ("site", "room", "kind", "from_utc"),
        "What was going on: openings, deliveries, works, closures.",
        rising=SPAN,
        may_touch=True,
    ),
)
NOTICE_LIMITS = (
    Declaration(
        "notice_limits.csv",
        "notice_limits",
        NoticeSettings,
        ("from_utc",),
        "When notices begin, are told again and end; the newest that has begun holds.",
        rising=(("keep_p", "open_p"),),
        may_touch=True,
    ),
)
