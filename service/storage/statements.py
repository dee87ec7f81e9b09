"""Climate statements as they were issued: numbered, never changed, corrected by a new one."""

import base64
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import func, select

from analysis.errors import OutOfRangeError, UnknownNameError
from service.storage import audit
from service.storage.durable import make_folder
from service.storage.records import find
from service.storage.register import Register
from service.storage.schema import StatementRow


@dataclass(frozen=True)
class Issued:
    """One statement.

    Attributes
    ----------
    asked : Mapping
        What the form held: room, dates, the lender's limits.
    facts : Mapping
        What the sheet said, as its layout read it.
    pdf : str
        The sheet's bytes as it was issued, in Base64.
    corrects : int or None
        Number of the statement in whose place it stands.
    """

    id: int
    room: str
    issued_utc: datetime
    by: str
    asked: Mapping[str, Any]
    facts: Mapping[str, Any]
    pdf: str
    corrects: int | None
    why: str

    @property
    def sheet(self) -> bytes:
        """Return the PDF as it was issued."""
        return base64.b64decode(self.pdf)


def statements(register: Register) -> tuple[Issued, ...]:
    """Return all statements, newest first."""
    with register.reading() as session:
        return find(session, Issued, StatementRow, order=(StatementRow.id.desc(),))


def statement(register: Register, number: int) -> Issued:
    """Return one statement, or raise `UnknownNameError`."""
    with register.reading() as session:
        found = find(session, Issued, StatementRow, StatementRow.id == number)
        known = session.scalars(select(StatementRow.id)).all()
    if not found:
        raise UnknownNameError(
            read="statements", name=str(number), known=[str(one) for one in known]
        )
    return found[0]


def replaced_by(register: Register, number: int) -> int | None:
    """Return the number of the statement that stands in place of one, or None."""
    with register.reading() as session:
        return session.scalars(
            select(StatementRow.id).where(StatementRow.corrects == number)
        ).one_or_none()


def issue(
    register: Register,
    *,
    room: str,
    at_utc: datetime,
    by: str,
    asked: Mapping[str, Any],
    facts_of: Callable[[int], Mapping[str, Any]],
    sheet_of: Callable[[Mapping[str, Any]], bytes],
    corrects: int | None = None,
    why: str = "",
) -> int:
    """Issue a statement under the next number; return it.

    Number, words and sheet are stored together: there is no number without its sheet.

    Raises
    ------
    OutOfRangeError
        If the statement to be corrected was corrected already.
    """
    with register.writing() as session:
        if corrects is not None:
            newer = session.scalars(
                select(StatementRow.id).where(StatementRow.corrects == corrects)
            ).one_or_none()
            if newer is not None:
                raise OutOfRangeError(
                    read=f"statement {corrects}",
                    where="corrects",
                    found=f"statement {newer} in its place already",
                    expected="the newest statement of its line",
                    action=f"Correct statement {newer}. Nothing was issued.",
                )
        number = 1 + (session.scalar(select(func.max(StatementRow.id))) or 0)
        facts = dict(facts_of(number))
        pdf = base64.b64encode(sheet_of(facts)).decode()
        session.add(
            StatementRow(
                id=number,
                room=room,
                issued_utc=at_utc,
                by=by,
                asked=dict(asked),
                facts=facts,
                pdf=pdf,
                corrects=corrects,
                why=why,
            )
        )
        session.flush()
        audit.note(
            session, by=by, what="statements", key={"id": number}, before=None, after=dict(asked)
        )
    return number


def write_statements(register: Register, folder: Path) -> None:
    """Write each sheet as it was issued into a folder, named by its number."""
    for one in statements(register):
        make_folder(folder)
        (folder / f"statement-{one.id}.pdf").write_bytes(one.sheet)
