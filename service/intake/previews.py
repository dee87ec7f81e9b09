"""What was understood of an upload, as the rows of its preview page."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from analysis.errors import StilltautError
from dashboards.lines import Choice, ColumnLine, LoggerChoice, ProblemLine, Question, Table
from dashboards.pages.page import BringInPreview, BringInQuestion
from dashboards.text import wording
from service.answers.museum import Museum
from service.errors import QuestionError
from service.ingest.choice import Choice as Confirmed
from service.ingest.files.opened import first_lines
from service.ingest.read import FileReading, read_bytes
from service.ingest.understanding import Understanding
from service.intake.import_options import as_sent, choice_of
from service.intake.taking_in import PRESENT, remembered_choice
from service.storage import loggers
from service.storage.loggers import Placement
from service.storage.uploads import uploads

# What a column may be taken for, in the words of the page.
QUANTITIES: Mapping[str, str] = {
    "temp_c": "temperature of the air",
    "rh_pct": "relative humidity of the air",
    "dew_point_c": "dew point",
}
DAY_FIRST = Question(
    "day_first",
    "The dates fit two readings. Which number is the day?",
    (
        Choice("yes", "the first: 03/04 is 3 April"),
        Choice("no", "the second: 03/04 is 4 March"),
    ),
)
LETTERS = {
    "%Y": "YYYY",
    "%y": "YY",
    "%m": "MM",
    "%d": "DD",
    "%b": "Mon",
    "%B": "Month",
    "%H": "hh",
    "%I": "hh",
    "%M": "mm",
    "%S": "ss",
    "%f": "fff",
    "%p": "AM/PM",
    "%z": "+hh:mm",
    "%j": "day of the year",
}
ROWS_SHOWN = 8


@dataclass(frozen=True)
class Waiting:
    """An upload that waits for a person: the file as it was kept, and what was said of it."""

    name: str
    sha256: str
    data: bytes
    logger_id: str
    sent: Mapping[str, str]

    @property
    def token(self) -> str:
        """What names it in forms."""
        return f"{self.sha256}/{self.name}"


def preview(museum: Museum, waiting: Waiting) -> BringInPreview | BringInQuestion:
    """Return the preview of an upload, or the question that stands before it.

    Nothing is stored yet.

    Raises
    ------
    StilltautError
        If the file is no table of readings.
    """
    try:
        reading, questions = _read(museum, waiting)
    except QuestionError as question:
        return _question(museum, waiting, question)
    return _understood(museum, waiting, reading, questions)


def _question(museum: Museum, waiting: Waiting, question: QuestionError) -> BringInQuestion:
    return BringInQuestion(
        token=waiting.token,
        file_name=waiting.name,
        logger_id=waiting.logger_id,
        where=question.where,
        found=question.found,
        expected=question.expected,
        action="" if "--" in question.action else question.action,  # options of the commands
        said=as_sent(waiting.sent),
        first_rows=_first_rows(waiting),
    )


def _understood(
    museum: Museum, waiting: Waiting, reading: FileReading, questions: Sequence[Question]
) -> BringInPreview:
    known = reading.understanding
    logger_id = waiting.logger_id
    choice = remembered_choice(museum.stores, logger_id) if logger_id else None
    earlier = uploads(museum.stores.register, sha256=waiting.sha256, states=PRESENT)
    return BringInPreview(
        token=waiting.token,
        file_name=waiting.name,
        sha256=waiting.sha256,
        said=as_sent(waiting.sent),
        earlier=[
            f"{one.logger}, {wording.date_time(one.received_utc, museum.zone)}" for one in earlier
        ],
        layout=_layout(known),
        time_base=_time_base(known, museum.zone),
        columns=_columns(reading),
        first_rows=_first_rows(waiting),
        readings=known.rows.readings,
        unreadable=known.rows.unreadable,
        problems=[
            ProblemLine(p.line or None, p.column, p.found, p.expected, "apart" not in p.kept)
            for p in known.problems
        ],
        questions=questions,
        zones=_zones(museum.zone, known.time.zone or _zone(museum, logger_id)),
        loggers=logger_choices(museum, logger_id),
        remembered=_remembered(logger_id) if _fits(choice, reading) and not questions else "",
    )


def _fits(choice: Confirmed | None, reading: FileReading) -> bool:
    return choice is not None and choice.headings == reading.choice.headings


def _remembered(logger_id: str) -> str:
    return f"The last file of {logger_id} was read in this way, and this one fits it."


def _read(museum: Museum, waiting: Waiting) -> tuple[FileReading, Sequence[Question]]:
    said = choice_of(waiting.sent)
    logger_id = waiting.logger_id
    read = partial(
        read_bytes,
        waiting.name,
        waiting.data,
        zone=_zone(museum, logger_id),
        columns=said.columns,
        start=said.start,
        interval_s=said.interval_s,
        choice=remembered_choice(museum.stores, logger_id) if logger_id else None,
    )
    try:
        return read(day_first=said.day_first), ()
    except QuestionError as question:
        try:
            return read(day_first=True), (DAY_FIRST,)
        except StilltautError:
            raise question from None


def _zone(museum: Museum, logger_id: str) -> str | None:
    known = loggers.logger_named(museum.stores.register, logger_id) if logger_id else None
    return known.zone if known is not None and known.zone else None


def _layout(known: Understanding) -> list[tuple[str, str]]:
    names = {"\t": "tab", " ": "blanks", ",": "comma", ";": "semicolon", "|": "bar"}
    return [
        ("Encoding", known.encoding),
        ("Columns parted by", names.get(known.delimiter, known.delimiter)),
        ("Decimal mark", names.get(known.decimal, known.decimal)),
        ("Lines before the readings", str(known.header_lines)),
        ("Rows", f"{known.rows.total:,}"),
        *(("Note", note) for note in known.notes),
        *([("Left aside", ", ".join(known.left_aside))] if known.left_aside else []),
    ]


def _time_base(known: Understanding, zone: str) -> list[tuple[str, str]]:
    time = known.time
    pairs = [
        ("Column", ", ".join(time.columns)),
        ("Written as", as_written(time.format)),
        ("Clock", time.zone or "not declared in the file"),
        ("In the file", f"{time.first_written} to {time.last_written}"),
        ("Order", time.order),
    ]
    if time.first_utc and time.last_utc:
        span = (wording.date_time(t, zone) for t in (time.first_utc, time.last_utc))
        pairs.append(("On the site's clock", " to ".join(span)))
    if time.interval_s:
        pairs.append(("One reading every", wording.interval(time.interval_s)))
    return pairs


def as_written(shape: str) -> str:
    """Return the shape of a file's times in letters that people know.

    Examples
    --------
    >>> as_written("%d/%m/%Y %H:%M"), as_written("epoch s")
    ('DD/MM/YYYY hh:mm', 'epoch s')
    """
    for code, letters in LETTERS.items():
        shape = shape.replace(code, letters)
    return shape


def _columns(reading: FileReading) -> list[ColumnLine]:
    one_sensor = len(reading.sensors) == 1
    return [
        ColumnLine(
            column=channel.column,
            quantity=QUANTITIES.get(channel.quantity, channel.quantity),
            unit=channel.unit,
            why=f"sensor {channel.name}" if channel.name and not one_sensor else "",
            readings=channel.readings,
            missing=channel.missing,
            low=channel.minimum if channel.readings else None,
            high=channel.maximum if channel.readings else None,
            options=_options(channel.quantity) if one_sensor else (),
        )
        for channel in reading.understanding.channels
    ]


def _options(quantity: str) -> tuple[Choice, ...]:
    if quantity not in QUANTITIES:
        return ()
    return tuple(Choice(name, words, name == quantity) for name, words in QUANTITIES.items())


def _first_rows(waiting: Waiting) -> Table:
    lines = first_lines(waiting.name, waiting.data, choice_of(waiting.sent).columns, ROWS_SHOWN)
    return Table(
        ("Line", "As it stands"), [(str(n), line[:160]) for n, line in enumerate(lines, 1)]
    )


def _zones(site_zone: str, chosen: str | None) -> list[Choice]:
    words = {
        site_zone: f"{site_zone}, with summer time",
        f"{site_zone} no-dst": f"{site_zone}, winter time all year",
        "UTC": "UTC",
    }
    if chosen and chosen not in words:
        words = {chosen: chosen} | words
    return [Choice(zone, said, zone == (chosen or site_zone)) for zone, said in words.items()]


def logger_choices(museum: Museum, chosen: str = "") -> list[LoggerChoice]:
    """Return the loggers a file may belong to, each with the room it hangs in."""
    hung: dict[str, Placement] = {p.logger: p for p in museum.placements()}
    names = {room.room: room.name for room in museum.every_room()}
    return [
        LoggerChoice(
            logger_id=one.logger,
            room_name=names.get(hung[one.logger].room, "") if one.logger in hung else "",
            remembered="read before"
            if loggers.remembered_choice(museum.stores.register, one.logger)
            else "",
            chosen=one.logger == chosen,
        )
        for one in loggers.loggers(museum.stores.register)
    ]
