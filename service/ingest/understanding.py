"""What was understood of a file, shown to a person before anything is stored."""

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any


@dataclass(frozen=True)
class Problem:
    """One doubt about a place in a file, and what became of it.

    ``line`` counts from 1; 0 speaks of the whole file. ``column`` is a heading or "".
    """

    line: int
    column: str
    found: str
    expected: str
    kept: str

    def as_json(self) -> dict[str, Any]:
        """Return the problem as plain values."""
        return {
            "line": self.line or None,
            "column": self.column or None,
            "found": self.found,
            "expected": self.expected,
            "kept": self.kept,
        }


@dataclass(frozen=True)
class Channel:
    """One quantity of one sensor, and the column that holds it.

    ``unit`` is the unit in the file; ``minimum`` and ``maximum`` are in the unit that
    ``quantity`` names (``temp_c``: °C), NaN where nothing could be read.
    """

    name: str
    quantity: str
    unit: str
    column: str
    readings: int
    missing: int
    minimum: float
    maximum: float

    def as_json(self) -> dict[str, Any]:
        """Return the channel as plain values."""
        empty = self.readings == 0
        return {
            "name": self.name,
            "quantity": self.quantity,
            "unit": self.unit,
            "column": self.column,
            "readings": self.readings,
            "missing": self.missing,
            "min": None if empty else round(self.minimum, 9),
            "max": None if empty else round(self.maximum, 9),
        }


@dataclass(frozen=True)
class TimeUnderstanding:
    """How times were read.

    ``zone`` is None when neither the file nor the person declared one; then ``first_utc`` and
    ``last_utc`` are None too, and only the clock's own ``first_written``, ``last_written`` are
    known. ``order`` is "oldest first", "newest first" or "unsorted".
    """

    columns: tuple[str, ...]
    format: str
    zone: str | None
    first_utc: datetime | None
    last_utc: datetime | None
    interval_s: float | None
    order: str
    first_written: str = ""
    last_written: str = ""
    zone_from: str = ""

    def as_json(self) -> dict[str, Any]:
        """Return the time base as plain values."""
        return {
            "columns": list(self.columns),
            "format": self.format,
            "zone": self.zone,
            "first_utc": _iso(self.first_utc),
            "last_utc": _iso(self.last_utc),
            "interval_s": self.interval_s,
            "order": self.order,
        }


def _iso(instant: datetime | None) -> str | None:
    return None if instant is None else instant.isoformat().replace("+00:00", "Z")


@dataclass(frozen=True)
class RowCounts:
    """Rows of the table, headings and preamble apart.

    ``total`` = rows with a reading + rows without one + ``unreadable`` (kept apart). A row may
    be counted in ``duplicate`` and ``flagged`` too.
    """

    total: int
    readings: int
    unreadable: int
    duplicate: int
    flagged: int

    def __add__(self, other: "RowCounts") -> "RowCounts":
        """Return the rows of two tables, or of two parts of one."""
        return RowCounts(
            self.total + other.total,
            self.readings + other.readings,
            self.unreadable + other.unreadable,
            self.duplicate + other.duplicate,
            self.flagged + other.flagged,
        )

    def as_json(self) -> dict[str, int]:
        """Return the counts as plain values."""
        return {
            "total": self.total,
            "readings": self.readings,
            "unreadable": self.unreadable,
            "duplicate": self.duplicate,
            "flagged": self.flagged,
        }


@dataclass(frozen=True)
class Understanding:
    """Everything understood of one file.

    ``notes`` are whole sentences on what was concluded rather than read; ``left_aside`` are the
    headings of columns that are no reading of the air, ``told_apart`` of those by which the sensors
    of a long file are told apart.
    """

    file: str
    encoding: str
    delimiter: str
    decimal: str
    header_lines: int
    time: TimeUnderstanding
    channels: tuple[Channel, ...]
    rows: RowCounts
    problems: tuple[Problem, ...]
    notes: tuple[str, ...] = ()
    left_aside: tuple[str, ...] = field(default=())
    told_apart: tuple[str, ...] = field(default=())
    sha256: str = ""

    @property
    def needs_person(self) -> bool:
        """Whether something is left for a person to decide or look at."""
        return self.time.zone is None or bool(self.problems)

    def as_json(self) -> dict[str, Any]:
        """Return the understanding as plain values, ready for `json.dumps`."""
        return {
            "file": self.file,
            "sha256": self.sha256,
            "encoding": self.encoding,
            "delimiter": self.delimiter,
            "decimal": self.decimal,
            "header_lines": self.header_lines,
            "time": self.time.as_json(),
            "channels": [channel.as_json() for channel in self.channels],
            "rows": self.rows.as_json(),
            "problems": [problem.as_json() for problem in self.problems],
        }
