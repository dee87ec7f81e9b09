"""The rows that pages are made of: frozen records a route fills and a template prints."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from markupsafe import Markup

from analysis.limits.verdict import Outcome
from analysis.results import Coverage, Event, Judgement, Listing, State


@dataclass(frozen=True)
class Table:
    """A plain table: a caption, headings, rows of finished text; `figures` names number columns.

    `marks` holds, for each column, the word for what it was taken for, or "".
    """

    headings: Sequence[str]
    rows: Sequence[Sequence[str]]
    caption: str = ""
    figures: Sequence[int] = ()
    marks: Sequence[str] = ()


@dataclass(frozen=True)
class Choice:
    """One choice in a form: the value sent, the words shown, whether it is the chosen one."""

    value: str
    words: str
    chosen: bool = False


@dataclass(frozen=True)
class DayChoice:
    """The form that leads to the week of a day: where it goes, and the days there are."""

    address: str
    first: str
    last: str
    beside: str = ""


@dataclass(frozen=True)
class FormField:
    """One field of a planning form; a number field unless choices are given."""

    name: str
    label: str
    value: str = ""
    unit: str = ""
    choices: Sequence[Choice] = ()


@dataclass(frozen=True)
class StripLine:
    """One work's week as a strip: what is written beside it, and its picture."""

    work_id: str
    title: str
    state: State
    picture: Markup
    peak: str
    mounted: str
    sentence: str


@dataclass(frozen=True)
class RoomSummary:
    """One room on the page of the week.

    ``iso_week`` is the week that is shown of it: its latest where it has too little of the page's.
    ``readings`` says what its readings reach to where that is not the present. ``more`` works have
    no strip here;
    ``in_short``: only what its works need is said.
    """

    room_id: str
    room_name: str
    sentence: str
    counts: Mapping[Listing, int]
    coverage: Coverage | None = None
    picture: Markup | None = None
    open_notices: int = 0
    strips: Sequence[StripLine] = ()
    event: Event | None = None
    iso_week: str = ""
    readings: str = ""
    more: int = 0
    in_short: bool = False


@dataclass(frozen=True)
class FoundLine:
    """Something that a search found: what it is, its name and number, its page."""

    kind: str
    name: str
    number: str
    address: str


@dataclass(frozen=True)
class RoundLine:
    """One work on the round, with where it hangs and how it was last seen.

    ``at_its_edges``: its hinges send people to it. ``answered``: what the last look did to an
    estimate that had said otherwise. ``last_answer``: the one from readings, where none holds now.
    """

    judgement: Judgement
    room_id: str
    room_name: str
    place: str = ""
    last_grade: int | None = None
    last_seen_utc: datetime | None = None
    last_released: bool | None = None
    at_its_edges: bool = False
    answered: str = ""
    last_answer: str = ""


@dataclass(frozen=True)
class InfluenceLine:
    """One parameter that a link of the chain goes along with.

    ``size`` runs from -1 to 1: below zero where more of the parameter means less of the outcome.
    """

    name: str
    way: str
    size: float
    both_ways: bool = False


@dataclass(frozen=True)
class ReasonLine:
    """One link of the chain: a number with its range, what decides it and what would settle that.

    All but the first two are empty where the number is not told.
    """

    words: str
    value: str
    sentence: str
    decides: str
    ends: str
    settled_by: str = ""
    bars: Sequence[InfluenceLine] = ()


@dataclass(frozen=True)
class ReasonStep:
    """One step of the chain, room to surface, with its leading rows and the others."""

    step: str
    leading: Sequence[ReasonLine]
    others: Sequence[ReasonLine]


@dataclass(frozen=True)
class NoticedWork:
    """A work in the order of a notice, as it was told of when the notice was written."""

    work_id: str
    title: str
    listing: Listing
    state: State
    reason: str


@dataclass(frozen=True)
class NoticeLine:
    """A notice: what, since when, by which sensor, which works in which order and why.

    ``works`` come in the order in which they should be looked at. ``what`` and ``do_now`` are
    finished sentences, safe for a person who is no specialist.
    """

    notice_id: str
    kind: str
    room_id: str
    room_name: str
    what: str
    since_utc: datetime
    sensor: str
    confirmed_by: str = ""
    works: Sequence[NoticedWork] = ()
    felt: str = ""
    lead: str = ""
    do_now: Sequence[str] = ()
    on_call: str = ""
    ended_utc: datetime | None = None
    seen_by: str = ""
    seen_utc: datetime | None = None
    seen_reason: str = ""
    lessons: Sequence[tuple[datetime, str]] = ()
    worse: bool = False

    @property
    def unseen(self) -> bool:
        """Whether nobody has seen it, or nobody since it grew worse."""
        return not self.seen_by or self.worse

    @property
    def in_the_air(self) -> bool:
        """Whether it is about the air, which a second sensor could confirm."""
        return self.kind in ("humidity", "sustained damp", "sustained dry")


@dataclass(frozen=True)
class IncidentLine:
    """An incident in a list: what, where, since when, and what was learned."""

    number: int
    room_name: str
    what: str
    since_utc: datetime
    closed_utc: datetime | None = None
    lesson: str = ""


@dataclass(frozen=True)
class DoseLine:
    """What one work had of an incident, and what people saw of it afterwards."""

    work_id: str
    title: str
    words: str
    inspected: Sequence[str] = ()


@dataclass(frozen=True)
class PersonTold:
    """A person who is told of notices: what of, how reached, by when to look at it again."""

    number: int
    name: str
    words: str
    reached: str
    email: str = ""
    review: str = ""


@dataclass(frozen=True)
class LimitLine:
    """One room against one published or agreed limit.

    ``outcome`` is what was judged, ``verdict`` its words; ``verified`` says whether the text was
    read in the source itself.
    """

    room_id: str
    room_name: str
    limit: str
    edition: str
    verdict: str
    sentence: str
    basis: str
    verified: bool
    source: str = ""
    outside_pct: float = 0.0
    longest_outside_h: float = 0.0
    outcome: Outcome = Outcome.CANNOT_TELL


@dataclass(frozen=True)
class LimitGroup:
    """One room against the limits of one group, for example those of loans."""

    name: str
    lines: Sequence[LimitLine]


@dataclass(frozen=True)
class Finding:
    """What a record says to one question, as plain sentences, and what they stand on."""

    heading: str
    sentences: Sequence[str]
    coverage: str = ""
    caution: str = ""


@dataclass(frozen=True)
class StatisticLine:
    """One figure about a room's air, with its definition and the coverage it stands on."""

    name: str
    value: str
    basis: str
    coverage: str = ""


@dataclass(frozen=True)
class ReferenceLine:
    """One entry of the bibliography, and how far it was seen."""

    key: str
    authors: str
    title: str
    year: str
    where: str
    seen: str


@dataclass(frozen=True)
class GuideLine:
    """One guide on the list of guides."""

    slug: str
    title: str
    first_sentence: str = ""


@dataclass(frozen=True)
class SheetBlock:
    """One block of the mount sheet: a heading with numbered steps or plain rows."""

    heading: str
    steps: Sequence[str] = ()
    rows: Sequence[tuple[str, str]] = ()
    note: str = field(default="")
