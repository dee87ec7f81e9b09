"""A logger's months: rows of readings, how they are joined, and the file each month lies in.

The first value is kept, always. A row that is new is added. A row that is there already stays: an
equal value is *the same*, a value where there was none *fills* (temperature and humidity often come
in two files), another value is a *conflict*: counted, listed, and the row flagged, but the first
value stays.
"""

import hashlib
import re
import secrets
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from analysis.series import Flag
from service.errors import StoreError

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

CHANNELS = ("temp_c", "rh_pct")
# Two exports of one reading may differ in the last binary digit after a conversion of units.
SAME_WITHIN = 1e-9
CONFLICTS_LISTED = 1000


@dataclass(frozen=True)
class Rows:
    """Readings of one logger as arrays of shape (n,), sorted, unique by time."""

    time_ms: npt.NDArray[np.int64]
    temp_c: Floats
    rh_pct: Floats
    flags: npt.NDArray[np.int32]

    def __len__(self) -> int:
        """Return the number of rows."""
        return len(self.time_ms)

    def slice(self, part: slice) -> "Rows":
        """Return a part of the rows, without copying."""
        return Rows(self.time_ms[part], self.temp_c[part], self.rh_pct[part], self.flags[part])

    def sorted_and_unique(self) -> bool:
        """Return whether every time is later than the one before."""
        return bool((self.time_ms[1:] > self.time_ms[:-1]).all())

    @cached_property
    def digest(self) -> str:
        """A hash of the readings themselves, whatever file they lie in; worked out once."""
        content = hashlib.sha256()
        for column in (self.time_ms, self.temp_c, self.rh_pct, self.flags):
            content.update(np.ascontiguousarray(column).data)
        return content.hexdigest()


@dataclass(frozen=True)
class Conflict:
    """Two files gave different values for one instant."""

    time_utc: datetime
    channel: str
    kept: float
    offered: float


@dataclass(frozen=True)
class MergeReport:
    """What a merge did, in rows.

    ``conflicts`` lists the first `CONFLICTS_LISTED`; ``conflict_count`` counts all of them.
    ``months`` names the month files that changed, ``first_new_utc`` is the first reading that was
    added or filled.
    """

    added: int = 0
    same: int = 0
    filled: int = 0
    conflict_count: int = 0
    conflicts: tuple[Conflict, ...] = ()
    months: tuple[str, ...] = ()
    first_new_utc: datetime | None = None

    @staticmethod
    def total(reports: Sequence["MergeReport"]) -> "MergeReport":
        """Return the sum of several reports."""
        listed = [conflict for report in reports for conflict in report.conflicts]
        return MergeReport(
            added=sum(report.added for report in reports),
            same=sum(report.same for report in reports),
            filled=sum(report.filled for report in reports),
            conflict_count=sum(report.conflict_count for report in reports),
            conflicts=tuple(listed[:CONFLICTS_LISTED]),
            months=tuple(month for report in reports for month in report.months),
            first_new_utc=min(
                (report.first_new_utc for report in reports if report.first_new_utc), default=None
            ),
        )


def merge_rows(kept: Rows, offered: Rows) -> tuple[Rows, MergeReport]:
    """Join two sets of rows; ``kept`` comes first and wins.

    Returns
    -------
    Rows
        All rows, sorted; ``kept`` itself (the same object) when nothing changed.
    MergeReport
        What happened; ``months`` is left empty.
    """
    if not len(kept):
        return offered, MergeReport(added=len(offered), first_new_utc=_first(offered.time_ms))
    place = np.searchsorted(kept.time_ms, offered.time_ms)
    known = kept.time_ms[np.minimum(place, len(kept) - 1)] == offered.time_ms
    joined, report = _join_known(kept, place[known], offered, np.flatnonzero(known))
    new = np.flatnonzero(~known)
    if len(new):
        joined = _insert(joined, place[new], offered, new)
    return joined, MergeReport(
        added=len(new),
        same=report.same,
        filled=report.filled,
        conflict_count=report.conflict_count,
        conflicts=report.conflicts,
        first_new_utc=min(
            filter(None, (report.first_new_utc, _first(offered.time_ms[new]))), default=None
        ),
    )


def _first(time_ms: npt.NDArray[np.int64]) -> datetime | None:
    return datetime.fromtimestamp(int(time_ms[0]) / 1000, UTC) if len(time_ms) else None


def _join_known(
    kept: Rows, here: npt.NDArray[np.intp], offered: Rows, there: npt.NDArray[np.intp]
) -> tuple[Rows, MergeReport]:
    """Compare row ``here[i]`` of what is kept with row ``there[i]`` of what is offered."""
    columns: dict[str, Floats] = {}
    conflicts: list[Conflict] = []
    clash, fill = np.zeros(len(here), bool), np.zeros(len(here), bool)
    for channel in CHANNELS:
        ours: Floats = getattr(kept, channel)
        first, second = ours[here], getattr(offered, channel)[there]
        differs = np.abs(first - second) > SAME_WITHIN
        fills = np.isnan(first) & ~np.isnan(second)
        if fills.any():
            ours = ours.copy()
            ours[here[fills]] = second[fills]
        columns[channel] = ours
        conflicts += _listed(kept.time_ms[here], channel, first, second, differs)
        clash, fill = clash | differs, fill | fills
    flags = _joined_flags(kept, here, offered.flags[there], clash)
    changed = flags is not kept.flags or fill.any()
    rows = Rows(kept.time_ms, columns["temp_c"], columns["rh_pct"], flags) if changed else kept
    conflicts.sort(key=lambda conflict: conflict.time_utc)
    return rows, MergeReport(
        same=int((~clash & ~fill).sum()),
        filled=int(fill.sum()),
        conflict_count=int(clash.sum()),
        conflicts=tuple(conflicts[:CONFLICTS_LISTED]),
        first_new_utc=_first(kept.time_ms[here[fill]]),
    )


def _joined_flags(
    kept: Rows, here: npt.NDArray[np.intp], offered: npt.NDArray[np.int32], clash: Bools
) -> npt.NDArray[np.int32]:
    """Add the offered doubts to agreeing rows, and CONFLICT to the others."""
    added = np.where(clash, np.int32(Flag.CONFLICT), offered)
    flags = kept.flags[here] | added
    if np.array_equal(flags, kept.flags[here]):
        return kept.flags
    joined = kept.flags.copy()
    joined[here] = flags
    return joined


def _listed(
    time_ms: npt.NDArray[np.int64], channel: str, first: Floats, second: Floats, differs: Bools
) -> list[Conflict]:
    return [
        Conflict(
            datetime.fromtimestamp(time_ms[i] / 1000, UTC),
            channel,
            float(first[i]),
            float(second[i]),
        )
        for i in np.flatnonzero(differs)[:CONFLICTS_LISTED]
    ]


def _insert(
    kept: Rows, place: npt.NDArray[np.intp], offered: Rows, new: npt.NDArray[np.intp]
) -> Rows:
    return Rows(
        np.insert(kept.time_ms, place, offered.time_ms[new]),
        np.insert(kept.temp_c, place, offered.temp_c[new]),
        np.insert(kept.rh_pct, place, offered.rh_pct[new]),
        np.insert(kept.flags, place, offered.flags[new]),
    )


def by_month(rows: Rows) -> list[tuple[str, Rows]]:
    """Return the rows of each month (UTC) that has some, in order."""
    if not len(rows):
        return []
    first, last = rows.time_ms[[0, -1]].astype("M8[ms]").astype("M8[M]")
    months = np.arange(first, last + 2)
    edges = np.searchsorted(rows.time_ms, months.astype("M8[ms]").astype("i8"))
    return [
        (str(month), rows.slice(slice(start, end)))
        for month, start, end in zip(months[:-1], edges[:-1], edges[1:], strict=True)
        if start < end
    ]


def joined_rows(parts: Iterable[Rows]) -> Rows:
    """Return rows one after another; each column's parts go as soon as they are joined."""
    empty = Rows(np.empty(0, "i8"), np.empty(0), np.empty(0), np.empty(0, "i4"))
    columns = [list(arrays) for arrays in zip(*map(_columns, (empty, *parts)), strict=True)]
    columns.reverse()
    time_ms, temp_c, rh_pct, flags = (np.concatenate(columns.pop()) for _ in range(len(columns)))
    return Rows(time_ms, temp_c, rh_pct, flags)


def _columns(rows: Rows) -> tuple[npt.NDArray[Any], ...]:
    return rows.time_ms, rows.temp_c, rows.rh_pct, rows.flags


def cut_rows(rows: Rows, start_utc: datetime | None, end_utc: datetime | None) -> Rows:
    """Return the rows from ``start_utc`` until before ``end_utc``."""
    start = 0 if start_utc is None else np.searchsorted(rows.time_ms, _ms(start_utc))
    end = len(rows) if end_utc is None else np.searchsorted(rows.time_ms, _ms(end_utc))
    return rows.slice(slice(int(start), int(end)))


def _ms(time: datetime) -> int:
    # Up to the next whole millisecond, so that a reading before the bound stays before it.
    return -int(-pd.Timestamp(time).as_unit("ns").value // 1_000_000)


def instant(time_ms: np.int64) -> datetime:
    """Return the instant of a row's time."""
    return datetime.fromtimestamp(int(time_ms) / 1000, UTC)


SCHEMA = pa.schema(
    [
        pa.field("time_utc", pa.timestamp("ms", "UTC"), nullable=False),
        pa.field("temp_c", pa.float64()),
        pa.field("rh_pct", pa.float64()),
        pa.field("flags", pa.int32(), nullable=False),
    ]
)
DIGEST = b"stilltaut_digest"
PARQUET = ".parquet"
# Earlier releases named a file by its month alone and wrote the next one over it.
UNIQUE = r"_[0-9a-f]{16}-[0-9a-f]{8}"
STANDING_FILE = re.compile(rf"(?:(-?\d{{4,}}-\d\d)(?:{UNIQUE})?|(-?\d{{4,}}){UNIQUE})\.parquet")


def encode_month(rows: Rows) -> pa.Buffer:
    """Return the bytes of a month's file. A missing value is null there and NaN here."""
    table = pa.Table.from_arrays(
        [
            pa.array(rows.time_ms, pa.int64()).cast(SCHEMA.field("time_utc").type),
            pa.array(rows.temp_c, from_pandas=True),
            pa.array(rows.rh_pct, from_pandas=True),
            pa.array(rows.flags),
        ],
        schema=SCHEMA.with_metadata({DIGEST: rows.digest}),
    )
    out = pa.BufferOutputStream()
    pq.write_table(
        table,
        out,
        compression="snappy",
        write_statistics=["time_utc"],
        use_dictionary=["temp_c", "rh_pct", "flags"],
        column_encoding={"time_utc": "DELTA_BINARY_PACKED"},
    )
    return out.getvalue()


def decode_month(content: bytes, *, folder: str, file: str) -> Rows:
    """Return the rows of a month's file.

    Raises
    ------
    StoreError
        If it is not a month of readings; ``folder`` and ``file`` say of which.
    """
    try:
        with pq.ParquetFile(pa.BufferReader(content)) as opened:
            table = opened.read(use_threads=False)
        return _rows(table.select(SCHEMA.names))
    except (OSError, pa.ArrowException, KeyError) as problem:
        raise damaged_month(folder, file, str(problem).splitlines()[0]) from problem


def give_back() -> None:
    """Give the system the memory back in which months were read; it is kept for the next else."""
    pa.default_memory_pool().release_unused()


def _rows(table: pa.Table) -> Rows:
    time, temp, rh, flags = (column.combine_chunks() for column in table.columns)
    return Rows(
        time.cast(pa.timestamp("ms", "UTC")).cast(pa.int64()).to_numpy(zero_copy_only=False),
        temp.cast(pa.float64()).to_numpy(zero_copy_only=False),
        rh.cast(pa.float64()).to_numpy(zero_copy_only=False),
        flags.cast(pa.int32()).to_numpy(zero_copy_only=False),
    )


def noted_digest(content: bytes) -> str:
    """Return the hash noted in a month's file when it was written, "" where none is."""
    with pq.ParquetFile(pa.BufferReader(content)) as opened:
        noted = (opened.schema_arrow.metadata or {}).get(DIGEST)
    return noted.decode() if noted else ""


def file_name(period: str, rows: Rows) -> str:
    """Return a name that no other file has had or will have, for a month or a year of readings."""
    return f"{period}_{rows.digest[:16]}-{secrets.token_hex(4)}{PARQUET}"


def period_of(file: str) -> str:
    """Return the month or the year of a file's name, "" where it is of neither.

    Examples
    --------
    >>> period_of("2026-03_0123456789abcdef-01234567.parquet"), period_of("2026-03.parquet")
    ('2026-03', '2026-03')
    >>> period_of("2026_0123456789abcdef-01234567.parquet"), period_of("notes.txt")
    ('2026', '')
    """
    named = STANDING_FILE.fullmatch(file)
    return (named[1] or named[2]) if named else ""


def year_of(month: str) -> str:
    """Return the year of a month: ``2026`` of ``2026-03``."""
    return month[:-3]


def is_of_year(file: str) -> bool:
    """Return whether a file holds the months of a year; see `service.storage.years`."""
    named = STANDING_FILE.fullmatch(file)
    return named is not None and named[2] is not None


def rows_of_months(rows: Rows, months: Collection[str]) -> Rows:
    """Return the rows that are in some months (UTC)."""
    parts = dict(by_month(rows))
    return (
        rows
        if parts.keys() <= set(months)
        else joined_rows(part for month, part in parts.items() if month in months)
    )


def damaged_month(folder: str, file: str, found: str) -> StoreError:
    """Return the error of a month's file that is not what it should be."""
    return StoreError(
        read=f"readings, {folder}",
        where=file,
        found=found,
        expected="a Parquet file of readings",
        action="Move the file away and run `stilltaut check`: what was added by a file is merged "
        "again from the original.",
    )
