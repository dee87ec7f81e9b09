"""The doubts a file gives rise to, as problems a person can look up by line."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from analysis.series import Flag
from service.ingest.sensors import Rows, Sensor
from service.ingest.table import Table
from service.ingest.timestamps import Bools
from service.ingest.understanding import Problem

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
            more = f"{count - MOST_LISTED} more: {found}"
            self.add(0, column, more, expected, kept)

    def broken_lines(self, width: int) -> None:
        """Add the lines that have not the columns of the others."""
        for apart in self.table.apart[:MOST_LISTED]:
            self.add(
                apart.line,
                "",
                f"{apart.fields} fields: {_short(apart.text)}",
                f"{width} columns",
                "the line is kept apart; no reading is taken from it",
            )
        kept = "the lines are kept apart"
        self._rest(len(self.table.apart), "", "broken lines", f"{width} columns", kept)

    def unread_fields(self, headings: Sequence[str]) -> None:
        """Add the fields of numeric columns that hold no number."""
        for row, column, text in self.table.unread[:MOST_LISTED]:
            self.add(
                self.table.line(row),
                headings[column],
                _short(text),
                "a number",
                "the rest of the line; this value counts as missing",
            )
        kept = "the rest of the lines"
        self._rest(len(self.table.unread), "", "fields without a number", "a number", kept)

    def unread_times(self, unread: Rows, column: str, written: Sequence[str]) -> None:
        """Add the rows whose time could not be read though they hold values."""
        for row, text in zip(unread[:MOST_LISTED], written, strict=False):
            self.add(
                self.table.line(int(row)),
                column,
                _short(text) if text else "no time",
                "a time as in the other lines",
                "the line is kept apart; no reading is taken from it",
            )
        kept = "the lines are kept apart"
        self._rest(len(unread), column, "times that cannot be read", "a time", kept)

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
            "another value for a time already read",
            "one value for each time",
            "the first value; the time is flagged",
        )


def _doubt(flag: Flag, count: int) -> tuple[str, str, str]:
    """Return what was found, expected and kept, for readings with one flag."""
    found = {
        Flag.OUT_OF_RANGE: "that air cannot have",
        Flag.DOUBLED_HOUR: "in the hour that comes twice when summer time ends",
        Flag.MISSING_HOUR: "in the hour that is skipped when summer time begins",
        Flag.CLOCK_STEP: "where the time steps back",
    }[flag]
    expected = {
        Flag.OUT_OF_RANGE: "values that air can have",
        Flag.DOUBLED_HOUR: "rows whose order tells the first hour from the second",
        Flag.MISSING_HOUR: "no time in that hour, or a zone without summer time",
        Flag.CLOCK_STEP: "times that run one way",
    }[flag]
    readings = f"{count} reading" + ("s" if count > 1 else "")
    kept = "all, sorted by time and flagged" if flag == Flag.CLOCK_STEP else "all, flagged"
    return f"{readings} {found}, the first here", expected, kept


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
        seen[part] = True
    return int(np.count_nonzero(seen))
