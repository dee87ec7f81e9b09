"""People of the register: who is told of what.

Telephone numbers and addresses are personal: they are kept while they are needed, left out of an
archive unless asked for, and taken out whole. Who may sign in: `service.storage.accounts`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import select

from analysis.errors import UnknownNameError
from service.storage import audit
from service.storage.records import find, record, values_of
from service.storage.register import Register, now_utc
from service.storage.schema import ContactRow


@dataclass(frozen=True)
class Contact:
    """A person who is told of notices, or who is called.

    Parameters
    ----------
    email, telephone : str
        Where the person is reached; one of the two may be empty.
    kinds, rooms : tuple of str
        Kinds of notices and rooms of which the person is told; empty: all.
    after_h : float
        0: told at once. Otherwise told when nobody has seen a notice for this long [h].
    on_call : bool
        Whether notices print the name and the number as the one to call.
    review_on : date or None
        By when somebody should look whether this still holds.
    """

    name: str
    email: str = ""
    telephone: str = ""
    kinds: Sequence[str] = ()
    rooms: Sequence[str] = ()
    after_h: float = 0.0
    on_call: bool = False
    review_on: date | None = None
    set_by: str = ""
    set_utc: datetime | None = None
    id: int = 0


def contacts(register: Register) -> tuple[Contact, ...]:
    """Return who is told, those who are told at once first."""
    order = (ContactRow.after_h, ContactRow.name)
    with register.reading() as session:
        return find(session, Contact, ContactRow, order=order)


def put_contact(register: Register, contact: Contact, *, by: str) -> Contact:
    """Add a person, or change the one of the same ``id``.

    The audit trail holds that it was done, never an address or a number.
    """
    values = values_of(contact) | {"set_by": by, "set_utc": now_utc()}
    number = values.pop("id")
    values |= {"kinds": list(contact.kinds), "rooms": list(contact.rooms)}
    with register.writing() as session:
        row = session.get(ContactRow, number) if number else None
        if row is None:
            row = ContactRow(**values)
            session.add(row)
        for name, value in values.items():
            setattr(row, name, value)
        session.flush()
        told = {"kinds": list(contact.kinds), "after_h": contact.after_h}
        audit.note(session, by=by, what="contacts", key={"id": row.id}, before=None, after=told)
        return record(Contact, row)


def remove_contact(register: Register, contact_id: int, *, by: str) -> None:
    """Take a person out, with address and number; that it was done stays in the audit trail.

    Raises
    ------
    UnknownNameError
        If there is no such person.
    """
    with register.writing() as session:
        row = session.get(ContactRow, contact_id)
        if row is None:
            known = [str(number) for number in session.scalars(select(ContactRow.id))]
            raise UnknownNameError(read="people told", name=str(contact_id), known=known)
        session.delete(row)
        key = {"id": contact_id}
        audit.note(session, by=by, what="contacts", key=key, before=None, after={"removed": True})
