"""What is known of each month of each logger's readings without opening it.

`service.storage.readings.ReadingsStore` keeps these rows true: every month it writes is noted
here, and rooms whose readings changed get a new number in the same transaction.
"""

from collections.abc import Iterable, Mapping
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
    """A month of a logger's readings: first and last time, rows, their digest, size of the file.

    A file that cannot be read is noted with no rows and no digest.
    """

    logger: str
    month: str
    first_utc: datetime
    last_utc: datetime
    rows: int
    digest: str
    bytes: int


def spans(register: Register, logger_id: str | None = None) -> tuple[Span, ...]:
    """Return what is known of the months of one logger, or of all, in order of time."""
    where = [] if logger_id is None else [SpanRow.logger == logger_id]
    with register.reading() as session:
        return find(session, Span, SpanRow, *where, order=(SpanRow.logger, SpanRow.month))


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
) -> bool:
    """Note months as they are on the disk now, None: gone; return whether readings changed.

    ``since_utc`` is the first reading that is new; None: the first of the months that changed.
    """
    known = {span.month: span for span in spans(register, logger_id)}
    differs = {month: span for month, span in found.items() if known.get(month) != span}
    if not differs:
        return False
    with register.writing() as session:
        _put(session, logger_id, differs)
        digests = {month: _digest(known.get(month)) for month in differs}
        read_anew = any(_digest(span) != digests[month] for month, span in differs.items())
        if read_anew:
            scopes = versions.logger_scopes(session, [logger_id])
            since_utc = since_utc or _first_of(differs.values(), known)
            versions.raise_numbers(session, scopes or {f"logger:{logger_id}"}, since_utc)
    return read_anew


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
