"""The times of a file's rows, and the clock they follow."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from zoneinfo import available_timezones

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from service.errors import NotUnderstoodError, QuestionError
from service.ingest.choice import Choice
from service.ingest.columntimes import times_of
from service.ingest.evidence import limit
from service.ingest.headings import Heading
from service.ingest.sensors import Rows
from service.ingest.table import Table
from service.ingest.timecolumns import TimeColumns, order_in_heading
from service.ingest.timeless import counted
from service.ingest.times.dateorder import DAY_FIRST, MONTH_FIRST
from service.ingest.times.timebase import (
    DAY_US,
    SECOND_US,
    Micros,
    TimeBase,
    offset_name,
    offset_s,
    time_base,
)
from service.ingest.times.timestamps import Times, parsed
from service.ingest.understanding import Problem
from service.ingest.units import plain

_OFFSET = re.compile(r"(?<![A-Za-z])(?:UTC|GMT)\s*(?:[+\-−]\s?\d{1,2}(?::?\d{2})?)?(?![A-Za-z])")
_ABSOLUTE = re.compile(r"(?<![A-Za-z])(?:UTC|UT|GMT)(?![A-Za-z]|\s*[+\-−\d])")
_PLACE = re.compile(r"\b[A-Z][A-Za-z]+(?:/[A-Z][A-Za-z_\-]+)+\b")
_SPOKEN = re.compile(
    r"time ?zone|timezone|zeitzone|fuseau|tidszon|tidssone|tidszone|aikavyohyke|zona horaria"
    r"|fuso orario|fuso horario|tijdzone|\btz\b|utc ?offset|gmt ?offset|time base"
)


@dataclass(frozen=True)
class Declared:
    """A clock that a file declares: the zone's text and where it stands."""

    zone: str
    where: str


def declared_zone(times: Sequence[Heading], head: Sequence[str]) -> Declared | None:
    """Return the zone that headings of the time or lines above the table declare, or None.

    Examples
    --------
    >>> declared_zone([Heading(0, "t_UTC+2", ("t_UTC+2",))], []).zone
    'UTC+2'
    """
    for heading in times:
        for text in heading.texts:
            found = _in(text)
            if found:
                return Declared(found, f"heading {text!r}")
    for heading in times:
        absolute = _ABSOLUTE.search(heading.legend)
        if absolute:
            return Declared("UTC", f"explanation of {heading.name!r} above the table")
    for number, line in enumerate(head, start=1):
        if _SPOKEN.search(plain(line)):
            found = _in(line) or _bare_offset(line)
            if found:
                return Declared(found, f"line {number}")
    return None


def _in(text: str) -> str:
    offset = _OFFSET.search(text)
    if offset and offset_s(offset[0]) is not None:
        return offset[0]
    place = _PLACE.search(text)
    return place[0] if place and place[0] in available_timezones() else ""


def _bare_offset(line: str) -> str:
    found = re.search(r"[+\-−]\d{1,2}(?::?\d{2})?(?!\d)", line)
    return found[0] if found and offset_s(found[0]) is not None else ""


# Years in which readings are believed, 1900 to 2199; others are kept apart as unreadable.
_EARLIEST_US = -25_567 * DAY_US
_LATEST_US = 84_006 * DAY_US
EACH_TIME = "an offset written with each time"


@dataclass
class Clock:
    """Times as written, and how they become UTC.

    ``zone`` is the zone's name or None while undeclared; ``zone_from`` says who declared it.
    """

    times: Times
    base: TimeBase | None
    zone: str | None
    zone_from: str
    notes: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)

    def instants(self, rows: Rows | None) -> tuple[Micros, npt.NDArray[np.int32]]:
        """Return the instants of some rows (None: all) in UTC and what is doubted of them."""
        written = self.times.clock_us if rows is None else self.times.clock_us[rows]
        if self.times.has_offset:
            offsets = self.times.offset_us if rows is None else self.times.offset_us[rows]
            return written - offsets, np.zeros(len(written), np.int32)
        if self.base is None:
            return written.copy(), np.zeros(len(written), np.int32)
        return self.base.to_utc(written)


def clock_of(
    name: str, columns: TimeColumns, table: Table, head: Sequence[str], asked: Choice,
    remembered: Choice,
) -> Clock:  # fmt: skip
    """Return the clock of a file.

    Parameters
    ----------
    name : str
        The file's name, for messages.
    columns, table
        As from `time_columns` and `table_of`.
    head : sequence of str
        The lines above the table, which may name a zone.
    asked, remembered : Choice
        What a person says now, and what was confirmed before.

    Raises
    ------
    NotUnderstoodError, QuestionError
        If the times cannot be read, fit two orders, or the zone does not exist.
    """
    stated = time_base(name, asked.zone) if asked.zone else None
    if columns.kind in ("count", "elapsed"):
        times = _counted(name, columns, table, asked, head)
    else:
        times = _times(name, columns, table, asked, remembered)
    if times.clock_us.min(initial=0) < _EARLIEST_US or times.clock_us.max(initial=0) >= _LATEST_US:
        times.read &= (times.clock_us >= _EARLIEST_US) & (times.clock_us < _LATEST_US)
    times.read[_strays(times)] = False
    if not times.read.any():
        raise _no_time(name, columns)
    declared = declared_zone(columns.headings, head)
    if times.has_offset:
        return _absolute(times)
    if declared and (stated is None or not declared.where.startswith("line")):
        return _declared(name, times, declared, stated)
    if stated is None and remembered.zone:
        base = time_base(name, remembered.zone)
        return Clock(times, base, base.name, "remembered for this logger")
    return Clock(
        times, stated, stated.name if stated else None, "said with the file" if stated else ""
    )


def _times(
    name: str, columns: TimeColumns, table: Table, asked: Choice, remembered: Choice
) -> Times:
    """Return the times, asking only what neither the heading nor an earlier answer says."""
    try:
        return times_of(name, columns, table, asked.order)
    except QuestionError:
        known = order_in_heading(columns)
        known = known or remembered.order
        if known is None:
            raise
        return times_of(name, columns, table, known)


def _strays(times: Times) -> Rows:
    """Return the rows whose time alone stands far off, while those around it run on.

    So much is a damaged digit; a clock that lost its date gives more than one such time.
    """
    read_us = times.clock_us if times.read.all() else times.clock_us[times.read]
    steps = read_us[1:] - read_us[:-1]
    longest = limit("clock", "reset_days") * DAY_US
    if len(read_us) < limit("accept", "steps") or max(steps.max(), -steps.min()) <= longest:
        return np.zeros(0, np.intp)
    rows, steps = np.flatnonzero(times.read), np.abs(steps)
    far = steps > longest
    around = np.abs(read_us[2:] - read_us[:-2])
    alone = far[:-1] & far[1:] & (around <= 4 * np.median(steps))
    ends = [far[0] and not far[1], far[-1] and not far[-2]]
    stray = np.concatenate([ends[:1], alone, ends[1:]])
    return np.asarray(rows[stray], np.intp)


def _counted(
    name: str, columns: TimeColumns, table: Table, asked: Choice, head: Sequence[str]
) -> Times:
    start_us = None
    if asked.start:
        start = parsed(name, "--start", pa.array([asked.start]), asked.order)
        if not start.read[0]:
            raise NotUnderstoodError(
                read=name,
                where="--start",
                found=repr(asked.start),
                expected="a date and time such as 2024-03-01 09:00",
                action="Give the time of the first reading in that form.",
            )
        start_us = int(start.clock_us[0])
    return counted(name, columns.headings, table, start_us, asked.interval_s, head)


def _absolute(times: Times) -> Clock:
    offsets = np.unique(times.offset_us[times.read])
    zone = offset_name(int(offsets[0]) // SECOND_US) if len(offsets) == 1 else EACH_TIME
    return Clock(times, None, zone, "written with each time")


def _declared(name: str, times: Times, declared: Declared, stated: TimeBase | None) -> Clock:
    """Return the clock that the file declares, with a word if a person said another."""
    base = time_base(name, declared.zone)
    clock = Clock(times, base, base.name, declared.where)
    if stated is not None:
        written = times.clock_us[times.read]
        if not np.array_equal(base.to_utc(written)[0], stated.to_utc(written)[0]):
            clock.problems.append(
                Problem(
                    0,
                    declared.where,
                    f"the zone {stated.name} was asked for, but the file says {base.name}",
                    "one and the same clock",
                    f"times are read as {base.name}, as the file says",
                )
            )
    return clock


def _no_time(name: str, columns: TimeColumns) -> NotUnderstoodError:
    return NotUnderstoodError(
        read=name,
        where="column " + ", ".join(map(repr, columns.names)),
        found="no time that can be read",
        expected="a date and time in each line",
        action='Say which column holds the times: --column time="…".',
    )


def confirmed_order(times: Times) -> bool | None:
    """Return whether days come before months where that had to be found out, else None."""
    return times.order == DAY_FIRST if times.order in (DAY_FIRST, MONTH_FIRST) else None
