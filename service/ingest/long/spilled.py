"""The readings of a long file, sensor by sensor and month by month, in a file without a name."""

import os
import tempfile
import weakref
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd

from analysis.series import Flag
from service.storage.months import Rows, by_month, joined_rows, merge_rows
from service.storage.readings import frame_of, rows_of

# So many readings are handed on at a time, in whole months.
PIECE_ROWS = 500_000
_TYPES = ("<i8", "<f8", "<f8", "<i4")


@dataclass(frozen=True)
class _Slice:
    """Where the rows of a part of the file lie that are in one month."""

    part: int
    at: int
    count: int


@dataclass(frozen=True)
class Again:
    """Times of a sensor that several parts of the file give: the same, another, the rest of it."""

    same: int = 0
    conflicting: int = 0
    filled: int = 0

    def __add__(self, other: "Again") -> "Again":
        """Return the sums."""
        return Again(
            self.same + other.same,
            self.conflicting + other.conflicting,
            self.filled + other.filled,
        )


@dataclass
class _Months:
    """The months of one sensor."""

    slices: dict[str, list[_Slice]] = field(default_factory=dict)
    again: Again = field(default_factory=Again)
    rows: int = 0
    flagged: int = 0


class SpilledReadings(Mapping[str, pd.DataFrame]):
    """Readings by the sensors of a file, kept on the disk; `pieces` holds a few months at a time.

    Parameters
    ----------
    folder : pathlib.Path, optional
        Where there is room; the file in it has no name and goes with this object.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self._file = tempfile.TemporaryFile(dir=folder)  # noqa: SIM115 it goes with this object
        weakref.finalize(self, self._file.close)
        self._first: SpilledReadings | None = None
        self._sensors: dict[str, _Months] = {}
        self._names: dict[str, str] = {}

    def add(self, part: int, sensors: Mapping[str, pd.DataFrame]) -> None:
        """Add the readings of a part of the file."""
        self._file.seek(0, 2)
        for label, frame in sensors.items():
            months = self._sensors.setdefault(label, _Months())
            self._names[label] = label
            for month, rows in by_month(rows_of(frame, label or "of the file")):
                at = self._file.tell()
                for column in (rows.time_ms, rows.temp_c, rows.rh_pct, rows.flags):
                    self._file.write(np.ascontiguousarray(column).data)
                months.slices.setdefault(month, []).append(_Slice(part, at, len(rows)))

    def settle(self, newest_first: bool) -> None:
        """Put the parts in the order in which the first value of a time stays, and count."""
        self._file.flush()
        for months in self._sensors.values():
            for slices in months.slices.values():
                slices.sort(key=lambda one: -one.part if newest_first else one.part)
                rows, again = self._month(slices)
                months.again += again
                months.rows += len(rows)
                months.flagged += int(np.count_nonzero(rows.flags))

    def renamed(self, names: Mapping[str, str]) -> "SpilledReadings":
        """Return the same readings under other names: name → sensor."""
        other = object.__new__(SpilledReadings)
        other._file, other._sensors, other._first = self._file, self._sensors, self._first or self
        other._names = {name: self._names[sensor] for name, sensor in names.items()}
        return other

    def again(self, name: str) -> Again:
        """Return what several parts of the file give for a sensor."""
        return self._of(name).again

    @property
    def flagged(self) -> int:
        """The number of readings in doubt, of all sensors."""
        return sum(months.flagged for months in self._sensors.values())

    def rows(self, name: str) -> int:
        """Return the number of a sensor's readings."""
        return self._of(name).rows

    def pieces(self, name: str) -> Iterator[Rows]:
        """Yield a sensor's readings, some months at a time, in the order of time."""
        waiting: list[Rows] = []
        slices = self._of(name).slices
        for month in sorted(slices):
            waiting.append(self._month(slices[month])[0])
            if sum(map(len, waiting)) >= PIECE_ROWS:
                yield joined_rows(waiting)
                waiting = []
        if waiting:
            yield joined_rows(waiting)

    def _of(self, name: str) -> _Months:
        return self._sensors[self._names[name]]

    def _month(self, slices: Sequence[_Slice]) -> tuple[Rows, Again]:
        """Return the readings of a month from all parts; a time that comes again is flagged."""
        rows = self._read(slices[0])
        again = Again()
        for one in slices[1:]:
            other = self._read(one)
            if rows.time_ms[-1] < other.time_ms[0]:
                rows = joined_rows([rows, other])
            elif other.time_ms[-1] < rows.time_ms[0]:
                rows = joined_rows([other, rows])
            else:
                rows, more = _merged(rows, other)
                again += more
        return rows, again

    def _read(self, one: _Slice) -> Rows:
        size = sum(np.dtype(kind).itemsize for kind in _TYPES) * one.count
        data, at, columns = os.pread(self._file.fileno(), size, one.at), 0, []
        for kind in _TYPES:
            columns.append(np.frombuffer(data, kind, one.count, at))
            at += columns[-1].nbytes
        return Rows(*columns)

    def __getitem__(self, name: str) -> pd.DataFrame:
        """Return all readings of a sensor at once."""
        slices = self._of(name).slices
        return frame_of(joined_rows(self._month(slices[month])[0] for month in sorted(slices)))

    def __iter__(self) -> Iterator[str]:
        """Yield the names of the sensors."""
        return iter(self._names)

    def __len__(self) -> int:
        """Return the number of sensors."""
        return len(self._names)


def _merged(rows: Rows, other: Rows) -> tuple[Rows, Again]:
    """Return readings of two parts that meet, as if their lines stood in one."""
    joined, report = merge_rows(rows, other)
    if report.same:
        both = np.isin(joined.time_ms, np.intersect1d(rows.time_ms, other.time_ms))
        both &= (joined.flags & int(Flag.CONFLICT)) == 0
        flags = joined.flags.copy()
        flags[both] |= int(Flag.DUPLICATE)
        joined = Rows(joined.time_ms, joined.temp_c, joined.rh_pct, flags)
    return joined, Again(report.same, report.conflict_count, report.filled)


def pieces_of(sensors: Mapping[str, pd.DataFrame], name: str) -> Iterator[pd.DataFrame]:
    """Yield a sensor's readings, a few months at a time where they are many."""
    if isinstance(sensors, SpilledReadings):
        yield from map(frame_of, sensors.pieces(name))
    else:
        yield sensors[name]


def rows_of_pieces(sensors: Mapping[str, pd.DataFrame], name: str) -> Iterator[Rows]:
    """Yield a sensor's readings as the store has them, as `pieces_of` does."""
    if isinstance(sensors, SpilledReadings):
        yield from sensors.pieces(name)
    else:
        yield rows_of(sensors[name], name)


def rows_in(sensors: Mapping[str, pd.DataFrame], name: str) -> int:
    """Return the number of a sensor's readings."""
    return sensors.rows(name) if isinstance(sensors, SpilledReadings) else len(sensors[name])
