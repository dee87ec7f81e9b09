"""The dated parts of the records of works, rooms and the house: their words, and their file."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from analysis.records import BY_FILE, Declaration, Field
from dashboards.text.messages import N_


@dataclass(frozen=True)
class Part:
    """One part of a record.

    Parameters
    ----------
    slug : str
        Its name in addresses.
    one : str
        Its name in sentences, with its article.
    question : str
        What its form asks.
    owner : str
        Column that says whose part it is: ``work_id`` or ``room``; empty for the whole house.
    since : str
        Column from which an entry holds.
    begins : str
        What happened then, for the heading of an entry.
    title : str
        Column that begins the heading of an entry, or empty.
    order : str
        The sentence that says what the form is for.
    """

    slug: str
    one: str
    question: str
    heading: str
    none: str
    file: str
    owner: str
    since: str
    begins: str
    order: str
    title: str = ""

    @property
    def declaration(self) -> Declaration:
        """What is declared of its records."""
        return BY_FILE[self.file]

    @property
    def kind(self) -> Any:
        """The class of its records."""
        return self.declaration.record

    @property
    def key(self) -> tuple[str, ...]:
        """Columns that name one entry among all."""
        return self.declaration.key

    @property
    def fields(self) -> tuple[Field, ...]:
        """What its form asks for."""
        return self.declaration.asked(self.owner)


MOUNT = Part(
    slug="mounting",
    one=N_("a mounting"),
    question=N_("How is it held, and since when?"),
    heading=N_("How it is held"),
    none=N_("Nobody has written down how it is held: every way is reckoned with."),
    file="mounts.csv",
    owner="work_id",
    since="mounted_utc",
    begins=N_("Mounted"),
    order=N_(
        "How the print is held on its panel, and the air on the day its hinges were set. A new "
        "mounting is a new entry: the earlier one keeps its years."
    ),
)
FRAME = Part(
    slug="framing",
    one=N_("a framing"),
    question=N_("Which frame is round it, and since when?"),
    heading=N_("Its frame"),
    none=N_("Nobody has written down its frame; every build is reckoned with."),
    file="frames.csv",
    owner="work_id",
    since="closed_utc",
    begins=N_("Closed"),
    order=N_(
        "The frame around it since a day. When a frame is opened and closed anew, that is a "
        "new entry."
    ),
)
HANG = Part(
    slug="hanging",
    one=N_("a hanging"),
    question=N_("Where does it hang, and since when?"),
    heading=N_("Where it hangs"),
    none=N_("It hangs nowhere yet; it is judged by the air of the room in which it hangs."),
    file="hangings.csv",
    owner="work_id",
    since="from_utc",
    begins=N_("since"),
    title="room",
    order=N_(
        "Where it hangs, from when to when. Where it hung until then ends on that day by itself."
    ),
)
LOGGER = Part(
    slug="logger",
    one=N_("a logger here"),
    question=N_("Which logger hangs here, and since when?"),
    heading=N_("Loggers"),
    none=N_("No logger hangs here yet: without one nothing can be told of the room."),
    file="placements.csv",
    owner="room",
    since="from_utc",
    begins=N_("since"),
    title="logger",
    order=N_(
        "Where a logger hangs, from when to when. Where it hung until then ends on that day by "
        "itself."
    ),
)
AGREED = Part(
    slug="band",
    one=N_("an agreed band"),
    question=N_("Which band is agreed, and since when?"),
    heading=N_("Bands agreed for this room"),
    none=N_("No band is agreed: the room is held only against published limits."),
    file="bands.csv",
    owner="room",
    since="band_since",
    begins=N_("since"),
    title="band_name",
    order=N_(
        "The humidity and temperature this house has agreed for the room. A new agreement is a "
        "new entry."
    ),
)
EVENT = Part(
    slug="event",
    one=N_("an event"),
    question=N_("What is planned, or was going on?"),
    heading=N_("What is planned, and what was"),
    none=N_("Nothing is written down."),
    file="events.csv",
    owner="",
    since="from_utc",
    begins=N_("from"),
    title="title",
    order=N_(
        "Openings, deliveries, works, the plant off, weather: with it a rise of the humidity has "
        "a name, and a planned one tells nobody of the air in its hours. A work at risk is "
        "told all "
        "the same."
    ),
)
CALIBRATION = Part(
    slug="calibration",
    one=N_("a check against a reference"),
    question=N_("What did the logger read against a reference?"),
    heading=N_("Checked against a reference"),
    none=N_("No logger has been checked against a reference."),
    file="calibrations.csv",
    owner="",
    since="from_utc",
    begins=N_("since"),
    title="logger",
    order=N_(
        "From that day on its readings are corrected by it when they are used; the readings "
        "themselves stay as they came."
    ),
)
SIDE_BY_SIDE = Part(
    slug="side-by-side",
    one=N_("a check side by side"),
    question=N_("Which loggers hung side by side, from when to when?"),
    heading=N_("Checked side by side"),
    none=N_("No two loggers have hung side by side."),
    file="side_by_side.csv",
    owner="",
    since="from_utc",
    begins=N_("from"),
    title="logger",
    order=N_(
        "Two loggers in one place for a day or more, away from windows and vents: how far they "
        "differ is told from their readings."
    ),
)
OF_A_WORK: Mapping[str, Part] = {part.slug: part for part in (MOUNT, FRAME, HANG)}
OF_A_ROOM: Mapping[str, Part] = {part.slug: part for part in (LOGGER, AGREED)}
OF_THE_HOUSE: Mapping[str, Part] = {part.slug: part for part in (EVENT, CALIBRATION, SIDE_BY_SIDE)}
