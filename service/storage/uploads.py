"""Which files arrived for which logger, how they were read, and how far they have come.

States: *received* (the original is kept; the readings may not all be merged yet), *stored*,
*withdrawing* and *withdrawn* (the readings are taken back; the original stays).
"""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import String, cast, false, or_, select

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


def latest_uploads(register: Register, count: int) -> tuple[Upload, ...]:
    """Return so many of the uploads that arrived last, in the order in which they arrived."""
    with register.reading() as session:
        newest = select(UploadRow.id).order_by(UploadRow.id.desc()).limit(count)
        return find(session, Upload, UploadRow, UploadRow.id.in_(newest), order=(UploadRow.id,))


def names_and_loggers(register: Register, states: tuple[UploadState, ...]) -> list[tuple[str, str]]:
    """Return the file's name and the logger of each upload, in the order in which they arrived."""
    wanted = select(UploadRow.name, UploadRow.logger).where(UploadRow.state.in_(states))
    with register.reading() as session:
        return [(name, logger) for name, logger in session.execute(wanted.order_by(UploadRow.id))]


def numbers_and_times(
    register: Register, states: tuple[UploadState, ...]
) -> list[tuple[int, datetime]]:
    """Return the number of each upload and when it came, in the order in which they arrived."""
    wanted = select(UploadRow.id, UploadRow.received_utc).where(UploadRow.state.in_(states))
    with register.reading() as session:
        return [(number, at) for number, at in session.execute(wanted.order_by(UploadRow.id))]


@dataclass(frozen=True)
class Brought:
    """From when to when a stored file reaches of one logger."""

    logger: str
    first_utc: datetime
    last_utc: datetime


def brought(register: Register, loggers: Iterable[str] | None = None) -> list[Brought]:
    """Return what each stored file brought of some loggers, in the order in which they came.

    ``loggers`` None: of all. Years of weekly files are tens of thousands of reports; those that do
    not name a logger are left aside by the database.
    """
    wanted = select(UploadRow.report).where(UploadRow.state == UploadState.STORED)
    names = None if loggers is None else set(loggers)
    if names is not None:
        text = cast(UploadRow.report, String)
        wanted = wanted.where(
            or_(false(), *(text.contains(json.dumps(one), autoescape=True) for one in names))
        )
    with register.reading() as session:
        reports = list(session.scalars(wanted.order_by(UploadRow.id)))
    return [
        Brought(
            sensor["logger"],
            datetime.fromisoformat(sensor["first_utc"]),
            datetime.fromisoformat(sensor["last_utc"]),
        )
        for report in reports
        for sensor in report.get("sensors", ())
        if (names is None or sensor["logger"] in names)
        and sensor["first_utc"]
        and sensor["last_utc"]
    ]


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
