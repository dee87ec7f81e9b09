"""Sensors, counts and problems put together into what is shown and what is handed on."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.series import Flag, sample_interval_s
from service.errors import remark
from service.ingest.clock import Clock
from service.ingest.clocksteps import Leap, Turn, leaps_of, turns_of
from service.ingest.columns import READINGS
from service.ingest.evidence import limit
from service.ingest.plausibility import Judged
from service.ingest.sensors import Rows, Sensor, converted, newest_first, sensor_of, split_rows
from service.ingest.table import Floats, Table
from service.ingest.times.timebase import DAY_US, HOUR_US, Micros
from service.ingest.times.timestamps import Bools
from service.ingest.understanding import Channel, Problem, RowCounts, TimeUnderstanding

# Problems listed one by one; the rest of a kind is summed up in one more.
MOST_LISTED = 200


@dataclass
class Findings:
    """Problems as they are gathered, never more of a kind than can be looked through."""

    table: Table
    problems: list[Problem] = field(default_factory=list)

    def add(self, line: int, column: str, found: str, expected: str, kept: str) -> None:
        """Add one problem."""
        self.problems.append(Problem(line, column, found, expected, kept))

    def add_rows(self, rows: Rows, column: str, found: str, expected: str, kept: str) -> None:
        """Add a problem for each row, and one that counts those not listed."""
        for row in rows[:MOST_LISTED]:
            self.add(self.table.line(int(row)), column, found, expected, kept)
        self._rest(len(rows), column, found, expected, kept)

    def _rest(self, count: int, column: str, found: str, expected: str, kept: str) -> None:
        if count > MOST_LISTED:
            more = remark(f"{count - MOST_LISTED} more: {found}")
            self.add(0, column, more, expected, kept)

    def broken_lines(self, width: int) -> None:
        """Add the lines that have not the columns of the others."""
        for apart in self.table.apart[:MOST_LISTED]:
            self.add(
                apart.line,
                "",
                remark(f"{apart.fields} fields: {_short(apart.text)}"),
                remark(f"{width} columns"),
                remark("the line is kept apart; no reading is taken from it"),
            )
        kept, broken = remark("the lines are kept apart"), remark("broken lines")
        self._rest(len(self.table.apart), "", broken, f"{width} columns", kept)

    def unread_fields(self, headings: Sequence[str]) -> None:
        """Add the fields of numeric columns that hold no number."""
        for row, column, text in self.table.unread[:MOST_LISTED]:
            self.add(
                self.table.line(row),
                headings[column],
                _short(text),
                remark("a number"),
                remark("the rest of the line; this value counts as missing"),
            )
        kept, found = remark("the rest of the lines"), remark("fields without a number")
        self._rest(len(self.table.unread), "", found, "a number", kept)

    def unread_times(self, unread: Rows, column: str, written: Sequence[str]) -> None:
        """Add the rows whose time could not be read though they hold values."""
        for row, text in zip(unread[:MOST_LISTED], written, strict=False):
            self.add(
                self.table.line(int(row)),
                column,
                _short(text) if text else remark("no time"),
                remark("a time as in the other lines"),
                remark("the line is kept apart; no reading is taken from it"),
            )
        kept, found = remark("the lines are kept apart"), remark("times that cannot be read")
        self._rest(len(unread), column, found, remark("a time"), kept)

    def flagged(self, label: str, sensor: Sensor) -> None:
        """Add one problem for each kind of doubt about a sensor's readings."""
        flags = sensor.frame["flags"].to_numpy()
        if not flags.any():
            return
        for flag in (Flag.OUT_OF_RANGE, Flag.DOUBLED_HOUR, Flag.MISSING_HOUR, Flag.CLOCK_STEP):
            hit = np.flatnonzero(flags & int(flag))
            if len(hit):
                line = self.table.line(int(sensor.rows[hit].min()))
                self.add(line, label, *_doubt(flag, len(hit)))

    def repeats(self, label: str, sensor: Sensor) -> None:
        """Add the rows that give a time a second value, and count those that repeat one."""
        self.add_rows(
            np.sort(sensor.conflicting),
            label,
            remark("another value for a time already read"),
            remark("one value for each time"),
            remark("the first value; the time is flagged"),
        )


def _doubt(flag: Flag, count: int) -> tuple[str, str, str]:
    """Return what was found, expected and kept, for readings with one flag."""
    found = {
        Flag.OUT_OF_RANGE: remark("that air cannot have"),
        Flag.DOUBLED_HOUR: remark("in the hour that comes twice when summer time ends"),
        Flag.MISSING_HOUR: remark("in the hour that is skipped when summer time begins"),
        Flag.CLOCK_STEP: remark("where the time steps back"),
    }[flag]
    expected = {
        Flag.OUT_OF_RANGE: remark("values that air can have"),
        Flag.DOUBLED_HOUR: remark("rows whose order tells the first hour from the second"),
        Flag.MISSING_HOUR: remark("no time in that hour, or a zone without summer time"),
        Flag.CLOCK_STEP: remark("times that run one way"),
    }[flag]
    kept = remark("all, sorted by time and flagged" if flag == Flag.CLOCK_STEP else "all, flagged")
    if count > 1:
        return remark(f"{count} readings {found}, the first here"), expected, kept
    return remark(f"1 reading {found}, the first here"), expected, kept


def _short(text: str) -> str:
    shown = text.replace("\0", "␀").strip()
    return repr(shown if len(shown) <= 80 else shown[:77] + "…")


def unread_rows(read: Bools, filled: Bools) -> Rows:
    """Return the rows that hold values but whose time could not be read."""
    return np.flatnonzero(~read & filled)


def distinct(parts: Iterable[Rows], count: int) -> int:
    """Return how many of a table's ``count`` rows are in any of several lists."""
    seen = np.zeros(count, np.bool_)
    for part in parts:
        if len(part) == count:  # no list names a row twice
            return count
        seen[part] = True
    return int(np.count_nonzero(seen))


Wide = Mapping[str, Mapping[str, Judged]]


@dataclass
class Assembly:
    """The sensors of a file, by name, with the columns that each came from."""

    sensors: dict[str, Sensor]
    columns: dict[str, Mapping[str, Judged]]
    order: str
    turns: list[Turn] = field(default_factory=list)
    leaps: list[Leap] = field(default_factory=list)

    def set_clocks(self, zoned: bool) -> list[Turn]:
        """Return where a clock was set; an overlap of two exports says the same again.

        Without a known clock a step of one hour back may be the end of summer time.
        """
        sensors = self.sensors.values()
        repeated = {int(row) for s in sensors for row in (*s.repeated, *s.joined)}
        conflicting = {int(row) for s in sensors for row in s.conflicting}
        turns = [
            turn
            for turn in self.turns
            if turn.row not in repeated
            or (turn.skipped_us and turn.before_us == turn.after_us)
            or conflicting.intersection(range(turn.again[0], turn.again[1] + 1))
        ]
        # One time written twice is a clock set back only where it has other values.
        turns = [
            t for t in turns if t.before_us != t.after_us or t.row in conflicting or t.skipped_us
        ]
        return [t for t in turns if zoned or t.kind != "set back" or t.shift_us > HOUR_US]

    def conflicts(self) -> tuple[int, int]:
        """Return how many rows give a time another value, and how many have a time."""
        sensors = self.sensors.values()
        return sum(len(s.conflicting) for s in sensors), sum(s.asked for s in sensors)

    def channels(self) -> tuple[Channel, ...]:
        """Return every quantity of every sensor."""
        return tuple(self._channels())

    def _channels(self) -> Iterator[Channel]:
        for label, sensor in self.sensors.items():
            for quantity, settled in self.columns[label].items():
                held = sensor.frame if quantity in sensor.frame else sensor.extras
                values = held[quantity].to_numpy()
                finite = np.isfinite(values)
                known = values if finite.all() else values[finite]
                yield Channel(
                    name=label or settled.column.heading,
                    quantity=quantity,
                    unit=settled.shown,
                    column=settled.column.heading,
                    readings=len(known),
                    missing=sensor.asked
                    - len(sensor.repeated)
                    - len(sensor.conflicting)
                    - len(known),
                    minimum=float(known.min()) if len(known) else float("nan"),
                    maximum=float(known.max()) if len(known) else float("nan"),
                )

    def rows(self, table: Table, unreadable: int) -> RowCounts:
        """Return the counts of rows."""
        sensors = list(self.sensors.values())
        again = [rows for s in sensors for rows in (s.repeated, s.conflicting)]
        first = [rows for s in sensors for rows in (s.rows, s.joined)]
        return RowCounts(
            total=table.rows + len(table.apart),
            readings=distinct(first + again, table.rows),
            unreadable=unreadable,
            duplicate=distinct(again, table.rows),
            flagged=sum(int(np.count_nonzero(s.frame["flags"])) for s in sensors),
        )

    def time(self, clock: Clock, columns: tuple[str, ...]) -> TimeUnderstanding:
        """Return how times were read, over all sensors."""
        indices = [s.frame.index for s in self.sensors.values() if len(s.frame)]
        first = min((index[0] for index in indices), default=None)
        last = max((index[-1] for index in indices), default=None)
        steps = [sample_interval_s(pd.DatetimeIndex(index)) for index in indices]
        steps = [step for step in steps if np.isfinite(step)]
        read = clock.times.read
        written = clock.times.clock_us if read.all() else clock.times.clock_us[read]
        return TimeUnderstanding(
            columns=columns,
            format=clock.times.format,
            zone=clock.zone,
            first_utc=first.to_pydatetime() if first is not None and clock.zone else None,
            last_utc=last.to_pydatetime() if last is not None and clock.zone else None,
            interval_s=float(np.median(steps)) if steps else None,
            order=self.order,
            first_written=_clock_text(int(written.min())),
            last_written=_clock_text(int(written.max())),
            zone_from=clock.zone_from,
        )


def _clock_text(micros: int) -> str:
    instant = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=micros)
    return instant.strftime("%Y-%m-%d %H:%M:%S")


def assembled(
    clock: Clock,
    table: Table,
    wide: Wide,
    codes: tuple[list[str], npt.NDArray[np.int64]] | None,
) -> Assembly:
    """Return the sensors of a file.

    Parameters
    ----------
    clock : Clock
        The times of the table's rows.
    table : Table
        The numeric columns.
    wide : mapping of str to mapping of str to Judged
        The columns of each sensor of a wide file, or one entry "".
    codes : (list of str, numpy.ndarray of int) or None
        The sensors of a long file and each row's number among them.
    """
    assembly = Assembly({}, {}, "oldest first")
    orders = set()
    for label, rows in _groups(clock, codes):
        backwards = newest_first(
            clock.times.clock_us if rows is None else clock.times.clock_us[rows]
        )
        rows = _in_order(rows, len(clock.times.read), backwards)
        utc_us, flags = clock.instants(rows)
        orders.add(_order(utc_us, flags, backwards))
        places = np.arange(len(utc_us)) if rows is None else rows
        if _leaps(utc_us):
            odd_hours = flags & int(Flag.DOUBLED_HOUR | Flag.MISSING_HOUR)
            silent = _silent(clock, table, wide)
            twice = _twice(utc_us, table, wide, places)
            assembly.turns += turns_of(utc_us, places, odd_hours != 0, silent, twice, backwards)
        if table.counted is not None:
            assembly.leaps += leaps_of(utc_us, table.counted[places], places)
        for part, settled in wide.items():
            name = " ".join(word for word in (label, part) if word)
            values = converted(settled, table.numbers, rows)
            sensor = _one(values, table, utc_us, flags, places)
            nameless = codes is not None and not name and len(codes[0]) > 1
            if nameless and not sensor.frame[list(READINGS)].notna().any(axis=None):
                continue  # damaged rows; their fields are told one by one
            if len(sensor.frame) or len(wide) == 1:
                assembly.sensors[name], assembly.columns[name] = sensor, settled
    assembly.order = orders.pop() if len(orders) == 1 else "unsorted"
    return assembly


def _groups(
    clock: Clock, codes: tuple[list[str], npt.NDArray[np.int64]] | None
) -> Iterator[tuple[str, Rows | None]]:
    read = clock.times.read
    if codes is None:
        yield "", None if read.all() else np.flatnonzero(read)
        return
    names, numbers = codes
    for name, rows in zip(names, split_rows(numbers, len(names)), strict=True):
        readable = rows[read[rows]]
        if len(readable):
            yield name, readable


def _in_order(rows: Rows | None, count: int, backwards: bool) -> Rows | None:
    if not backwards:
        return rows
    return (np.arange(count) if rows is None else rows)[::-1]


def _order(utc_us: Micros, flags: npt.NDArray[np.int32], backwards: bool) -> str:
    """Return the order of one sensor's rows, and flag where its clock ran backwards."""
    back = 1 + np.flatnonzero(utc_us[1:] < utc_us[:-1])
    if not len(back):
        return "newest first" if backwards else "oldest first"
    flags[back] |= int(Flag.CLOCK_STEP)
    return "unsorted"


def _silent(clock: Clock, table: Table, wide: Wide) -> Bools:
    """Return which rows hold a reading but no time that can be read."""
    silent = np.zeros(table.rows, np.bool_)
    if not clock.times.read.all():
        for settled in (one for quantities in wide.values() for one in quantities.values()):
            silent |= np.isfinite(table.numbers[settled.column.index])
        silent &= ~clock.times.read
    return silent


def _twice(utc_us: Micros, table: Table, wide: Wide, places: Rows) -> Bools:
    """Return which rows of the file say what an earlier row of the same sensor says."""
    twice = np.ones(table.rows, np.bool_)
    columns = {one.column.index for quantities in wide.values() for one in quantities.values()}
    said = {"time": utc_us} | {str(i): table.numbers[i][places] for i in sorted(columns)}
    twice[places] = pd.DataFrame(said).duplicated().to_numpy()
    return twice


def _leaps(utc_us: Micros) -> bool:
    """Return whether a step goes back, stands still, or is as long as a clock without a date."""
    steps = np.diff(utc_us)
    longest = limit("clock", "reset_days") * DAY_US
    return bool(len(steps) and (steps.min() <= 0 or steps.max() > longest))


def _one(
    values: Mapping[str, Floats],
    table: Table,
    utc_us: Micros,
    flags: npt.NDArray[np.int32],
    places: Rows,
) -> Sensor:
    sensor = sensor_of(utc_us, flags, values, places)
    # In a tall file a row says nothing of the other quantities.
    sensor.asked = len(utc_us) - len(sensor.joined)
    if table.tall:
        sensor.asked = len(sensor.frame) + len(sensor.repeated) + len(sensor.conflicting)
    return sensor


def report(findings: Findings, assembly: Assembly, headings: Sequence[str]) -> None:
    """Gather what is doubted of lines, fields and readings."""
    findings.unread_fields(headings)
    for leap in assembly.leaps:
        findings.add(*leap.problem(findings.table))
    for label, sensor in assembly.sensors.items():
        findings.repeats(label, sensor)
        findings.flagged(label, sensor)
