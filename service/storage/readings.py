"""The store of readings: ``DATA/readings/logger=ID/2026-03.parquet``, one file a month (UTC)."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.errors import OutOfRangeError
from analysis.series import READING_COLUMNS, readings_frame, require_readings
from service.errors import StoreError
from service.storage.durable import locked, remove_parts, replace_files, sync_folder
from service.storage.months import (
    MergeReport,
    Rows,
    encode_month,
    give_back,
    merge_rows,
    read_month,
)
from service.storage.register import Register
from service.storage.spans import Span, note_months, reach, spans

MONTHS_AT_ONCE = 12
# File systems allow 255 bytes; one letter may take twelve.
NAME_LENGTH = 200


class ReadingsStore:
    """The folder of readings.

    Parameters
    ----------
    folder : pathlib.Path
        ``DATA/readings``; made with the first readings.
    register : Register
        Where the span of every month is noted; see `service.storage.spans`.
    """

    def __init__(self, folder: Path, register: Register) -> None:
        self.folder, self.register = folder, register

    def merge(self, logger_id: str, readings: pd.DataFrame | Rows) -> MergeReport:
        """Add readings to those of a logger; doing it twice changes nothing more.

        Parameters
        ----------
        logger_id : str
            The logger; any short printable text.
        readings : pandas.DataFrame or Rows
            Readings as `analysis.series.readings_frame` makes them, or as `rows_of` does of it.

        Returns
        -------
        MergeReport
            Rows added, the same, filled, in conflict, and the months that changed.

        Raises
        ------
        OutOfRangeError
            If the frame is not sorted and unique to the millisecond.
        StoreError
            If the disk refuses or a month that is there cannot be read.
        """
        if isinstance(readings, Rows):
            rows = readings
        else:
            require_readings(readings, read=f"readings for logger {logger_id}")
            rows = rows_of(readings, logger_id)
        folder = self._logger_folder(logger_id)
        with locked(folder / ".lock"):
            remove_parts(folder)
            report, touched = _merge_months(folder, rows)
            self._note(logger_id, touched, report.first_new_utc)
            return report

    def rebuild(self, logger_id: str, frames: Iterable[pd.DataFrame]) -> None:
        """Put readings merged anew, in the order given, in place of all that a logger has.

        Used when a file is taken back: what remains comes again from the other originals.
        """
        rows = _merged_rows(frames, logger_id)
        folder = self._logger_folder(logger_id)
        with locked(folder / ".lock"):
            remove_parts(folder)
            months = dict(by_month(rows))
            if months:
                replace_files(folder, {_file(m): _encoder(part) for m, part in months.items()})
            gone = set(_months_in(folder)) - set(months)
            for month in gone:
                (folder / _file(month)).unlink()
            sync_folder(folder)
            self._note(logger_id, months | dict.fromkeys(gone))

    def note_all(self, *, anew: bool = False) -> int:
        """Note the months that the register does not know as they are; return how many.

        A month counts as known while its file has the size that was noted; ``anew``: all are read.
        """
        noted: dict[str, dict[str, int]] = {}
        for span in spans(self.register):
            noted.setdefault(span.logger, {})[span.month] = -1 if anew else span.bytes
        names = {unquote(path.name.removeprefix("logger=")) for path in self._folders()}
        return sum(self._note_logger(name, noted.get(name, {})) for name in names | set(noted))

    def _note_logger(self, logger_id: str, noted: Mapping[str, int]) -> int:
        folder = self._logger_folder(logger_id)
        if _sizes(folder) == noted:
            return 0
        with locked(folder / ".lock"):
            sizes = _sizes(folder)
            other = [month for month, size in sizes.items() if noted.get(month) != size]
            rows = {month: _rows_or_none(folder / _file(month)) for month in other}
            gone = dict.fromkeys(set(noted) - set(sizes))
            found = {month: _span(folder, logger_id, month, rows[month]) for month in other}
            note_months(self.register, logger_id, found | gone)
        return len(other) + len(gone)

    def _note(
        self,
        logger_id: str,
        touched: Mapping[str, Rows | None],
        since_utc: datetime | None = None,
    ) -> None:
        folder = self._logger_folder(logger_id)
        found = {
            month: None if rows is None else _span(folder, logger_id, month, rows)
            for month, rows in touched.items()
        }
        note_months(self.register, logger_id, found, since_utc)

    def load(
        self,
        logger_id: str,
        start_utc: datetime | None = None,
        end_utc: datetime | None = None,
    ) -> pd.DataFrame:
        """Return a logger's readings from ``start_utc`` until before ``end_utc``.

        Returns
        -------
        pandas.DataFrame
            As `analysis.series.readings_frame`; empty where nothing is known.
        """
        wanted = [month for month in self.months(logger_id) if _within(month, start_utc, end_utc)]
        folder = self._logger_folder(logger_id)
        paths = [folder / _file(month) for month in wanted]
        rows = joined_rows(_read_in_turn(paths))
        if len(paths) > MONTHS_AT_ONCE:
            give_back()
        return frame_of(_cut(rows, start_utc, end_utc))

    def loggers(self) -> list[str]:
        """Return the loggers that have readings, in order."""
        return sorted({span.logger for span in spans(self.register)})

    def months(self, logger_id: str) -> list[str]:
        """Return the months, ``2026-03``, that have readings, in order."""
        return [span.month for span in spans(self.register, logger_id)]

    def span(self, logger_id: str) -> tuple[datetime, datetime] | None:
        """Return the first and last time of a logger, or None when it has no readings."""
        return reach(self.register).get(logger_id)

    def digest(self, logger_id: str, month: str) -> str:
        """Return a hash of a month's readings, "" for a month without; for caches."""
        known = {span.month: span.digest for span in spans(self.register, logger_id)}
        return known.get(month, "")

    def is_empty(self) -> bool:
        """Return whether nothing was ever written here."""
        return next(iter(self._folders()), None) is None

    def _folders(self) -> Iterable[Path]:
        return self.folder.glob("logger=*")

    def month_path(self, logger_id: str, month: str) -> Path:
        """Return where a month's file lies or would lie."""
        return self._logger_folder(logger_id) / _file(month)

    def _logger_folder(self, logger_id: str) -> Path:
        return self.folder / folder_name(logger_id)


def folder_name(logger_id: str) -> str:
    """Return the name of a logger's folder; any printable name of reasonable length has one.

    Raises
    ------
    OutOfRangeError
        If the name is empty, too long, or holds what cannot be printed.

    Examples
    --------
    >>> folder_name("north/1")
    'logger=north%2F1'
    """
    name = f"logger={quote(logger_id, safe=' ', errors='replace')}"
    if not logger_id.strip() or len(name) > NAME_LENGTH or not logger_id.isprintable():
        raise OutOfRangeError(
            read="logger",
            where="name",
            found=repr(logger_id[:100]),
            expected="a short name of printable characters",
            action="Give the logger a name of up to 60 letters and digits.",
        )
    return name


def _file(month: str) -> str:
    return f"{month}.parquet"


def rows_of(frame: pd.DataFrame, logger_id: str) -> Rows:
    """Return a frame's readings as arrays, with times in milliseconds."""
    time_ms = pd.DatetimeIndex(frame.index).as_unit("ms").asi8
    rows = Rows(time_ms, *(frame[name].to_numpy() for name in READING_COLUMNS))
    if not rows.sorted_and_unique():
        raise OutOfRangeError(
            read=f"readings for logger {logger_id}",
            where="times",
            found="two readings within one millisecond",
            expected="at most one reading a millisecond",
            action="Check the time column; loggers do not sample that fast.",
        )
    return rows


def merged_frames(frames: Iterable[pd.DataFrame], logger_id: str) -> pd.DataFrame:
    """Return readings merged in the order given, as the store would hold them."""
    return frame_of(_merged_rows(frames, logger_id))


def _merged_rows(frames: Iterable[pd.DataFrame], logger_id: str) -> Rows:
    rows = joined_rows([])
    for frame in frames:
        rows, _ = merge_rows(rows, rows_of(frame, logger_id))
    return rows


def frame_of(rows: Rows) -> pd.DataFrame:
    """Return rows in the shape of `analysis.series.readings_frame`."""
    index = pd.DatetimeIndex(rows.time_ms.astype("M8[ms]")).as_unit("us").tz_localize("UTC")
    return readings_frame(
        pd.DatetimeIndex(index), temp_c=rows.temp_c, rh_pct=rows.rh_pct, flags=rows.flags
    )


def _merge_months(folder: Path, rows: Rows) -> tuple[MergeReport, dict[str, Rows]]:
    """Merge month by month; return what it did, and each month as it is now."""
    reports: list[MergeReport] = []
    touched: dict[str, Rows] = {}
    changed: dict[str, Callable[[], memoryview]] = {}
    for month, part in by_month(rows):
        path = folder / _file(month)
        kept = read_month(path) if path.exists() else part.slice(slice(0, 0))
        joined, report = merge_rows(kept, part)
        if joined is not kept:
            changed[path.name] = _encoder(joined)
            report = MergeReport(**(vars(report) | {"months": (month,)}))
        reports.append(report)
        touched[month] = joined
    if changed:
        replace_files(folder, changed)
    return MergeReport.total(reports), touched


def _months_in(folder: Path) -> list[str]:
    return sorted(path.stem for path in folder.glob("*.parquet"))


def _sizes(folder: Path) -> dict[str, int]:
    """Return the size of each month's file."""
    return {path.stem: path.stat().st_size for path in folder.glob("*.parquet")}


def _rows_or_none(path: Path) -> Rows | None:
    try:
        return read_month(path)
    except StoreError:
        return None


def _span(folder: Path, logger_id: str, month: str, rows: Rows | None) -> Span:
    """Return what is known of a month; of one that cannot be read, only that it is there."""
    size = (folder / _file(month)).stat().st_size
    if rows is None or not len(rows):
        begin = datetime.fromisoformat(f"{month}-01T00:00:00+00:00")
        return Span(logger_id, month, begin, begin, 0, "", size)
    first, last = instant(rows.time_ms[0]), instant(rows.time_ms[-1])
    return Span(logger_id, month, first, last, len(rows), rows.digest, size)


def _encoder(rows: Rows) -> Callable[[], memoryview]:
    return lambda: memoryview(encode_month(rows))


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


def _read_in_turn(paths: Sequence[Path]) -> Iterator[Rows]:
    """Yield the rows of months, so many of them at a time that ten years need little memory.

    One after another: threads were measured to take twice the processor and a third more memory.
    """
    for first in range(0, len(paths), MONTHS_AT_ONCE):
        yield joined_rows(map(read_month, paths[first : first + MONTHS_AT_ONCE]))


def joined_rows(parts: Iterable[Rows]) -> Rows:
    """Return rows one after another; each column's parts go as soon as they are joined."""
    empty = Rows(np.empty(0, "i8"), np.empty(0), np.empty(0), np.empty(0, "i4"))
    columns = [list(arrays) for arrays in zip(*map(_columns, (empty, *parts)), strict=True)]
    columns.reverse()
    time_ms, temp_c, rh_pct, flags = (np.concatenate(columns.pop()) for _ in range(len(columns)))
    return Rows(time_ms, temp_c, rh_pct, flags)


def _columns(rows: Rows) -> tuple[npt.NDArray[Any], ...]:
    return rows.time_ms, rows.temp_c, rows.rh_pct, rows.flags


def _cut(rows: Rows, start_utc: datetime | None, end_utc: datetime | None) -> Rows:
    start = 0 if start_utc is None else np.searchsorted(rows.time_ms, _ms(start_utc))
    end = len(rows) if end_utc is None else np.searchsorted(rows.time_ms, _ms(end_utc))
    return rows.slice(slice(int(start), int(end)))


def _within(month: str, start_utc: datetime | None, end_utc: datetime | None) -> bool:
    after = start_utc is None or month >= start_utc.astimezone(UTC).strftime("%Y-%m")
    before = end_utc is None or month <= end_utc.astimezone(UTC).strftime("%Y-%m")
    return after and before


def _ms(time: datetime) -> int:
    # Up to the next whole millisecond, so that a reading before the bound stays before it.
    return -int(-pd.Timestamp(time).as_unit("ns").value // 1_000_000)


def instant(time_ms: np.int64) -> datetime:
    """Return the instant of a row's time."""
    return datetime.fromtimestamp(int(time_ms) / 1000, UTC)
