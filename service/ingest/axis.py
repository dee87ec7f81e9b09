"""Which proposal for the time is taken: each is scored by what its times do on some rows."""

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pyarrow as pa

from analysis.errors import StilltautError
from service.errors import NotUnderstoodError, QuestionError
from service.ingest.columntimes import times_of
from service.ingest.evidence import limit, score
from service.ingest.fields import split
from service.ingest.files.decode import Decoded
from service.ingest.headings import Heading
from service.ingest.layout import Layout
from service.ingest.sensorcolumns import Codes, can_tell_apart, is_named
from service.ingest.table import Table
from service.ingest.timecolumns import (
    TimeColumns,
    heading_speaks,
    proposed_times,
    speak,
    stated_times,
    with_offset,
    without_times,
)
from service.ingest.timeless import number_of
from service.ingest.timemeasures import measured
from service.ingest.timeproposals import (
    CARRIED,
    EVENLY,
    Proposal,
    are_alike,
    dates_once,
    day_or_sensor,
    evidence_of,
    is_date_alone,
    none_good,
    stands_once_a_day,
    two_near,
)
from service.ingest.times.clockcells import forms_of
from service.ingest.times.dateorder import ORDERS
from service.ingest.times.timestamps import Times

SAMPLE_BYTES = 120_000


@dataclass(frozen=True)
class Sample:
    """Rows that stand below one another, as cells and as a table of every column."""

    rows: list[list[str]]
    table: Table

    def column(self, index: int) -> list[str]:
        """Return the cells of a column."""
        return [row[index].strip() for row in self.rows]


def sample_of(text: Decoded, layout: Layout) -> Sample:
    """Return the first rows of a file, every column both as text and as numbers."""
    lines = text.lines(0, _head_end(text, layout) + SAMPLE_BYTES)[layout.header_lines :]
    cut = (split(line, layout.delimiter) for line in lines if line.strip())
    rows = [row for row in cut if len(row) == layout.width] or [list(r) for r in layout.rows]
    columns = [[row[i].strip().strip('"') for row in rows] for i in range(layout.width)]
    texts = {i: pa.chunked_array([pa.array(c, pa.string())]) for i, c in enumerate(columns)}
    numbers = {i: np.array([number_of(x) for x in c]) for i, c in enumerate(columns)}
    return Sample(rows, Table(len(rows), numbers, texts, []))


def _head_end(text: Decoded, layout: Layout) -> int:
    at = 0
    for _ in range(layout.header_lines):
        at = text.text.find(b"\n", at) + 1
    return at


def time_columns(
    text: Decoded, layout: Layout, headings: Sequence[Heading], stated: Mapping[str, str],
    order: str | None, apart: Sequence[Heading] = (),
) -> tuple[TimeColumns, str]:  # fmt: skip
    """Return the columns that hold the time, and the evidence for them in one line.

    Parameters
    ----------
    text, layout, headings
        As from `decode`, `layout_of` and `headings_of`.
    stated : mapping of str to str
        What a person said of ``time`` and ``date``; judged by the same measures. ``rows`` may
        say that those of each date stand evenly over its day.
    order : str or None
        What a person said of the order of day, month and year.
    apart : sequence of Heading
        Columns that are known to tell the rows of one time apart.

    Raises
    ------
    QuestionError
        If two proposals come near each other, or none is good.
    UnknownNameError
        If a heading that was said for the time does not exist.
    """
    if "time" in stated:
        proposed = stated_times(text.name, layout, headings, stated)
    else:
        proposed = proposed_times(layout, headings)
    if not proposed:
        return without_times(text.name, layout, headings), ""
    if stated.get("rows") == EVENLY:
        return TimeColumns("evenly", _only_dates(text.name, layout, proposed).headings), ""
    only, evidence = proposed[0], ""
    if len(proposed) > 1 or not (only.kind == "elapsed" or _written_out(only, layout)):
        # Whether the others run as they must is judged over the whole file.
        sample = sample_of(text, layout)
        scored = _scored(text.name, layout, headings, sample, proposed, order, apart)
        only, evidence = _best(text.name, layout, headings, scored, stated)
    if not stands_once_a_day(layout, only):
        return only, evidence
    if "rows" not in stated:
        raise dates_once(text.name, layout, only)
    return (replace(only, kind="carried"), "") if stated["rows"] == CARRIED else (only, evidence)


def _only_dates(name: str, layout: Layout, proposed: Sequence[TimeColumns]) -> TimeColumns:
    """Return the first proposal that is a column of dates without a clock."""
    for columns in proposed:
        if columns.kind == "stamp" and is_date_alone(columns, layout):
            return columns
    raise NotUnderstoodError(
        read=name,
        where="columns " + ", ".join(repr(columns.answer()) for columns in proposed),
        found="no column of dates without a clock",
        expected="dates, where the rows of each are to be spread over its day",
        action="Take that answer back; the file may hold its clock.",
    )


def _scored(
    name: str, layout: Layout, headings: Sequence[Heading], sample: Sample,
    proposed: Sequence[TimeColumns], order: str | None, apart: Sequence[Heading],
) -> list[Proposal]:  # fmt: skip
    found = []
    for columns in proposed:
        taken = {h.index for h in columns.headings}
        times = _times(name, columns, sample.table, order)
        free = [h for h in headings if h.index not in taken and can_tell_apart(layout, h)]
        if is_date_alone(columns, layout):
            free = [h for h in free if not forms_of(layout.column(h.index))]
        groups: list[tuple[Heading, ...]] = [tuple(apart)]
        groups += [(*apart, h) for h in free]
        groups += [(*apart, *pair) for pair in itertools.combinations(free[:5], 2)]
        scores = [_measured(layout, headings, sample, columns, times, g) for g in groups]
        # A column that tells sensors apart must earn its place.
        best = max(scores, key=lambda p: (p.score - 0.01 * len(p.sensor), -len(p.sensor)))
        found.append(best)
    return sorted(found, key=lambda p: -p.score)


def _times(name: str, columns: TimeColumns, table: Table, said: str | None) -> Times | None:
    for order in (said, *ORDERS):
        try:
            return times_of(name, columns, table, order)
        except StilltautError:
            continue
    return None


def _measured(
    layout: Layout, headings: Sequence[Heading], sample: Sample, columns: TimeColumns,
    times: Times | None, sensor: tuple[Heading, ...],
) -> Proposal:  # fmt: skip
    if times is None:
        return Proposal(columns, None, {}, 0.0, sensor)
    codes = _codes(sample, sensor)
    filled = np.array([any(c.strip() for c in row) for row in sample.rows], np.bool_)
    keys = np.array([hash(tuple(row)) for row in sample.rows], np.int64)
    found = measured(times, filled, codes, keys)
    found |= {
        "heading": speak(columns),
        "written": float(_written_out(columns, layout)),
        "absolute": float(with_offset(layout, columns)),
    }
    if is_date_alone(columns, layout) and _left_over(columns, headings):
        found["heading"] /= 2
    return Proposal(columns, times, found, score("time", found), sensor)


def _written_out(columns: TimeColumns, layout: Layout) -> bool:
    """Return whether date and clock are written so that they can hardly be another number."""
    return columns.form == "clock" or (
        columns.kind == "stamp" and not is_date_alone(columns, layout)
    )


def _left_over(columns: TimeColumns, headings: Sequence[Heading]) -> bool:
    """Return whether another heading speaks of nothing but time."""
    others = [h for h in headings if h not in columns.headings and h.texts]
    return any(heading_speaks(h) == 1.0 for h in others)


def _codes(sample: Sample, sensor: Sequence[Heading]) -> Codes | None:
    if not sensor:
        return None
    keys = list(zip(*(sample.column(h.index) for h in sensor), strict=True))
    numbers: dict[tuple[str, ...], int] = {}
    return np.array([numbers.setdefault(key, len(numbers)) for key in keys], np.int64)


def _best(
    name: str,
    layout: Layout,
    headings: Sequence[Heading],
    scored: Sequence[Proposal],
    said: Mapping[str, str],
) -> tuple[TimeColumns, str]:
    best, stated = scored[0], "time" in said
    clear = best.score >= limit("accept", "stated") and not best.sensor
    if stated and clear and len(scored) == 1:
        return best.columns, evidence_of(best)
    rivals = [p for p in scored[1:] if p.score > 0 and not are_alike(best, p)]
    near = [p for p in rivals if best.score - p.score < limit("accept", "margin")]
    if best.score < limit("accept", "clear"):
        written = [p for p in scored if p.found.get("written") == 1.0]
        if len(written) == 1:
            return written[0].columns, ""
        counted = without_times(name, layout, headings)
        if not stated and best.score == 0.0 and counted.kind == "elapsed":
            return counted, ""
        raise none_good(name, layout, scored)
    if near:
        raise two_near(name, best, near[0])
    if not is_date_alone(best.columns, layout):
        return best.columns, evidence_of(best)
    if best.sensor and "sensor" not in said and not any(map(is_named, best.sensor)):
        raise day_or_sensor(name, layout, best)
    return best.columns, f"{evidence_of(best)} Only dates stand there: each counts as its 00:00."


def require_one_time(name: str, conflicts: tuple[int, int], first: str, zoned: bool) -> None:
    """Raise unless nearly every time of a sensor stands once.

    Parameters
    ----------
    name : str
        The file's name, for messages.
    conflicts : (int, int)
        Rows that give a time another value, and all rows with a time.
    first : str
        The time column and its first time as written, for messages.
    zoned : bool
        Whether the clock is known; without it the doubled hour of autumn is in conflict.

    Raises
    ------
    QuestionError
        If so many do not that two sensors are mixed, or the column is not the time.
    """
    again, rows = conflicts
    share, most = again / max(1, rows), limit("axis", "conflicts") * (1 if zoned else 5)
    few = again < limit("axis", "turns_least") and share <= 0.5
    if few or (share <= most and again < limit("axis", "conflicts_most")):
        return
    raise QuestionError(
        read=name,
        where=f"column {first}",
        found=f"{again} of {rows} rows that give another value for a time already read",
        expected="one reading for each time of a sensor",
        action="If several sensors are mixed, say which column tells them apart: --column "
        "sensor='HEADING'. If the clock stands in another column, say so: --column "
        "time='DATE+CLOCK'. If seconds were left out, export the file with them.",
    )
