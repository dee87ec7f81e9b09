"""The rows that the pages of the register are made of."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from analysis.results import Judgement
from dashboards.pages.mount_record import Fact


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
class Entry:
    """One dated entry of a record, with where it is corrected or taken out."""

    heading: str
    facts: Sequence[Fact]
    correct: str
    take_out: str = ""


@dataclass(frozen=True)
class RecordPart:
    """One part of a record, newest entry first, and where another is added."""

    heading: str
    entries: Sequence[Entry]
    none: str = ""
    add: str = ""
    add_words: str = ""


@dataclass(frozen=True)
class ChangeLine:
    """One change to a record: when, by whom, what."""

    at_utc: datetime
    by: str
    words: str


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
class SheetRow:
    """One row of a spreadsheet of works: which work, what becomes of it, what is wrong with it."""

    number: int
    work_id: str
    title: str
    outcome: str
    problem: str = ""
