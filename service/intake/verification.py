"""Verifying the stores against each other: originals, readings, uploads, register."""

from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import TypeVar

import numpy as np
import pandas as pd

from analysis.errors import StilltautError
from analysis.records.room_records import Place, Placement
from analysis.records.work_records import Hanging
from analysis.series import Flag
from service.errors import StoreError
from service.ingest.long.spilled import pieces_of
from service.intake.taking_in import read_again
from service.storage import loggers, uploads, works
from service.storage.inspections import photographs_named
from service.storage.months import CHANNELS, SAME_WITHIN, Rows, decode_month, noted_digest
from service.storage.readings import folder_name, rows_of
from service.storage.spans import Span, spans
from service.storage.stores import Stores
from service.storage.uploads import Upload, UploadState

BEGINNING = datetime.min.replace(tzinfo=UTC)


def verify(stores: Stores) -> list[StilltautError]:
    """Return everything that needs a person; an empty list when all is well.

    Months whose files came or went by another way are noted first: what is known of them is told
    by the files. Of what lies elsewhere that itself is read, no copy.
    """
    stores = stores.without_copies()
    stores.readings.note_all()
    return [
        *_register(stores),
        *_whereabouts(stores),
        *_originals(stores),
        *_photographs(stores),
        *_readings(stores),
        *_uploads(stores),
    ]


def _register(stores: Stores) -> Iterator[StilltautError]:
    for fault in stores.register.faults():
        yield StoreError(
            read="register",
            where="",
            found=fault,
            expected="a sound database",
            action="Bring the register back from a backup, or from the last archive's CSV files.",
        )


def _whereabouts(stores: Stores) -> Iterator[StilltautError]:
    """Name works and loggers that are in two places at once."""
    hung = [h for sheet in works.prints(stores.register) for h in _hangings(stores, sheet.work_id)]
    for one, other in overlaps(hung, lambda hanging: hanging.work_id):
        yield _two_places("hangings", f"work {one.work_id}", one, other)
    placed = [p for p in loggers.placements(stores.register) if p.place == Place.ROOM_AIR]
    for here, there in overlaps(placed, lambda placement: placement.logger):
        yield _two_places("placements", f"logger {here.logger}", here, there)


def _hangings(stores: Stores, work_id: str) -> tuple[Hanging, ...]:
    return works.work_record(stores.register, work_id).hangings


Stay = TypeVar("Stay", Hanging, Placement)


def overlaps(stays: Sequence[Stay], of: Callable[[Stay], str]) -> Iterator[tuple[Stay, Stay]]:
    """Yield neighbouring stays of one thing of which the first ends after the second begins."""
    ordered = sorted(stays, key=lambda stay: (of(stay), stay.from_utc or BEGINNING))
    for one, other in pairwise(ordered):
        ends_late = one.to_utc is None or one.to_utc > (other.from_utc or BEGINNING)
        if of(one) == of(other) and ends_late:
            yield one, other


def _two_places(
    table: str,
    name: str,
    one: Hanging | Placement,
    other: Hanging | Placement,
) -> StoreError:
    ends = "has no end" if one.to_utc is None else f"ends {one.to_utc:%Y-%m-%d %H:%M} UTC"
    begins = "since always" if other.from_utc is None else f"{other.from_utc:%Y-%m-%d %H:%M} UTC"
    return StoreError(
        read="register",
        where=f"{table}, {name}",
        found=f"its stay in {one.room} {ends}, though it is in {other.room} from {begins}",
        expected="one place at a time",
        action="Enter when the earlier stay ended.",
    )


def _originals(stores: Stores) -> Iterator[StilltautError]:
    for sha256 in stores.originals.all():
        try:
            for _piece in stores.originals.pieces(sha256):
                pass
        except StoreError as problem:
            yield problem


def _photographs(stores: Stores) -> Iterator[StilltautError]:
    for name in sorted(photographs_named(stores.register)):
        try:
            stores.photographs.read(name)
        except StoreError as problem:
            yield StoreError(
                read="photographs",
                where=name,
                found=problem.found.replace("when it was received", "were kept"),
                expected="the photograph of an inspection",
                action="Bring it back from a backup of the data folder.",
            )


def _readings(stores: Stores) -> Iterator[StilltautError]:
    known = {logger.logger for logger in loggers.loggers(stores.register)}
    for logger_id in stores.readings.loggers():
        if logger_id not in known:
            yield StoreError(
                read="register",
                where="loggers",
                found=f"no logger {logger_id}, which has readings",
                expected="every logger that has readings",
                action="Enter the logger, and where it hung.",
            )
        for span in spans(stores.register, logger_id):
            problem = _month(stores, span)
            if problem is not None:
                yield problem


def _month(stores: Stores, span: Span) -> StilltautError | None:
    folder = folder_name(span.logger)
    try:
        content = stores.readings.month_file(span.logger, span.month)
        rows = decode_month(content, folder=folder, file=span.file)
    except StoreError as problem:
        return problem
    noted, found = noted_digest(content), ""
    if not rows.sorted_and_unique():
        found = "times that repeat or run backwards"
    elif any(
        str(month) != span.month
        for month in np.unique(rows.time_ms.astype("M8[ms]").astype("M8[M]"))
    ):
        found = "readings of another month"
    elif noted and noted != rows.digest:
        found = "other readings than were written"
    elif rows.digest != span.digest:
        found = "other readings than the register has noted"
    if not found:
        return None
    return StoreError(
        read=f"readings, {folder}",
        where=span.file,
        found=found,
        expected="the readings of one month, sorted, as they were written",
        action="Move this file away, then run `stilltaut check --mend` to build it anew from the "
        "originals.",
    )


def _uploads(stores: Stores) -> Iterator[StilltautError]:
    for upload in uploads.uploads(stores.register):
        if not stores.originals.has(upload.sha256):
            yield _missing_original(upload)
        elif upload.state in (UploadState.RECEIVED, UploadState.WITHDRAWING):
            yield _half_done(upload)
        elif upload.state == UploadState.STORED:
            yield from _stored(stores, upload)


def _stored(stores: Stores, upload: Upload) -> Iterator[StilltautError]:
    try:
        _, frames = read_again(stores, upload)
        for logger_id in frames:
            pieces = pieces_of(frames, logger_id)
            missing = sum(_missing(stores, logger_id, piece) for piece in pieces)
            if missing:
                yield _missing_readings(upload, logger_id, missing)
    except StilltautError as problem:
        yield problem


def _missing(stores: Stores, logger_id: str, frame: pd.DataFrame) -> int:
    """Return how many of some readings the store has not as they are."""
    if not len(frame):
        return 0
    first, last = frame.index[0], frame.index[-1] + timedelta(milliseconds=1)
    there = rows_of(stores.readings.load(logger_id, first, last), logger_id)
    return missing_rows(rows_of(frame, logger_id), there)


def missing_rows(wanted: Rows, there: Rows) -> int:
    """Return how many wanted rows are not there, or there with another value and no flag."""
    if not len(there):
        return len(wanted)
    place = np.minimum(np.searchsorted(there.time_ms, wanted.time_ms), len(there) - 1)
    lost = there.time_ms[place] != wanted.time_ms
    unmarked = (there.flags[place] & int(Flag.CONFLICT)) == 0
    for channel in CHANNELS:
        ours, theirs = getattr(there, channel)[place], getattr(wanted, channel)
        absent = np.isnan(ours) & ~np.isnan(theirs)
        lost |= absent | (unmarked & (np.abs(ours - theirs) > SAME_WITHIN))
    return int(lost.sum())


def _missing_original(upload: Upload) -> StoreError:
    return StoreError(
        read="originals",
        where=upload.sha256,
        found=f"no file, though {upload.name} was received on {upload.received_utc:%Y-%m-%d}",
        expected="the file as it was received",
        action="Bring it back from a backup, or take the file in again.",
    )


def _missing_readings(upload: Upload, logger_id: str, missing: int) -> StoreError:
    return StoreError(
        read=f"readings of {logger_id}",
        where=f"from {upload.name}",
        found=f"{missing} readings missing or changed",
        expected="all readings of every file that was stored",
        action="Run `stilltaut check --mend` to merge the file again from its original.",
    )


def _half_done(upload: Upload) -> StoreError:
    reason = upload.report.get("problem", {})
    words = ", ".join(str(reason[part]) for part in ("where", "found") if reason.get(part))
    return StoreError(
        read=upload.name,
        where=f"logger {upload.logger}",
        found=f"state {upload.state}" + (f", because of {words}" if words else ""),
        expected="the state stored or withdrawn",
        action=str(reason.get("action") or "Start the program once more; it finishes this file."),
    )
