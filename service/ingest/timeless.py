"""Files without times: a running number, time elapsed since a start, or dates without a clock."""

import math
import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from service.errors import Answer, QuestionError, remark
from service.ingest.fields import STAMP
from service.ingest.headings import Heading
from service.ingest.layout import Layout
from service.ingest.quantities import words_of
from service.ingest.table import Table
from service.ingest.times.timebase import DAY_US, SECOND_US
from service.ingest.times.timestamps import Times

_ELAPSED = re.compile(r"elapsed|time|zeit|temps|duration|since|\btid|tiempo|tempo")
_UNIT = re.compile(r"\b(ms|s|sec|seconds?|min|minutes?|h|hours?|d|days?)$")
# Above the rows: from when they run, and how far apart they are; words from memory.
_START_WORD = re.compile(
    r"\b(?:start\w*|begin\w*|beginn|first|from|since|von|ab|anfang|debut|inicio|inizio|alku)\b"
)
_EVERY_WORD = re.compile(
    r"\b(?:\w*interval\w*|\w*intervall|every|step|period|cadence|rate|takt|schritt|pas|alle)\b"
)
_CLOCKED = re.compile(r"\b(\d{1,2}):(\d{2})(?::(\d{2}))?\b")
_LENGTH = re.compile(
    r"\b(\d+(?:[.,]\d+)?)\s*(s|sec\w*|sek\w*|min\w*|m|h|hours?|std|stunden?|d|days?)\b"
)
_LENGTHS_S = {"ms": 0.001, "s": 1.0, "m": 60.0, "h": 3600.0, "d": 86_400.0}


def number_of(cell: str) -> float:
    """Return a field as a number, NaN where it is none."""
    try:
        value = float(cell.replace(",", "."))
    except ValueError:
        return math.nan
    return value if math.isfinite(value) else math.nan


def running_number(layout: Layout, headings: Sequence[Heading]) -> tuple[Heading, ...]:
    """Return the first column that counts the rows upwards, if there is one."""
    for heading in headings:
        cells = np.array([number_of(cell) for cell in layout.column(heading.index)])
        steps = np.diff(cells)
        if len(steps) and np.all(steps > 0) and np.min(steps) == 1 and np.all(cells % 1 == 0):
            return (heading,)
    return ()


def elapsed_heading(layout: Layout, headings: Sequence[Heading]) -> tuple[Heading, ...]:
    """Return the first column that counts seconds, minutes or hours since the start."""
    for heading in headings:
        if layout.kinds[heading.index] == "number" and elapsed_unit_s(heading):
            cells = np.array([number_of(cell) for cell in layout.column(heading.index)])
            if len(cells) < 2 or np.nanmin(np.diff(cells), initial=0.0) >= 0 < np.ptp(cells):
                return (heading,)
    return ()


def elapsed_unit_s(heading: Heading) -> float:
    """Return the length of the unit in which a heading counts elapsed time, or 0 [s].

    Examples
    --------
    >>> [elapsed_unit_s(Heading(0, t, (t,))) for t in ("Elapsed time (min)", "Time [s]", "Time")]
    [60.0, 1.0, 0.0]
    >>> [elapsed_unit_s(Heading(0, t, (t,))) for t in ("min", "m")]
    [60.0, 0.0]
    """
    for words in map(words_of, heading.texts):
        unit = _UNIT.search(words)
        alone = unit is not None and unit[0] == words and len(words) > 2
        if unit and (alone or _ELAPSED.search(words)):
            return _LENGTHS_S["ms" if unit[1] == "ms" else unit[1][0]]
    return 0.0


def counted(
    name: str,
    headings: Sequence[Heading],
    table: Table,
    start_us: int | None,
    interval_s: float | None,
    head: Sequence[str] = (),
) -> Times:
    """Return times of rows that have none, from a start and an interval that were declared.

    What the lines of ``head``, above the rows, say of both is offered, never taken by itself.

    Raises
    ------
    QuestionError
        If the start was not declared, or the interval where the rows do not tell it.
    """
    elapsed_s = elapsed_unit_s(headings[0]) if headings else 0.0
    interval_s = elapsed_s or interval_s
    if start_us is None or interval_s is None or interval_s <= 0:
        raise _no_clock(name, headings, table, head)
    number = np.arange(table.rows, dtype=np.float64)
    if headings:
        number = table.numbers[headings[0].index]
        number = number if elapsed_s else number - np.nanmin(number)
    read = np.isfinite(number)
    clock_us = start_us + np.round(np.nan_to_num(number) * interval_s * SECOND_US).astype(np.int64)
    shown = f"start + {interval_s:g} s × " + (headings[0].shown if headings else "row")
    return Times(clock_us, read, shown)


def day_rows(times: Times) -> int:
    """Return how many rows stand under each date, where all days but the first and last agree.

    0 where they do not, where a date comes back, or where so many are no whole minutes apart.
    """
    days = times.clock_us[times.read] // DAY_US
    starts = np.flatnonzero(np.diff(days, prepend=days[:1] - 1))
    counts = np.diff(starts, append=len(days))
    if len(counts) < 3 or len(np.unique(days)) != len(counts) or not times.read.all():
        return 0
    usual = int(counts[1])
    same = bool(np.all(counts[1:-1] == usual)) and max(counts[0], counts[-1]) <= usual
    return usual if same and usual > 1 and (DAY_US // SECOND_US) % (60 * usual) == 0 else 0


def spread_over_days(name: str, times: Times) -> Times:
    """Return dates with the rows of each spread evenly over its day, in the order of the file.

    The first day may begin, and the last may end, with any row.

    Raises
    ------
    QuestionError
        If the days hold different numbers of rows.
    """
    usual = day_rows(times)
    if not usual:
        raise QuestionError(
            read=name,
            where="the dates",
            found="days with different numbers of rows, or dates that come back",
            expected="as many rows under each date, to be spread evenly over the day",
            action="Export the file with the clock of each reading.",
        )
    days = times.clock_us // DAY_US
    newest_first = days[-1] < days[0]
    ordered = days[::-1] if newest_first else days
    starts = np.flatnonzero(np.diff(ordered, prepend=ordered[:1] - 1))
    place = np.arange(len(ordered)) - np.repeat(starts, np.diff(starts, append=len(ordered)))
    first = int(starts[1])
    place[:first] += usual - first
    clock_us = ordered * DAY_US + place * (DAY_US // usual)
    clock_us = clock_us[::-1].copy() if newest_first else clock_us
    minutes = DAY_US // SECOND_US // usual // 60
    note = remark(
        f"Only dates stand in the file: the rows of each day stand {minutes} min apart, as said."
    )
    return replace(times, clock_us=clock_us, notes=(*times.notes, note))


def _no_clock(
    name: str, headings: Sequence[Heading], table: Table, head: Sequence[str]
) -> QuestionError:
    found = f"{table.rows} rows without date and time"
    if headings:
        number = table.numbers[headings[0].index]
        first, last = np.nanmin(number), np.nanmax(number)
        found += f", only {headings[0].shown!r} from {first:.0f} to {last:.0f}"
    if headings and elapsed_unit_s(headings[0]):
        expected, options = "the moment from which that counts", "--start '2024-03-01 09:00'"
    else:
        expected = "a time for each row, or a start and an interval"
        options = "--start '2024-03-01 09:00' --interval 5s"
    answers = _said_above(head, bool(headings and elapsed_unit_s(headings[0])))
    if answers:
        options = answers[0].options()
    return QuestionError(
        read=name,
        where="headings",
        found=found,
        expected=expected,
        action=f"Say it: {options} (with the right values).",
        answers=answers,
    )


def _said_above(head: Sequence[str], elapsed: bool) -> list[Answer]:
    """Return the start and interval that the lines above the rows state, if just one of each."""
    starts = {text for line in head for text in stated_start(line)}
    steps = {step for line in head for step in stated_interval_s(line)}
    if len(starts) != 1 or (len(steps) != 1 and not elapsed):
        return []
    start = starts.pop()
    if elapsed:
        return [Answer(f"from {start}, as the lines above the readings say", {"start": start})]
    step = f"{steps.pop():g}s"
    words = f"from {start}, one every {step}, as the lines above the readings say"
    return [Answer(words, {"start": start, "interval": step})]


def stated_start(line: str) -> list[str]:
    """Return the times that a line states as a start.

    Examples
    --------
    >>> stated_start("Start;02.06.2025;00:15"), stated_start("Read out: 2025-06-09 08:00")
    (['02.06.2025 00:15'], [])
    """
    plain = re.sub(r"[;,\t|\"]+", " ", line)
    stamp = STAMP.search(plain) if _START_WORD.search(words_of(plain)) else None
    # A word before the date is the line's, not the date's.
    return [re.sub(r"^[^\W\d_]+\W+(?=\d)", "", " ".join(stamp[0].split()))] if stamp else []


def stated_interval_s(line: str) -> list[float]:
    """Return the times between readings that a line states [s].

    Examples
    --------
    >>> [stated_interval_s(t) for t in ("Interval: 15 min", "interval 00:15:00", "Kept 15 min")]
    [[900.0], [900.0], []]
    """
    word = _EVERY_WORD.search(line.casefold())
    if not word:
        return []
    rest = line.casefold()[word.end() :]
    clock, length = _CLOCKED.search(rest), _LENGTH.search(rest)
    if clock:
        hours, minutes, seconds = (int(part or 0) for part in clock.groups())
        return [float(3600 * hours + 60 * minutes + seconds)]
    return [float(length[1].replace(",", ".")) * _LENGTHS_S[length[2][0]]] if length else []
