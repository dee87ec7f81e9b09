"""All tables of the register: of declared records, of what arrived and is in hand, of the journal.

Only `service.storage` imports this module; everything else sees frozen records. A change to a
table needs a new step in ``migrations/versions``; a test compares the two.
"""

from datetime import date, datetime
from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from analysis.records import BY_TABLE
from service.storage.tables import Table, reference, table_of


class UploadRow(Table):
    """A file that arrived. The same bytes, logger and reading make one row."""

    __tablename__ = "uploads"
    id: Mapped[int] = mapped_column(primary_key=True)
    sha256: Mapped[str] = mapped_column(index=True)
    name: Mapped[str]
    logger: Mapped[str]
    reading_key: Mapped[str]
    state: Mapped[str]
    received_utc: Mapped[datetime]
    stored_utc: Mapped[datetime | None]
    by: Mapped[str]
    choice: Mapped[dict[str, Any]]
    understanding: Mapped[dict[str, Any]]
    report: Mapped[dict[str, Any]]
    __table_args__ = (
        UniqueConstraint("sha256", "logger", "reading_key"),
        CheckConstraint(
            "state IN ('received', 'stored', 'withdrawing', 'withdrawn')", name="state_known"
        ),
    )


class ChoiceRow(Table):
    """How a logger's files were read the last time somebody confirmed it."""

    __tablename__ = "choices"
    logger: Mapped[str] = mapped_column(primary_key=True)
    choice: Mapped[dict[str, Any]]
    confirmed_utc: Mapped[datetime]
    by: Mapped[str]


class SpanRow(Table):
    """What is known of a month of a logger's readings without opening it."""

    __tablename__ = "spans"
    logger: Mapped[str] = mapped_column(primary_key=True)
    month: Mapped[str] = mapped_column(primary_key=True)
    first_utc: Mapped[datetime]
    last_utc: Mapped[datetime]
    rows: Mapped[int]
    digest: Mapped[str]
    bytes: Mapped[int]
    file: Mapped[str]


class KeptInRow(Table):
    """Where the files are that the rows name: one row, or none for the data folder.

    ``mark`` stands there too, so that two registers never share a place.
    """

    __tablename__ = "kept_in"
    place: Mapped[str] = mapped_column(primary_key=True)
    mark: Mapped[str]


class VersionRow(Table):
    """A number for a room, a work, a site or the house that grows with every change to it."""

    __tablename__ = "versions"
    scope: Mapped[str] = mapped_column(primary_key=True)
    number: Mapped[int]
    since_utc: Mapped[datetime | None]


class JobRow(Table):
    """A piece of work that outlives the process that took it on."""

    __tablename__ = "jobs"
    number: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[str] = mapped_column(unique=True)
    batch: Mapped[str] = mapped_column(index=True)
    kind: Mapped[str]
    title: Mapped[str]
    arguments: Mapped[dict[str, Any]]
    state: Mapped[str] = mapped_column(index=True)
    step: Mapped[str]
    result: Mapped[dict[str, Any] | None]
    problem: Mapped[dict[str, Any] | None]
    queued_utc: Mapped[datetime]
    changed_utc: Mapped[datetime]
    owner: Mapped[str]
    lease_utc: Mapped[datetime | None]
    tries: Mapped[int]


class TokenRow(Table):
    """What a gateway or a program shows to be let in. Only a hash of it is kept."""

    __tablename__ = "tokens"
    number: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str]
    scope: Mapped[str]
    logger: Mapped[str] = mapped_column(index=True)
    token_hash: Mapped[str] = mapped_column(unique=True)
    per_hour: Mapped[int]
    made_utc: Mapped[datetime]
    by: Mapped[str]
    revoked_utc: Mapped[datetime | None]
    used_utc: Mapped[datetime | None]


class BatchRow(Table):
    """A batch that was let in under a token within the last hour."""

    __tablename__ = "batches"
    id: Mapped[int] = mapped_column(primary_key=True)
    token: Mapped[int] = mapped_column(ForeignKey("tokens.number"), index=True)
    at_utc: Mapped[datetime]


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


class StatementRow(Table):
    """A climate statement as it was issued. Rows are only ever added: a correction is a new one."""

    __tablename__ = "statements"
    id: Mapped[int] = mapped_column(primary_key=True)
    room: Mapped[str] = mapped_column(reference("rooms.room"), index=True)
    issued_utc: Mapped[datetime]
    by: Mapped[str]
    asked: Mapped[dict[str, Any]]
    facts: Mapped[dict[str, Any]]
    pdf: Mapped[str]
    corrects: Mapped[int | None] = mapped_column(reference("statements.id"), unique=True)
    why: Mapped[str]


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
    account: Mapped[str]
    page: Mapped[str]
    before: Mapped[dict[str, Any] | None]
    after: Mapped[dict[str, Any] | None]


def _ends_after_it_begins() -> CheckConstraint:
    return CheckConstraint("to_utc > from_utc", name="ends_after_it_begins")


SiteRow = table_of(BY_TABLE["sites"])


RoomRow = table_of(BY_TABLE["rooms"])


BandRow = table_of(BY_TABLE["bands"])


LoggerRow = table_of(BY_TABLE["loggers"])


WorkRow = table_of(
    BY_TABLE["works"], CheckConstraint("width_mm > 0 AND height_mm > 0", name="has_a_size")
)


PlacementRow = table_of(BY_TABLE["placements"], _ends_after_it_begins())


CalibrationRow = table_of(
    BY_TABLE["calibrations"],
    CheckConstraint("channel IN ('temp_c', 'rh_pct')", name="channel_known"),
)


SideBySideRow = table_of(BY_TABLE["side_by_side"], _ends_after_it_begins())


EventRow = table_of(BY_TABLE["events"])
NoticeLimitsRow = table_of(BY_TABLE["notice_limits"])


MountRow = table_of(BY_TABLE["mounts"])


FrameRow = table_of(BY_TABLE["frames"])


HangingRow = table_of(BY_TABLE["hangings"], _ends_after_it_begins())


OverrideRow = table_of(
    BY_TABLE["overrides"],
    CheckConstraint("low <= value AND value <= high", name="value_in_its_range"),
)


InspectionRow = table_of(
    BY_TABLE["inspections"], CheckConstraint("grade BETWEEN 0 AND 4", name="grade_0_to_4")
)


# Whoever has the tables' metadata from here has all tables in it.
__all__ = ["Table"]


# Tables of the register: who may sign in, and who is signed in. Secrets stand there as hashes.


class UserRow(Table):
    """A person who may sign in."""

    __tablename__ = "users"
    user: Mapped[str] = mapped_column(primary_key=True)
    full_name: Mapped[str]
    role: Mapped[str]
    email: Mapped[str]
    password_hash: Mapped[str]
    active: Mapped[bool]
    second_factor: Mapped[str]
    recovery_hashes: Mapped[list[str]] = mapped_column(JSON)


class SessionRow(Table):
    """A browser in which somebody is signed in. Only a hash of what it shows is kept."""

    __tablename__ = "sessions"
    session_hash: Mapped[str] = mapped_column(primary_key=True)
    user: Mapped[str] = mapped_column(reference("users.user"), index=True)
    begun_utc: Mapped[datetime]
    used_utc: Mapped[datetime]


class SignInLinkRow(Table):
    """A link by which a person chooses a password, once. Only a hash of it is kept."""

    __tablename__ = "sign_in_links"
    link_hash: Mapped[str] = mapped_column(primary_key=True)
    user: Mapped[str]
    made_utc: Mapped[datetime]
    ends_utc: Mapped[datetime]
    by: Mapped[str]


class AttemptRow(Table):
    """A sign-in that failed, so that guessing becomes slow. Taken out after a day."""

    __tablename__ = "attempts"
    id: Mapped[int] = mapped_column(primary_key=True)
    user: Mapped[str] = mapped_column(index=True)
    address: Mapped[str] = mapped_column(index=True)
    at_utc: Mapped[datetime]
