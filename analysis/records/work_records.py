"""Works: the print, how it is held, its frame, where it hangs, what was measured and seen of it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Annotated

from analysis.records.declaration import Declaration, Field, Kind, Span
from analysis.works import (
    FRAME_WORDS,
    KINDS,
    Adhesive,
    Finish,
    FrameBuild,
    Glazing,
    Grain,
    Mount,
    Panel,
    Paper,
    Wall,
)

Known = float | Span | None  # a number, a range that holds it, or not known
WORK = Field(
    label="Number of the work",
    kind=Kind.REFERENCE,
    of="works.csv",
    example="2021.04",
    words="a work of works.csv",
    asked=False,
)


def choices_of(
    kind: type[StrEnum], words: Mapping[str, str] | None = None
) -> tuple[tuple[str, str], ...]:
    """Return the choices of an enumeration: the word that is kept, the words that are shown."""
    return tuple((str(one), (words or {}).get(str(one), str(one))) for one in kind)


def among(name: str) -> str:
    """Return what it costs not to know a kind: the end of a sentence."""
    return f"each of {len(KINDS[name])} kinds is reckoned with, which widens the answer"


@dataclass(frozen=True)
class Print:
    """The print itself. Choices are the words of `analysis.works`; None: not known."""

    work_id: Annotated[
        str,
        Field(
            label="Number of the work",
            kind=Kind.NAME,
            example="2021.04",
            help="As in your inventory.",
            words="number of the work",
        ),
    ]
    title: Annotated[str, Field(label="Title", example="Slipway, low tide")]
    width_mm: Annotated[
        float,
        Field(
            label="Width of the sheet, as it hangs",
            kind=Kind.NUMBER,
            unit="mm",
            low=10,
            high=20000,
            example="1500",
        ),
    ]
    height_mm: Annotated[
        float,
        Field(
            label="Height of the sheet, as it hangs",
            kind=Kind.NUMBER,
            unit="mm",
            low=10,
            high=20000,
            example="1000",
        ),
    ]
    paper: Annotated[
        str | None,
        Field(
            label="Paper",
            kind=Kind.CHOICE,
            choices=choices_of(Paper),
            example="fibre base",
            help="The edge of the sheet, or its back, usually tells.",
            without=among("paper"),
        ),
    ] = None
    finish: Annotated[
        str | None,
        Field(
            label="Surface",
            kind=Kind.CHOICE,
            choices=choices_of(Finish),
            example="glossy",
            help="Decides how small a wave is seen.",
            without=among("finish"),
        ),
    ] = None
    grain: Annotated[
        str,
        Field(
            label="Grain, as it hangs",
            kind=Kind.CHOICE,
            choices=(
                (str(Grain.UNKNOWN), "not known"),
                (str(Grain.HORIZONTAL), str(Grain.HORIZONTAL)),
                (str(Grain.VERTICAL), str(Grain.VERTICAL)),
            ),
            example="unknown",
            without="half of the estimate assumes each direction",
        ),
    ] = Grain.UNKNOWN
    on_loan: Annotated[
        bool, Field(label="On loan from somebody else", kind=Kind.YES_NO, example="no")
    ] = False
    note: Annotated[str, Field(label="Note", kind=Kind.NOTE)] = ""


@dataclass(frozen=True)
class Mounting:
    """How the print has been held since ``mounted_utc`` (None: since always, or not known)."""

    work_id: Annotated[str, WORK]
    mounted_utc: Annotated[
        datetime | None,
        Field(
            label="Mounted on",
            kind=Kind.WHEN,
            example="2024-11-05",
            words="when the hinges were set",
            without="the age of the tension is guessed",
        ),
    ] = None
    mount: Annotated[
        str | None,
        Field(
            label="How it is held",
            kind=Kind.CHOICE,
            choices=choices_of(Mount),
            example="tension-held",
            help="Only tension-held prints are judged; the others are kept in the list.",
            without="it is judged as if it were held by tension",
        ),
    ] = None
    panel: Annotated[
        str | None,
        Field(
            label="Panel",
            kind=Kind.CHOICE,
            choices=choices_of(Panel),
            example="paper-faced honeycomb",
            without=among("panel"),
        ),
    ] = None
    adhesive: Annotated[
        str | None,
        Field(
            label="Hinges held by",
            kind=Kind.CHOICE,
            choices=choices_of(Adhesive),
            example="paste or cellulose ether",
            without=among("adhesive"),
        ),
    ] = None
    hinge_free_length_mm: Annotated[
        Known,
        Field(
            label="Free length of the hinges, from the edge of the print to where they are fixed",
            kind=Kind.NUMBER,
            unit="mm",
            low=0,
            high=200,
            may_be_range=True,
            example="20",
            without="the hinges’ give is guessed",
        ),
    ] = None
    hinge_coverage: Annotated[
        Known,
        Field(
            label="Share of the edge that is hinged, from 0 to 1",
            kind=Kind.NUMBER,
            low=0.01,
            high=1,
            may_be_range=True,
            example="1",
            help="1 for hinges all round, 0.5 for every other one.",
            without="the share of the edge is guessed",
        ),
    ] = None
    mounted_rh_pct: Annotated[
        Known,
        Field(
            label="Humidity of the air when the hinges were set",
            kind=Kind.NUMBER,
            unit="%RH",
            low=1,
            high=99,
            may_be_range=True,
            example="48",
            without="it is taken from what the room does, which makes the answer wide",
        ),
    ] = None
    mounted_temp_c: Annotated[
        Known,
        Field(
            label="Temperature of the air then",
            kind=Kind.NUMBER,
            unit="°C",
            low=-20,
            high=60,
            may_be_range=True,
            example="20.5",
            without="a usual temperature is taken",
        ),
    ] = None
    by: Annotated[str, Field(label="Mounted by", example="the bench")] = ""
    note: Annotated[str, Field(label="Note", kind=Kind.NOTE)] = ""


@dataclass(frozen=True)
class Framing:
    """The frame around the print since ``closed_utc`` (None: since always, or not known)."""

    work_id: Annotated[str, WORK]
    frame: Annotated[
        str | None,
        Field(
            label="Build of the frame",
            kind=Kind.CHOICE,
            choices=choices_of(FrameBuild, {str(k): v for k, v in FRAME_WORDS.items()}),
            example="D",
            help="From open to sealed.",
            without=among("frame"),
        ),
    ] = None
    closed_utc: Annotated[
        datetime | None,
        Field(
            label="Closed on",
            kind=Kind.WHEN,
            example="2024-11-12",
            words="when this frame was closed",
            without="the frame is taken to have been so since the mounting",
        ),
    ] = None
    closing_rh_pct: Annotated[
        Known,
        Field(
            label="Humidity of the air when it was closed",
            kind=Kind.NUMBER,
            unit="%RH",
            low=1,
            high=99,
            may_be_range=True,
            example="49",
            without="the answer is wide for a film-taped or sealed frame; others matter little",
        ),
    ] = None
    spacer_mm: Annotated[
        Known,
        Field(
            label="Distance between print and glazing",
            kind=Kind.NUMBER,
            unit="mm",
            low=0,
            high=200,
            may_be_range=True,
            example="12",
            without="the clearance to the glazing cannot be told",
        ),
    ] = None
    glazing: Annotated[
        str | None,
        Field(
            label="Glazing",
            kind=Kind.CHOICE,
            choices=choices_of(Glazing),
            example="acrylic",
            without="acrylic is taken, which matters for the spacer alone",
        ),
    ] = None
    conditioned: Annotated[
        bool,
        Field(
            label="Desiccant, gel or a unit in it that conditions the air",
            kind=Kind.YES_NO,
            example="no",
            help="With it nothing can be told from the air of the room.",
        ),
    ] = False
    by: Annotated[str, Field(label="Closed by", example="the bench")] = ""
    note: Annotated[str, Field(label="Note", kind=Kind.NOTE)] = ""


@dataclass(frozen=True)
class Hanging:
    """Where the work hung; an open end is None."""

    work_id: Annotated[str, WORK]
    room: Annotated[
        str,
        Field(
            label="Room",
            kind=Kind.REFERENCE,
            of="rooms.csv",
            example="north",
            help="A room that is missing here can be added on the page of works and rooms.",
            words="a room of rooms.csv",
        ),
    ]
    from_utc: Annotated[
        datetime | None,
        Field(
            label="From",
            kind=Kind.WHEN,
            example="2025-01-01",
            without="it is taken to have always hung here",
        ),
    ] = None
    to_utc: Annotated[
        datetime | None,
        Field(label="Until", kind=Kind.WHEN, help="Empty: it still hangs here."),
    ] = None
    wall: Annotated[
        str | None,
        Field(
            label="Wall behind it",
            kind=Kind.CHOICE,
            choices=choices_of(Wall),
            example="inside wall",
            help="An outside wall makes the frame colder than the room.",
            without=among("wall"),
        ),
    ] = None
    sun_or_spot: Annotated[
        bool,
        Field(
            label="Sun or a hot spotlight reaches it",
            kind=Kind.YES_NO,
            example="no",
            help="Then its temperature is not that of the room, and nothing can be told.",
        ),
    ] = False
    position: Annotated[
        str, Field(label="Place in the room", example="place 2 from the entrance")
    ] = ""
    note: Annotated[str, Field(label="Note", kind=Kind.NOTE)] = ""
    left_utc: Annotated[
        datetime | None,
        Field(
            label="Left the house",
            kind=Kind.WHEN,
            asked=False,
            words="of a stay in a crate: when the crate left",
            since="0.3",
        ),
    ] = None
    arrived_utc: Annotated[
        datetime | None,
        Field(
            label="Arrived",
            kind=Kind.WHEN,
            asked=False,
            words="of a stay in a crate: when the crate arrived",
            since="0.3",
        ),
    ] = None
    opened_utc: Annotated[
        datetime | None,
        Field(
            label="Crate opened",
            kind=Kind.WHEN,
            asked=False,
            words="of a stay in a crate: when the crate was opened",
            since="0.3",
        ),
    ] = None


SPAN = (("from_utc", "to_utc"),)
# What happens to a crate, in order.
PASSAGE = (
    ("from_utc", "left_utc"),
    ("left_utc", "arrived_utc"),
    ("arrived_utc", "opened_utc"),
    ("opened_utc", "to_utc"),
)
OF_WORKS = (
    Declaration("works.csv", "works", Print, ("work_id",), "The prints themselves."),
    Declaration(
        "mounts.csv",
        "mounts",
        Mounting,
        ("work_id", "mounted_utc"),
        "How each print is held; a new line for every new mounting.",
    ),
    Declaration(
        "frames.csv",
        "frames",
        Framing,
        ("work_id", "closed_utc"),
        "The frame around it; a new line for every closing.",
    ),
    Declaration(
        "hangings.csv",
        "hangings",
        Hanging,
        ("work_id", "from_utc"),
        "Where each work hung, from when to when; in a crate, when that left and was opened.",
        rising=SPAN,
        in_order=PASSAGE,
    ),
)
