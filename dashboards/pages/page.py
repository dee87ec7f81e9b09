"""One documented dataclass a page: exactly what its template receives, no more and no less.

`dashboards.render.page_html` turns a page into HTML; a test compares each template's names with
the fields here, both ways. `section` is the entry of the navigation that is marked as current.
"""

# ruff: noqa: RUF009  (each field calls `documented`, which makes a new field every time)

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, ClassVar

from markupsafe import Markup

from analysis.parameters import Parameter
from analysis.results import RoomWeek
from analysis.works import Work
from dashboards.file_lines import FileInHand, LoggerChoice, TokenLine, UploadLine
from dashboards.forms.form import RecordForm
from dashboards.lines import (
    Choice,
    DayChoice,
    DoseLine,
    Finding,
    FormField,
    GuideLine,
    IncidentLine,
    LimitGroup,
    LimitLine,
    NoticeLine,
    PersonTold,
    ReferenceLine,
    RoomSummary,
    RoundLine,
    SheetBlock,
    StatisticLine,
    StripLine,
    Table,
)
from dashboards.look_lines import InspectionLine
from dashboards.pages.first_hour import FirstHour
from dashboards.pages.round_walk import RoundPart, SavedLook

Key = Sequence[tuple[Markup, str]]


def documented(words: str, **options: Any) -> Any:
    """Return a dataclass field with its help text."""
    return field(metadata={"help": words}, **options)


@dataclass(frozen=True)
class ThisWeek:
    """All rooms, and what to look at this week."""

    template: ClassVar[str] = "this_week.html"
    section: ClassVar[str] = "week"
    zone: str = documented("IANA zone of the site, in which people read the times")
    iso_week: str = documented("The week shown, for example 2026-W12")
    previous_week: str | None = documented("The week before, or None at the start of the record")
    next_week: str | None = documented("The week after, or None at its end")
    answer: str = documented("The answer in one sentence; `wording.week_answer` makes it")
    rooms: Sequence[RoomSummary] = documented("The rooms, in the order in which they need a person")
    look_first: Sequence[RoundLine] = documented("Works to look at first, over all rooms, in order")
    watch: Sequence[RoundLine] = documented("Works to watch, over all rooms, in order")
    notices: Sequence[NoticeLine] = documented("Notices that are open, newest first")
    key: Key = documented("The one key of the strips, as (box, words): `charts.strips.page_key`")
    clock: str = documented("That the clock is declared, or empty", default="")
    ahead: str = documented("On which works waves will show by the forecast, or empty", default="")
    begin: FirstHour | None = documented(
        "The steps of a house in which no work hangs yet", default=None
    )
    day: DayChoice | None = documented("The form that leads to another day", default=None)
    more_first: int = documented("How many more are to be looked at first", default=0)
    more_watch: int = documented("How many more are to be watched", default=0)


@dataclass(frozen=True)
class RoomWeekPage:
    """One room's week, from air to works."""

    template: ClassVar[str] = "room_week.html"
    section: ClassVar[str] = "week"
    week: RoomWeek = documented("The week as the calculations left it")
    answer: str = documented("The answer in one sentence, usually the week's own sentence")
    chart: Markup = documented("The week chart, wide: `style.inline_svg(week_chart(week))`")
    chart_narrow: Markup = documented(
        "The same for a phone: `style.inline_svg(week_chart_narrow(week))`"
    )
    strips: Sequence[StripLine] = documented(
        "The works' strips, for a phone: `charts.strips.strip_lines`"
    )
    key: Key = documented("The one key of the strips, as (box, words): `charts.strips.page_key`")
    finding: str = documented("What the chart shows, as its title: `sentences.week_finding`")
    previous_week: str | None = documented("The week before, or None at the start of the record")
    next_week: str | None = documented("The week after, or None at its end")
    day: DayChoice | None = documented("The form that leads to another day", default=None)
    difference: str = documented(
        "How the week differs from what it is drawn beside, or empty", default=""
    )
    others: Sequence[Choice] = documented(
        "What it can be drawn beside: address, words, whether it is", default=()
    )


@dataclass(frozen=True)
class HalfTimePage:
    """How fast the frame of a work follows the room, from a logger left inside it."""

    template: ClassVar[str] = "half_time.html"
    section: ClassVar[str] = "round"
    zone: str = documented("IANA zone of the site")
    work: Work = documented("The work whose frame it is")
    answer: str = documented("The answer in one sentence")
    facts: str = documented("Which loggers, from when to when; empty without a record")
    picture: Markup | None = documented(
        "Room, logger in the frame, fitted course, what is left over"
    )
    picture_words: str = documented("The sentence under that picture")
    profile: Markup | None = documented("What is left over against the half-time")
    profile_words: str = documented("The sentence under that picture")
    statements: Sequence[str] = documented("What must be said along with the answer")
    table: Table = documented("Half-time before and after, low, typical, high")
    use_from_utc: datetime | None = documented(
        "From when it would be used; None: it is not offered"
    )
    why_not: Sequence[str] = documented("Why it is not offered; may be empty")
    in_use: str = documented("The half-time in use that somebody measured, in a sentence, or empty")
    fitted_in_use: bool = documented("Whether the one in use was fitted here and can be taken back")
    how: Sequence[str] = documented("How to get a record, step by step; empty where there is one")
    saved: str = documented("A sentence after a form was sent, or empty", default="")


@dataclass(frozen=True)
class RoundPage:
    """The four lists, to walk with."""

    template: ClassVar[str] = "round.html"
    section: ClassVar[str] = "round"
    zone: str = documented("IANA zone of the site")
    at_utc: datetime = documented("The hour for which the lists hold")
    room_id: str = documented("Room the lists are limited to, or empty for all rooms")
    rooms: Sequence[Choice] = documented("All rooms, to limit the lists to one")
    answer: str = documented("The answer in one sentence")
    part: RoundPart = documented("The rooms shown, in walking order, and which part it is")
    here: str = documented("Address of this page, to come back to after a look", default="/round")
    saved: str = documented("A sentence after something was taken back, or empty", default="")
    last: SavedLook | None = documented("What has just been written down, or None", default=None)
    clock: str = documented("That the clock is declared, or empty", default="")
    readings: Sequence[tuple[str, str]] = documented(
        "Rooms whose readings do not reach to the present, each with a sentence", default=()
    )


@dataclass(frozen=True)
class LookTwice:
    """Whether a grade minutes after another is a second look or a correction."""

    template: ClassVar[str] = "look_twice.html"
    section: ClassVar[str] = "round"
    zone: str = documented("IANA zone of the site")
    title: str = documented("Title of the work")
    action: str = documented("Where the form is sent")
    before: InspectionLine = documented("The look of some minutes ago")
    grade: int = documented("The grade that was just sent")
    sent: Sequence[tuple[str, str]] = documented("Everything that was sent, to be sent again")


@dataclass(frozen=True)
class BringIn:
    """Upload an export of a logger."""

    template: ClassVar[str] = "bring_in.html"
    section: ClassVar[str] = "bring in"
    zone: str = documented("IANA zone of the site")
    limit_mb: int = documented("Largest upload taken in [MB]")
    loggers: Sequence[LoggerChoice] = documented("Loggers the file may belong to")
    uploads: Sequence[UploadLine] = documented("The last uploads, newest first")
    waiting: Sequence[tuple[str, str]] = documented("Files that wait for a person: (batch, words)")


@dataclass(frozen=True)
class BringInFiles:
    """The files that came together: each looked at, confirmed, taken in, for itself."""

    template: ClassVar[str] = "bring_in_files.html"
    section: ClassVar[str] = "bring in"
    batch: str = documented("Names the files that came together")
    zone: str = documented("IANA zone of the site")
    heading: str = documented("The question that the page asks now")
    answer: str = documented("How many are stored, and what the others wait for")
    files: Sequence[FileInHand] = documented("The files, in the order in which they were sent")
    busy: bool = documented("Whether one is being taken in just now")
    refresh: bool = documented(
        "Whether the page looks again by itself: one is taken in, none is open"
    )
    asked: str = documented("The file that was to be stored and first has to be answered, or empty")
    begin: FirstHour | None = documented(
        "The steps of a house in which no work hangs yet", default=None
    )


@dataclass(frozen=True)
class Gateways:
    """The tokens of gateways and programs, and the forms that make one."""

    template: ClassVar[str] = "gateways.html"
    section: ClassVar[str] = "bring in"
    zone: str = documented("IANA zone of the site")
    token: str = documented("The token just made, shown this once; or empty")
    tokens: Sequence[TokenLine] = documented("The tokens there are, newest first")
    loggers: Sequence[LoggerChoice] = documented("Loggers a token may be for")
    open: bool = documented("Whether nobody has to sign in here")
    address: str = documented("Where gateways send their batches")


@dataclass(frozen=True)
class TakeBack:
    """An upload that may be taken back: what would change."""

    template: ClassVar[str] = "take_back.html"
    section: ClassVar[str] = "bring in"
    number: int = documented("Number of the upload")
    file_name: str = documented("Name of the file as it was sent")
    answer: str = documented("What would change, in one sentence")
    changes: Sequence[tuple[str, str]] = documented(
        "By logger: readings that go, others that return"
    )
    done: bool = documented("Whether it has been taken back already")


@dataclass(frozen=True)
class NoticesPage:
    """What has come up, and whether anybody is on it."""

    template: ClassVar[str] = "notices.html"
    section: ClassVar[str] = "notices"
    zone: str = documented("IANA zone of the site")
    answer: str = documented("The answer in one sentence; `wording.notices_answer` makes it")
    open: Sequence[NoticeLine] = documented("Notices that are open, newest first")
    ended: Sequence[NoticeLine] = documented("Notices that ended lately, newest first")


@dataclass(frozen=True)
class NoticePage:
    """One notice, on one screen of a phone."""

    template: ClassVar[str] = "notice.html"
    section: ClassVar[str] = "notices"
    zone: str = documented("IANA zone of the site")
    notice: NoticeLine = documented("The notice")


@dataclass(frozen=True)
class IncidentsPage:
    """What has happened, and what was learned."""

    template: ClassVar[str] = "incidents.html"
    section: ClassVar[str] = "notices"
    zone: str = documented("IANA zone of the site")
    answer: str = documented("How many are open, how many were closed with a lesson")
    lines: Sequence[IncidentLine] = documented("All incidents, newest first")


@dataclass(frozen=True)
class IncidentPage:
    """One incident: first questions, people told, actions, works, looks, cause and lesson."""

    template: ClassVar[str] = "incident.html"
    section: ClassVar[str] = "notices"
    number: int = documented("Its number")
    room_name: str = documented("Where it happened")
    answer: str = documented("What happened, since when, and whether it is closed")
    opened: str = documented("Who opened it, when")
    notice_id: str = documented("The notice it was opened from, or empty")
    questions: Sequence[tuple[str, str, str, str]] = documented(
        "Key, question, hint, answer so far"
    )
    people: Sequence[str] = documented("People told, with times")
    actions: Sequence[str] = documented("What was done, with times")
    doses: Sequence[DoseLine] = documented("Works present, the most concerned first")
    causes: Sequence[tuple[str, str]] = documented("How far the cause is known, with words")
    closed: str = documented("Cause, lesson and who closed it; empty while it is open", default="")
    problem: str = documented("What is wrong with what was sent, or empty", default="")


@dataclass(frozen=True)
class PeopleTold:
    """Who is told of notices, whom to call, and the limits and delays of notices."""

    template: ClassVar[str] = "recipients.html"
    section: ClassVar[str] = "notices"
    answer: str = documented("Who is told at once, and whom to call")
    people: Sequence[PersonTold] = documented("The people, those told at once first")
    fallback: str = documented("Who is written to while nobody is entered")
    kinds: Sequence[tuple[str, str]] = documented("Kinds of notices with their words")
    rooms: Sequence[tuple[str, str]] = documented("Rooms with their names")
    limits: RecordForm = documented("Limits and delays as they stand, as a form")
    owned: str = documented("Since when and by whose word they stand")
    typed: Mapping[str, str] = documented(
        "What was typed, where it came back", default_factory=dict
    )
    problem: str = documented("What is wrong with what was sent, or empty", default="")
    said: str = documented("What has just been done, or empty", default="")


@dataclass(frozen=True)
class LimitsPage:
    """The rooms against agreed and published limits."""

    template: ClassVar[str] = "limits.html"
    section: ClassVar[str] = "air"
    zone: str = documented("IANA zone of the site")
    first_utc: datetime = documented("Start of the record that was judged")
    last_utc: datetime = documented("End of the record that was judged")
    answer: str = documented("The answer in one sentence")
    lines: Sequence[LimitLine] = documented("One line a room and limit, rooms together")


@dataclass(frozen=True)
class AirPage:
    """One room's air over a longer time: figures, psychrometric picture, carpet."""

    template: ClassVar[str] = "air.html"
    section: ClassVar[str] = "air"
    zone: str = documented("IANA zone of the site")
    room_id: str = documented("The room shown")
    room_name: str = documented("The room's name")
    rooms: Sequence[Choice] = documented("All rooms, to change to another")
    first_utc: datetime = documented("Start of the period")
    last_utc: datetime = documented("End of the period")
    answer: str = documented("The answer in one sentence")
    statistics: Sequence[StatisticLine] = documented("Figures with their definition and coverage")
    psychrometric: Markup | None = documented("Temperature against humidity ratio, or None")
    psychrometric_words: str = documented("The sentence under that picture")
    carpet: Markup | None = documented("RH by hour and day over the year, or None")
    carpet_words: str = documented("The sentence under that picture")
    findings: Sequence[Finding] = documented(
        "What the record says, question by question", default=()
    )
    limits: Sequence[LimitLine] = documented("The agreed band and the common limits", default=())
    more_limits: Sequence[LimitGroup] = documented(
        "Every other published limit, by group", default=()
    )


@dataclass(frozen=True)
class SourcesPage:
    """Every number with its origin."""

    template: ClassVar[str] = "sources.html"
    section: ClassVar[str] = "sources"
    tables: Mapping[str, Sequence[Parameter]] = documented(
        "Rows of each table of published numbers"
    )
    references: Sequence[ReferenceLine] = documented("The bibliography, by key")


@dataclass(frozen=True)
class GuidesPage:
    """The guides."""

    template: ClassVar[str] = "guides.html"
    section: ClassVar[str] = "guides"
    guides: Sequence[GuideLine] = documented("The guides, in reading order")


@dataclass(frozen=True)
class GuidePage:
    """One guide, set from its Markdown."""

    template: ClassVar[str] = "guide.html"
    section: ClassVar[str] = "guides"
    title: str = documented("The guide's title")
    body: Markup = documented("The guide as HTML: `render.guide_html(markdown)`")
    written_in: str = documented("Language of the guide, by its two letters")


@dataclass(frozen=True)
class PlanIndexPage:
    """What can be planned."""

    template: ClassVar[str] = "plans.html"
    section: ClassVar[str] = "plan"
    works: Sequence[Choice] = documented("Works that can be planned for")
    rooms: Sequence[Choice] = documented("Rooms whose year can be used")


@dataclass(frozen=True)
class PlanPage:
    """One planning question: mounting, hanging, sealing, spacer, set points. No command."""

    template: ClassVar[str] = "plan.html"
    section: ClassVar[str] = "plan"
    question: str = documented("The question, which is the heading")
    answer: str = documented("The answer in one sentence")
    form: Sequence[FormField] = documented("What may be changed; sent to the same address by GET")
    picture: Markup | None = documented("The picture, or None")
    picture_words: str = documented("The sentence under the picture")
    reasons: Sequence[str] = documented("Why, in plain sentences, each with its range")
    table: Table | None = documented("The figures, or None")
    assumed: Sequence[str] = documented("What was assumed because it is not known")
    picture_narrow: Markup | None = documented(
        "The picture for a phone; None: the same", default=None
    )
    warnings: Sequence[str] = documented("What speaks against it, before all else", default=())
    cautions: Sequence[str] = documented("What to bear in mind before acting on it", default=())
    values: Markup = documented("What can be read along the picture", default=Markup())
    address: str = documented("The page's own address, at which its table is", default="")
    hours: Sequence[str] = documented("Where the hours of its picture are, as files", default=())
    forecast_wanted: bool = documented("Whether a forecast may be brought in here", default=False)
    take_back: str = documented("Address at which the forecast in use is taken back", default="")
    begin: str = documented("Address at which working it out is begun, or empty", default="")
    waits: bool = documented("Whether it is being worked out just now", default=False)


@dataclass(frozen=True)
class MountSheetPage:
    """The mount sheet for the bench, to be printed."""

    template: ClassVar[str] = "mount_sheet.html"
    section: ClassVar[str] = "plan"
    work: Work = documented("The work the sheet is for")
    drawing: Markup | None = documented("Panel, print and hinges to scale")
    blocks: Sequence[SheetBlock] = documented("Sizes, hinges, adhesive, order of work, target RH")
    cautions: Sequence[str] = documented("Cautions for solvents, handling and height")
    form: Sequence[FormField] = documented(
        "What may be changed; sent to the same address", default=()
    )
    boxes: Sequence[str] = documented("What to write down at the bench", default=())
    paper: str = documented("Address of the sheet as one page to print, or empty", default="")


@dataclass(frozen=True)
class ErrorPage:
    """Something could not be done: what, where, found, expected, what to do."""

    template: ClassVar[str] = "error.html"
    section: ClassVar[str] = ""
    status: int = documented("HTTP status")
    heading: str = documented("One short sentence: what could not be done")
    read: str = documented("What was read")
    where: str = documented("The place in it, or empty")
    found: str = documented("What was found")
    expected: str = documented("What was expected")
    action: str = documented("What a person can do")
    kept: str = documented("What was kept all the same, or empty", default="")


PAGES = (
    ThisWeek,
    RoomWeekPage,
    HalfTimePage,
    RoundPage,
    BringIn,
    BringInFiles,
    Gateways,
    TakeBack,
    NoticesPage,
    NoticePage,
    PeopleTold,
    IncidentsPage,
    IncidentPage,
    LimitsPage,
    AirPage,
    SourcesPage,
    GuidesPage,
    GuidePage,
    PlanIndexPage,
    PlanPage,
    MountSheetPage,
    LookTwice,
    ErrorPage,
)
