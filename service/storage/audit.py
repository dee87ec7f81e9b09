"""The audit trail: who changed what, when, from what to what. Lines are only ever added."""

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Text, cast, func, or_, select
from sqlalchemy.orm import Session

from analysis.records import Span
from service.storage import versions
from service.storage.register import Register, now_utc
from service.storage.schema import AuditRow

PARTS_OF_A_WORK = ("mounts", "frames", "hangings", "overrides")


@dataclass(frozen=True)
class Acting:
    """Who is signed in while something is changed, and on which page; empty where nobody is."""

    account: str = ""
    page: str = ""


NOBODY = Acting()
_acting: ContextVar[Acting] = ContextVar("who acts", default=NOBODY)


@contextmanager
def acting(account: str, page: str) -> Iterator[None]:
    """Note every change within as one of this account, made on this page."""
    token = _acting.set(Acting(account, page))
    try:
        yield
    finally:
        _acting.reset(token)


def who_acts() -> Acting:
    """Return who is signed in at this moment of a request."""
    return _acting.get()


@dataclass(frozen=True)
class AuditLine:
    """One change. ``before`` is None for something new; what was taken out says so in ``after``.

    ``by`` is the name that was typed, ``account`` the account that was signed in (empty: none).
    """

    at_utc: datetime
    by: str
    what: str
    key: str
    before: Mapping[str, Any] | None
    after: Mapping[str, Any] | None
    account: str = ""
    page: str = ""
    number: int = 0


def note(
    session: Session,
    *,
    by: str,
    what: str,
    key: Mapping[str, Any],
    before: Mapping[str, Any] | None,
    after: Mapping[str, Any] | None,
) -> None:
    """Add a line inside the transaction of the change itself, and number what it concerns."""
    who = who_acts()
    session.add(
        AuditRow(
            at_utc=now_utc(),
            by=by,
            account=who.account,
            page=who.page,
            what=what,
            key=", ".join(f"{name}={_plain(value)}" for name, value in key.items()),
            before=None if before is None else plain(before),
            after=None if after is None else plain(after),
        )
    )
    versions.changed(session, what, key, before, after)


def trail(register: Register, what: str | None = None, limit: int = 500) -> tuple[AuditLine, ...]:
    """Return the newest lines first, of one table or of all."""
    wanted = select(AuditRow).order_by(AuditRow.id.desc()).limit(limit)
    if what is not None:
        wanted = wanted.where(AuditRow.what == what)
    with register.reading() as session:
        return tuple(_line(row) for row in session.scalars(wanted))


def since(register: Register, number: int) -> tuple[AuditLine, ...]:
    """Return the lines after a `version`, oldest first."""
    wanted = select(AuditRow).where(AuditRow.id > number).order_by(AuditRow.id)
    with register.reading() as session:
        return tuple(_line(row) for row in session.scalars(wanted))


def of_work(register: Register, work_id: str, limit: int = 12) -> tuple[AuditLine, ...]:
    """Return the newest changes to one work's record, newest first."""
    return _named(register, f"work_id={work_id}", ("works", *PARTS_OF_A_WORK), limit)


def of_room(register: Register, room: str, limit: int = 12) -> tuple[AuditLine, ...]:
    """Return the newest changes to one room and its bands, newest first."""
    return _named(register, f"room={room}", ("rooms", "bands"), limit)


def lines_about(
    register: Register, *, work: str = "", room: str = "", before: int = 0, limit: int = 100
) -> tuple[AuditLine, ...]:
    """Return lines of any table, newest first: those that name a work, or a room, or all.

    ``before`` is the number of a line; only older ones are returned.
    """
    wanted = select(AuditRow).order_by(AuditRow.id.desc()).limit(limit)
    if before:
        wanted = wanted.where(AuditRow.id < before)
    for name, value in (("work_id", work), ("room", room)):
        if value:
            wanted = wanted.where(_names(name, value))
    with register.reading() as session:
        return tuple(_line(row) for row in session.scalars(wanted))


def _names(name: str, value: str) -> ColumnElement[bool]:
    """Return that a line names something: in its key, or in what it was before or after."""
    pair = f"{name}={value}"
    stands = f"{json.dumps(name)}: {json.dumps(value)}"
    return or_(
        AuditRow.key == pair,
        AuditRow.key.startswith(f"{pair}, ", autoescape=True),
        AuditRow.key.endswith(f", {pair}", autoescape=True),
        AuditRow.key.contains(f", {pair}, ", autoescape=True),
        cast(AuditRow.before, Text).contains(stands, autoescape=True),
        cast(AuditRow.after, Text).contains(stands, autoescape=True),
    )


def _named(
    register: Register, name: str, tables: tuple[str, ...], limit: int
) -> tuple[AuditLine, ...]:
    begins = AuditRow.key.startswith(f"{name}, ", autoescape=True)
    wanted = (
        select(AuditRow)
        .where(AuditRow.what.in_(tables), or_(AuditRow.key == name, begins))
        .order_by(AuditRow.id.desc())
        .limit(limit)
    )
    with register.reading() as session:
        return tuple(_line(row) for row in session.scalars(wanted))


def _line(row: AuditRow) -> AuditLine:
    return AuditLine(
        row.at_utc, row.by, row.what, row.key, row.before, row.after,
        row.account, row.page, row.id,
    )  # fmt: skip


def version(register: Register) -> int:
    """Return the number of the newest line: it grows with every change to register or readings."""
    with register.reading() as session:
        return int(session.scalar(select(func.max(AuditRow.id))) or 0)


def written_utc(register: Register, number: int) -> datetime | None:
    """Return when the line of a number was written; None where there is none."""
    with register.reading() as session:
        return session.scalar(select(AuditRow.at_utc).where(AuditRow.id == number))


def plain(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return values as they can stand in JSON: times as ISO text, choices as their words."""
    return {name: _plain(value) for name, value in values.items()}


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.isoformat()
    return str(value) if isinstance(value, str | Span) else value
