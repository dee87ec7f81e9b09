"""What was understood of the parts of a file, added up to what is understood of the whole."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

import numpy as np

from service.errors import remark
from service.ingest.assembly import MOST_LISTED
from service.ingest.clock import EACH_TIME
from service.ingest.long.spilled import Again
from service.ingest.plausibility import Judged
from service.ingest.read import FileReading
from service.ingest.takencolumns import Taken
from service.ingest.understanding import (
    Channel,
    Problem,
    RowCounts,
    TimeUnderstanding,
    Understanding,
)

MOST_NOTES = 40


@dataclass
class Totals:
    """The sums over the parts read so far."""

    times: list[TimeUnderstanding] = field(default_factory=list)
    channels: dict[tuple[str, str, str], Channel] = field(default_factory=dict)
    rows: RowCounts = field(default_factory=lambda: RowCounts(0, 0, 0, 0, 0))
    problems: list[Problem] = field(default_factory=list)
    notes: dict[str, None] = field(default_factory=dict)
    first: Understanding | None = None
    _listed: Counter[tuple[str, str, str]] = field(default_factory=Counter)
    _firsts: dict[str, list[datetime]] = field(default_factory=dict)

    def add(self, reading: FileReading) -> None:
        """Add what was understood of a part."""
        known = reading.understanding
        self.first = self.first or known
        self.times.append(known.time)
        for label, frame in reading.sensors.items():
            if len(frame):
                self._firsts.setdefault(label, []).append(frame.index[0])
        for channel in known.channels:
            key = (channel.name, channel.quantity, channel.column)
            self.channels[key] = _both(self.channels.get(key), channel)
        self.rows += known.rows
        for problem in known.problems:
            kind = (problem.column, problem.expected, problem.kept)
            self._listed[kind] += 1
            if problem.line == 0 or self._listed[kind] <= MOST_LISTED:
                self.problems.append(problem)
        self.notes |= dict.fromkeys(known.notes)

    def order(self) -> str:
        """Return the order of the whole: that of the parts, where these follow each other so."""
        orders = {time.order for time in self.times}
        order = orders.pop() if len(orders) == 1 else "unsorted"
        follow = {
            "oldest first": all(f == sorted(f) for f in self._firsts.values()),
            "newest first": all(f == sorted(f, reverse=True) for f in self._firsts.values()),
        }
        return order if follow.get(order, False) else "unsorted"

    def understanding(
        self, sample: Taken, order: str, again: Mapping[str, Again], flagged: int
    ) -> Understanding:
        """Return what was understood of the whole.

        Parameters
        ----------
        sample : Taken
            The lines by which the whole was judged.
        order : str
            As from `order`.
        again : mapping of str to Again
            Readings of each sensor that come again in another part of the file.
        flagged : int
            Readings in doubt, once the parts are joined.
        """
        assert self.first is not None
        twice = sum(one.same + one.conflicting for one in again.values())
        judged = {settled.column.heading: settled for settled in sample.kept.values()}
        notes = [*sample.clock.notes, *sample.clock.times.notes, *sample.notes, *self.notes]
        if sample.apart and sample.apart.note:
            notes.append(sample.apart.note)
        return replace(
            self.first,
            time=self._time(order),
            channels=tuple(self._channels(judged, again)),
            rows=replace(self.rows, duplicate=self.rows.duplicate + twice, flagged=flagged),
            problems=tuple(self._problems(again)),
            notes=tuple(dict.fromkeys(notes))[:MOST_NOTES],
            told_apart=tuple(h.shown for h in (sample.apart.headings if sample.apart else ())),
            header_lines=sample.plan.layout.header_lines,
        )

    def _channels(
        self, judged: Mapping[str, Judged], again: Mapping[str, Again]
    ) -> Sequence[Channel]:
        found = []
        for channel in self.channels.values():
            label = channel.name if channel.name in again else ""
            twice = again.get(label, Again())
            known = channel.readings - twice.same - twice.conflicting
            unit = judged[channel.column].shown if channel.column in judged else channel.unit
            missing = channel.missing - twice.filled
            found.append(replace(channel, unit=unit, readings=known, missing=missing))
        return found

    def _time(self, order: str) -> TimeUnderstanding:
        first, zones = self.times[0], {time.zone for time in self.times}
        intervals = [time.interval_s for time in self.times if time.interval_s is not None]
        return replace(
            first,
            zone=first.zone if len(zones) == 1 else EACH_TIME,
            first_utc=min((t.first_utc for t in self.times if t.first_utc), default=None),
            last_utc=max((t.last_utc for t in self.times if t.last_utc), default=None),
            interval_s=float(np.median(intervals)) if intervals else None,
            order=order,
            first_written=min(time.first_written for time in self.times),
            last_written=max(time.last_written for time in self.times),
        )

    def _problems(self, again: Mapping[str, Again]) -> list[Problem]:
        found = list(self.problems)
        for (column, expected, kept), count in self._listed.items():
            listed = sum(
                (p.column, p.expected, p.kept) == (column, expected, kept) for p in self.problems
            )
            if count > listed:
                more = remark(f"{count - listed} more of this kind")
                found.append(Problem(0, column, more, expected, kept))
        for label, one in again.items():
            if one.conflicting:
                found.append(_in_conflict(label, one.conflicting))
        return sorted(found, key=lambda problem: problem.line)


def _in_conflict(label: str, count: int) -> Problem:
    return Problem(
        0,
        label,
        remark(f"{count} readings that give another value for a time of another part of the file"),
        remark("one value for each time"),
        remark("the first value; the time is flagged"),
    )


def _both(one: Channel | None, other: Channel) -> Channel:
    """Return a channel over two parts of a file."""
    if one is None:
        return other
    low = [c.minimum for c in (one, other) if c.readings]
    high = [c.maximum for c in (one, other) if c.readings]
    return replace(
        one,
        readings=one.readings + other.readings,
        missing=one.missing + other.missing,
        minimum=min(low, default=float("nan")),
        maximum=max(high, default=float("nan")),
    )
