"""One documented dataclass a page: exactly what its template receives, no more and no less.

`dashboards.render.page_html` turns a page into HTML; a test compares each template's names with
the fields here, both ways. `section` is the entry of the navigation that is marked as current.
"""

# ruff: noqa: RUF009  (each field calls `told`, which makes a new field every time)

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, ClassVar

from markupsafe import Markup

from analysis.parameters import Parameter
from analysis.results import Judgement, Listing, RoomWeek
from analysis.works import Work
from dashboards.lines import (
    Choice,
    DoseLine,
    FileInHand,
    Finding,
    FormField,
    GuideLine,
    IncidentLine,
    InspectionLine,
    LearnedLine,
    LimitField,
    LimitGroup,
    LimitLine,
    LoggerChoice,
    NoticeLine,
    PersonTold,
    ReferenceLine,
    RoomSummary,
    RoundLine,
    SheetBlock,
    StatisticLine,
    StripLine,
    Table,
    TokenLine,
    UploadLine,
)
from dashboards.pages.round_walk import SavedLook

Key = Sequence[tuple[Markup, str]]


def told(words: str, **options: Any) -> Any:
    """Return a dataclass field with its help text."""
    return field(metadata={"help": words}, **options)


@dataclass(frozen=True)
class ThisWeek:
    """All rooms, and what to look at this week."""

    template: ClassVar[str] = "this_week.html"
    section: ClassVar[str] = "week"
    zone: str = told("IANA zone of the site, in which people read the times")
    iso_week: str = told("The week shown, for example 2026-W12")
    previous_week: str | None = told("The week before, or None at the start of the record")
    next_week: str | None = told("The week after, or None at its end")
    answer: str = told("The answer in one sentence; `wording.week_answer` makes it")
    rooms: Sequence[RoomSummary] = told("The rooms, in the order in which they need a person")
    look_first: Sequence[RoundLine] = told("Works to look at first, over all rooms, in order")
    notices: Sequence[NoticeLine] = told("Notices that are open, newest first")
    key: Key = told("The one key of the strips, as (box, words): `charts.strips.page_key`")
    clock: str = told("That the clock is declared, or empty", default="")


@dataclass(frozen=True)
class RoomWeekPage:
    """One room's week, from air to works."""

    template: ClassVar[str] = "room_week.html"
    section: ClassVar[str] = "week"
    week: RoomWeek = told("The week as the calculations left it")
    answer: str = told("The answer in one sentence, usually the week's own sentence")
    chart: Markup = told("The week chart, wide: `style.inline_svg(week_chart(week))`")
    chart_narrow: Markup = told("The same for a phone: `style.inline_svg(week_chart_narrow(week))`")
    strips: Sequence[StripLine] = told(
        "The works' strips, for a phone: `charts.strips.strip_lines`"
    )
    key: Key = told("The one key of the strips, as (box, words): `charts.strips.page_key`")
    finding: str = told("What the chart shows, as its title: `sentences.week_finding`")
    previous_week: str | None = told("The week before, or None at the start of the record")
    next_week: str | None = told("The week after, or None at its end")


@dataclass(frozen=True)
class WorkPage:
    """One work: whether it is still taut, why, and how long it has got."""

    template: ClassVar[str] = "work.html"
    section: ClassVar[str] = "round"
    zone: str = told("IANA zone of the site")
    work: Work = told("The mount and frame record, unknown facts as None")
    room_id: str = told("Room in which the work hangs; empty when it hangs nowhere")
    room_name: str = told("That room's name")
    judgement: Judgement = told("The line on the round, with the chain of reasons")
    chain: Markup | None = told("Picture of the chain room → frame → print → tension → surface")
    history: Markup | None = told("The work through the past weeks: `charts.work.work_chart`")
    inspections: Sequence[InspectionLine] = told("Short inspections, newest first")
    learned: Sequence[LearnedLine] = told("Parameters before and after learning; may be empty")
    saved: str = told("A sentence after a form was sent, or empty", default="")
    history_words: str = told(
        "The sentence under the history: `charts.work.work_words`", default=""
    )
    stretch: str = told("Where the stretch of the print went, in a sentence, or empty", default="")
    bear_in_mind: Sequence[tuple[str, str]] = told(
        "What the numbers cannot show, as (key, sentence): `analysis.answers.caveats`", default=()
    )
    life: Sequence[str] = told(
        "What was mounted, framed or hung anew since its readings began, in sentences", default=()
    )


@dataclass(frozen=True)
class HalfTimePage:
    """How fast the frame of a work follows the room, from a logger left inside it."""

    template: ClassVar[str] = "half_time.html"
    section: ClassVar[str] = "round"
    zone: str = told("IANA zone of the site")
    work: Work = told("The work whose frame it is")
    answer: str = told("The answer in one sentence")
    facts: str = told("Which loggers, from when to when; empty without a record")
    picture: Markup | None = told("Room, logger in the frame, fitted course, what is left over")
    picture_words: str = told("The sentence under that picture")
    profile: Markup | None = told("What is left over against the half-time")
    profile_words: str = told("The sentence under that picture")
    statements: Sequence[str] = told("What must be said along with the answer")
    table: Table = told("Half-time before and after, low, typical, high")
    use_from_utc: datetime | None = told("From when it would be used; None: it is not offered")
    why_not: Sequence[str] = told("Why it is not offered; may be empty")
    in_use: str = told("The half-time in use that somebody measured, in a sentence, or empty")
    fitted_in_use: bool = told("Whether the one in use was fitted here and can be taken back")
    how: Sequence[str] = told("How to get a record, step by step; empty where there is one")
    saved: str = told("A sentence after a form was sent, or empty", default="")


@dataclass(frozen=True)
class RoundPage:
    """The four lists, to walk with."""

    template: ClassVar[str] = "round.html"
    section: ClassVar[str] = "round"
    zone: str = told("IANA zone of the site")
    at_utc: datetime = told("The hour for which the lists hold")
    room_id: str = told("Room the lists are limited to, or empty for all rooms")
    rooms: Sequence[Choice] = told("All rooms, to limit the lists to one")
    answer: str = told("The answer in one sentence")
    lists: Mapping[Listing, Sequence[RoundLine]] = told("The four lists, each in order of need")
    saved: str = told("A sentence after something was taken back, or empty", default="")
    last: SavedLook | None = told("What has just been written down, or None", default=None)
    clock: str = told("That the clock is declared, or empty", default="")
    readings: Sequence[tuple[str, str]] = told(
        "Rooms whose readings do not reach to the present, each with a sentence", default=()
    )


@dataclass(frozen=True)
class LookTwice:
    """Whether a grade minutes after another is a second look or a correction."""

    template: ClassVar[str] = "look_twice.html"
    section: ClassVar[str] = "round"
    zone: str = told("IANA zone of the site")
    title: str = told("Title of the work")
    action: str = told("Where the form is sent")
    before: InspectionLine = told("The look of some minutes ago")
    grade: int = told("The grade that was just sent")
    sent: Sequence[tuple[str, str]] = told("Everything that was sent, to be sent again")


@dataclass(frozen=True)
class BringIn:
    """Upload an export of a logger."""

    template: ClassVar[str] = "bring_in.html"
    section: ClassVar[str] = "bring in"
    zone: str = told("IANA zone of the site")
    limit_mb: int = told("Largest upload taken in [MB]")
    loggers: Sequence[LoggerChoice] = told("Loggers the file may belong to")
    uploads: Sequence[UploadLine] = told("The last uploads, newest first")
    waiting: Sequence[tuple[str, str]] = told("Files that wait for a person: (batch, words)")


@dataclass(frozen=True)
class BringInFiles:
    """The files that came together: each looked at, confirmed, taken in, for itself."""

    template: ClassVar[str] = "bring_in_files.html"
    section: ClassVar[str] = "bring in"
    batch: str = told("Names the files that came together")
    zone: str = told("IANA zone of the site")
    heading: str = told("The question that the page asks now")
    answer: str = told("How many are stored, and what the others wait for")
    files: Sequence[FileInHand] = told("The files, in the order in which they were sent")
    busy: bool = told("Whether one is being taken in just now")
    refresh: bool = told("Whether the page looks again by itself: one is taken in, none is open")
    problem: str = told("What was wrong with what was just sent, or empty")


@dataclass(frozen=True)
class Gateways:
    """The tokens under which gateways send readings, and the form that makes one."""

    template: ClassVar[str] = "gateways.html"
    section: ClassVar[str] = "bring in"
    zone: str = told("IANA zone of the site")
    token: str = told("The token just made, shown this once; or empty")
    tokens: Sequence[TokenLine] = told("The tokens there are, newest first")
    loggers: Sequence[LoggerChoice] = told("Loggers a token may be for")
    may_make: bool = told("Whether the page was asked for on the machine that serves it")
    address: str = told("Where gateways send their batches")


@dataclass(frozen=True)
class TakeBack:
    """An upload that may be taken back: what would change."""

    template: ClassVar[str] = "take_back.html"
    section: ClassVar[str] = "bring in"
    number: int = told("Number of the upload")
    file_name: str = told("Name of the file as it was sent")
    answer: str = told("What would change, in one sentence")
    changes: Sequence[tuple[str, str]] = told("By logger: readings that go, others that return")
    done: bool = told("Whether it has been taken back already")


@dataclass(frozen=True)
class NoticesPage:
    """What has come up, and whether anybody is on it."""

    template: ClassVar[str] = "notices.html"
    section: ClassVar[str] = "notices"
    zone: str = told("IANA zone of the site")
    answer: str = told("The answer in one sentence; `wording.notices_answer` makes it")
    open: Sequence[NoticeLine] = told("Notices that are open, newest first")
    ended: Sequence[NoticeLine] = told("Notices that ended lately, newest first")


@dataclass(frozen=True)
class NoticePage:
    """One notice, on one screen of a phone."""

    template: ClassVar[str] = "notice.html"
    section: ClassVar[str] = "notices"
    zone: str = told("IANA zone of the site")
    notice: NoticeLine = told("The notice")


@dataclass(frozen=True)
class IncidentsPage:
    """What has happened, and what was learned."""

    template: ClassVar[str] = "incidents.html"
    section: ClassVar[str] = "notices"
    zone: str = told("IANA zone of the site")
    answer: str = told("How many are open, how many were closed with a lesson")
    lines: Sequence[IncidentLine] = told("All incidents, newest first")


@dataclass(frozen=True)
class IncidentPage:
    """One incident: first questions, people told, actions, works, looks, cause and lesson."""

    template: ClassVar[str] = "incident.html"
    section: ClassVar[str] = "notices"
    number: int = told("Its number")
    room_name: str = told("Where it happened")
    answer: str = told("What happened, since when, and whether it is closed")
    opened: str = told("Who opened it, when")
    notice_id: str = told("The notice it was opened from, or empty")
    questions: Sequence[tuple[str, str, str, str]] = told("Key, question, hint, answer so far")
    people: Sequence[str] = told("People told, with times")
    actions: Sequence[str] = told("What was done, with times")
    doses: Sequence[DoseLine] = told("Works present, the most concerned first")
    causes: Sequence[tuple[str, str]] = told("How far the cause is known, with words")
    closed: str = told("Cause, lesson and who closed it; empty while it is open", default="")
    problem: str = told("What is wrong with what was sent, or empty", default="")


@dataclass(frozen=True)
class PeopleTold:
    """Who is told of notices, whom to call, and the limits and delays of notices."""

    template: ClassVar[str] = "people_told.html"
    section: ClassVar[str] = "notices"
    answer: str = told("Who is told at once, and whom to call")
    people: Sequence[PersonTold] = told("The people, those told at once first")
    fallback: str = told("Who is written to while nobody is entered")
    kinds: Sequence[tuple[str, str]] = told("Kinds of notices with their words")
    rooms: Sequence[tuple[str, str]] = told("Rooms with their names")
    limits: Sequence[LimitField] = told("Limits and delays as they stand")
    owned: str = told("Since when and by whose word they stand")
    air_waits: bool = told("Whether notices of air wait for the end of quiet hours", default=False)
    typed: Mapping[str, str] = told("What was typed, where it came back", default_factory=dict)
    problem: str = told("What is wrong with what was sent, or empty", default="")
    said: str = told("What has just been done, or empty", default="")


@dataclass(frozen=True)
class LimitsPage:
    """The rooms against agreed and published limits."""

    template: ClassVar[str] = "limits.html"
    section: ClassVar[str] = "air"
    zone: str = told("IANA zone of the site")
    first_utc: datetime = told("Start of the record that was judged")
    last_utc: datetime = told("End of the record that was judged")
    answer: str = told("The answer in one sentence")
    lines: Sequence[LimitLine] = told("One line a room and limit, rooms together")


@dataclass(frozen=True)
class AirPage:
    """One room's air over a longer time: figures, psychrometric picture, carpet."""

    template: ClassVar[str] = "air.html"
    section: ClassVar[str] = "air"
    zone: str = told("IANA zone of the site")
    room_id: str = told("The room shown")
    room_name: str = told("The room's name")
    rooms: Sequence[Choice] = told("All rooms, to change to another")
    first_utc: datetime = told("Start of the period")
    last_utc: datetime = told("End of the period")
    answer: str = told("The answer in one sentence")
    statistics: Sequence[StatisticLine] = told("Figures with their definition and coverage")
    psychrometric: Markup | None = told("Temperature against humidity ratio, or None")
    psychrometric_words: str = told("The sentence under that picture")
    carpet: Markup | None = told("RH by hour and day over the year, or None")
    carpet_words: str = told("The sentence under that picture")
    findings: Sequence[Finding] = told("What the record says, question by question", default=())
    limits: Sequence[LimitLine] = told("The agreed band and the common limits", default=())
    more_limits: Sequence[LimitGroup] = told("Every other published limit, by group", default=())


@dataclass(frozen=True)
class SourcesPage:
    """Every number with its origin."""

    template: ClassVar[str] = "sources.html"
    section: ClassVar[str] = "sources"
    tables: Mapping[str, Sequence[Parameter]] = told("Rows of each table of published numbers")
    references: Sequence[ReferenceLine] = told("The bibliography, by key")


@dataclass(frozen=True)
class GuidesPage:
    """The guides."""

    template: ClassVar[str] = "guides.html"
    section: ClassVar[str] = "guides"
    guides: Sequence[GuideLine] = told("The guides, in reading order")


@dataclass(frozen=True)
class GuidePage:
    """One guide, set from its Markdown."""

    template: ClassVar[str] = "guide.html"
    section: ClassVar[str] = "guides"
    title: str = told("The guide's title")
    body: Markup = told("The guide as HTML: `render.guide_html(markdown)`")


@dataclass(frozen=True)
class PlanIndexPage:
    """What can be planned."""

    template: ClassVar[str] = "plans.html"
    section: ClassVar[str] = "plan"
    works: Sequence[Choice] = told("Works that can be planned for")
    rooms: Sequence[Choice] = told("Rooms whose year can be used")


@dataclass(frozen=True)
class PlanPage:
    """One planning question: mounting, hanging, sealing, spacer, set points. No command."""

    template: ClassVar[str] = "plan.html"
    section: ClassVar[str] = "plan"
    question: str = told("The question, which is the heading")
    answer: str = told("The answer in one sentence")
    form: Sequence[FormField] = told("What may be changed; sent to the same address by GET")
    picture: Markup | None = told("The picture, or None")
    picture_words: str = told("The sentence under the picture")
    reasons: Sequence[str] = told("Why, in plain sentences, each with its range")
    table: Table | None = told("The figures, or None")
    assumed: Sequence[str] = told("What was assumed because it is not known")
    picture_narrow: Markup | None = told("The picture for a phone; None: the same", default=None)
    warnings: Sequence[str] = told("What speaks against it, before all else", default=())
    cautions: Sequence[str] = told("What to bear in mind before acting on it", default=())
    upload: str = told("Address to which a forecast file may be sent, or empty", default="")


@dataclass(frozen=True)
class MountSheetPage:
    """The mount sheet for the bench, to be printed."""

    template: ClassVar[str] = "mount_sheet.html"
    section: ClassVar[str] = "plan"
    work: Work = told("The work the sheet is for")
    drawing: Markup | None = told("Panel, print and hinges to scale")
    blocks: Sequence[SheetBlock] = told("Sizes, hinges, adhesive, order of work, target RH")
    cautions: Sequence[str] = told("Cautions for solvents, handling and height")
    form: Sequence[FormField] = told("What may be changed; sent to the same address", default=())
    boxes: Sequence[str] = told("What to write down at the bench", default=())
    paper: str = told("Address of the sheet as one page to print, or empty", default="")


@dataclass(frozen=True)
class ErrorPage:
    """Something could not be done: what, where, found, expected, what to do."""

    template: ClassVar[str] = "error.html"
    section: ClassVar[str] = ""
    status: int = told("HTTP status")
    heading: str = told("One short sentence: what could not be done")
    read: str = told("What was read")
    where: str = told("The place in it, or empty")
    found: str = told("What was found")
    expected: str = told("What was expected")
    action: str = told("What a person can do")
    kept: str = told("What was kept all the same, or empty", default="")


PAGES = (
    ThisWeek,
    RoomWeekPage,
    WorkPage,
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
