"""The dated parts of a work's and a room's record: their words, their fields, their file."""

from collections.abc import Mapping
from dataclasses import dataclass

from dashboards.forms.form import Field
from dashboards.forms.record_fields import FRAMING, HANGING, MOUNTING
from dashboards.forms.room_fields import BAND, PLACEMENT
from service.storage.loggers import Placement
from service.storage.places import AgreedBand
from service.storage.records import Dataclass
from service.storage.register_edits import LINES
from service.storage.works import Framing, Hanging, Mounting


@dataclass(frozen=True)
class Noun:
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
        Column that says whose part it is: ``work_id`` or ``room``.
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
    kind: type[Dataclass]
    fields: tuple[Field, ...]
    owner: str
    since: str
    begins: str
    order: str
    title: str = ""

    @property
    def key(self) -> tuple[str, ...]:
        """Columns that name one entry among all."""
        return LINES[self.file].key


MOUNT = Noun(
    slug="mounting",
    one="a mounting",
    question="How is it held, and since when?",
    heading="How it is held",
    none="Nobody has written down how it is held; then nothing can be told of it.",
    file="mounts.csv",
    kind=Mounting,
    fields=MOUNTING,
    owner="work_id",
    since="mounted_utc",
    begins="Mounted",
    order="How the print is held on its panel, and the air on the day its hinges were set. A new "
    "mounting is a new entry: the earlier one keeps its years.",
)
FRAME = Noun(
    slug="framing",
    one="a framing",
    question="Which frame is round it, and since when?",
    heading="Its frame",
    none="Nobody has written down its frame; a glazed, untaped one is taken.",
    file="frames.csv",
    kind=Framing,
    fields=FRAMING,
    owner="work_id",
    since="closed_utc",
    begins="Closed",
    order="The frame around it since a day. When a frame is opened and closed anew, that is a "
    "new entry.",
)
HANG = Noun(
    slug="hanging",
    one="a hanging",
    question="Where does it hang, and since when?",
    heading="Where it hangs",
    none="It hangs nowhere yet; it is judged by the air of the room in which it hangs.",
    file="hangings.csv",
    kind=Hanging,
    fields=HANGING,
    owner="work_id",
    since="from_utc",
    begins="since",
    title="room",
    order="Where it hangs, from when to when. Where it hung until then ends on that day by itself.",
)
LOGGER = Noun(
    slug="logger",
    one="a logger here",
    question="Which logger hangs here, and since when?",
    heading="Loggers",
    none="No logger hangs here yet: without one nothing can be told of the room.",
    file="placements.csv",
    kind=Placement,
    fields=PLACEMENT,
    owner="room",
    since="from_utc",
    begins="since",
    title="logger",
    order="Where a logger hangs, from when to when. Where it hung until then ends on that day by "
    "itself.",
)
AGREED = Noun(
    slug="band",
    one="an agreed band",
    question="Which band is agreed, and since when?",
    heading="Bands agreed for this room",
    none="No band is agreed: the room is held only against published limits.",
    file="bands.csv",
    kind=AgreedBand,
    fields=BAND,
    owner="room",
    since="band_since",
    begins="since",
    title="band_name",
    order="The humidity and temperature this house has agreed for the room. A new agreement is a "
    "new entry.",
)
OF_A_WORK: Mapping[str, Noun] = {noun.slug: noun for noun in (MOUNT, FRAME, HANG)}
OF_A_ROOM: Mapping[str, Noun] = {noun.slug: noun for noun in (LOGGER, AGREED)}
