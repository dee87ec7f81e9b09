"""Tables of the register: what arrived, what is in hand, and what is known of the readings."""

from datetime import datetime
from typing import Any

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from service.storage.tables import Table


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
    """What a gateway shows to send one logger's readings. Only a hash of it is kept."""

    __tablename__ = "tokens"
    number: Mapped[int] = mapped_column(primary_key=True)
    logger: Mapped[str] = mapped_column(index=True)
    token_hash: Mapped[str] = mapped_column(unique=True)
    per_hour: Mapped[int]
    made_utc: Mapped[datetime]
    by: Mapped[str]
    revoked_utc: Mapped[datetime | None]
    used_utc: Mapped[datetime | None]
