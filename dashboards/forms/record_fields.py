"""The fields of a work's record in plain words: unit, example, and what not knowing costs."""

from collections.abc import Mapping
from enum import StrEnum

from analysis.works import (
    FRAME_WORDS,
    Adhesive,
    Finish,
    Glazing,
    Grain,
    Mount,
    Panel,
    Paper,
    Wall,
)
from dashboards.forms.form import Field, Kind

NOT_KNOWN = "not known"


def _choices(
    kind: type[StrEnum], words: Mapping[str, str] | None = None
) -> tuple[tuple[str, str], ...]:
    return tuple((str(one), (words or {}).get(str(one), str(one))) for one in kind)


def _or_taken(kind: type[StrEnum], taken: StrEnum) -> tuple[tuple[str, str], ...]:
    """Return the choices with "not known" first, which is written down as the usual one."""
    return (("", f"{NOT_KNOWN}: taken as {taken}"), *_choices(kind))


YES_NO = (("no", "no"), ("yes", "yes"))
FRAMES = tuple((str(build), words) for build, words in FRAME_WORDS.items())

PRINT = (
    Field("title", "Title", example="Slipway, low tide", required=True),
    Field(
        "width_mm",
        "Width of the sheet, as it hangs",
        Kind.NUMBER,
        "mm",
        "1500",
        required=True,
    ),
    Field(
        "height_mm",
        "Height of the sheet, as it hangs",
        Kind.NUMBER,
        "mm",
        "1000",
        required=True,
    ),
    Field(
        "paper",
        "Paper",
        Kind.CHOICE,
        help="The edge of the sheet, or its back, usually tells. Of the photographic papers fibre "
        "base moves soonest: where nobody knows, it is the careful choice.",
        required=True,
        choices=_choices(Paper),
    ),
    Field(
        "finish",
        "Surface",
        Kind.CHOICE,
        help="Decides how small a wave is seen. Glossy is the careful choice.",
        required=True,
        choices=_choices(Finish),
    ),
    Field(
        "grain",
        "Grain, as it hangs",
        Kind.CHOICE,
        without="half of the estimate assumes each direction",
        choices=(
            ("", NOT_KNOWN),
            (str(Grain.HORIZONTAL), str(Grain.HORIZONTAL)),
            (str(Grain.VERTICAL), str(Grain.VERTICAL)),
        ),
    ),
    Field("on_loan", "On loan from somebody else", Kind.CHOICE, choices=YES_NO),
    Field("note", "Note", example="small loss at the lower left corner"),
)
WORK_NUMBER = Field(
    "work_id",
    "Number of the work",
    example="2021.04",
    help="As in your inventory, without / \\ ? #. It cannot be changed later.",
    required=True,
)
MOUNTING = (
    Field(
        "mounted_utc",
        "Mounted on",
        Kind.WHEN,
        example="5 November 2024",
        without="the age of the tension is guessed",
    ),
    Field(
        "mount",
        "How it is held",
        Kind.CHOICE,
        choices=_or_taken(Mount, Mount.TENSION_HELD),
        help="Only tension-held prints are judged; the others are kept in the list.",
    ),
    Field(
        "mounted_rh_pct",
        "Humidity of the air when the hinges were set",
        Kind.NUMBER,
        "%RH",
        "48",
        without="no state can be told",
    ),
    Field(
        "mounted_temp_c",
        "Temperature of the air then",
        Kind.NUMBER,
        "°C",
        "20.5",
        without="20 °C is taken",
    ),
    Field("panel", "Panel", Kind.CHOICE, choices=_or_taken(Panel, Panel.PAPER_HONEYCOMB)),
    Field("adhesive", "Hinges held by", Kind.CHOICE, choices=_or_taken(Adhesive, Adhesive.PASTED)),
    Field(
        "hinge_free_length_mm",
        "Free length of the hinges, from the edge of the print to where the strip is fixed",
        Kind.NUMBER,
        "mm",
        "20",
        without="the hinges’ give is guessed",
    ),
    Field(
        "hinge_coverage",
        "Share of the edge that is hinged, from 0 to 1",
        Kind.NUMBER,
        "",
        "1 for hinges all round, 0.5 for every other one",
        without="the share of the edge is guessed",
    ),
    Field("by", "Mounted by", example="the bench"),
    Field("note", "Note", example="second mounting, new panel"),
)
FRAMING = (
    Field(
        "closed_utc",
        "Closed on",
        Kind.WHEN,
        example="12 November 2024",
        without="the frame is taken to have been so since the mounting",
    ),
    Field(
        "frame",
        "Build of the frame",
        Kind.CHOICE,
        help="From open to sealed. Where nobody knows: glazed, board back, not taped.",
        required=True,
        choices=FRAMES,
    ),
    Field(
        "closing_rh_pct",
        "Humidity of the air when it was closed",
        Kind.NUMBER,
        "%RH",
        "49",
        without="nothing can be told of a film-taped or sealed frame; others matter little",
    ),
    Field(
        "spacer_mm",
        "Distance between print and glazing",
        Kind.NUMBER,
        "mm",
        "12",
        without="the clearance to the glazing cannot be told",
    ),
    Field("glazing", "Glazing", Kind.CHOICE, choices=_or_taken(Glazing, Glazing.ACRYLIC)),
    Field(
        "conditioned",
        "Desiccant, gel or a unit in it that conditions the air",
        Kind.CHOICE,
        help="With it nothing can be told from the air of the room.",
        choices=YES_NO,
    ),
    Field("by", "Closed by", example="the bench"),
    Field("note", "Note", example="new tape along the lower edge"),
)
HANGING = (
    Field(
        "room",
        "Room",
        Kind.CHOICE,
        help="A room that is missing here can be added on the page of works and rooms.",
        required=True,
    ),
    Field(
        "from_utc",
        "From",
        Kind.WHEN,
        example="1 January 2025",
        without="it is taken to have always hung here",
    ),
    Field("to_utc", "Until", Kind.WHEN, help="Empty: it still hangs here."),
    Field(
        "wall",
        "Wall behind it",
        Kind.CHOICE,
        choices=_or_taken(Wall, Wall.INSIDE),
        help="An outside wall makes the frame colder than the room.",
    ),
    Field(
        "sun_or_spot",
        "Sun or a hot spotlight reaches it",
        Kind.CHOICE,
        choices=YES_NO,
        help="Then its temperature is not that of the room, and nothing can be told.",
    ),
    Field("position", "Place in the room", example="place 2 from the entrance"),
    Field("note", "Note"),
)
