"""What is known of each month of each logger's readings without opening it.

`service.storage.readings.ReadingsStore` keeps these rows true: every month it writes is noted
here, and rooms whose readings changed get a new number in the same transaction.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import delete, func, insert, select
from sqlalchemy.orm import Session

from service.storage import versions
from service.storage.records import find, values_of
from service.storage.register import Register
from service.storage.schema import SpanRow

# No object of a row is held in a session here.
_WITHOUT_OBJECTS = {"synchronize_session": False}


@dataclass(frozen=True)
class Span:
    """A month of a logger's readings: first and last time, rows, their digest, size and file.

    ``file`` is the one that stands; any other of the month was never, or is no longer, its record.
    One that cannot be read is noted with no rows and no digest.
    """

    logger: str
    month: str
    first_utc: datetime
    last_utc: datetime
    rows: int
    digest: str
    bytes: int
    file: str


class MovedOnError(Exception):
    """Another writer was faster; what was worked out rests on months that stand no more."""


def spans(register: Register, logger_id: str | None = None) -> tuple[Span, ...]:
    """Return what is known of the months of one logger, or of all, in order of time."""
    where = [] if logger_id is None else [SpanRow.logger == logger_id]
    with register.reading() as session:
        return find(session, Span, SpanRow, *where, order=(SpanRow.logger, SpanRow.month))


def loggers_known(register: Register) -> list[str]:
    """Return the loggers of which anything is known, in order."""
    with register.reading() as session:
        return list(session.scalars(select(SpanRow.logger).distinct().order_by(SpanRow.logger)))


def months_known(register: Register) -> int:
    """Return of how many months anything is known."""
    with register.reading() as session:
        return session.scalar(select(func.count()).select_from(SpanRow)) or 0


def reach(register: Register) -> dict[str, tuple[datetime, datetime]]:
    """Return the first and the last time of every logger that has readings."""
    wanted = (
        select(SpanRow.logger, func.min(SpanRow.first_utc), func.max(SpanRow.last_utc))
        .where(SpanRow.rows > 0)
        .group_by(SpanRow.logger)
    )
    with register.reading() as session:
        return {name: (first, last) for name, first, last in session.execute(wanted)}


def note_months(
    register: Register,
    logger_id: str,
    found: Mapping[str, Span | None],
    since_utc: datetime | None = None,
    *,
    still: Callable[[Mapping[str, Span]], bool],
) -> None:
    """Note which files stand for months now, None: none does.

    Parameters
    ----------
    since_utc : datetime, optional
        The first reading that is new; None: the first of the months that changed.
    still : callable
        Given the months as they stand in the transaction that changes them, says whether what was
        worked out still rests on them.

    Raises
    ------
    MovedOnError
        If it does not; nothing is noted then.
    """
    with register.writing() as session:
        known = {span.month: span for span in spans(register, logger_id)}
        if not still(known):
            raise MovedOnError
        differs = {month: span for month, span in found.items() if known.get(month) != span}
        if not differs:
            return
        _put(session, logger_id, differs)
        digests = {month: _digest(known.get(month)) for month in differs}
        if any(_digest(span) != digests[month] for month, span in differs.items()):
            scopes = versions.logger_scopes(session, [logger_id])
            since_utc = since_utc or _first_of(differs.values(), known)
            versions.raise_numbers(session, scopes or {f"logger:{logger_id}"}, since_utc)


def _first_of(found: Iterable[Span | None], known: Mapping[str, Span]) -> datetime | None:
    months = [span for span in found if span is not None]
    return min((span.first_utc for span in (months or known.values())), default=None)


def _put(session: Session, logger_id: str, found: Mapping[str, Span | None]) -> None:
    """Put the rows of months in place of what stood there, all of them in two statements."""
    there = (SpanRow.logger == logger_id, SpanRow.month.in_(list(found)))
    session.execute(delete(SpanRow).where(*there), execution_options=_WITHOUT_OBJECTS)
    present = [values_of(span) for span in found.values() if span is not None]
    if present:
        session.execute(insert(SpanRow), present)


def _digest(span: Span | None) -> str:
    return "" if span is None else span.digest
