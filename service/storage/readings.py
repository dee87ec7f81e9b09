"""The store of readings: ``readings/logger=ID/2026-03_….parquet``, one file a month (UTC).

The months of a year that is over lie in one file, ``2024_….parquet`` (`ReadingsStore.compact`).

A file is never changed. A month that grows is written beside the file that stands, under a name of
its own; in one transaction the register then says that the new one stands (`service.storage.spans`)
unless another writer was faster: it is then merged again, into what that one wrote. So several
machines may write at once and need no lock. What stands no more is removed.
"""

import random
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from functools import partial
from pathlib import PurePosixPath
from typing import TypeVar
from urllib.parse import quote, unquote

import pandas as pd

from analysis.errors import OutOfRangeError
from analysis.series import READING_COLUMNS, readings_frame, require_readings
from service.errors import StoreError
from service.storage.months import (
    MergeReport,
    Rows,
    by_month,
    cut_rows,
    damaged_month,
    encode_month,
    file_name,
    give_back,
    is_of_year,
    joined_rows,
    merge_rows,
    period_of,
)
from service.storage.objects.named import Found, Objects
from service.storage.objects.standing_files import (
    Standing,
    StoredRows,
    as_noted,
    closed_years,
    differing,
    files_of,
    is_within,
    left_over,
    rows_or_none,
    span_of,
    without,
)
from service.storage.register import Register
from service.storage.spans import MovedOnError, Span, loggers_known, note_months, reach, spans

MONTHS_AT_ONCE = 12
# File systems allow 255 bytes; one letter may take twelve.
NAME_LENGTH = 200
# Whoever comes too late has let another one pass: so often in a row is a fault.
TRIES, PAUSE_S = 50, 0.02
Result = TypeVar("Result")


class ReadingsStore:
    """The store of readings.

    Parameters
    ----------
    objects : Objects
        Those whose names begin with ``readings``.
    register : Register
        Where it is noted which file of a month stands; see `service.storage.spans`.
    """

    def __init__(self, objects: Objects, register: Register) -> None:
        self.objects, self.register = objects, register
        self._stored = StoredRows(objects)

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
            If the store refuses or a month that is there cannot be read.
        """
        if isinstance(readings, Rows):
            rows = readings
        else:
            require_readings(readings, read=f"readings for logger {logger_id}")
            rows = rows_of(readings, logger_id)

        def merged(standing: Standing) -> MergeReport:
            report, changed = self._merged(standing, rows)
            files = files_of(standing, changed)
            if changed:
                self._exchange(
                    logger_id,
                    standing,
                    changed,
                    report.first_new_utc,
                    still=lambda now: files_of(now, changed) == files,
                )
            return report

        with self.objects.alone(folder_name(logger_id)):
            return self._on_what_stands(logger_id, merged)

    def rebuild(
        self,
        logger_id: str,
        frames: Callable[[], Iterable[pd.DataFrame]],
        rests_on: Callable[[], object] = lambda: None,
    ) -> None:
        """Put readings merged anew, in the order given, in place of all that a logger has.

        Used when a file is taken back: what remains comes again from the other originals.

        Parameters
        ----------
        frames : callable
            Gives what remains; asked again where something came in meanwhile.
        rests_on : callable
            Gives what the frames were made from; while it is equal, they are the same.
        """

        def rebuilt(standing: Standing) -> None:
            given = rests_on()
            months: dict[str, Rows | None] = dict.fromkeys(standing)
            months |= dict(by_month(_merged_rows(frames(), logger_id)))
            self._exchange(
                logger_id,
                standing,
                months,
                still=lambda now: files_of(now) == files_of(standing) and rests_on() == given,
            )

        with self.objects.alone(folder_name(logger_id)):
            self._on_what_stands(logger_id, rebuilt)

    def take_over(self, logger_id: str, contents: Mapping[str, bytes]) -> dict[str, Span]:
        """Put the files of months as an archive holds them; `note_taken_over` lets them stand."""
        folder = folder_name(logger_id)
        rows = {month: rows_or_none(content) for month, content in contents.items()}
        names = {month: file_name(month, of) for month, of in rows.items()}
        self.objects.put(
            {f"{folder}/{names[month]}": partial(bytes, of) for month, of in contents.items()}
        )
        return {
            month: span_of(logger_id, month, rows[month], names[month], len(of))
            for month, of in contents.items()
        }

    def note_taken_over(self, logger_id: str, found: Mapping[str, Span]) -> None:
        """Let the files of months stand for a logger that has none."""
        note_months(self.register, logger_id, found, still=lambda now: not now)

    def note_all(self, *, anew: bool = False) -> int:
        """Note what came or went by another way than this; return how many months did.

        A file that stands counts as known while it has the size that was noted; ``anew``: all are
        read. In a folder of this machine alone, what is not seen is gone, and what nobody put there
        is taken in; of a store that others share, only ``anew`` takes a month for gone. A file that
        a crash left beside the one that stands is removed.
        """
        noted: dict[str, dict[str, Span]] = {}
        for span in spans(self.register):
            noted.setdefault(span.logger, {})[span.month] = span
        files: dict[str, dict[str, Found]] = {}
        for found in self.objects.listed():
            folder, file = PurePosixPath(found.name).parent.name, PurePosixPath(found.name).name
            if period_of(file):
                name = unquote(folder.removeprefix("logger="))
                files.setdefault(name, {})[file] = found
        return sum(
            self._note_logger(name, anew=anew)
            for name in sorted(noted.keys() | files.keys())
            if anew or not as_noted(noted.get(name, {}), files.get(name, {}))
        )

    def _note_logger(self, logger_id: str, *, anew: bool) -> int:
        folder = folder_name(logger_id)

        def noted(standing: Standing) -> int:
            names = {PurePosixPath(one.name).name: one for one in self.objects.listed(folder)}
            files = {name: one for name, one in names.items() if period_of(name)}
            differs = differing(self.objects, logger_id, standing, files, anew=anew)
            note_months(
                self.register,
                logger_id,
                differs,
                still=lambda now: files_of(now) == files_of(standing),
            )
            self._remove(folder, left_over(self.objects, {**standing, **differs}, files))
            return sum(standing.get(month) != span for month, span in differs.items())

        with self.objects.alone(folder):
            return self._on_what_stands(logger_id, noted)

    def _on_what_stands(self, logger_id: str, work: Callable[[Standing], Result]) -> Result:
        """Do work on the months that stand, again where another writer has exchanged them."""
        for trial in range(TRIES):
            standing = {span.month: span for span in spans(self.register, logger_id)}
            try:
                return work(standing)
            except MovedOnError:
                time.sleep(random.uniform(0, PAUSE_S * trial))
            except FileNotFoundError as problem:
                now = {span.month: span for span in spans(self.register, logger_id)}
                if files_of(now) == files_of(standing):
                    file = PurePosixPath(str(problem.filename)).name
                    raise damaged_month(folder_name(logger_id), file, "no such file") from problem
        raise StoreError(
            read=f"readings of {logger_id}",
            where="",
            found="others who wrote readings of this logger all the time",
            expected="a moment in which nobody else does",
            action="Do the same again: nothing is lost, and nothing is stored twice.",
        )

    def _exchange(
        self,
        logger_id: str,
        standing: Standing,
        months: Mapping[str, Rows | None],
        since_utc: datetime | None = None,
        *,
        still: Callable[[Standing], bool],
    ) -> None:
        """Put months in place of those that stand, None: no readings any more."""
        folder = folder_name(logger_id)
        names = {
            month: file_name(month, rows) for month, rows in months.items() if rows is not None
        }
        sizes: dict[str, int] = {}

        def encoder(month: str, rows: Rows) -> Callable[[], memoryview]:
            def encoded() -> memoryview:
                content = memoryview(encode_month(rows))
                sizes[month] = content.nbytes
                return content

            return encoded

        self.objects.put(
            {
                f"{folder}/{names[month]}": encoder(month, rows)
                for month, rows in months.items()
                if rows is not None
            }
        )
        found = {
            month: None
            if rows is None
            else span_of(logger_id, month, rows, names[month], sizes[month])
            for month, rows in months.items()
        }
        self._stand(logger_id, standing, found, since_utc, still)

    def _stand(
        self,
        logger_id: str,
        standing: Standing,
        found: Mapping[str, Span | None],
        since_utc: datetime | None,
        still: Callable[[Standing], bool],
    ) -> None:
        """Let new files stand for months, and remove those that stand for none any more."""
        folder = folder_name(logger_id)
        try:
            note_months(self.register, logger_id, found, since_utc, still=still)
        except MovedOnError:
            self._remove(folder, {span.file for span in found.values() if span is not None})
            raise
        self._remove(folder, without(standing, found.keys()))

    def _remove(self, folder: str, files: Iterable[str]) -> None:
        for file in files:
            self.objects.remove(f"{folder}/{file}")

    def _merged(self, standing: Standing, rows: Rows) -> tuple[MergeReport, dict[str, Rows | None]]:
        """Merge month by month; return what it did, and each month that changes."""
        reports: list[MergeReport] = []
        changed: dict[str, Rows | None] = {}
        for month, part in by_month(rows):
            span = standing.get(month)
            folder = "" if span is None else folder_name(span.logger)
            kept = part.slice(slice(0, 0)) if span is None else self._stored.of_month(folder, span)
            joined, report = merge_rows(kept, part)
            if joined is not kept:
                changed[month] = joined
                report = MergeReport(**(vars(report) | {"months": (month,)}))
            reports.append(report)
        return MergeReport.total(reports), changed

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

        def loaded(standing: Standing) -> Rows:
            wanted = [
                span for span in standing.values() if is_within(span.month, start_utc, end_utc)
            ]
            rows = joined_rows(self._stored.by_year(folder_name(logger_id), wanted))
            if len(wanted) > MONTHS_AT_ONCE:
                give_back()
            return rows

        rows = self._on_what_stands(logger_id, loaded)
        return frame_of(cut_rows(rows, start_utc, end_utc))

    def has(self, span: Span) -> bool:
        """Return whether the file that stands for a month is there."""
        return self.objects.exists(f"{folder_name(span.logger)}/{span.file}")

    def month_file(self, logger_id: str, month: str) -> bytes:
        """Return the bytes of a month's file, also of one whose rows lie with those of its year.

        Raises
        ------
        StoreError
            If it is not there.
        """
        folder = folder_name(logger_id)

        def content(standing: Standing) -> bytes:
            span = standing[month]
            if is_of_year(span.file):
                return bytes(memoryview(encode_month(self._stored.of_month(folder, span))))
            return self.objects.get(f"{folder}/{span.file}")

        return self._on_what_stands(logger_id, content)

    def compact(self, logger_id: str, now_utc: datetime) -> int:
        """Put the months of each closed year into one file; return how many files went.

        The readings stay as they are, and so does what is known of each month. A year of which a
        month cannot be read, or is not what was noted, stays as it is: `stilltaut check` names it.
        """
        folder = folder_name(logger_id)

        def compacted(standing: Standing) -> int:
            went = 0
            for year, wanted in closed_years(standing, now_utc).items():
                rows = self._as_noted(folder, wanted)
                if rows is None:
                    continue
                content = memoryview(encode_month(rows))
                name = file_name(year, rows)
                self.objects.put({f"{folder}/{name}": partial(bytes, content)})
                found = {
                    span.month: replace(span, file=name, bytes=content.nbytes) for span in wanted
                }
                before = files_of(standing, found)
                self._stand(logger_id, standing, found, None, partial(_unchanged, before=before))
                went += len(set(before.values())) - 1
            return went

        with self.objects.alone(folder):
            return self._on_what_stands(logger_id, compacted)

    def _as_noted(self, folder: str, wanted: Sequence[Span]) -> Rows | None:
        """Return the rows of a year's months; None where one is not what the register has noted."""
        try:
            rows = joined_rows(self._stored.by_year(folder, wanted))
        except StoreError:
            return None
        digests = {month: part.digest for month, part in by_month(rows)}
        return rows if digests == {span.month: span.digest for span in wanted} else None

    def loggers(self) -> list[str]:
        """Return the loggers that have readings, in order."""
        return loggers_known(self.register)

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
        return self.objects.is_empty()


def _unchanged(now: Standing, before: Mapping[str, str]) -> bool:
    """Return whether the same files stand for months as before."""
    return files_of(now, before) == before


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
