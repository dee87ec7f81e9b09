"""A long file read part by part: what its sample settles holds for every part of it."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import pyarrow.compute as pc

from service.errors import Answer, QuestionError
from service.ingest.axis import require_one_time
from service.ingest.choice import SEVERAL, Choice
from service.ingest.clock import Clock
from service.ingest.files.decode import Decoded
from service.ingest.files.opened import PLACES
from service.ingest.headings import Heading
from service.ingest.long.long_text import SKETCH_HEAD, LongText
from service.ingest.long.spilled import SpilledReadings
from service.ingest.long.totals import Totals
from service.ingest.plan import Plan
from service.ingest.read import FileReading, confirmed, planned, put_together
from service.ingest.sensorcolumns import NONE, Apart, is_named
from service.ingest.takencolumns import Settled, Taken, taken
from service.ingest.times.dateorder import ORDER
from service.ingest.times.timebase import DAY_US, HOUR_US, transitions

# Rows on both sides of a cut are looked at together for a clock that was set just there.
SEAM_BYTES = 64_000
# A part is not cut so near a change of summer time [µs].
NEAR_US = 4 * HOUR_US
# So often the sample is taken anew with what one part shows and it did not.
MOST_SAMPLES = 12
# Times of these kinds are told by the rows before them.
COUNTED = ("count", "elapsed", "evenly")


class _UnlikeTheSampleError(Exception):
    """A part shows what the sample did not: it must be looked at too."""

    def __init__(self, place: int) -> None:
        super().__init__(place)
        self.place = place


@dataclass(frozen=True)
class _Part:
    """A part of the file: where it begins, its bytes, and the number of its first line."""

    number: int
    at: int
    data: bytes
    first_line: int
    end: bytes

    def place_of(self, line: int) -> int:
        """Return where a line begins."""
        *before, _ = self.data.split(self.end, max(0, line - self.first_line))
        return self.at + sum(map(len, before)) + len(before)


@dataclass
class _Reader:
    """A long file, what is asked of it, and what its sample has settled."""

    text: LongText
    asked: Choice
    remembered: Choice
    plan: Plan
    sample: Taken
    settled: Settled
    names: dict[int, str] = field(default_factory=dict)

    def read(self, folder: Path | None) -> FileReading:
        """Return the readings of all parts."""
        spilled, totals = SpilledReadings(folder), Totals()
        before: _Part | None = None
        for part, found in self._parts():
            self._require_known(part, found)
            reading = put_together(found, self.asked, self.remembered)
            if before is not None:
                self._require_no_turn(before, part)
            spilled.add(part.number, reading.sensors)
            totals.add(reading)
            before = replace(part, data=part.data[-2 * SEAM_BYTES :])
        order = totals.order()
        spilled.settle(order == "newest first")
        again = {name: spilled.again(name) for name in spilled}
        clash = sum(one.conflicting for one in again.values())
        zoned = self.sample.clock.zone is not None
        if "clock" not in self.asked.columns:
            rows = sum(spilled.rows(name) for name in spilled)
            require_one_time(self.text.name, (clash, rows + clash), self._time_answer(), zoned)
        known = totals.understanding(self.sample, order, again, spilled.flagged)
        notes = tuple(dict.fromkeys((*self.sample.plan.text.notes, *known.notes)))
        choice = confirmed(self.asked, self.remembered, self.sample)
        known = replace(known, sha256=self.text.sha256, notes=notes)
        return FileReading(known, spilled, {}, choice)

    def _time_answer(self) -> str:
        return self.sample.plan.time.answer()

    def _parts(self) -> Iterator[tuple[_Part, Taken]]:
        """Yield the parts below the headings, with their columns."""
        layout = self.sample.plan.layout
        at = _after_lines(self.text, layout.header_lines)
        number, line = 0, layout.header_lines + 1
        while at < self.text.size:
            part = _Part(
                number, at, self.text.bytes_at(at, self.text.part_bytes), line, self.text.end
            )
            found = self._taken(part)
            if at + len(part.data) < self.text.size:
                last = _last_line_to_cut(found, part)
                if last is not None:
                    stop = part.place_of(last + 1) - at
                    part = replace(part, data=part.data[:stop])
                    found = self._taken(part)
            yield part, found
            at += len(part.data)
            line += part.data.count(self.text.end)
            number += 1

    def _taken(self, part: _Part) -> Taken:
        text = self.text.text(part.data, part.first_line)
        return taken(
            self.text.name, self._plan(text), self._pinned(), self.remembered, self.settled
        )

    def _plan(self, text: Decoded) -> Plan:
        return replace(self.plan, text=text, layout=replace(self.plan.layout, header_lines=0))

    def _pinned(self) -> Choice:
        """Return what is asked, with the order of day and month that the whole sample shows."""
        order = self.settled.order
        if not order or self.asked.day_first is not None:
            return self.asked
        return replace(self.asked, columns={**self.asked.columns, ORDER: order})

    def _require_known(self, part: _Part, found: Taken) -> None:
        """Raise where a part shows a sensor, or a quantity, that the sample did not show."""
        if found.plan.tall:
            known = {*self.settled.judged, *self.settled.refused}
            for column in found.plan.columns:
                if column.heading not in known:
                    rows = np.flatnonzero(np.isfinite(found.table.numbers[column.index]))
                    raise _UnlikeTheSampleError(
                        part.place_of(found.table.line(int(rows[0])) if len(rows) else 0)
                    )
        if self.settled.sensors:
            return
        for heading in self.sample.plan.sensors:
            if is_named(heading):
                self._require_one_name(part, found, heading)

    def _require_one_name(self, part: _Part, found: Taken, heading: Heading) -> None:
        """Raise where a column that names sensors names another than the parts before."""
        column = pc.utf8_trim_whitespace(found.table.texts[heading.index])
        names = [name for name in pc.unique(column.drop_null()).to_pylist() if name]
        if not names:
            return
        known = self.names.setdefault(heading.index, str(names[0]))
        other = next((name for name in names if name != known), None)
        if other is not None:
            row = int(pc.index(column, other).as_py())
            raise _UnlikeTheSampleError(part.place_of(found.table.line(row)))

    def _require_no_turn(self, before: _Part, part: _Part) -> None:
        """Raise where a clock was set between the last rows of a part and the first of the next."""
        behind, ahead = before.data[-SEAM_BYTES:], part.data[:SEAM_BYTES]
        behind = behind[behind.find(self.text.end) + 1 :]
        ahead = ahead[: ahead.rfind(self.text.end) + 1] or ahead
        line = part.first_line - behind.count(self.text.end)
        at = part.at - len(behind)
        seam = replace(part, at=at, data=behind + ahead, first_line=line)
        put_together(self._taken(seam), self.asked, self.remembered)


def read_long(
    text: LongText, asked: Choice, remembered: Choice | None = None, folder: Path | None = None
) -> FileReading | None:
    """Return what a long file holds, as `read.read_as` would, or None where it must be held whole.

    Parameters
    ----------
    text : LongText
        The file.
    asked, remembered : Choice
        What a person says now, and what was confirmed before.
    folder : pathlib.Path, optional
        Where there is room for the readings meanwhile.

    Returns
    -------
    FileReading
        Its sensors are `SpilledReadings`. None where times are counted from row to row.

    Raises
    ------
    NotUnderstoodError, QuestionError, UnknownNameError
        As `read.read_bytes` does; nothing of a file is handed on of which the last line is wrong.
    """
    remembered = remembered or Choice()
    if set(PLACES) & set(asked.columns):
        return None
    places: list[int] = []
    try:
        while True:
            reader = _sampled(text, asked, remembered, places)
            if reader.sample.plan.time.kind in COUNTED:
                return None
            try:
                return reader.read(folder)
            except _UnlikeTheSampleError as unlike:
                places.append(unlike.place)
                if len(places) > MOST_SAMPLES:
                    raise _too_various(text) from None
    except QuestionError as question:
        raise question.beside(asked.columns, SEVERAL) from None


def _sampled(text: LongText, asked: Choice, remembered: Choice, places: list[int]) -> _Reader:
    plan, asked = planned(text.sketch(places), asked, remembered)
    sample = taken(text.name, plan, asked, remembered)
    apart = sample.apart
    if apart and "sensor" not in asked.columns and not any(map(is_named, apart.headings)):
        # Slices that do not follow one another may deceive; the first lines do.
        head = replace(plan, text=text.text(text.bytes_at(0, SKETCH_HEAD)))
        alone = taken(text.name, head, asked, remembered).apart
        if alone is None or alone.headings != apart.headings:
            raise _several_sensors(text, apart)
    return _Reader(text, asked, remembered, plan, sample, sample.settled())


def _several_sensors(text: LongText, apart: Apart) -> QuestionError:
    heading = apart.headings[0].shown
    answers = [
        Answer(f"{heading!r} tells sensors apart", {"sensor": heading}),
        Answer("it is one sensor", {"sensor": NONE}),
    ]
    return QuestionError(
        read=text.name,
        where=f"column {heading!r}",
        found=f"{', '.join(apart.names[:4])} and so on in some places, not in the first lines",
        expected="to know whether it tells sensors apart",
        action="Say which: " + " or ".join(answer.options() for answer in answers) + ".",
        answers=answers,
    )


def _too_various(text: LongText) -> QuestionError:
    return QuestionError(
        read=text.name,
        where="",
        found=f"another quantity or sensor in each of {MOST_SAMPLES} parts of the file",
        expected="a file whose columns mean the same from the first line to the last",
        action="Export the sensors one by one, or some months at a time.",
    )


def _after_lines(text: LongText, count: int) -> int:
    """Return where the line after so many begins."""
    head, at = text.bytes_at(0, SKETCH_HEAD), 0
    for _ in range(count):
        at = head.find(text.end, at) + 1
    return at


def _last_line_to_cut(found: Taken, part: _Part) -> int | None:
    """Return the last line of a part before a change of summer time, or None where none is near."""
    clock: Clock = found.clock
    if clock.base is None or clock.base.zone is None or clock.times.has_offset:
        return None
    rows = np.flatnonzero(clock.times.read)
    if not len(rows):
        return None
    local_us = clock.times.clock_us[rows]
    low, high = int(local_us[-1]) - DAY_US, int(local_us[-1]) + DAY_US
    changes = transitions(clock.base.zone, low, high)
    near = np.zeros(len(rows), np.bool_)
    for change in changes:
        near |= np.abs(local_us - (change.utc_us + change.before_us)) < NEAR_US
    if not near[-1]:
        return None
    safe = np.flatnonzero(~near)
    # Where so much stands in so few hours the part is cut as it is.
    if not len(safe) or safe[-1] < len(rows) // 4:
        return None
    return found.table.line(int(rows[safe[-1]]))
