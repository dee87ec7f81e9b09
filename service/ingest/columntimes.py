"""From the columns that hold the time to the times of the rows."""

from dataclasses import replace

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from service.errors import remark
from service.ingest.table import Floats, Table
from service.ingest.timecolumns import EPOCHS, TimeColumns
from service.ingest.timeless import spread_over_days
from service.ingest.times.clockcells import Clocks, clocks_of
from service.ingest.times.timebase import DAY_US, SECOND_US, Micros
from service.ingest.times.timestamps import Bools, Times, parsed

# Spreadsheets count days from this one.
_DAY_ZERO_US = -25_569 * DAY_US


def times_of(name: str, columns: TimeColumns, table: Table, order: str | None = None) -> Times:
    """Return the times of a table's rows.

    Raises
    ------
    NotUnderstoodError, QuestionError
        As `timestamps.parsed` does.
    """
    where = "column " + ", ".join(map(repr, columns.names))
    if columns.kind == "stamp":
        return parsed(name, where, table.texts[columns.headings[0].index], order)
    if columns.kind == "date and clock":
        date, clock = (table.texts[heading.index] for heading in columns.headings)
        return with_clock(_dates(name, where, date, order), clocks_of(clock, columns.form))
    if columns.kind == "carried":
        date, clock = (table.texts[heading.index] for heading in columns.headings)
        times = with_clock(
            _dates(name, where, _carried(date), order), clocks_of(clock, columns.form)
        )
        note = remark("A date stands for the rows below it, down to the next date, as said.")
        return replace(times, notes=(*times.notes, note))
    if columns.kind == "days and clock":
        clock = table.texts[columns.headings[1].index]
        return with_clock(_from_days(columns, table), clocks_of(clock, columns.form))
    if columns.kind in ("parts", "year and day"):
        return _from_parts(columns, table)
    if columns.kind == "evenly":
        dates = _dates(name, where, table.texts[columns.headings[0].index], order)
        return spread_over_days(name, dates)
    return _from_days(columns, table) if columns.kind == "days" else _from_epoch(columns, table)


def _dates(name: str, where: str, written: pa.ChunkedArray, order: str | None) -> Times:
    """Return the days of a column of dates, each different one being read once."""
    column = written.combine_chunks() if isinstance(written, pa.ChunkedArray) else written
    coded = pc.utf8_trim_whitespace(column).dictionary_encode()
    coded = coded.combine_chunks() if isinstance(coded, pa.ChunkedArray) else coded
    # The order of day and month is told by the dates in the order in which they stand.
    days = parsed(name, where, coded.dictionary, order)
    rows = coded.indices.fill_null(len(coded.dictionary)).to_numpy(zero_copy_only=False)
    days.clock_us = np.append(days.clock_us, 0)[rows]
    days.read = np.append(days.read, False)[rows]
    return days


def _carried(dates: pa.ChunkedArray) -> pa.ChunkedArray:
    """Return a column of dates with each carried down to the rows without one."""
    text = pc.utf8_trim_whitespace(dates)
    return pc.fill_null_forward(pc.if_else(pc.equal(text, ""), None, text))


def with_clock(days: Times, clocks: Clocks) -> Times:
    """Return dates with the clock that stands beside them."""
    days.clock_us = days.clock_us + clocks.since_us
    days.read = days.read & clocks.read
    days.format += f" {clocks.form}"
    if clocks.has_offset:
        days.has_offset, days.offset_us = True, clocks.offset_us
    return days


def _whole(values: Floats) -> tuple[Micros, Bools]:
    """Return numbers as whole ones, and which of them are small enough to be a part of a time."""
    good = np.isfinite(values) & (np.abs(values) < 100_000)
    return np.where(good, values, 0).astype(np.int64), np.asarray(good)


def _from_parts(columns: TimeColumns, table: Table) -> Times:
    """Return times put together from year, month and day, or year and its day, and a clock."""
    texts, named = columns.texts(), dict(zip(columns.parts, columns.headings, strict=True))
    values = {p: table.numbers[h.index] for p, h in named.items() if h.index not in texts}
    year, read = _whole(values["year"])
    starts = (year - 1970).astype("datetime64[Y]")
    read &= (year > 0) & (year < 10_000)
    if columns.kind == "parts":
        month, day, real = *_whole(values["month"])[:1], *_whole(values["day"])
        months = starts.astype("datetime64[M]") + (month - 1)
        dates = months.astype("datetime64[D]") + (day - 1)
        read &= real & (dates.astype("datetime64[M]") == months) & (month >= 1) & (month <= 12)
    else:
        day, real = _whole(values["day of the year"])
        dates = starts.astype("datetime64[D]") + (day - 1)
        read &= real & (dates.astype("datetime64[Y]") == starts)
    clock_us = np.where(read, dates.astype(np.int64), 0) * DAY_US
    for part, unit in (("minute", 60), ("second", 1)):
        if part in values:
            good = np.isfinite(values[part]) & (values[part] >= 0) & (values[part] < 60)
            clock_us += np.round(np.where(good, values[part], 0) * unit * SECOND_US).astype(
                np.int64
            )
            read &= good
    times = Times(clock_us, read & (day >= 1), " ".join(columns.names))
    if "hour" in named and columns.form:
        shown = times.format
        times = with_clock(times, clocks_of(table.texts[named["hour"].index], columns.form))
        times.format = shown
    return times


def _scaled(values: Floats, factor: float) -> tuple[Micros, Bools]:
    """Return numbers times a factor as microseconds, and which are within reach of a calendar."""
    with np.errstate(over="ignore"):
        scaled = values * factor
    read = np.isfinite(scaled) & (np.abs(scaled) < 9e18)
    return np.round(np.where(read, scaled, 0)).astype(np.int64), np.asarray(read)


def _from_epoch(columns: TimeColumns, table: Table) -> Times:
    factor = SECOND_US / EPOCHS[columns.kind]
    clock_us, read = _scaled(table.numbers[columns.headings[0].index], factor)
    zeros = np.zeros(len(read), np.int64)
    return Times(clock_us, read, columns.kind, "", True, zeros)


def _from_days(columns: TimeColumns, table: Table) -> Times:
    """Return times from a spreadsheet's days, to the nearest second."""
    seconds, read = _scaled(table.numbers[columns.headings[0].index], 86_400.0)
    read &= np.abs(seconds) < 10**12
    clock_us = np.where(read, seconds, 0) * SECOND_US + _DAY_ZERO_US
    return Times(clock_us, read, "days since 1899-12-30")
