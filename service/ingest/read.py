"""Reading a logger's file: the bytes, the layout, the columns, the time base, in that order."""

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import pandas as pd

from analysis.errors import StilltautError
from service.errors import Answer, NotUnderstoodError, QuestionError, remark
from service.ingest.assembly import Assembly, Findings, assembled, report, unread_rows
from service.ingest.axis import require_one_time
from service.ingest.choice import AS_FOUND, DAMAGE, SEVERAL, Choice
from service.ingest.clock import Clock, confirmed_order
from service.ingest.clocksteps import shifted, turns_question
from service.ingest.columns import READINGS, columns_stated
from service.ingest.fields import DELIMITERS
from service.ingest.files.decode import Decoded
from service.ingest.files.opened import PART, PLACES, load, texts_of
from service.ingest.files.parts import as_before, others_noted, the_one
from service.ingest.files.stacked import as_one
from service.ingest.headings import headings_of, misfit
from service.ingest.layout import layout_of
from service.ingest.levels import require_one_level
from service.ingest.plan import Plan, not_as_many, plan_of
from service.ingest.quantities import WORDS
from service.ingest.sensors import Rows
from service.ingest.table import Table
from service.ingest.takencolumns import Taken, taken
from service.ingest.times.dateorder import ORDER
from service.ingest.times.timestamps import Bools
from service.ingest.understanding import Understanding

Hashed = Callable[[], str]


@dataclass(frozen=True)
class FileReading:
    """A file as it was read.

    Attributes
    ----------
    understanding : Understanding
        What was understood, to be shown before anything is stored.
    sensors : mapping of str to pandas.DataFrame
        Readings per sensor in the shape of `analysis.series.readings_frame`. The key is "" for a
        single sensor, else its name as in the file. While no zone is declared
        (``understanding.time.zone`` is None) the index holds the clock's own times.
    extras : mapping of str to pandas.DataFrame
        Other recognised quantities per sensor on the same index: ``dew_point_c``,
        ``pressure_pa``, ``humidity_ratio_kg_kg`` and the like.
    choice : Choice
        What to remember once a person has confirmed the understanding.
    """

    understanding: Understanding
    sensors: Mapping[str, pd.DataFrame]
    extras: Mapping[str, pd.DataFrame] = field(default_factory=dict)
    choice: Choice = field(default_factory=Choice)

    def require_zone(self) -> None:
        """Raise unless the time base is declared, before anything is stored.

        Raises
        ------
        QuestionError
            If neither the file nor the person said which clock the times are in.
        """
        if self.understanding.time.zone is None:
            raise QuestionError(
                read=self.understanding.file,
                where="column " + ", ".join(map(repr, self.understanding.time.columns)),
                found=f"times such as {self.understanding.time.first_written} without a zone",
                expected="to know which clock they follow",
                action="Add --zone Europe/Oslo (a place), --zone UTC+1 (a fixed offset) or "
                "--zone 'Europe/Oslo no-dst' (a clock that never changes to summer time).",
            )


def read_file(
    path: Path,
    *,
    zone: str | None = None,
    columns: Mapping[str, str] | None = None,
    choice: Choice | None = None,
    start: str | None = None,
    interval_s: float | None = None,
    day_first: bool | None = None,
) -> FileReading:
    """Return what a logger's file holds. See `read_bytes`."""
    asked = Choice(zone, dict(columns or {}), day_first, start, interval_s)
    return read_as(path.name, load(path), asked, choice)


def read_bytes(
    name: str,
    data: bytes,
    *,
    zone: str | None = None,
    columns: Mapping[str, str] | None = None,
    choice: Choice | None = None,
    start: str | None = None,
    interval_s: float | None = None,
    day_first: bool | None = None,
    hashed: Hashed | None = None,
) -> FileReading:
    r"""Return what a logger's file holds, given as bytes.

    Parameters
    ----------
    name : str
        The file's name, for messages.
    data : bytes
        The file as received.
    zone : str, optional
        The logger's clock: an IANA zone, a fixed offset, or a zone and "no-dst".
    columns : mapping of str to str, optional
        Quantity (``temp_c``, ``rh_pct``, ``dew_point_c``, …, ``time``, ``date``, ``sensor``) to
        heading or column number, said outright; a unit may follow in brackets.
    choice : Choice, optional
        What was confirmed for the logger before; what is said now goes before it.
    start : str, optional
        Time of the first reading, for a file without times.
    interval_s : float, optional
        Time between readings, for a file without times [s].
    day_first : bool, optional
        Whether the day stands before the month, where the file does not tell.
    hashed : callable, optional
        Gives the SHA-256 of ``data`` where somebody works it out meanwhile.

    Returns
    -------
    FileReading
        Nothing is filled, shifted or dropped: what is doubted is flagged and listed.

    Raises
    ------
    NotUnderstoodError
        If the bytes are no table of readings.
    QuestionError
        If the file can be read in two ways and a person must say which.
    UnknownNameError
        If a heading that was said is not in the file.

    Examples
    --------
    >>> text = "Zeit;Temp. (°C);Feuchte (%)\n31.12.2023 23:50;21,5;45\n01.01.2024 00:00;21,4;46"
    >>> reading = read_bytes("a.csv", text.encode(), zone="UTC+1")
    >>> reading.sensors[""]["temp_c"].tolist()
    [21.5, 21.4]
    """
    asked = Choice(zone, dict(columns or {}), day_first, start, interval_s)
    return read_as(name, data, asked, choice, hashed)


# What is said of one file and not remembered for the next.
ONCE = ("clock", "sure", DAMAGE)


def read_as(
    name: str,
    data: bytes,
    asked: Choice,
    remembered: Choice | None = None,
    hashed: Hashed | None = None,
) -> FileReading:
    """Return what a file holds, all that is said of it in one: see `read_bytes`."""
    remembered = remembered or Choice()
    stated = asked.columns
    texts = as_before(texts_of(name, data, stated), remembered.columns)
    columns = {quantity: stated[quantity] for quantity in stated if quantity not in PLACES}
    plain = replace(asked, columns=columns)
    text, reading = the_one(texts, lambda text: _text_reading(name, text, plain, remembered))
    places = {place: stated[place] for place in PLACES if place in stated}
    places |= {PART: text.part} if text.part else {}
    notes = (*others_noted(texts, text), *text.notes, *reading.understanding.notes)
    sha256 = hashed() if hashed else hashlib.sha256(data).hexdigest()
    return replace(
        reading,
        understanding=replace(reading.understanding, sha256=sha256, notes=notes),
        choice=replace(reading.choice, columns={**places, **reading.choice.columns}),
    )


def _text_reading(name: str, text: Decoded, asked: Choice, remembered: Choice) -> FileReading:
    try:
        found = _one_reading(name, text, asked, remembered)
    except (QuestionError, NotUnderstoodError) as problem:
        several = _tables_as_one(name, text, asked, remembered)
        if several is None and isinstance(problem, QuestionError):
            raise problem.beside(asked.columns, SEVERAL) from None
        if several is None:
            raise
        found = several
    if text.doubt and asked.columns.get(DAMAGE) != AS_FOUND:
        raise _disagreeing(text).beside(asked.columns, SEVERAL)
    return found


def _disagreeing(text: Decoded) -> QuestionError:
    """Return the question whether a sheet that disagrees with itself is read all the same."""
    assert text.doubt is not None
    as_found = Answer("its cells are right as they were found", {DAMAGE: AS_FOUND})
    return QuestionError(
        read=text.name,
        where=f"the sheet {text.part!r}",
        found=text.doubt.found,
        expected=f"{text.doubt.expected}, or to know that its cells are right",
        action="The workbook is damaged: open it in the program that wrote it, compare, save it "
        f"anew and give that file; or say that its cells are right: {as_found.options()}.",
        answers=[as_found],
    )


def _tables_as_one(
    name: str, text: Decoded, asked: Choice, remembered: Choice
) -> FileReading | None:
    """Return what tables that stand below one another hold, where they can be read as one."""
    stacked = as_one(text)
    if stacked is None:
        return None
    try:
        found = _one_reading(name, stacked, asked, remembered)
    except StilltautError:
        return None
    notes = (*stacked.notes[len(text.notes) :], *found.understanding.notes)
    return replace(found, understanding=replace(found.understanding, notes=notes))


def _one_reading(name: str, text: Decoded, asked: Choice, remembered: Choice) -> FileReading:
    plan, asked = planned(text, asked, remembered)
    return put_together(taken(name, plan, asked, remembered), asked, remembered)


def planned(text: Decoded, asked: Choice, remembered: Choice) -> tuple[Plan, Choice]:
    """Return what is to be read from where, and what is asked with what was confirmed before."""
    layout = layout_of(text)
    headings = headings_of(layout)
    if misfit(layout):
        raise not_as_many(text.name, layout, misfit(layout))
    if remembered.headings == tuple(heading.shown for heading in headings):
        known = {q: c for q, c in remembered.columns.items() if q not in (*PLACES, ORDER)}
        asked = replace(asked, columns={**known, **asked.columns})
    asked = asked.with_start()
    return plan_of(text, layout, headings, asked, remembered), asked


def put_together(found: Taken, asked: Choice, remembered: Choice) -> FileReading:
    """Return the readings of each sensor, and what was understood of them.

    Raises
    ------
    QuestionError
        If a clock was set within the rows, or times stand there more than once.
    """
    name, plan, clock, table = found.plan.text.name, found.plan, found.clock, found.table
    codes = (found.apart.names, found.apart.codes) if found.apart else None
    clock.notes += shifted(name, clock.times, table, asked.columns.get("clock", ""))
    assembly = assembled(clock, table, found.wide, codes)
    turns = assembly.set_clocks(bool(clock.zone))
    if turns and "clock" not in asked.columns:
        raise turns_question(name, turns, table)
    if "clock" not in asked.columns:
        require_one_time(name, assembly.conflicts(), plan.time.answer(), bool(clock.zone))
    _require_one_level(name, plan, assembly, asked)
    return FileReading(
        _understanding(found, assembly),
        {label: sensor.frame for label, sensor in assembly.sensors.items()},
        {label: sensor.extras for label, sensor in assembly.sensors.items()},
        confirmed(asked, remembered, found),
    )


def _require_one_level(name: str, plan: Plan, assembly: Assembly, asked: Choice) -> None:
    """Raise if a sensor's temperature leaps to another level and nobody vouches for its column."""
    sure = columns_stated(plan.headings, asked.columns, "sure")
    for label, sensor in assembly.sensors.items():
        settled = assembly.columns[label].get("temp_c")
        if settled and settled.column.index not in sure:
            require_one_level(name, sensor.frame, settled.column.heading)


def _understanding(found: Taken, assembly: Assembly) -> Understanding:
    plan, table, clock, apart = found.plan, found.table, found.clock, found.apart
    findings = Findings(table, list(clock.problems))
    findings.broken_lines(plan.layout.width)
    unread, unreadable = _unread(plan, table, clock)
    findings.unread_times(unread, ", ".join(plan.time.names), _written(plan, table, unread))
    report(findings, assembly, [heading.shown for heading in plan.headings])
    told = [*plan.evidence.split("\n"), apart.note if apart else ""]
    notes = [*clock.notes, *clock.times.notes, *found.notes, *_without_humidity(assembly)]
    notes += _without_values(assembly)
    notes += [note for note in told if note]
    used = {c.column.heading for part in assembly.columns.values() for c in part.values()}
    used |= {*plan.time.names, *(h.shown for h in (apart.headings if apart else ()))}
    used |= {h.shown for h in (*plan.tall.names, plan.tall.value)} if plan.tall else set()
    return Understanding(
        file=plan.text.name,
        encoding=plan.text.encoding + (f", {plan.text.part}" if plan.text.part else ""),
        delimiter=DELIMITERS[plan.layout.delimiter] or plan.layout.delimiter,
        decimal=plan.layout.decimal,
        header_lines=plan.layout.header_lines,
        time=assembly.time(clock, plan.time.names),
        channels=assembly.channels(),
        rows=assembly.rows(table, unreadable + len(table.apart)),
        problems=tuple(sorted(findings.problems, key=lambda problem: problem.line)),
        notes=tuple(notes),
        told_apart=tuple(h.shown for h in (apart.headings if apart else ())),
        left_aside=tuple(h.shown for h in plan.headings if h.name and h.shown not in used),
    )


def _without_humidity(assembly: Assembly) -> list[str]:
    """Return a note on each sensor that gives the dew point in place of the humidity."""
    return [
        remark(f"{label} gives a dew point and no relative humidity; none is worked out.")
        if label
        else remark("The file gives a dew point and no relative humidity; none is worked out.")
        for label, part in assembly.columns.items()
        if "dew_point_c" in part and "rh_pct" not in part
    ]


def _without_values(assembly: Assembly) -> list[str]:
    """Return a note on each column of temperature or humidity in which nothing stands."""
    return [
        remark(
            f"The column {channel.column!r} holds no {WORDS[channel.quantity]} in any row; if it "
            "was recorded, its heading stands over another column, or the file is damaged."
        )
        for channel in assembly.channels()
        if channel.quantity in READINGS and not channel.readings
    ]


def _filled(plan: Plan, table: Table) -> Bools:
    """Return which rows hold a number in any column."""
    filled = np.zeros(table.rows, np.bool_)
    for column in plan.columns:
        filled |= np.isfinite(table.numbers[column.index])
    return filled


def _unread(plan: Plan, table: Table, clock: Clock) -> tuple[Rows, int]:
    """Return the rows whose time cannot be read, and how many rows nothing is read from."""
    if clock.times.read.all() and not table.unread:
        return np.zeros(0, np.intp), 0
    filled = _filled(plan, table)
    without_time = unread_rows(clock.times.read, filled)
    textual = {row for row, _, _ in table.unread if not filled[row]}
    return without_time, len(textual | set(without_time.tolist()))


def _written(plan: Plan, table: Table, rows: Rows) -> list[str]:
    """Return what stands in the time columns of some rows."""
    columns = [h.index for h in plan.time.headings]
    sources = [table.texts.get(i, table.numbers.get(i)) for i in columns]
    return [
        " ".join(_cell(source[int(row)]) for source in sources if source is not None)
        for row in rows
    ]


def _cell(value: object) -> str:
    plain = value.as_py() if hasattr(value, "as_py") else value
    return "" if plain is None else f"{plain:g}" if isinstance(plain, float) else str(plain)


def confirmed(asked: Choice, remembered: Choice, found: Taken) -> Choice:
    """Return what to remember of how a file was read."""
    order = confirmed_order(found.clock.times)
    return Choice(
        zone=asked.zone or remembered.zone,
        columns={key: text for key, text in asked.columns.items() if key not in ONCE},
        day_first=asked.day_first if order is None else order,
        start=asked.start,
        interval_s=asked.interval_s,
        headings=tuple(heading.shown for heading in found.plan.headings),
    )
