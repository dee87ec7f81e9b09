"""Notices: one per cause, changed while it lasts, ended when it is over."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from hashlib import sha256
from typing import Any

from sqlalchemy import String, cast, select
from sqlalchemy.orm import Session

from analysis.errors import UnknownNameError
from service.storage.records import find, record
from service.storage.register import Register, now_utc
from service.storage.schema import JudgedUntilRow, NoticeRow

OPEN_NOTICES = "mark of open notices"


@dataclass(frozen=True)
class Notice:
    """What happened in a room, since when, and what it means.

    ``cause_key`` names the cause (kind, room, beginning, work): the same cause, raised again by
    the next file, is the same notice. ``details`` holds plain values for pages and letters:
    sensor, works in order with reasons, lead time, what to do.
    """

    cause_key: str
    kind: str
    room: str | None
    headline: str
    since_utc: datetime
    details: Mapping[str, Any] = field(default_factory=dict)
    id: int = 0
    raised_utc: datetime | None = None
    changed_utc: datetime | None = None
    ended_utc: datetime | None = None
    seen_utc: datetime | None = None
    seen_by: str = ""
    seen_reason: str = ""

    @property
    def unseen(self) -> bool:
        """Whether nobody has seen it, or nobody since it grew worse."""
        return not self.seen_by or bool(self.details.get("worse_utc"))


def raise_notice(
    register: Register, notice: Notice, at: datetime | None = None
) -> tuple[Notice, bool]:
    """Raise a notice, or bring the one of the same cause up to date.

    Returns
    -------
    Notice
        As it stands in the register now.
    bool
        Whether it is new. A notice that had ended and is raised again is open again, not new.
    """
    at = at or now_utc()
    with register.writing() as session:
        row = _row(register, notice.cause_key)
        new = row is None
        if row is None:
            row = NoticeRow(cause_key=notice.cause_key, raised_utc=at, seen_by="", seen_reason="")
            session.add(row)
        changes = {
            "kind": notice.kind,
            "room": notice.room,
            "headline": notice.headline,
            "since_utc": notice.since_utc,
            "details": dict(notice.details),
            "ended_utc": notice.ended_utc,
        }
        if any(getattr(row, name) != value for name, value in changes.items()):
            for name, value in changes.items():
                setattr(row, name, value)
            row.changed_utc = at
        session.flush()
        return record(Notice, row), new


def end_notice(register: Register, cause_key: str, at: datetime) -> bool:
    """End a notice; return whether it was open."""
    with register.writing():
        row = _row(register, cause_key)
        if row is None or row.ended_utc is not None:
            return False
        row.ended_utc, row.changed_utc = at, now_utc()
        return True


def mark_seen(register: Register, notice_id: int, *, by: str, reason: str = "") -> Notice:
    """Note who has seen a notice, and what they know or will do.

    The first one stays noted, until it grows worse and somebody has seen that.

    Raises
    ------
    UnknownNameError
        If there is no such notice.
    """
    with register.writing() as session:
        row = _numbered(session, notice_id)
        if row.seen_utc is None or row.details.get("worse_utc"):
            row.seen_utc, row.seen_by, row.seen_reason = now_utc(), by, reason
            row.details = {**row.details, "worse_utc": None}
        session.flush()
        return record(Notice, row)


def take_back_seen(register: Register, notice_id: int) -> Notice:
    """Take back that somebody has seen a notice: it waits for a person again.

    Raises
    ------
    UnknownNameError
        If there is no such notice.
    """
    with register.writing() as session:
        row = _numbered(session, notice_id)
        row.seen_utc, row.seen_by, row.seen_reason = None, "", ""
        session.flush()
        return record(Notice, row)


def _numbered(session: Session, notice_id: int) -> NoticeRow:
    row = session.get(NoticeRow, notice_id)
    if row is None:
        known = [str(number) for number in session.scalars(select(NoticeRow.id))]
        raise UnknownNameError(read="notices", name=str(notice_id), known=known)
    return row


def open_notices(register: Register, room: str | None = None) -> tuple[Notice, ...]:
    """Return the notices that have not ended, newest first."""
    return notices(register, room, only_open=True)


def mark_of_open(register: Register) -> str:
    """Return a mark of all that stands of open notices, details and all; equal means the same."""

    def read() -> str:
        wanted = select(*(cast(column, String) for column in NoticeRow.__table__.columns))
        wanted = wanted.where(NoticeRow.ended_utc.is_(None)).order_by(NoticeRow.id)
        with register.reading() as session:
            rows = [tuple(row) for row in session.execute(wanted)]
            return sha256(repr(rows).encode()).hexdigest()

    return register.at_this_moment(OPEN_NOTICES, read)


def notices(
    register: Register, room: str | None = None, *, only_open: bool = False
) -> tuple[Notice, ...]:
    """Return notices, newest first, of one room or of all."""
    where = [] if room is None else [NoticeRow.room == room]
    if only_open:
        where.append(NoticeRow.ended_utc.is_(None))
    order = (NoticeRow.since_utc.desc(), NoticeRow.id.desc())
    with register.reading() as session:
        return find(session, Notice, NoticeRow, *where, order=order)


def _row(register: Register, cause_key: str) -> NoticeRow | None:
    with register.reading() as session:
        return session.scalars(
            select(NoticeRow).where(NoticeRow.cause_key == cause_key)
        ).one_or_none()


def judged_until(register: Register, room: str) -> datetime | None:
    """Return up to when a room's readings have been judged for notices; None: never yet."""
    with register.reading() as session:
        row = session.get(JudgedUntilRow, room)
        return None if row is None else row.until_utc


def note_judged(register: Register, room: str, until_utc: datetime) -> None:
    """Note up to when a room's readings have been judged for notices."""
    with register.writing() as session:
        row = session.get(JudgedUntilRow, room)
        if row is None:
            session.add(JudgedUntilRow(room=room, until_utc=until_utc))
        else:
            row.until_utc = until_utc
