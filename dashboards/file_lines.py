"""The rows of files in hand: sensors, columns, questions, conflicts and receipts."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from markupsafe import Markup

from dashboards.lines import Choice, Table


@dataclass(frozen=True)
class LoggerChoice:
    """A logger that an export may belong to: where it hangs, the clock it follows."""

    logger_id: str
    room_name: str
    clock: str = ""
    chosen: bool = False
    shown: str = ""


@dataclass(frozen=True)
class UploadLine:
    """One upload of the past: its number, when, which file, which logger, how it ended."""

    at_utc: datetime
    file_name: str
    logger_id: str
    outcome: str
    readings: int = 0
    number: int = 0
    stored: bool = False


@dataclass(frozen=True)
class ColumnLine:
    """One column of an export: what it is taken for, in words, and what it may be instead.

    ``mark`` is the word at its first cells: temperature, humidity, time; empty: it is not used.
    ``alone`` tells that the file holds one sensor.
    """

    column: str
    taken_for: str
    mark: str
    readings: int | None
    missing: int
    low: float | None
    high: float | None
    options: Sequence[Choice] = ()
    as_taken: str = ""
    alone: bool = True


@dataclass(frozen=True)
class SensorLine:
    """One sensor in a file, and the loggers it may go to."""

    name: str
    readings: int
    options: Sequence[Choice]


@dataclass(frozen=True)
class ProblemLine:
    """Something in a file that was not read as a number, or was doubted."""

    line: int | None
    column: str
    found: str
    expected: str
    kept: bool


@dataclass(frozen=True)
class ConflictLine:
    """Another value for a time that a logger had already; the first was kept."""

    at_utc: datetime
    logger_id: str
    channel: str
    kept: float
    offered: float


@dataclass(frozen=True)
class TokenLine:
    """A token under which a gateway sends one logger's readings, or a named program asks."""

    number: int
    logger_id: str
    per_hour: int
    made_utc: datetime
    used_utc: datetime | None
    by: str
    revoked: bool
    name: str = ""
    scope: str = ""


@dataclass(frozen=True)
class Receipt:
    """What became of an upload, to the reading; of a forecast, when it was made."""

    file_name: str
    sha256: str
    logger_id: str
    room_id: str
    room_name: str
    rows: int
    new: int
    already_known: int
    conflicts: int
    unreadable: int
    flagged: int
    first_utc: datetime | None
    last_utc: datetime | None
    already_stored: bool = False
    notices: Sequence[str] = ()
    upload: int = 0
    received_utc: datetime | None = None
    forecast_utc: datetime | None = None
    conflicts_listed: Sequence[ConflictLine] = ()


@dataclass(frozen=True)
class FilePreview:
    """What was understood of a file, before a single reading of it is stored.

    ``known`` counts the readings, over all sensors, for whose time their logger has a value
    already, which stays; ``new`` the others.
    """

    readings: int
    unreadable: int
    picture: Markup | None
    facts: Sequence[tuple[str, str]]
    more: Sequence[tuple[str, str]]
    doubts: Sequence[str]
    asked: Sequence[str]
    sensors: Sequence[SensorLine]
    problems: Sequence[ProblemLine]
    remembered: str = ""
    known: int = 0
    new: int = 0


@dataclass(frozen=True)
class FileQuestion:
    """What must be known before a file can be read: the five parts, and answers to choose from."""

    where: str
    found: str
    expected: str
    action: str
    answers: Sequence[Choice] = ()


@dataclass(frozen=True)
class FileInHand:
    """One file on its way in: a preview, a question, how far it is, a receipt or a problem."""

    job_id: str
    file_name: str
    sha256: str
    state: str
    step: str = ""
    stored: bool = False
    logger_id: str = ""
    preview: FilePreview | None = None
    question: FileQuestion | None = None
    receipt: Receipt | None = None
    problem: Sequence[tuple[str, str]] = ()
    columns: Sequence[ColumnLine] = ()
    told_apart: Sequence[Choice] = ()
    first_rows: Table | None = None
    stated: Mapping[str, str] = field(default_factory=dict)
    loggers: Sequence[LoggerChoice] = ()
    rooms: Sequence[Choice] = ()
    rhythms: Sequence[Choice] = ()
    rhythm_why: str = ""
    rhythm_asked: bool = False
    zones: Sequence[Choice] = ()
    suggested: str = ""
    earlier: bool = False
