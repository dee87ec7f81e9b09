"""Which columns hold the time: one, a date and a clock, parts, a count of seconds, or none."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
import pyarrow.compute as pc

from service.ingest.columns import find_heading, said_heading
from service.ingest.fields import CLOCK, DATE
from service.ingest.headings import Heading
from service.ingest.layout import Layout
from service.ingest.quantities import words_of
from service.ingest.stamp_shapes import shape_of
from service.ingest.table import Floats, Table
from service.ingest.timebase import DAY_US, HOUR_US, SECOND_US
from service.ingest.timeless import elapsed_heading, number_of, running_number
from service.ingest.timestamps import Times, parsed

_TIME_WORD = re.compile(
    r"time|date|datum|\bdat[oa]\b|fecha|zeit|\bhora|heure|\bora\b|tijd|\btid|aika|\bklo\b|\bpvm\b"
    r"|stamp|horodat|paivamaara|klokk|klockslag|epoch|unix|^t utc|^ts$|^t$"
)
_PARTS = {
    "year": r"year|yr|yyyy|jahr|annee|ano|anno|jaar|ar|aar|vuosi",
    "month": r"month|mo|mon|mm|monat|mois|mes|mese|maand|manad|maned|kuukausi|kk",
    "day": r"day|dd|tag|jour|dia|giorno|dag|paiva|pv",
    "hour": r"hour|hr|hh|hhmm|hh mm|hours|stunde|std|heure|hora|ora|uur|timme|time|tunti|h",
    "minute": r"minute|min|minutes|mi|minuto|minuut|minutt|minut|minuutti",
    "second": r"second|sec|seconds|ss|sekunde|seconde|segundo|secondo|sekund|sekunti",
}
# Counts of seconds between 2001 and 2100, and the factor that makes them microseconds.
_EPOCHS = {"epoch s": 1, "epoch ms": 1000, "epoch µs": 1_000_000}
_EPOCH_RANGE = (978_307_200, 4_102_444_800)
# Spreadsheets count days from this one; their numbers for 1990 to 2100.
_DAY_ZERO_US = -25_569 * DAY_US
_DAY_RANGE = (32_874.0, 73_415.0)


@dataclass(frozen=True)
class TimeColumns:
    """The columns that together are the time, and how they make it.

    ``kind`` is "stamp", "date and clock", "date and hour", "parts", one of the epochs, "days"
    where a spreadsheet's numbers of days were left as they are, "elapsed" where time counts from
    a start, or "count" where only a running number, or nothing, tells the rows.
    """

    kind: str
    headings: tuple[Heading, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """The headings of the columns."""
        return tuple(heading.shown for heading in self.headings)

    def texts(self) -> set[int]:
        """Return the indices of the columns to read as text."""
        wanted = {"stamp": 1, "date and clock": 2, "date and hour": 1}.get(self.kind, 0)
        return {heading.index for heading in self.headings[:wanted]}

    def numbers(self) -> set[int]:
        """Return the indices of the columns to read as numbers."""
        return {heading.index for heading in self.headings} - self.texts()


def time_columns(
    name: str, layout: Layout, headings: Sequence[Heading], said: Mapping[str, str]
) -> TimeColumns:
    """Return the columns that hold the time.

    Raises
    ------
    UnknownNameError
        If a heading that was said for the time does not exist.
    """
    if "time" in said:
        return _said(name, layout, headings, said)
    finders = (_stamp, _date_and_clock, _parts, _epoch)
    for finder in finders:
        found = finder(layout, headings)
        if found:
            return found
    elapsed = elapsed_heading(layout, headings)
    if elapsed:
        return TimeColumns("elapsed", elapsed)
    return TimeColumns("count", running_number(layout, headings))


def _said(
    name: str, layout: Layout, headings: Sequence[Heading], said: Mapping[str, str]
) -> TimeColumns:
    named = [
        said_heading(name, headings, key, said[key]) for key in ("date", "time") if key in said
    ]
    if len(named) == 1 and "+" in said["time"] and not find_heading(headings, said["time"]):
        named = [said_heading(name, headings, "time", part) for part in said["time"].split("+")]
    only = tuple(named)
    for finder in (_stamp, _date_and_clock, _epoch):
        found = finder(layout, only)
        if found:
            return found
    return TimeColumns("date and clock" if len(only) == 2 else "stamp", only)


def _share(layout: Layout, heading: Heading, test: Callable[[str], object]) -> float:
    """Return the share of a column's filled sample fields that pass a test."""
    cells = [cell.strip().strip('"') for cell in layout.column(heading.index)]
    filled = [cell for cell in cells if cell]
    return sum(bool(test(cell)) for cell in filled) / len(filled) if filled else 0.0


def _full(cell: str) -> bool:
    shape = shape_of(cell)
    return bool(shape and shape.clock)


def _with_offset(cell: str) -> bool:
    shape = shape_of(cell)
    return bool(shape and shape.zone)


def _date_only(cell: str) -> bool:
    return bool(DATE.fullmatch(cell)) or bool(
        re.fullmatch(r"(?:19|20)\d{6}", cell) and shape_of(cell)
    )


def _timely(heading: Heading) -> bool:
    return any(_TIME_WORD.search(words_of(text)) for text in heading.texts) or not heading.texts


def _stamp(layout: Layout, headings: Sequence[Heading]) -> TimeColumns | None:
    found = []
    for heading in headings:
        numeric = layout.kinds[heading.index] == "number"
        if numeric and not (_timely(heading) and _share(layout, heading, str.isdecimal) > 0.9):
            continue
        if _share(layout, heading, _full) > 0.5:
            absolute = _share(layout, heading, _with_offset)
            found.append((-absolute, not _timely(heading), heading.index, heading))
    return TimeColumns("stamp", (min(found)[3],)) if found else None


def _date_and_clock(layout: Layout, headings: Sequence[Heading]) -> TimeColumns | None:
    dates = [h for h in headings if _share(layout, h, _date_only) > 0.5]
    dates.sort(key=lambda h: (layout.kinds[h.index] == "number" and not _timely(h), h.index))
    if not dates:
        return None
    date = dates[0]
    clocks = [h for h in headings if h != date and _share(layout, h, CLOCK.fullmatch) > 0.5]
    if clocks:
        return TimeColumns("date and clock", (date, clocks[0]))
    for heading in headings:
        named = any(_is_part("hour", text) for text in heading.texts) or _timely(heading)
        if heading != date and heading.texts and named and _share(layout, heading, _hour) > 0.9:
            return TimeColumns("date and hour", (date, heading))
    return TimeColumns("stamp", (date,)) if _timely(date) or date.index == 0 else None


def _hour(cell: str) -> bool:
    return bool(re.fullmatch(r"\d{1,2}(?:[.,]\d{2})?|\d{3,4}", cell))


def _is_part(part: str, text: str) -> bool:
    return bool(re.fullmatch(_PARTS[part], words_of(text)))


def _parts(layout: Layout, headings: Sequence[Heading]) -> TimeColumns | None:
    found: dict[str, Heading] = {}
    for heading in headings:
        for part in _PARTS:
            whole = layout.kinds[heading.index] == "number"
            if whole and part not in found and any(_is_part(part, t) for t in heading.texts):
                found[part] = heading
                break
    if not {"year", "month", "day"} <= set(found):
        return None
    return TimeColumns("parts", tuple(found[part] for part in _PARTS if part in found))


def _epoch(layout: Layout, headings: Sequence[Heading]) -> TimeColumns | None:
    for heading in headings:
        if layout.kinds[heading.index] != "number":
            continue
        for kind, factor in _EPOCHS.items():
            inside = _share(layout, heading, partial(_is_epoch, factor=factor))
            if inside > 0.9 and (_timely(heading) or heading.index == 0):
                return TimeColumns(kind, (heading,))
        if _timely(heading) and _share(layout, heading, _is_day_number) > 0.9:
            return TimeColumns("days", (heading,))
    return None


def _is_day_number(cell: str) -> bool:
    low, high = _DAY_RANGE
    return low < number_of(cell) < high


def _is_epoch(cell: str, factor: int) -> bool:
    low, high = _EPOCH_RANGE
    return low < number_of(cell) / factor < high


def times_of(name: str, columns: TimeColumns, table: Table, day_first: bool | None) -> Times:
    """Return the times of a table's rows.

    Raises
    ------
    NotUnderstoodError, QuestionError
        As `timestamps.parsed` does.
    """
    where = "column " + ", ".join(map(repr, columns.names))
    if columns.kind == "stamp":
        return parsed(name, where, table.texts[columns.headings[0].index], day_first)
    if columns.kind == "date and clock":
        date, clock = (table.texts[heading.index] for heading in columns.headings)
        joined = pc.binary_join_element_wise(
            pc.utf8_trim_whitespace(date), pc.utf8_trim_whitespace(clock), " "
        )
        return parsed(name, where, joined, day_first)
    if columns.kind == "date and hour":
        return _with_hours(name, where, columns, table, day_first)
    if columns.kind == "parts":
        return _from_parts(columns, table)
    if columns.kind == "days":
        return _from_days(columns, table)
    return _from_epoch(columns, table)


def _with_hours(
    name: str, where: str, columns: TimeColumns, table: Table, day_first: bool | None
) -> Times:
    """Return dates with an hour beside them: 0 to 23, 1 to 24, 100 to 2400, or 14.30."""
    date, clock = columns.headings
    times = parsed(name, where, table.texts[date.index], day_first)
    hours, minutes, form = _hours(table.numbers[clock.index])
    good = (hours >= 0) & (hours <= 24) & (minutes < 60) & ~((hours == 24) & (minutes > 0))
    times.read &= good
    added = np.where(good, hours * 3600 + minutes * 60, 0) * SECOND_US
    times.clock_us = times.clock_us + added.astype(np.int64)
    times.format += f" {form}"
    return times


def _hours(values: Floats) -> tuple[Floats, Floats, str]:
    known = values[np.isfinite(values)]
    if len(known) and known.max() > 24:
        return values // 100, values % 100, "hour and minute (HHMM)"
    if np.any(known % 1):
        return values // 1, np.round(values % 1 * 100), "hour.minute"
    ending = len(known) and known.max() == 24 and known.min() >= 1
    return values, np.zeros(len(values)), "hour 1-24" if ending else "hour"


def _from_parts(columns: TimeColumns, table: Table) -> Times:
    """Return times put together from year, month, day and what follows."""
    values = [table.numbers[heading.index] for heading in columns.headings]
    year, month, day = (np.nan_to_num(v).astype(np.int64) for v in values[:3])
    month_start = (year - 1970).astype("datetime64[Y]").astype("datetime64[M]") + (month - 1)
    dates = month_start.astype("datetime64[D]") + (day - 1)
    real = (dates.astype("datetime64[M]") == month_start) & (month >= 1) & (month <= 12)
    clock_us = dates.astype(np.int64) * DAY_US
    for value, unit in zip(values[3:], (HOUR_US, 60 * SECOND_US, SECOND_US), strict=False):
        real &= (value >= 0) & (value <= (24 if unit == HOUR_US else 60))
        clock_us = clock_us + np.round(np.nan_to_num(value) * unit).astype(np.int64)
    read = real & np.all(np.isfinite(values), axis=0) & (day >= 1)
    return Times(clock_us, read, " ".join(columns.names))


def _from_epoch(columns: TimeColumns, table: Table) -> Times:
    factor = SECOND_US // _EPOCHS[columns.kind]
    values = table.numbers[columns.headings[0].index]
    read = np.isfinite(values)
    clock_us = np.round(np.nan_to_num(values) * factor).astype(np.int64)
    zeros = np.zeros(len(values), np.int64)
    return Times(clock_us, read, columns.kind, "", True, zeros)


def _from_days(columns: TimeColumns, table: Table) -> Times:
    """Return times from a spreadsheet's days, to the nearest second."""
    values = table.numbers[columns.headings[0].index]
    seconds = np.round(np.nan_to_num(values) * 86_400.0).astype(np.int64)
    clock_us = seconds * SECOND_US + _DAY_ZERO_US
    return Times(clock_us, np.isfinite(values), "days since 1899-12-30")


def order_in_heading(columns: TimeColumns) -> bool | None:
    """Return whether a heading such as "Date (DD/MM/YYYY)" puts days first, None if it is silent.

    Examples
    --------
    >>> order_in_heading(TimeColumns("stamp", (Heading(0, "", ("Datum (TT.MM.JJJJ)",)),)))
    True
    """
    for text in (text.upper() for heading in columns.headings for text in heading.texts):
        if re.search(r"\b(?:DD?|TT?|JJ?|PP?|GG?)[-/. ]?(?:MM?|KK?)[-/. ]", text):
            return True
        if re.search(r"\bMM?[-/. ]?DD?[-/. ]", text):
            return False
    return None
