"""Which files arrived for which logger, how they were read, and how far they have come.

States: *received* (the original is kept; the readings may not all be merged yet), *stored*,
*withdrawing* and *withdrawn* (the readings are taken back; the original stays).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import select

from analysis.errors import UnknownNameError
from service.storage import audit
from service.storage.records import find, record
from service.storage.register import Register, now_utc
from service.storage.schema import UploadRow


class UploadState(StrEnum):
    """How far an upload has come."""

    RECEIVED = "received"
    STORED = "stored"
    WITHDRAWING = "withdrawing"
    WITHDRAWN = "withdrawn"


@dataclass(frozen=True)
class Upload:
    """One file for one logger, read in one way.

    ``reading_key`` is a hash of the readings found in it; ``choice`` holds how the reader was
    asked, so that the same reading can be made again from the original.
    """

    id: int
    sha256: str
    name: str
    logger: str
    reading_key: str
    state: str
    received_utc: datetime
    stored_utc: datetime | None
    by: str
    choice: Mapping[str, Any]
    understanding: Mapping[str, Any]
    report: Mapping[str, Any]


def receive(
    register: Register,
    *,
    sha256: str,
    name: str,
    logger: str,
    reading_key: str,
    choice: Mapping[str, Any],
    understanding: Mapping[str, Any],
    by: str,
) -> Upload:
    """Note that a file has arrived, or return the row of the same bytes, logger and reading.

    A withdrawn row becomes *received* again.
    """
    key = {"sha256": sha256, "logger": logger, "reading_key": reading_key}
    with register.writing() as session:
        row = session.scalars(select(UploadRow).filter_by(**key)).one_or_none()
        if row is None:
            row = UploadRow(**key, name=name, by=by, report={}, state="")
            session.add(row)
        if row.state in ("", UploadState.WITHDRAWN):
            row.state, row.received_utc = UploadState.RECEIVED, now_utc()
            row.choice, row.understanding = dict(choice), dict(understanding)
            session.flush()
            _note(register, row)
        return record(Upload, row)


def mark(
    register: Register,
    upload_id: int,
    state: UploadState,
    *,
    report: Mapping[str, Any] | None = None,
    by: str = "",
) -> Upload:
    """Move an upload to a state; give its report, if there is a new one."""
    with register.writing() as session:
        row = session.get_one(UploadRow, upload_id)
        changed = row.state != state
        row.state = state
        if state is UploadState.STORED and changed:
            row.stored_utc = now_utc()
        if report is not None:
            row.report = dict(report)
        session.flush()
        if changed:
            _note(register, row, by)
        return record(Upload, row)


def uploads(
    register: Register,
    *,
    logger: str | None = None,
    sha256: str | None = None,
    states: tuple[UploadState, ...] = (),
) -> tuple[Upload, ...]:
    """Return uploads in the order in which they arrived."""
    where = [] if logger is None else [UploadRow.logger == logger]
    if sha256 is not None:
        where.append(UploadRow.sha256 == sha256)
    if states:
        where.append(UploadRow.state.in_(states))
    with register.reading() as session:
        return find(session, Upload, UploadRow, *where, order=(UploadRow.id,))


def upload_numbered(register: Register, number: int) -> Upload:
    """Return the upload of that number, or raise `UnknownNameError`."""
    with register.reading() as session:
        found = find(session, Upload, UploadRow, UploadRow.id == number)
    if not found:
        raise UnknownNameError(read="uploads", name=str(number), known=[])
    return found[0]


def _note(register: Register, row: UploadRow, by: str = "") -> None:
    with register.writing() as session:
        key = {"sha256": row.sha256, "logger": row.logger}
        after = {"state": row.state, "name": row.name}
        audit.note(session, by=by or row.by, what="uploads", key=key, before=None, after=after)
