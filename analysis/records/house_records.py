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
