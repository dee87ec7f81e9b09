"""Which proposal for the time is taken: each is scored by what its times do on some rows."""

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from analysis.errors import StilltautError
from service.errors import Answer, NotUnderstoodError, QuestionError
from service.ingest.clockcells import forms_of
from service.ingest.columntimes import times_of
from service.ingest.dateorder import ORDERS
from service.ingest.evidence import limit, score
from service.ingest.fields import split
from service.ingest.files.decode import Decoded
from service.ingest.headings import Heading
from service.ingest.layout import Layout
from service.ingest.sensorcolumns import Codes, can_tell_apart, is_named
from service.ingest.table import Table
from service.ingest.timebase import DAY_US, SECOND_US, Micros
from service.ingest.timecolumns import (
    TimeColumns,
    heading_speaks,
    proposed_times,
    speak,
    stated_times,
    with_offset,
    without_times,
)
from service.ingest.timeless import day_rows, number_of
from service.ingest.timestamps import Times, shape_of

SAMPLE_BYTES = 120_000
# What may be said of the rows where a date stands without a clock.
EVENLY = "evenly over each day"
_EARLIEST_US, _LATEST_US = 5_479 * DAY_US, 47_482 * DAY_US  # 1985 and 2100


@dataclass(frozen=True)
class Proposal:
    """Columns proposed for the time, what was found of them, and their score."""

    columns: TimeColumns
    times: Times | None
    found: Mapping[str, float]
    score: float
    sensor: tuple[Heading, ...] = ()

    def first_times(self) -> str:
        """Return the first three times that the proposal gives."""
        if self.times is None:
            return "nothing"
        some = self.times.clock_us[self.times.read][:3]
        shown = [str(np.datetime64(int(us), "us").astype("datetime64[s]")) for us in some]
        return ", ".join(text.replace("T", " ") for text in shown) or "nothing"


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
    only = proposed[0]
    if len(proposed) == 1 and (only.kind == "elapsed" or _written_out(only, layout)):
        # Whether such times run as they must is judged over the whole file.
        return only, ""
    sample = sample_of(text, layout)
    scored = _scored(text.name, layout, headings, sample, proposed, order, apart)
    return _best(text.name, layout, headings, scored, stated)


def _only_dates(name: str, layout: Layout, proposed: Sequence[TimeColumns]) -> TimeColumns:
    """Return the first proposal that is a column of dates without a clock."""
    for columns in proposed:
        if columns.kind == "stamp" and _date_alone(columns, layout):
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
        if _date_alone(columns, layout):
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
    if _date_alone(columns, layout) and _left_over(columns, headings):
        found["heading"] /= 2
    return Proposal(columns, times, found, score("time", found), sensor)


def _date_alone(columns: TimeColumns, layout: Layout) -> bool:
    """Return whether a proposal is a date without any clock."""
    if columns.kind != "stamp":
        return columns.kind in ("parts", "year and day") and "hour" not in columns.parts
    shapes = [shape_of(cell.strip()) for cell in layout.column(columns.headings[0].index)[:9]]
    return all(shape is None or not shape.clock for shape in shapes)


def _written_out(columns: TimeColumns, layout: Layout) -> bool:
    """Return whether date and clock are written so that they can hardly be another number."""
    return columns.form == "clock" or (columns.kind == "stamp" and not _date_alone(columns, layout))


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


def measured(
    times: Times, filled: npt.NDArray[np.bool_], codes: Codes | None, keys: Micros
) -> dict[str, float]:
    """Return what the times of some rows do, sensor by sensor, by the names of the measures.

    Parameters
    ----------
    times : Times
        The rows' times, shape (n,).
    filled : numpy.ndarray of bool, shape (n,)
        Which rows hold anything.
    codes : numpy.ndarray of int or None, shape (n,)
        Each row's sensor.
    keys : numpy.ndarray of int, shape (n,)
        Equal for lines that say the very same.
    """
    read = times.read & filled
    found = {"readable": float(read.sum() / max(1, filled.sum()))}
    clock_us = times.clock_us - (times.offset_us if times.has_offset else 0)
    clock_us, keys = clock_us[read], keys[read]
    groups = np.zeros(len(clock_us), np.int64) if codes is None else codes[read]
    if len(clock_us) < limit("accept", "rows"):
        return found
    inside = (clock_us >= _EARLIEST_US) & (clock_us < _LATEST_US)
    found["dated"] = float(inside.mean())
    order = np.argsort(groups, kind="stable")
    clock_us, groups, keys = clock_us[order], groups[order], keys[order]
    found["single"] = _single(clock_us, _stretches(clock_us, groups), keys)
    steps = np.diff(clock_us)[groups[1:] == groups[:-1]]
    days = np.unique(np.stack([groups, clock_us // DAY_US]), axis=1).shape[1]
    found["within"] = float((len(clock_us) - days) / len(clock_us))
    same = groups[1:] == groups[:-1]
    nights = (np.diff(clock_us // DAY_US) != 0)[same]
    return found | _steps(steps) | _wraps(steps, nights)


def _stretches(clock_us: Micros, groups: Codes) -> Codes:
    """Return the groups, parted where the times of one turn back a few times.

    Times that come again behind such a place are a clock that was set, or two exports: whether
    they are is judged over the whole file.
    """
    steps = np.diff(clock_us)
    steps[groups[1:] != groups[:-1]] = 0
    forward = np.count_nonzero(steps > 0) >= np.count_nonzero(steps < 0)
    turns = steps < 0 if forward else steps > 0
    if np.count_nonzero(turns) > limit("clock", "most"):
        return groups
    part = np.cumsum(np.append(False, turns)).astype(np.int64)
    return np.asarray(groups + (int(groups.max(initial=0)) + 1) * part, np.int64)


def _wraps(steps: Micros, nights: npt.NDArray[np.bool_]) -> dict[str, float]:
    """Return the share of midnights across which times go on at the usual step."""
    usual = np.median(np.abs(steps[steps != 0])) if np.any(steps) else 0
    if np.count_nonzero(nights) < 2 or usual > DAY_US / 4:
        return {}
    return {"wraps": float(np.mean(np.abs(np.abs(steps[nights]) - usual) <= 0.5 * usual))}


def _single(clock_us: Micros, groups: Codes, keys: Micros) -> float:
    """Return the share of different lines whose time no other line of the sensor has."""
    lines = np.unique(np.stack([groups, clock_us, keys]), axis=1)
    times = np.unique(lines[:2], axis=1)
    return float(times.shape[1] / lines.shape[1])


def _steps(steps: Micros) -> dict[str, float]:
    """Return how far steps run one way and repeat."""
    forward, back = np.count_nonzero(steps > 0), np.count_nonzero(steps < 0)
    if forward + back == 0:
        return {"rising": math.nan if not len(steps) else 0.0}
    steps = steps if forward >= back else -steps
    running = steps[steps > 0]
    found = {"rising": float(max(forward, back) / (forward + back))}
    if len(running) >= limit("accept", "steps"):
        usual = np.median(running)
        near = np.abs(running - usual) <= max(0.02 * usual, 1.5 * SECOND_US)
        found["regular"] = float(near.mean())
    return found


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
    rivals = [p for p in scored[1:] if p.score > 0 and not _alike(best, p)]
    near = [p for p in rivals if best.score - p.score < limit("accept", "margin")]
    if best.score < limit("accept", "clear"):
        written = [p for p in scored if p.found.get("written") == 1.0]
        if len(written) == 1:
            return written[0].columns, ""
        counted = without_times(name, layout, headings)
        if not stated and best.score == 0.0 and counted.kind == "elapsed":
            return counted, ""
        raise _none_good(name, layout, scored)
    if near:
        raise _two_near(name, best, near[0])
    if not _date_alone(best.columns, layout):
        return best.columns, evidence_of(best)
    if best.sensor and "sensor" not in said and not any(map(is_named, best.sensor)):
        raise _day_or_sensor(name, layout, best)
    return best.columns, f"{evidence_of(best)} Only dates stand there: each counts as its 00:00."


def _day_or_sensor(name: str, layout: Layout, best: Proposal) -> QuestionError:
    """Return the question whether a column tells sensors apart, or the parts of a day."""
    column = best.sensor[-1]
    texts = ", ".join(sorted({cell.strip() for cell in layout.column(column.index)})[:4])
    answers = [
        Answer(f"{column.shown!r} tells sensors apart, read once a day", {"sensor": column.shown}),
        *(
            replace(one, columns={**one.columns, "sensor": "none"})
            for one in _evenly(layout, [best])
        ),
    ]
    return QuestionError(
        read=name,
        where=f"columns {best.columns.answer()!r} and {column.shown!r}",
        found=f"dates without a clock, several rows each, told apart by {texts}",
        expected=f"to know whether {column.shown!r} names sensors or parts of the day",
        action="Say it: " + " or ".join(answer.options() for answer in answers) + ".",
        answers=answers,
    )


def _alike(one: Proposal, other: Proposal) -> bool:
    """Return whether two proposals give the same times, or one the other's on another clock."""
    if one.times is None or other.times is None:
        return False
    both = one.times.read & other.times.read
    if np.count_nonzero(both) < 0.9 * np.count_nonzero(one.times.read):
        return bool(np.count_nonzero(other.times.read) < 0.5 * len(both))
    apart = one.times.clock_us[both] - other.times.clock_us[both]
    offsets = np.unique(apart)
    if len(offsets) > 1:
        return False
    if not len(offsets) or not offsets[0]:
        return True
    shift_s = abs(int(offsets[0])) // SECOND_US
    settled = one.found["absolute"] > other.found["absolute"]
    return bool(settled and shift_s % 900 == 0 and shift_s <= 15 * 3600)


def evidence_of(best: Proposal) -> str:
    """Return the evidence for a proposal in one line."""
    found = best.found
    shown = {
        "single": "{:.0%} of the times given once",
        "rising": "{:.0%} of the steps run one way",
        "regular": "{:.0%} of the steps alike",
    }
    parts = [text.format(found[key]) for key, text in shown.items() if not _unknown(found, key)]
    within = (
        " within each " + " and ".join(repr(h.shown) for h in best.sensor) if best.sensor else ""
    )
    names = " + ".join(repr(n) for n in best.columns.names)
    return f"Times from {names}: {', '.join(parts)}{within}." if parts else ""


def _unknown(found: Mapping[str, float], key: str) -> bool:
    return math.isnan(found.get(key, math.nan))


def _two_near(name: str, best: Proposal, other: Proposal) -> QuestionError:
    both = (best, other)
    return QuestionError(
        read=name,
        where="columns " + " and ".join(repr(p.columns.answer()) for p in both),
        found="two columns that can be the time: "
        + "; ".join(f"{p.columns.answer()!r} gives {p.first_times()}" for p in both),
        expected="to know which is the time of the readings",
        action=f"Say it: {_answer(best).options()} or {_answer(other).options()}.",
        answers=[_answer(p) for p in both],
    )


def _answer(proposal: Proposal) -> Answer:
    words = f"{proposal.columns.answer()}: {proposal.first_times()}"
    return Answer(words, {"time": proposal.columns.answer()})


def _none_good(name: str, layout: Layout, scored: Sequence[Proposal]) -> QuestionError:
    best = scored[0]
    others = [p for p in scored if p.times is not None][:2] or [best]
    gives = "; ".join(f"{p.columns.answer()!r} gives {p.first_times()}" for p in others)
    return QuestionError(
        read=name,
        where="columns " + " and ".join(repr(p.columns.answer()) for p in others),
        found=f"no column whose times run as a logger's do: {gives} ({', '.join(_doubts(best))})",
        expected="a time for each reading of a sensor, once, running one way",
        action="Say which columns are the time, as --column time='DATE+CLOCK', or which column "
        "tells sensors apart, as --column sensor='HEADING'; it is judged in the same way.",
        answers=[*_evenly(layout, others), *(_answer(p) for p in others if p.score > 0)],
    )


def _evenly(layout: Layout, proposals: Sequence[Proposal]) -> Iterator[Answer]:
    """Return the answer that the rows of each date are spread over its day, where they may be."""
    for proposal in proposals:
        columns, times = proposal.columns, proposal.times
        if times is None or columns.kind != "stamp" or not _date_alone(columns, layout):
            continue
        many = day_rows(times)
        if many:
            yield Answer(
                f"there is no clock: the {many} readings of each day follow one another evenly "
                f"from midnight, one every {1440 // many} min",
                {"rows": EVENLY},
            )
            return


def _doubts(proposal: Proposal) -> Iterator[str]:
    """Return what speaks against a proposal."""
    words = {
        "readable": "only {:.0%} can be read as times",
        "single": "only {:.0%} of the times stand once",
        "rising": "only {:.0%} of the steps run one way",
        "regular": "only {:.0%} of the steps are alike",
        "within": "no clock beside the date",
        "heading": "the heading does not speak of time",
        "dated": "dates before 1985 or after 2100",
    }
    low = {"readable": 0.98, "single": 0.98, "rising": 0.97, "regular": 0.5, "within": 0.01}
    low |= {"heading": 0.6, "dated": 0.9}
    stated = False
    for key, text in words.items():
        value = proposal.found.get(key, math.nan)
        if value < low[key]:
            stated = True
            yield text.format(value)
    if not stated:
        yield "too few rows to tell"


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
