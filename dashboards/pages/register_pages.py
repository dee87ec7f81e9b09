"""The pages of the register: what each template receives (see `dashboards.pages.page`)."""

# ruff: noqa: RUF009  (each field calls `documented`, which makes a new field every time)
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from analysis.results import Judgement
from dashboards.forms.form import RecordForm
from dashboards.pages.long_list import Leaf
from dashboards.pages.page import documented
from dashboards.pages.record_facts import Fact

# The rows that the pages of the register are made of.


@dataclass(frozen=True)
class WorkLine:
    """One work in the list of all; ``words`` say why there is no judgement, where there is none."""

    work_id: str
    title: str
    room_id: str = ""
    room_name: str = ""
    judgement: Judgement | None = None
    words: str = ""


@dataclass(frozen=True)
class RoomLine:
    """One room in the list of all; ``words`` say how it is measured."""

    room_id: str
    room_name: str
    words: str
    measured: bool = True


@dataclass(frozen=True)
class WorksPage:
    """All works and rooms."""

    template: ClassVar[str] = "works.html"
    section: ClassVar[str] = "works"
    answer: str = documented("How many works there are and how many were found, in one sentence")
    search: str = documented("What was searched for, or empty")
    works: Sequence[WorkLine] = documented("The works found, by number, or a part of them")
    rooms: Sequence[RoomLine] = documented("All rooms, galleries first")
    saved: str = documented("A sentence after a form was sent, or empty", default="")
    part: Leaf | None = documented("Which part of the works found is shown", default=None)


@dataclass(frozen=True)
class FormPage:
    """One form of the register: to add, to correct, to take out, to work out."""

    template: ClassVar[str] = "record_form.html"
    section: ClassVar[str] = "works"
    question: str = documented("The question the form asks, which is the heading")
    answer: str = documented("What the form is for, in one or two sentences")
    form: RecordForm = documented("The form, with what was typed and what is wrong with it")
    notes: Sequence[str] = documented("What to know or to mind, as sentences; may be empty")
    result: Sequence[str] = documented("What was worked out so far, as sentences; may be empty")
    back: str = documented("Address to go back to without changing anything")
    back_words: str = documented("Words of that link")


@dataclass(frozen=True)
class Entry:
    """One dated entry of a record, with where it is corrected or taken out."""

    heading: str
    facts: Sequence[Fact]
    correct: str
    take_out: str = ""


@dataclass(frozen=True)
class RecordPart:
    """One part of a record, newest entry first, and where another is added.

    ``folded``: what stands beside its heading while it is folded; empty: it stands open.
    ``anchor``: its name within the page, where an address leads to it.
    """

    heading: str
    entries: Sequence[Entry]
    none: str = ""
    add: str = ""
    add_words: str = ""
    folded: str = ""
    anchor: str = ""


@dataclass(frozen=True)
class ChangeLine:
    """One change to a record: when, by whom, what."""

    at_utc: datetime
    by: str
    words: str


@dataclass(frozen=True)
class StatedLine:
    """A number somebody stated: what, by whom measured, whether it still counts."""

    words: str
    value: str
    origin: str
    since_utc: datetime | None
    withdrawn: str = ""
    withdrawn_utc: datetime | None = None
    correct: str = ""
    withdraw: str = ""


@dataclass(frozen=True)
class WorkRecordPage:
    """Everything the register knows of one work, newest first."""

    template: ClassVar[str] = "work_record.html"
    section: ClassVar[str] = "works"
    zone: str = documented("IANA zone of the site")
    work_id: str = documented("Number of the work")
    title: str = documented("Title of the work")
    missing: Sequence[Fact] = documented("Facts that nobody has written down and that would help")
    print: Sequence[Fact] = documented("The print itself, as facts")
    parts: Sequence[RecordPart] = documented("Mountings, framings, hangings")
    stated: Sequence[StatedLine] = documented(
        "Numbers measured for this work, those in force first"
    )
    changes: Sequence[ChangeLine] = documented("The last changes, newest first")
    saved: str = documented("A sentence after a form was sent, or empty", default="")
    problem: str = documented(
        "What stands here that nothing can be computed with, as a sentence, or empty", default=""
    )


@dataclass(frozen=True)
class ParameterLine:
    """One number that may be stated: its words, the tables' range, its source, what is stated."""

    name: str
    words: str
    table: str
    source: str
    origin: str
    stated: str = ""


@dataclass(frozen=True)
class ParameterGroup:
    """Numbers of one part of the work."""

    heading: str
    lines: Sequence[ParameterLine]


@dataclass(frozen=True)
class MeasuredPage:
    """The numbers that may be stated of a work in place of the tables'."""

    template: ClassVar[str] = "measured.html"
    section: ClassVar[str] = "works"
    zone: str = documented("IANA zone of the site")
    work_id: str = documented("Number of the work")
    title: str = documented("Title of the work")
    groups: Sequence[ParameterGroup] = documented(
        "Every number that may be stated, by part of the work"
    )
    stated: Sequence[StatedLine] = documented("Numbers stated so far, those in force first")
    half_time: str = documented("Address where a half-time is fitted to a logger in the frame")
    saved: str = documented("A sentence after a form was sent, or empty", default="")


@dataclass(frozen=True)
class RoomRecordPage:
    """Everything the register knows of one room."""

    template: ClassVar[str] = "room_record.html"
    section: ClassVar[str] = "works"
    zone: str = documented("IANA zone of the site")
    room_id: str = documented("Short name of the room")
    room_name: str = documented("Its name as shown")
    facts: Sequence[Fact] = documented("The room and its house, as facts")
    parts: Sequence[RecordPart] = documented("Loggers in the room, and the bands agreed for it")
    measured: bool = documented("Whether there are readings of this room")
    changes: Sequence[ChangeLine] = documented("The last changes, newest first")
    saved: str = documented("A sentence after a form was sent, or empty", default="")


@dataclass(frozen=True)
class HousePage:
    """What concerns the whole house: its calendar, or how its instruments were checked."""

    template: ClassVar[str] = "house_record.html"
    section: ClassVar[str] = "works"
    question: str = documented("The question the page answers, which is its heading")
    answer: str = documented("The answer in one or two sentences")
    parts: Sequence[RecordPart] = documented("What is written down, newest first")
    tables: Sequence[tuple[str, str]] = documented("Its tables to be taken away: name, words")
    address: str = documented("Its own address, to which it need not lead")
    saved: str = documented("A sentence after a form was sent, or empty", default="")


@dataclass(frozen=True)
class SheetRow:
    """One row of a spreadsheet of works: which work, what becomes of it, what is wrong with it."""

    number: int
    work_id: str
    title: str
    outcome: str
    problem: str = ""


@dataclass(frozen=True)
class WorksImportPage:
    """Works from a spreadsheet: asked for, shown before it is kept, kept."""

    template: ClassVar[str] = "works_import.html"
    section: ClassVar[str] = "works"
    answer: str = documented("What the sheet brings, or what is asked for, in one or two sentences")
    rows: Sequence[SheetRow] = documented("Each row of the sheet; empty before there is one")
    understood: Sequence[str] = documented("Each column that was understood, and what it fills")
    not_read: Sequence[str] = documented("Headings that were not understood")
    table: str = documented("The sheet, to be sent along when it is kept; empty: nothing to keep")
    headings: Sequence[str] = documented(
        "Headings that are understood, for whoever has no sheet yet"
    )


REGISTER_PAGES = (
    WorksImportPage,
    HousePage,
    WorksPage,
    FormPage,
    WorkRecordPage,
    MeasuredPage,
    RoomRecordPage,
)
