"""What stands in the register, as tables to be taken away: works, loggers, calendar, changes."""

from collections.abc import Iterable, Mapping
from typing import Any

from analysis.parameters import tables
from analysis.records.declaration import Field, declared
from analysis.records.house_records import CalendarEvent
from analysis.records.room_records import Calibration, Logger, SideBySide
from analysis.references import status_words
from dashboards.text.account_text import changed_words
from dashboards.text.measure_text import ACT_WORDS, where_words
from dashboards.text.messages import _
from service.answers.lenders_statements import statement_lines
from service.answers.measuring import measure_next, room_names
from service.answers.museum import Museum
from service.records.record_pages import work_lines
from service.storage import audit
from service.storage.loggers import calibrations, loggers, side_by_side
from service.storage.places import calendar
from service.storage.records import values_of
from service.storage.uploads import uploads
from service.tables.table_files import Cell, FileTable

EVERY_CHANGE = 1_000_000


def works_table(museum: Museum) -> FileTable:
    """Return all works, as the page of works lists them."""
    headings = (_("work"), _("title"), _("room"), _("state"), _("why nothing is told"))
    rows = [
        (one.work_id, one.title, one.room_name,
         None if one.judgement is None else one.judgement.state.value, one.words)
        for one in work_lines(museum)
    ]  # fmt: skip
    return FileTable("works", headings, rows)


def calendar_table(museum: Museum) -> FileTable:
    """Return what is planned and what was going on."""
    return _declared("calendar", CalendarEvent, calendar(museum.stores.register))


def instruments_table(museum: Museum) -> FileTable:
    """Return the loggers as they are written down."""
    return _declared("instruments", Logger, loggers(museum.stores.register))


def checks_table(museum: Museum) -> FileTable:
    """Return how the loggers were checked against references."""
    return _declared("checks", Calibration, calibrations(museum.stores.register))


def beside_table(museum: Museum) -> FileTable:
    """Return which loggers hung side by side."""
    return _declared("side-by-side", SideBySide, side_by_side(museum.stores.register))


def _declared(name: str, record: Any, entries: Iterable[Any]) -> FileTable:
    """Return records with a column for each of their fields, headed as their form has it."""
    fields: Mapping[str, Field] = declared(record)
    headings = [f"{_(f.label)} [{f.unit}]" if f.unit else _(f.label) for f in fields.values()]
    rows = [[_plain(values_of(one)[name]) for name in fields] for one in entries]
    return FileTable(name, headings, rows)


def _plain(value: Any) -> Cell:
    return _("yes") if value is True else _("no") if value is False else value


def measure_table(museum: Museum) -> FileTable:
    """Return what to measure next, what settles most for its time first."""
    headings = (
        _("what to do"), _("where"), _("answers settled"), _("time it takes [min]"),
        _("time it takes, least [min]"), _("time it takes, most [min]"),
        _("answers settled in a quarter of an hour"),
    )  # fmt: skip
    rooms = room_names(museum)
    rows = [
        (ACT_WORDS[one.act], where_words(one, rooms), one.settles, one.minutes.value,
         one.minutes.low, one.minutes.high, one.per_quarter_hour)
        for one in measure_next(museum)
    ]  # fmt: skip
    return FileTable("measure", headings, rows)


def numbers_table(_museum: Museum) -> FileTable:
    """Return every number that the estimates use, with its origin."""
    headings = (
        _("table"), _("number"), _("value"), _("from"), _("to"), _("unit"), _("status"),
        _("source"), _("place"), _("note"),
    )  # fmt: skip
    rows = [
        (name, row.name, row.value, row.low, row.high, row.unit, status_words(row),
         row.source, row.place, row.note)
        for name, parts in tables().items()
        for found in parts.values()
        for row in found.values()
    ]  # fmt: skip
    return FileTable("numbers", headings, rows)


def uploads_table(museum: Museum) -> FileTable:
    """Return every file that was brought in, the newest first."""
    headings = (
        _("upload"), _("file"), _("logger"), _("received"), _("stored"), _("readings"),
        _("outcome"), _("by"), _("SHA-256 of its bytes"),
    )  # fmt: skip
    rows = [
        (one.id, one.name, one.logger, one.received_utc, one.stored_utc,
         sum(int(sensor.get("rows", 0)) for sensor in one.report.get("sensors", ())),
         str(one.state), one.by, one.sha256)
        for one in reversed(uploads(museum.stores.register))
    ]  # fmt: skip
    return FileTable("uploads", headings, rows)


def statements_table(museum: Museum) -> FileTable:
    """Return the climate statements that were issued, the newest first."""
    headings = (_("statement"), _("number"), _("title"), _("made"), _("in its place stands"))
    rows = [
        (one.id, one.facts["number"], one.facts["title"], one.facts["made"], newer)
        for one, newer in statement_lines(museum)
    ]
    return FileTable("statements", headings, rows)


def changes_table(museum: Museum, work: str = "", room: str = "") -> FileTable:
    """Return who changed what, the newest first: everywhere, of one work, or of one room."""
    headings = (_("change"), _("when"), _("what"), _("by"), _("account"), _("page"))
    found = audit.lines_about(
        museum.stores.register, work=work, room=room, before=0, limit=EVERY_CHANGE
    )
    rows = [
        (one.number, one.at_utc, changed_words(one.what, one.key, one.before, one.after), one.by,
         one.account, one.page)
        for one in found
    ]  # fmt: skip
    name = "-".join(filter(None, ("changes", work, room)))
    return FileTable(name, headings, rows)
