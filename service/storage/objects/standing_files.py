"""The files that stand for a logger's months, and what else lies beside them.

A file holds a month, ``2026-03_….parquet``, or all months that a closed year has,
``2024_….parquet``. The register says for every month which file stands (`service.storage.spans`):
of a year's file only those months count that it stands for. A month that changes gets a file of its
own again, and the rest of its year stays where it is.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime
from itertools import groupby
from pathlib import PurePosixPath

from service.errors import StoreError
from service.storage.months import (
    PARQUET,
    Rows,
    by_month,
    decode_month,
    instant,
    is_of_year,
    joined_rows,
    period_of,
    rows_of_months,
    year_of,
)
from service.storage.objects.named import Found, Objects
from service.storage.spans import Span

Standing = Mapping[str, Span]
# A year is closed when it has been over for so long: late files have come by then.
CLOSED_AFTER_MONTHS = 2


def files_of(standing: Standing, months: Iterable[str] | None = None) -> dict[str, str]:
    """Return which file stands for each month, or for some months, "" where none does."""
    if months is None:
        return {month: span.file for month, span in standing.items()}
    return {month: standing[month].file if month in standing else "" for month in months}


def without(standing: Standing, months: Collection[str]) -> set[str]:
    """Return the files that stand for some months, and for no other."""
    others = {span.file for month, span in standing.items() if month not in months}
    return {standing[month].file for month in months if month in standing} - others


def closed_years(standing: Standing, now_utc: datetime) -> dict[str, list[Span]]:
    """Return, of each year that is over, its months where they lie in several files."""
    year, month = now_utc.year, now_utc.month
    last = year - 1 if month > CLOSED_AFTER_MONTHS else year - 2
    found: dict[str, list[Span]] = {}
    for span in sorted(standing.values(), key=lambda one: one.month):
        if span.first_utc.year <= last:
            found.setdefault(year_of(span.month), []).append(span)
    return {year: spans for year, spans in found.items() if len({span.file for span in spans}) > 1}


class StoredRows:
    """Reads what stands; the year's file that was read last is at hand for the next month of it."""

    def __init__(self, objects: Objects) -> None:
        self._objects = objects
        self._last: tuple[str, Rows] | None = None

    def of_month(self, folder: str, span: Span) -> Rows:
        """Return the rows of a month."""
        rows = self._decoded(folder, span.file)
        return rows_of_months(rows, [span.month]) if is_of_year(span.file) else rows

    def by_year(self, folder: str, wanted: Sequence[Span]) -> Iterator[Rows]:
        """Yield the rows of months year by year, so that ten years need little memory.

        One file is taken apart after another: threads were measured to take twice the processor
        and a third more memory. From elsewhere the next ones are fetched meanwhile.
        """
        at_hand = dict([] if self._last is None else [self._last])
        names = dict.fromkeys(f"{folder}/{span.file}" for span in wanted)
        contents = self._objects.each([name for name in names if name not in at_hand])
        for _year, spans in groupby(wanted, key=lambda span: year_of(span.month)):
            held, parts = dict(at_hand), []
            for file, of_file in groupby(spans, key=lambda span: span.file):
                name = f"{folder}/{file}"
                if name not in held:
                    held[name] = self._taken_apart(name, next(contents))
                parts.append(rows_of_months(held[name], [span.month for span in of_file]))
            yield joined_rows(parts)

    def _decoded(self, folder: str, file: str) -> Rows:
        name, last = f"{folder}/{file}", self._last
        if last is not None and last[0] == name:
            return last[1]
        return self._taken_apart(name, self._objects.get(name))

    def _taken_apart(self, name: str, content: bytes) -> Rows:
        folder, _, file = name.rpartition("/")
        rows = decode_month(content, folder=folder, file=file)
        if is_of_year(file):
            self._last = (name, rows)
        return rows


# What lies in a store beside what is noted.


def as_noted(noted: Standing, files: Mapping[str, Found]) -> bool:
    """Return whether a logger has just the files that stand, of the sizes that were noted."""
    sizes = {file: found.bytes for file, found in files.items()}
    return sizes == {span.file: span.bytes for span in noted.values()}


def differing(
    objects: Objects, logger_id: str, standing: Standing, files: Mapping[str, Found], *, anew: bool
) -> dict[str, Span | None]:
    """Return the months of which the files tell something else than is noted.

    ``files`` are those of the logger by their names; ``anew``: all of them are read.
    """
    differs: dict[str, Span | None] = {}
    others = _months_beside(objects, standing, files)
    for month, span in standing.items():
        found = files.get(span.file)
        if found is not None and (anew or found.bytes != span.bytes):
            differs[month] = _span_of_file(objects, logger_id, month, found)
        elif found is None and (anew or objects.at_hand):
            other = others.get(month)
            differs[month] = (
                None if other is None else _span_of_file(objects, logger_id, month, other)
            )
    if objects.at_hand:
        for month in others.keys() - standing.keys():
            differs[month] = _span_of_file(objects, logger_id, month, others[month])
    return differs


def _months_beside(
    objects: Objects, standing: Standing, files: Mapping[str, Found]
) -> dict[str, Found]:
    """Return the months in files that stand for none.

    Of a year of which a month stands elsewhere, a year's file was left by a crash: what is missing
    in the others was taken back.
    """
    taken = {span.file for span in standing.values()}
    years = {year_of(month) for month, span in standing.items() if span.file in files}
    months: dict[str, Found] = {}
    for name, found in sorted(files.items()):
        if name not in taken and is_of_year(name) and period_of(name) not in years:
            inside = by_month(rows_or_none(objects.get(found.name)))
            months |= {month: found for month, _ in inside}
    for name, found in sorted(files.items()):
        if name not in taken and not is_of_year(name):
            months[period_of(name)] = found
    return months


def left_over(
    objects: Objects, standing: Mapping[str, Span | None], files: Mapping[str, Found]
) -> list[str]:
    """Return the files that never stood or stand no more, beside others that do."""
    present = {month: span for month, span in standing.items() if span and span.file in files}
    taken = {span.file for span in present.values()}
    periods = {*present, *map(year_of, present)}
    return [
        name
        for name, found in files.items()
        if name not in taken
        and period_of(name) in periods
        and (objects.at_hand or found.left_behind)
        and name != period_of(name) + PARQUET  # of an earlier release
    ]


def _span_of_file(objects: Objects, logger_id: str, month: str, found: Found) -> Span:
    """Return what a file tells of a month; of one that is damaged, only that it is there."""
    name = PurePosixPath(found.name).name
    rows = rows_or_none(objects.get(found.name))
    if is_of_year(name):
        rows = rows_of_months(rows, [month])
    return span_of(logger_id, month, rows, name, found.bytes)


def rows_or_none(content: bytes) -> Rows:
    """Return the rows of a file, none of one that is damaged."""
    try:
        return decode_month(content, folder="", file="")
    except StoreError:
        return joined_rows([])


def span_of(logger_id: str, month: str, rows: Rows, file: str, size: int) -> Span:
    """Return what is known of a month; of one without rows, only that its file is there."""
    if not len(rows):
        begin = datetime.fromisoformat(f"{month}-01T00:00:00+00:00")
        return Span(logger_id, month, begin, begin, 0, "", size, file)
    first, last = instant(rows.time_ms[0]), instant(rows.time_ms[-1])
    return Span(logger_id, month, first, last, len(rows), rows.digest, size, file)


def is_within(month: str, start_utc: datetime | None, end_utc: datetime | None) -> bool:
    """Return whether a month has an instant between two times."""
    after = start_utc is None or month >= start_utc.astimezone(UTC).strftime("%Y-%m")
    before = end_utc is None or month <= end_utc.astimezone(UTC).strftime("%Y-%m")
    return after and before
