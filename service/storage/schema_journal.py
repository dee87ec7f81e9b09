"""Tables of the register: what was told to whom, who changed what."""

from datetime import date, datetime
from typing import Any

from sqlalchemy import Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from service.storage.tables import Table, reference


class ReleaseRow(Table):
    """Which release of the program carried out which step of the schema."""

    __tablename__ = "releases"
    step: Mapped[str] = mapped_column(primary_key=True)
    release: Mapped[str]
    at_utc: Mapped[datetime]


class IncidentRow(Table):
    """Something that happened to a room, from opening to lesson."""

    __tablename__ = "incidents"
    id: Mapped[int] = mapped_column(primary_key=True)
    room: Mapped[str] = mapped_column(reference("rooms.room"), index=True)
    opened_utc: Mapped[datetime]
    opened_by: Mapped[str]
    noticed: Mapped[str]
    first_utc: Mapped[datetime | None]
    last_utc: Mapped[datetime | None]
    cause: Mapped[str]
    cause_state: Mapped[str]
    details: Mapped[dict[str, Any]]
    closed_utc: Mapped[datetime | None]
    closed_by: Mapped[str]
    lesson: Mapped[str]


class NoticeRow(Table):
    """One notice per cause: ``cause_key`` is unique, so that raising it twice changes nothing."""

    __tablename__ = "notices"
    id: Mapped[int] = mapped_column(primary_key=True)
    cause_key: Mapped[str] = mapped_column(unique=True)
    kind: Mapped[str]
    room: Mapped[str | None] = mapped_column(reference("rooms.room"), index=True)
    headline: Mapped[str]
    details: Mapped[dict[str, Any]]
    since_utc: Mapped[datetime]
    raised_utc: Mapped[datetime]
    changed_utc: Mapped[datetime]
    ended_utc: Mapped[datetime | None] = mapped_column(index=True)
    seen_utc: Mapped[datetime | None]
    seen_by: Mapped[str]
    seen_reason: Mapped[str]


class LetterRow(Table):
    """A letter in the outbox. ``letter_key`` is unique: the same letter is never queued twice."""

    __tablename__ = "outbox"
    id: Mapped[int] = mapped_column(primary_key=True)
    letter_key: Mapped[str] = mapped_column(unique=True)
    notice_id: Mapped[int | None] = mapped_column(reference("notices.id"), index=True)
    recipient: Mapped[str]
    subject: Mapped[str]
    body: Mapped[str]
    message_id: Mapped[str] = mapped_column(unique=True)
    queued_utc: Mapped[datetime]
    due_utc: Mapped[datetime]
    tries: Mapped[int]
    last_error: Mapped[str]
    claimed_by: Mapped[str]
    sent_utc: Mapped[datetime | None]
    __table_args__ = (Index(None, "sent_utc", "due_utc"),)


class ContactRow(Table):
    """A person who is told of notices, or who is called."""

    __tablename__ = "contacts"
    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str]
    email: Mapped[str]
    telephone: Mapped[str]
    kinds: Mapped[list[str]]
    rooms: Mapped[list[str]]
    after_h: Mapped[float]
    on_call: Mapped[bool]
    review_on: Mapped[date | None]
    set_by: Mapped[str]
    set_utc: Mapped[datetime]


class LeaseRow(Table):
    """Who does a duty at present, of all processes that serve; by the real clock."""

    __tablename__ = "leases"
    duty: Mapped[str] = mapped_column(primary_key=True)
    holder: Mapped[str]
    until_utc: Mapped[datetime]


class JudgedUntilRow(Table):
    """Up to when a room's readings have been judged for notices."""

    __tablename__ = "judged_until"
    room: Mapped[str] = mapped_column(reference("rooms.room"), primary_key=True)
    until_utc: Mapped[datetime]


class UserRow(Table):
    """A person who may sign in."""

    __tablename__ = "users"
    user: Mapped[str] = mapped_column(primary_key=True)
    full_name: Mapped[str]
    role: Mapped[str]
    email: Mapped[str]
    password_hash: Mapped[str]
    active: Mapped[bool]


class SettingRow(Table):
    """A limit or a delay that a site has set: dated and owned; the newest that has begun holds."""

    __tablename__ = "settings"
    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(index=True)
    value: Mapped[dict[str, Any]]
    from_utc: Mapped[datetime]
    by: Mapped[str]
    why: Mapped[str]
    __table_args__ = (UniqueConstraint("name", "from_utc"),)


class AuditRow(Table):
    """Who changed what, when. Rows are only ever added."""

    __tablename__ = "audit"
    id: Mapped[int] = mapped_column(primary_key=True)
    at_utc: Mapped[datetime] = mapped_column(index=True)
    by: Mapped[str]
    what: Mapped[str]
    key: Mapped[str]
    before: Mapped[dict[str, Any] | None]
    after: Mapped[dict[str, Any] | None]
