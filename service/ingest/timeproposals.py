"""A proposal for the time: what was found of it, and the question where it is not clear."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from service.errors import Answer, QuestionError, remark
from service.ingest.headings import Heading
from service.ingest.layout import Layout
from service.ingest.timecolumns import TimeColumns
from service.ingest.timeless import day_rows
from service.ingest.times.timebase import SECOND_US
from service.ingest.times.timestamps import Times, shape_of

# What may be said of the rows where a date stands without a clock.
EVENLY = "evenly over each day"
# What may be said of the rows below a date that stands beside the first clock of its day alone.
CARRIED = "of the date above"


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


def evidence_of(best: Proposal) -> str:
    """Return the evidence for a proposal in one line."""
    found = best.found
    share = {key: f"{100 * _or_none(best, key):.0f}%" for key in _SHARES}
    shown = {
        "single": remark(f"{share['single']} of the times given once"),
        "rising": remark(f"{share['rising']} of the steps run one way"),
        "regular": remark(f"{share['regular']} of the steps alike"),
    }
    parts = ", ".join(text for key, text in shown.items() if not _unknown(found, key))
    names = " + ".join(repr(n) for n in best.columns.names)
    each = " and ".join(repr(h.shown) for h in best.sensor)
    if not parts:
        return ""
    if each:
        return remark(f"Times from {names}: {parts} within each {each}.")
    return remark(f"Times from {names}: {parts}.")


def _unknown(found: Mapping[str, float], key: str) -> bool:
    return math.isnan(found.get(key, math.nan))


def two_near(name: str, best: Proposal, other: Proposal) -> QuestionError:
    """Return the question which of two proposals near each other is the time."""
    both = (best, other)
    return QuestionError(
        read=name,
        where=f"columns {' and '.join(repr(p.columns.answer()) for p in both)}",
        found="two columns that can be the time: "
        + "; ".join(f"{p.columns.answer()!r} gives {p.first_times()}" for p in both),
        expected="to know which is the time of the readings",
        action=f"Say it: {_answer(best).options()} or {_answer(other).options()}.",
        answers=[_answer(p) for p in both],
    )


def _answer(proposal: Proposal) -> Answer:
    words = f"{proposal.columns.answer()}: {proposal.first_times()}"
    return Answer(words, {"time": proposal.columns.answer()})


def day_or_sensor(name: str, layout: Layout, best: Proposal) -> QuestionError:
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


def stands_once_a_day(layout: Layout, columns: TimeColumns) -> bool:
    """Return whether dates stand beside some clocks alone, and no date beside most of the others.

    One or two dates that are missing are gaps of the file; they are kept apart and told.
    """
    if columns.kind != "date and clock":
        return False
    dates, clocks = (layout.column(heading.index) for heading in columns.headings)
    beside = [
        bool(date.strip()) for date, clock in zip(dates, clocks, strict=True) if clock.strip()
    ]
    return 0 < sum(beside) <= 0.5 * len(beside)


def dates_once(name: str, layout: Layout, columns: TimeColumns) -> QuestionError:
    """Return the question whether a date holds for the rows below it too."""
    date, clock = columns.headings
    rows = layout.column(date.index)
    without = sum(not cell.strip() for cell in rows)
    answers = [
        Answer("each row is of the last date above it", {"rows": CARRIED}),
        Answer("rows without a date are to be left out", {"rows": "with a date alone"}),
    ]
    return QuestionError(
        read=name,
        where=f"columns {date.shown!r} and {clock.shown!r}",
        found=f"a clock without a date in {without} of the {len(rows)} rows looked at",
        expected="to know of which day they are",
        action="Say it: " + " or ".join(answer.options() for answer in answers) + ".",
        answers=answers,
    )


def none_good(name: str, layout: Layout, scored: Sequence[Proposal]) -> QuestionError:
    """Return the question where the time stands, none of the proposals being good."""
    best = scored[0]
    others = [p for p in scored if p.times is not None][:2] or [best]
    gives = "; ".join(remark(f"{p.columns.answer()!r} gives {p.first_times()}") for p in others)
    return QuestionError(
        read=name,
        where=f"columns {' and '.join(repr(p.columns.answer()) for p in others)}",
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
        if times is None or columns.kind != "stamp" or not is_date_alone(columns, layout):
            continue
        many = day_rows(times)
        if many:
            yield Answer(
                f"there is no clock: the {many} readings of each day follow one another evenly "
                f"from midnight, one every {1440 // many} min",
                {"rows": EVENLY},
            )
            return


_SHARES = ("readable", "single", "rising", "regular")


def _or_none(proposal: Proposal, key: str) -> float:
    """Return a measure of a proposal, nought where it is not known."""
    value = proposal.found.get(key, math.nan)
    return 0.0 if math.isnan(value) else value


def _doubts(proposal: Proposal) -> Iterator[str]:
    """Return what speaks against a proposal."""
    share = {key: f"{100 * _or_none(proposal, key):.0f}%" for key in _SHARES}
    words = {
        "readable": remark(f"only {share['readable']} can be read as times"),
        "single": remark(f"only {share['single']} of the times stand once"),
        "rising": remark(f"only {share['rising']} of the steps run one way"),
        "regular": remark(f"only {share['regular']} of the steps are alike"),
        "within": remark("no clock beside the date"),
        "heading": remark("the heading does not speak of time"),
        "dated": remark("dates before 1985 or after 2100"),
    }
    low = {"readable": 0.98, "single": 0.98, "rising": 0.97, "regular": 0.5, "within": 0.01}
    low |= {"heading": 0.6, "dated": 0.9}
    stated = False
    for key, text in words.items():
        value = proposal.found.get(key, math.nan)
        if value < low[key]:
            stated = True
            yield text
    if not stated:
        yield remark("too few rows to tell")


def are_alike(one: Proposal, other: Proposal) -> bool:
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


def is_date_alone(columns: TimeColumns, layout: Layout) -> bool:
    """Return whether a proposal is a date without any clock."""
    if columns.kind != "stamp":
        return columns.kind in ("parts", "year and day") and "hour" not in columns.parts
    shapes = [shape_of(cell.strip()) for cell in layout.column(columns.headings[0].index)[:9]]
    return all(shape is None or not shape.clock for shape in shapes)
