"""The house, its rooms and bands, its loggers, where they hang, and how they were checked."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Annotated

from analysis.instruments.calibration import CalibrationLayer
from analysis.records.declaration import Declaration, Field, Kind
from analysis.records.locales import LOCALE_WORDS
from analysis.records.work_records import SPAN, choices_of


class Place(StrEnum):
    """Where a logger hangs in relation to the works."""

    ROOM_AIR = "room air"
    IN_FRAME = "in the frame"
    BEHIND_FRAME = "behind the frame"
    OUTDOORS = "outdoors"


PLACE_WORDS = {
    "room air": "in the room",
    "in the frame": "in a frame, with the work",
    "behind the frame": "behind a frame, at the wall",
    "outdoors": "outdoors",
}


class Rhythm(StrEnum):
    """How often the loggers of a room are read out."""

    BY_ITSELF = "by itself"
    WEEKLY = "weekly"
    MONTHLY = "monthly"
    QUARTERLY = "quarterly"


RHYTHM_WORDS = {
    "by itself": "by themselves, over a network",
    "weekly": "by hand, each week or so",
    "monthly": "by hand, each month",
    "quarterly": "by hand, each quarter",
}


SITE = Field(
    label="House",
    kind=Kind.REFERENCE,
    of="sites.csv",
    example="house",
    words="a site of sites.csv",
)
ROOM = Field(
    label="Room",
    kind=Kind.REFERENCE,
    of="rooms.csv",
    example="north",
    words="a room of rooms.csv",
)
LOGGER = Field(
    label="Logger",
    kind=Kind.REFERENCE,
    of="loggers.csv",
    example="north-1",
    help="One that is new to the house is added on the page of the room first.",
    words="a logger of loggers.csv",
)
PERCENT = Field(label="", kind=Kind.NUMBER, unit="%RH", low=0, high=100, without="it is open")
AIR_C = Field(label="", kind=Kind.NUMBER, unit="°C", low=-60, high=80, without="it is open")


def _edge(base: Field, label: str, example: str) -> Field:
    return base.model_copy(update={"label": label, "example": example})


@dataclass(frozen=True)
class Site:
    """A building or campus with one zone and one altitude."""

    site: Annotated[
        str,
        Field(
            label="Short name of the house",
            kind=Kind.SHORT_NAME,
            example="house",
            words="short name of the site, used by rooms.csv",
            asked=False,
        ),
    ]
    name: Annotated[
        str,
        Field(label="Name of the house", example="The house on the quay", needed_in_files=False),
    ]
    zone: Annotated[
        str,
        Field(
            label="Time zone",
            kind=Kind.ZONE,
            example="Europe/Dublin",
            help="Times on all pages are shown in it. Continent/City, as clocks and phones name "
            "it.",
        ),
    ]
    altitude_m: Annotated[
        float,
        Field(
            label="Height above the sea",
            kind=Kind.NUMBER,
            unit="m",
            low=-500,
            high=9000,
            example="12",
            without="sea level is taken, which matters little below 500 m",
        ),
    ] = 0.0
    note: Annotated[str, Field(label="Note", kind=Kind.NOTE, asked=False)] = ""
    latitude_deg: Annotated[
        float | None,
        Field(
            label="Latitude",
            kind=Kind.NUMBER,
            unit="°",
            low=-90,
            high=90,
            example="53.3",
            help="North of the equator above zero, south below. It says which months are summer.",
            without="that of the town which its time zone is named after",
            since="0.2",
        ),
    ] = None
    locale: Annotated[
        str | None,
        Field(
            label="How numbers and dates are written",
            kind=Kind.CHOICE,
            choices=tuple(LOCALE_WORDS.items()),
            example="en_IE",
            help="On pages, in letters and on the command line; files and JSON stay as machines "
            "read them. Sentences are in English, or in German where it says so.",
            without="they are written as in Britain",
            since="0.2",
        ),
    ] = None
    borrower: Annotated[
        bool,
        Field(
            label="Another house, to which works go on loan",
            kind=Kind.YES_NO,
            example="no",
            help="Its rooms stand in no list of this house’s own.",
            since="0.3",
        ),
    ] = False


@dataclass(frozen=True)
class Room:
    """A gallery, a store, or another space with its own air."""

    room: Annotated[
        str,
        Field(
            label="Short name of the room",
            kind=Kind.SHORT_NAME,
            example="north",
            help="Stands in addresses and files, without / \\ ? #. It cannot be changed later.",
            words="short name of the room, used everywhere else",
        ),
    ]
    site: Annotated[str, SITE]
    name: Annotated[
        str, Field(label="Name as shown", example="North gallery", needed_in_files=False)
    ]
    outside_walls: Annotated[
        str,
        Field(
            label="Outside walls",
            example="north, east",
            without="an outside wall is told work by work, where each hangs",
        ),
    ] = ""
    store: Annotated[
        bool,
        Field(
            label="A store or study room",
            kind=Kind.YES_NO,
            example="no",
            help="Stores come after galleries in every list.",
        ),
    ] = False
    note: Annotated[str, Field(label="Note", kind=Kind.NOTE, example="one door to the court")] = ""
    rhythm: Annotated[
        str | None,
        Field(
            label="How its loggers are read out",
            kind=Kind.CHOICE,
            choices=choices_of(Rhythm, RHYTHM_WORDS),
            example="weekly",
            without="it is taken from the gaps between its files",
            since="0.2",
        ),
    ] = None
    crate: Annotated[
        bool,
        Field(
            label="A crate in which works travel",
            kind=Kind.YES_NO,
            example="no",
            since="0.3",
        ),
    ] = False


@dataclass(frozen=True)
class AgreedBand:
    """The band agreed for a room: by whom, since when, to be looked at again when."""

    room: Annotated[str, ROOM.model_copy(update={"asked": False})]
    band_name: Annotated[
        str,
        Field(label="Name of the band", example="agreed 2025, loans", needed_in_files=False),
    ]
    rh_low_pct: Annotated[float | None, _edge(PERCENT, "Humidity, lower edge", "40")] = None
    rh_high_pct: Annotated[float | None, _edge(PERCENT, "Humidity, upper edge", "55")] = None
    temp_low_c: Annotated[float | None, _edge(AIR_C, "Temperature, lower edge", "17")] = None
    temp_high_c: Annotated[float | None, _edge(AIR_C, "Temperature, upper edge", "23")] = None
    band_owner: Annotated[str, Field(label="Who agreed to it", example="collections care")] = ""
    band_since: Annotated[
        datetime | None,
        Field(
            label="Holds since",
            kind=Kind.WHEN,
            example="2024-06-01",
            without="it is taken to have always held",
        ),
    ] = None
    band_review: Annotated[
        datetime | None,
        Field(label="To be looked at again on", kind=Kind.WHEN, example="2026-06-01"),
    ] = None


@dataclass(frozen=True)
class Logger:
    """An instrument. ``zone`` is the declared time base of its clock, "" when not declared."""

    logger: Annotated[
        str,
        Field(
            label="Short name of the logger",
            kind=Kind.SHORT_NAME,
            example="north-1",
            help="As on its label. Once it has readings it stays; the name as shown may be mended.",
            words="short name of the logger, as used with `stilltaut add --logger`",
        ),
    ]
    description: Annotated[str, Field(label="What it is", example="small logger, every hour")] = ""
    zone: Annotated[
        str,
        Field(
            label="Its clock",
            kind=Kind.CLOCK,
            example="Europe/Dublin",
            help="A zone, UTC, or an offset such as +01:00.",
            without="it is asked whenever a file does not say it",
        ),
    ] = ""
    interval_s: Annotated[
        float | None,
        Field(
            label="Time between its readings, as set",
            kind=Kind.NUMBER,
            unit="s",
            low=1,
            high=7 * 86400,
            example="3600",
            without="it is read from its files",
        ),
    ] = None
    note: Annotated[str, Field(label="Note", kind=Kind.NOTE, asked=False)] = ""
    name: Annotated[str, Field(label="Name as shown", example="by the door", since="0.2")] = ""

    @property
    def shown(self) -> str:
        """What pages call it: its name, with the short name behind it where they differ."""
        return f"{self.name} ({self.logger})" if self.name else self.logger


@dataclass(frozen=True)
class Placement:
    """Where a logger hung; an open end is None."""

    logger: Annotated[str, LOGGER]
    room: Annotated[str, ROOM.model_copy(update={"asked": False})]
    from_utc: Annotated[
        datetime | None,
        Field(
            label="From",
            kind=Kind.WHEN,
            example="2025-01-01",
            without="all its readings count for this room",
        ),
    ] = None
    to_utc: Annotated[
        datetime | None,
        Field(label="Until", kind=Kind.WHEN, help="Empty: it still hangs there."),
    ] = None
    place: Annotated[
        str,
        Field(
            label="Where it hangs",
            kind=Kind.CHOICE,
            choices=choices_of(Place, PLACE_WORDS),
            example="room air",
        ),
    ] = Place.ROOM_AIR
    work_id: Annotated[
        str | None,
        Field(
            label="With which work",
            empty="not known, or none",
            kind=Kind.REFERENCE,
            of="works.csv",
            help="For a logger in or behind a frame: without it a frame’s half-time cannot be "
            "learned from its readings.",
        ),
    ] = None
    position: Annotated[
        str,
        Field(label="Place in the room", example="north wall, 1.6 m, away from the vent"),
    ] = ""
    note: Annotated[str, Field(label="Note", kind=Kind.NOTE)] = ""


CHANNELS = (("rh_pct", "humidity, %RH"), ("temp_c", "temperature, °C"))


def _point(label: str, example: str, without: str = "") -> Field:
    return Field(
        label=label,
        kind=Kind.NUMBER,
        low=-100,
        high=150,
        example=example,
        without=without,
        words="in the channel's unit",
    )


@dataclass(frozen=True)
class Calibration:
    """What a logger read against what a reference said, from a date on.

    With one point the difference is an offset for all values; with two, a straight line runs
    through both. ``uncertainty`` is expanded (k = 2), in the channel's unit, after correction.
    """

    logger: Annotated[str, LOGGER]
    channel: Annotated[
        str, Field(label="What was checked", kind=Kind.CHOICE, choices=CHANNELS, example="rh_pct")
    ]
    read_1: Annotated[float, _point("The logger read", "33.2")]
    true_1: Annotated[float, _point("The reference said", "33.0")]
    read_2: Annotated[
        float | None,
        _point("At a second point the logger read", "75.9", "one difference is taken everywhere"),
    ] = None
    true_2: Annotated[
        float | None, _point("and the reference said", "75.4", "the first point alone counts")
    ] = None
    from_utc: Annotated[
        datetime | None,
        Field(
            label="Holds from",
            kind=Kind.WHEN,
            example="2025-01-15",
            help="Until the next one of this logger.",
            without="it is taken to have always held",
        ),
    ] = None
    uncertainty: Annotated[
        float | None,
        Field(
            label="Uncertainty after the correction (k = 2)",
            kind=Kind.NUMBER,
            low=0,
            high=50,
            example="1.5",
            without="a good new logger’s is taken",
        ),
    ] = None
    by: Annotated[str, Field(label="Who did it", example="A. Person")] = ""
    reference: Annotated[
        str, Field(label="Against what", example="saturated salts, 33 and 75 %RH")
    ] = ""
    note: Annotated[str, Field(label="Note", kind=Kind.NOTE)] = ""

    def layer(self) -> CalibrationLayer:
        """Return it as the calculations take it; it holds until the channel's next one.

        Examples
        --------
        >>> layer = Calibration("n1", "rh_pct", read_1=35.0, true_1=33.0).layer()
        >>> layer.gain, layer.offset
        (1.0, -2.0)
        """
        gain = 1.0
        if self.read_2 is not None and self.true_2 is not None and self.read_2 != self.read_1:
            gain = (self.true_2 - self.true_1) / (self.read_2 - self.read_1)
        return CalibrationLayer(
            channel=self.channel,
            since_utc=self.from_utc,
            gain=gain,
            offset=self.true_1 - gain * self.read_1,
            uncertainty=self.uncertainty,
            origin=self.reference,
        )


@dataclass(frozen=True)
class SideBySide:
    """Two loggers that hung side by side for a while, so that they can be compared."""

    logger: Annotated[str, LOGGER]
    other: Annotated[
        str,
        Field(
            label="Beside",
            kind=Kind.REFERENCE,
            of="loggers.csv",
            example="north-2",
            help="The one that is trusted more, if one is.",
            words="another logger of loggers.csv",
        ),
    ]
    from_utc: Annotated[datetime, Field(label="From", kind=Kind.WHEN, example="2025-02-03")]
    to_utc: Annotated[datetime, Field(label="Until", kind=Kind.WHEN, example="2025-02-05")]
    by: Annotated[str, Field(label="Who did it", example="A. Person")] = ""
    note: Annotated[
        str, Field(label="Note", kind=Kind.NOTE, example="both on one shelf, away from the vent")
    ] = ""


OF_ROOMS = (
    Declaration(
        "sites.csv",
        "sites",
        Site,
        ("site",),
        "The house, with the zone in which its people read the time.",
    ),
    Declaration(
        "rooms.csv",
        "rooms",
        Room,
        ("room",),
        "Rooms with air of their own, and the band agreed for each.",
    ),
    Declaration(
        "bands.csv",
        "bands",
        AgreedBand,
        ("room", "band_since"),
        "Bands agreed earlier, so that an old year is judged by what held then.",
        rising=(
            ("rh_low_pct", "rh_high_pct"),
            ("temp_low_c", "temp_high_c"),
            ("band_since", "band_review"),
        ),
        may_touch=True,
    ),
    Declaration("loggers.csv", "loggers", Logger, ("logger",), "The instruments."),
    Declaration(
        "placements.csv",
        "placements",
        Placement,
        ("logger", "from_utc"),
        "Where each logger hung, from when to when.",
        rising=SPAN,
    ),
    Declaration(
        "calibrations.csv",
        "calibrations",
        Calibration,
        ("logger", "channel", "from_utc"),
        "What a logger read against a reference. Readings are never edited.",
        together=(("read_2", "true_2"),),
    ),
    Declaration(
        "side_by_side.csv",
        "side_by_side",
        SideBySide,
        ("logger", "other", "from_utc"),
        "Which loggers hung side by side for a while, to be compared.",
        rising=SPAN,
        apart=(("logger", "other"),),
    ),
)
