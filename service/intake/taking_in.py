"""The order in which a file is taken in, so that a crash at any instant loses and doubles nothing.

1. the original is kept and synced (written while it is read, in place only once it is understood);
2. the upload's row says *received*; 3. its readings are merged, month by month, which may be done
twice without harm; 4. the row says *stored*. A program that starts finishes what it finds
*received*. A file that was read wrongly is taken back the same way: *withdrawing*, the months built
anew from the other originals, *withdrawn*.
"""

import contextlib
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from analysis.errors import StilltautError
from analysis.records.room_records import Logger
from service.errors import QuestionError
from service.ingest.choice import Choice
from service.ingest.long.spilled import rows_of_pieces
from service.ingest.read import FileReading
from service.intake.arrivals import (
    Asked,
    by_logger,
    held,
    original_at_hand,
    printable,
    reading_key,
)
from service.intake.receipts import Outcome, SensorReceipt, UploadReceipt
from service.storage import audit, loggers, uploads
from service.storage.months import MergeReport, instant
from service.storage.originals import changed_meanwhile
from service.storage.outbox import alone, end_duty
from service.storage.readings import merged_frames
from service.storage.records import put_record
from service.storage.register import Register
from service.storage.stores import Stores
from service.storage.uploads import Upload, UploadState

PRESENT = (UploadState.RECEIVED, UploadState.STORED)
HALF_DONE = (UploadState.RECEIVED, UploadState.WITHDRAWING)
# A file that a machine had in hand which fell silent is free after so long.
IN_HAND_S = 60.0
LOOK_EVERY_S, FINISH_EVERY_S = 0.1, 30.0


def take_in(
    stores: Stores,
    source: Path | bytes,
    *,
    name: str,
    logger_id: str,
    zone: str | None = None,
    columns: Mapping[str, str] | None = None,
    day_first: bool | None = None,
    start: str | None = None,
    interval_s: float | None = None,
    choice: Choice | None = None,
    sensors: Mapping[str, str] | None = None,
    by: str = "",
    keep_unread: bool = False,
    instead: bool = False,
    remember: bool = True,
    on_read: Callable[[FileReading], None] = lambda _: None,
) -> UploadReceipt:
    """Take a file in for a logger. The same file, read the same way, changes nothing.

    Parameters
    ----------
    source : pathlib.Path or bytes
        The file; of a long one on the disk only parts are held.
    name : str
        Its name, for messages and for the list of uploads.
    logger_id : str
        The logger; several sensors in one file go to ``logger_id.sensor``.
    zone, columns, day_first, start, interval_s
        As `service.ingest.read.read_bytes` takes them.
    choice : Choice, optional
        A confirmed understanding; when None, the one remembered for the logger.
    sensors : mapping of str to str, optional
        Sensor in the file to logger, in place of ``logger_id.sensor``; when None, as the last
        time.
    keep_unread : bool
        Whether the original is kept even when it cannot be read: yes for an upload by page,
        where the person may not have it at hand again.
    instead : bool
        Whether an earlier upload of the same file that read it differently is taken back.
    remember : bool
        Whether this way of reading is offered for the logger's next file.
    on_read : callable
        Called with what was understood, before anything is stored; it may raise to stop.

    Returns
    -------
    UploadReceipt
        Rows read, added, the same, in conflict, flagged, unreadable; span; months, per logger.

    Raises
    ------
    StilltautError
        If the file is not understood; nothing is stored then, but the original if asked for.
    QuestionError
        If the same file was taken in before and read differently, and ``instead`` is False.
    """
    stores.register.require_writable()
    name = printable(name)
    if isinstance(source, Path):
        source = held(source)
    if keep_unread:
        stores.originals.keep(source)
    choice = choice or remembered_choice(stores, logger_id)
    sensors = remembered_sensors(stores, logger_id) if sensors is None else sensors
    asked = Asked(zone, columns, day_first, start, interval_s, choice, sensors)
    with stores.originals.arriving(source) as arriving:
        reading = _read(stores, asked, name, source, arriving.sha256, kept=keep_unread)
        on_read(reading)
        frames = by_logger(reading, logger_id, asked.sensors)
        key = reading_key(frames)
        if reading.understanding.sha256 != arriving.sha256():
            raise changed_meanwhile(name)
        wrong = _read_otherwise(stores, reading.understanding.sha256, logger_id, key)
        if wrong and not instead:
            raise _read_differently(wrong[0], reading)
        sha256 = arriving.keep()
    received: list[Upload] = []
    receive = partial(
        uploads.receive,
        stores.register,
        sha256=sha256,
        name=name,
        logger=logger_id,
        reading_key=key,
        choice=asked.as_json(),
        understanding=reading.understanding.as_json(),
        by=by,
    )
    with _in_hand(stores.register, sha256, logger_id, lambda: received.append(receive())):
        upload = received[0]
        for earlier in wrong:
            _withdraw(stores, earlier, by=by, excluding=upload.id)
        return _store(stores, upload, reading, frames, Outcome.STORED, remember=remember)


@contextlib.contextmanager
def _in_hand(
    register: Register, sha256: str, logger_id: str, begin: Callable[[], object] = lambda: None
) -> Iterator[None]:
    """Hold a file for a logger: whoever stores it or takes it back meanwhile waits.

    ``begin`` is done in the transaction in which it is taken in hand.
    """
    duty = _duty(sha256, logger_id)
    while True:
        with alone(register, duty, IN_HAND_S, renewed=True, begin=begin) as mine:
            if mine:
                yield
                return
        time.sleep(LOOK_EVERY_S)


def _duty(sha256: str, logger_id: str) -> str:
    return f"file {sha256} {logger_id}"


def remembered_choice(stores: Stores, logger_id: str) -> Choice | None:
    """Return how this logger's files were read the last time, to be offered again."""
    values = loggers.remembered_choice(stores.register, logger_id)
    return None if values is None else Choice.from_json(values)


def remembered_sensors(stores: Stores, logger_id: str) -> dict[str, str]:
    """Return which sensor of this logger's files went to which logger the last time."""
    values = loggers.remembered_choice(stores.register, logger_id) or {}
    return dict(values.get("sensors", {}))


def finish_received(stores: Stores, *, told: bool = True) -> tuple[UploadReceipt, ...]:
    """Finish what an interruption left half done, unless another process is at it.

    An upload that can no longer be read stays *received*, with the reason in its report, and
    `stilltaut check` names it. ``told``: whether those are tried again whose reason stands there.
    """
    receipts = []
    for known in uploads.uploads(stores.register, states=HALF_DONE):
        if not told and "problem" in known.report:
            continue
        duty = _duty(known.sha256, known.logger)
        with alone(stores.register, duty, IN_HAND_S, renewed=True) as mine:
            upload = uploads.upload_numbered(stores.register, known.id)
            if mine and upload.state in HALF_DONE:
                receipts += _finished(stores, upload)
    return tuple(receipts)


def _finished(stores: Stores, upload: Upload) -> list[UploadReceipt]:
    try:
        if upload.state == UploadState.RECEIVED:
            return [merge_again(stores, upload)]
        _withdraw(stores, upload)
    except StilltautError as problem:
        state = UploadState(upload.state)
        uploads.mark(stores.register, upload.id, state, report=_reason(problem))
    return []


class Finishing:
    """A round of `service.jobs`: what another machine left half done is finished, whoever can.

    Parameters
    ----------
    stores : Stores
        The museum's.
    """

    def __init__(self, stores: Stores) -> None:
        self._stores = stores
        self._next = time.monotonic() + FINISH_EVERY_S

    def __call__(self, interrupted: Callable[[], bool]) -> None:
        """Look for such files now and then."""
        if time.monotonic() >= self._next:
            finish_received(self._stores, told=False)
            self._next = time.monotonic() + FINISH_EVERY_S


def merge_again(stores: Stores, upload: Upload) -> UploadReceipt:
    """Read an upload from its original and merge it: for what is *received*, or for repair."""
    reading, frames = read_again(stores, upload)
    return _store(stores, upload, reading, frames, Outcome.COMPLETED)


def mend(stores: Stores) -> int:
    """Merge every stored upload again from its original; return how many rows came back.

    What the register notes of every month is told anew by its file. Uploads that cannot be read
    again are left for `stilltaut check` to name.
    """
    rows, stores = 0, stores.without_copies()
    stores.readings.note_all(anew=True)
    for upload in uploads.uploads(stores.register, states=(UploadState.STORED,)):
        with contextlib.suppress(StilltautError):
            frames = read_again(stores, upload)[1]
            for logger_id in frames:
                merged = _merged(stores, frames, logger_id, "").merged
                rows += merged.added + merged.filled
    with stores.register.writing() as session:
        audit.note(
            session, by="", what="readings", key={}, before=None, after={"rows_mended": rows}
        )
    return rows


def read_again(stores: Stores, upload: Upload) -> tuple[FileReading, Mapping[str, pd.DataFrame]]:
    """Return an upload's reading and its frames by logger, from the original.

    Raises
    ------
    StilltautError
        If the original is missing or no longer understood.
    """
    asked = Asked.from_json(upload.choice)
    with original_at_hand(stores.originals, upload.sha256) as source:
        reading = asked.read(upload.name, source, room=stores.folder)
    return reading, by_logger(reading, upload.logger, asked.sensors)


def withdraw(stores: Stores, upload: Upload, *, by: str = "") -> None:
    """Take a file's readings back, once nobody else has it in hand; its original stays."""
    with _in_hand(stores.register, upload.sha256, upload.logger):
        _withdraw(stores, upload, by=by)


def _withdraw(stores: Stores, upload: Upload, *, by: str = "", excluding: int = 0) -> None:
    """Take a file's readings back; its original stays. What others gave is built anew.

    ``excluding`` names an upload that is not built in, because it is merged right after.
    """
    uploads.mark(stores.register, upload.id, UploadState.WITHDRAWING, by=by)
    for logger_id in loggers_of(stores, upload):
        stores.readings.rebuild(
            logger_id,
            partial(_frames_for, stores, logger_id, excluding),
            rests_on=partial(_present, stores),
        )
    uploads.mark(stores.register, upload.id, UploadState.WITHDRAWN, by=by)


def _present(stores: Stores) -> list[tuple[int, str]]:
    """Return which uploads there are, and when each came: what months are built from."""
    present = uploads.numbers_and_times(stores.register, PRESENT)
    return [(number, received_utc.isoformat()) for number, received_utc in present]


def receipt_of(upload: Upload, outcome: Outcome) -> UploadReceipt:
    """Return the receipt kept with an upload."""
    return UploadReceipt(
        outcome=outcome,
        upload=upload.id,
        name=upload.name,
        sha256=upload.sha256,
        received_utc=upload.received_utc,
        understanding=upload.understanding,
        sensors=tuple(SensorReceipt.from_json(v) for v in upload.report.get("sensors", ())),
    )


def _read(
    stores: Stores,
    asked: Asked,
    name: str,
    source: Path | bytes,
    hashed: Callable[[], str],
    *,
    kept: bool,
) -> FileReading:
    try:
        return asked.read(name, source, hashed, stores.folder)
    except StilltautError as problem:
        if kept:
            vars(problem)["kept"] = f"The file is kept as received (SHA-256 {hashed()})."
        raise


def _store(
    stores: Stores,
    upload: Upload,
    reading: FileReading,
    frames: Mapping[str, pd.DataFrame],
    outcome: Outcome,
    *,
    remember: bool = True,
) -> UploadReceipt:
    if upload.state == UploadState.STORED:
        return receipt_of(upload, Outcome.ALREADY_THERE)
    sensors = [
        _merged(stores, frames, logger_id, sensor)
        for logger_id, sensor in zip(frames, reading.sensors, strict=True)
    ]
    report = {"sensors": [sensor.as_json() for sensor in sensors]}
    with stores.register.writing():
        zone = reading.understanding.time.zone or ""
        for logger_id in frames:
            _logger_with_clock(stores, logger_id, zone, upload.by)
        confirmed = reading.choice.as_json() | {"sensors": upload.choice["sensors"]}
        if remember:
            loggers.remember_choice(stores.register, upload.logger, confirmed, by=upload.by)
        stored = uploads.mark(stores.register, upload.id, UploadState.STORED, report=report)
        end_duty(stores.register, _duty(upload.sha256, upload.logger))
    return receipt_of(stored, outcome)


def _logger_with_clock(stores: Stores, logger_id: str, zone: str, by: str) -> None:
    """Write a logger down where it is new; one whose clock was not declared gets this one."""
    known = loggers.logger_named(stores.register, logger_id) or Logger(logger_id)
    if not known.zone:
        put_record(stores.register, replace(known, zone=zone), by=by)


def _merged(
    stores: Stores, frames: Mapping[str, pd.DataFrame], logger_id: str, sensor: str
) -> SensorReceipt:
    count, flagged, ends, reports = 0, 0, [], []
    # A few months at a time, where they are many.
    for rows in rows_of_pieces(frames, logger_id):
        count, flagged = count + len(rows), flagged + int(np.count_nonzero(rows.flags))
        ends += [instant(rows.time_ms[0]), instant(rows.time_ms[-1])] if len(rows) else []
        reports.append(stores.readings.merge(logger_id, rows))
    return SensorReceipt(
        logger_id=logger_id,
        sensor=sensor,
        rows=count,
        flagged=flagged,
        first_utc=ends[0] if ends else None,
        last_utc=ends[-1] if ends else None,
        merged=MergeReport.total(reports),
    )


def _read_otherwise(stores: Stores, sha256: str, logger_id: str, key: str) -> list[Upload]:
    """Return the uploads of the same bytes for the same logger that read them differently."""
    same_bytes = uploads.uploads(stores.register, logger=logger_id, sha256=sha256, states=PRESENT)
    return [upload for upload in same_bytes if upload.reading_key != key]


def loggers_of(stores: Stores, upload: Upload) -> list[str]:
    """Return the loggers to which an upload's sensors went."""
    reported = [values["logger"] for values in upload.report.get("sensors", ())]
    return reported or list(read_again(stores, upload)[1])


def _frames_for(stores: Stores, logger_id: str, excluding: int) -> Iterator[pd.DataFrame]:
    """Yield what each upload gave a logger, in the order in which they came in."""
    present = uploads.uploads(stores.register, states=PRESENT)
    for upload in sorted(present, key=lambda one: (one.received_utc, one.id)):
        if upload.id == excluding:
            continue
        if logger_id == upload.logger or logger_id in loggers_of(stores, upload):
            frames = read_again(stores, upload)[1]
            if logger_id in frames:
                yield frames[logger_id]


def rebuilt(stores: Stores, logger_id: str, excluding: int) -> pd.DataFrame:
    """Return a logger's readings as they would be without one upload; nothing is changed."""
    return merged_frames(_frames_for(stores, logger_id, excluding), logger_id)


def _read_differently(earlier: Upload, reading: FileReading) -> QuestionError:
    was = earlier.understanding.get("time", {}).get("zone")
    now = reading.understanding.time.zone
    difference = f"clock then {was}, now {now}" if was != now else "columns or values differ"
    return QuestionError(
        read=reading.understanding.file,
        where="",
        found=f"the same file as on {earlier.received_utc:%Y-%m-%d}, read differently "
        f"({difference})",
        expected="one way of reading it, or its readings would stand twice",
        action="Take it in with --instead to take the earlier reading back and store this one.",
    )


def _reason(problem: StilltautError) -> dict[str, Any]:
    parts = ("read", "where", "found", "expected", "action")
    return {"problem": {part: getattr(problem, part) for part in parts}}
