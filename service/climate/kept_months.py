"""Flags and hourly means of whole records, kept on disk month by month while the readings are same.

What is kept of a month rests on the readings of that month and of those around it, on the habits of
the whole record (`analysis.air.quality.Habits`) and on the thresholds: its name tells all of them.
A new week makes its own month anew and the one before it; the others are read. What is kept of a
record is written in place of what was kept before, so there is never more than the record has.
"""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from functools import cache
from importlib.metadata import version
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.hour_means import HourMeans, KnownMeans, RecordHours
from analysis.air.quality import ChannelHabits, Habits, flag_readings, out_of_range
from analysis.parameters import table
from analysis.records.room_records import Placement
from analysis.series import READING_COLUMNS
from service.storage.results import Result
from service.storage.stores import Stores

CHANNELS = ("temp_c", "rh_pct")
# Before and after a month that is flagged alone stand a whole month and so many readings of each
# channel: more than the longest test looks at (`stuck.longest`, `stuck.least_readings`).
CONTEXT_READINGS = 100
NEVER_STARTED = timedelta(days=3650)
Counts = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Months:
    """The months of a record: their names, and the rows at which each begins and the last ends."""

    names: Sequence[str]
    edges: Sequence[int]

    @classmethod
    def of(cls, frame: pd.DataFrame) -> "Months":
        """Return the months (UTC) that have readings."""
        times = pd.DatetimeIndex(frame.index).as_unit("us").asi8.astype("M8[us]")
        first, last = times[[0, -1]].astype("M8[M]")
        months = np.arange(first, last + 2)
        edges = np.searchsorted(times, months.astype("M8[us]"))
        held = np.flatnonzero(np.diff(edges))
        return cls([str(months[at]) for at in held], [*edges[held].tolist(), len(times)])


def flagged_record(
    stores: Stores, placement: Placement, frame: pd.DataFrame
) -> tuple[pd.DataFrame, dict[str, str]]:
    """Return all readings of a placement flagged, and month → a name for all its flags rest on.

    The flags are those of `flag_readings` of the whole.

    Parameters
    ----------
    frame : pandas.DataFrame
        Its readings, corrected; not empty.
    """
    months = Months.of(frame)
    started = placement.from_utc
    contents = [_content(frame.iloc[a:b]) for a, b in pairwise(months.edges)]
    name = f"flags/{placement.logger}/{'always' if started is None else started.isoformat()}"
    kept = stores.results.load(name, _rules()) or Result()
    whole = _digest(repr(started), *contents)
    same = kept.facts.get("of") == whole
    habits = _habits_from(kept.facts["habits"]) if same else Habits.of(frame)
    held = _held(frame, months)
    around = [_around(months, at, held) for at in range(len(months.names))]
    rests_on = {
        month: _digest(repr(started), repr(habits), *contents[first:last])
        for month, (first, last) in zip(months.names, around, strict=True)
    }
    flags = frame["flags"].to_numpy(dtype="int32", copy=True)
    holding = _put_kept(flags, months, kept, rests_on)
    for first, last in _runs([at for at, month in enumerate(months.names) if month not in holding]):
        rows = slice(months.edges[first], months.edges[last])
        part = slice(months.edges[around[first][0]], months.edges[around[last - 1][1]])
        flags[rows] = _flags_within(frame, rows, part, habits, started)
    if not same or len(holding) < len(rests_on):
        facts = {"of": whole, "habits": asdict(habits), "months": rests_on}
        stores.results.save(name, _rules(), _sparse(flags, months, facts))
    return frame.assign(flags=flags), rests_on


def _content(part: pd.DataFrame) -> str:
    """Return a hash of readings as they are corrected, with the flags they came with."""
    made = hashlib.blake2b(digest_size=16)
    made.update(pd.DatetimeIndex(part.index).as_unit("us").asi8.tobytes())
    for name in READING_COLUMNS:
        made.update(np.ascontiguousarray(part[name].to_numpy()).data)
    return made.hexdigest()


def _held(frame: pd.DataFrame, months: Months) -> Counts:
    """Return how many possible readings each month has of the channel that has fewer of them.

    A channel without any reading does not count. Shape (months,).
    """
    fit = ~out_of_range(frame)
    starts = np.asarray(months.edges[:-1])
    counts = [
        np.add.reduceat((frame[name].notna().to_numpy() & fit).astype(np.int64), starts)
        for name in CHANNELS
    ]
    some = [one for one in counts if one.any()]
    return np.asarray(np.min(some, axis=0) if some else np.zeros(len(starts), dtype=np.int64))


def _around(months: Months, at: int, held: Counts) -> tuple[int, int]:
    """Return the first month that one is flagged with, and the one after the last."""
    first, last = at - 1, at + 2
    while first > 0 and held[first:at].sum() < CONTEXT_READINGS:
        first -= 1
    while last < len(months.names) and held[at + 1 : last].sum() < CONTEXT_READINGS:
        last += 1
    return max(first, 0), min(last, len(months.names))


def _runs(numbers: Sequence[int]) -> list[tuple[int, int]]:
    """Return runs of neighbouring numbers, each as its first and the one after its last."""
    runs: list[tuple[int, int]] = []
    for number in numbers:
        if runs and runs[-1][1] == number:
            runs[-1] = (runs[-1][0], number + 1)
        else:
            runs.append((number, number + 1))
    return runs


def _flags_within(
    frame: pd.DataFrame, rows: slice, part: slice, habits: Habits, started: datetime | None
) -> npt.NDArray[np.int32]:
    """Return the flags of some rows of a record, found with the part of it around them."""
    given = frame.iloc[part]
    if started is None and part.start > 0:
        started = given.index[0].to_pydatetime() - NEVER_STARTED
    found = flag_readings(given, started_utc=started, habits=habits)["flags"]
    return found.to_numpy(dtype="int32")[rows.start - part.start : rows.stop - part.start]


def _sparse(flags: npt.NDArray[np.int32], months: Months, facts: Mapping[str, Any]) -> Result:
    """Return the flags of a record as they are kept: of readings in doubt, by month and row."""
    doubted = np.flatnonzero(flags)
    month = np.searchsorted(months.edges, doubted, "right") - 1
    row = doubted - np.asarray(months.edges)[month]
    return Result({"month": month, "row": row.astype(np.int32), "flags": flags[doubted]}, facts)


def _put_kept(
    flags: npt.NDArray[np.int32], months: Months, kept: Result, rests_on: Mapping[str, str]
) -> set[str]:
    """Put the flags that are kept of months and still hold in place; return those months."""
    numbers = {month: number for number, month in enumerate(kept.facts.get("months", ()))}
    holding = {month for month in numbers if kept.facts["months"][month] == rests_on.get(month)}
    for month, (begin, end) in zip(months.names, pairwise(months.edges), strict=True):
        if month in holding:
            number = numbers[month]
            part = slice(*np.searchsorted(kept.arrays["month"], [number, number + 1]))
            flags[begin:end] = 0
            flags[begin + kept.arrays["row"][part]] = kept.arrays["flags"][part]
    return holding


def _habits_from(kept: Mapping[str, Any]) -> Habits:
    channels = {name: ChannelHabits(**kept[name]) for name in CHANNELS}
    return Habits(**{**kept, **channels})


def record_hours(
    stores: Stores, room_id: str, frame: pd.DataFrame, flagged: Sequence[Mapping[str, str]]
) -> RecordHours:
    """Return the hours of a room's whole record: `RecordHours.of` it.

    Parameters
    ----------
    frame : pandas.DataFrame
        The room's readings; not empty.
    flagged : sequence of mapping of str to str
        For each piece of record that it was made from, in order, what `flagged_record` gave.
    """
    rests_on: dict[str, dict[str, str]] = {}
    for month in Months.of(frame).names:
        near = [str(np.datetime64(month) + step) for step in (-1, 0, 1)]
        name = _digest(*(one.get(other, "") for one in flagged for other in near))
        rests_on.setdefault(month[:4], {})[month] = name
    kept = {
        year: stores.results.load(_year_name(room_id, year), _rules()) or Result()
        for year in rests_on
    }
    known: dict[str, list[KnownMeans]] = {name: [] for name in CHANNELS}
    stale = []
    for year, wanted in rests_on.items():
        there = kept[year].facts.get("months", {})
        holding = [month for month, name in wanted.items() if there.get(month) == name]
        for name in CHANNELS:
            known[name] += [_of_month(kept[year], name, month) for month in holding]
        stale += [year] if len(holding) < len(wanted) else []
    hours = RecordHours.of(frame, known)
    for year in stale:
        means = {name: _of_year(getattr(hours, name), year) for name in CHANNELS}
        arrays = {name: one for name, (_, one) in means.items()}
        firsts = {name: first for name, (first, _) in means.items()}
        facts = {"months": rests_on[year], "first_h": firsts}
        stores.results.save(_year_name(room_id, year), _rules(), Result(arrays, facts))
    return hours


def _of_month(kept: Result, channel: str, month: str) -> KnownMeans:
    """Return the means of a month, of those that are kept of its year."""
    begin = np.datetime64(month)
    return _part_of((kept.facts["first_h"][channel], kept.arrays[channel]), begin, begin + 1)


def _of_year(hours: HourMeans, year: str) -> KnownMeans:
    begin = np.datetime64(year).astype("M8[M]")
    return _part_of((hours.first_h, hours.means), begin, begin + 12)


def _part_of(means: KnownMeans, begin: np.datetime64, end: np.datetime64) -> KnownMeans:
    """Return the part of some means that lies from the begin of a month until another."""
    first, values = means
    from_h, until_h = (int(one.astype("M8[h]").astype(np.int64)) for one in (begin, end))
    start = max(from_h, first)
    return start, values[start - first : max(until_h - first, 0)]


def _year_name(room_id: str, year: str) -> str:
    return f"hourly air/{room_id}/{year}"


@cache
def _rules() -> str:
    """Return a name for the way flags and means are found: the release and the thresholds."""
    rows = (
        f"{group}.{row.name}={row.value!r}"
        for group, rows in sorted(table("quality").items())
        for row in rows.values()
    )
    return _digest(version("stilltaut"), *rows)


def _digest(*parts: str) -> str:
    return hashlib.blake2b("\0".join(parts).encode(), digest_size=16).hexdigest()
