"""Who may sign in. Passwords and second factors are made and checked elsewhere."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sqlalchemy import select

from analysis.errors import UnknownNameError
from service.storage import audit
from service.storage.records import find, record, values_of
from service.storage.register import Register
from service.storage.schema import UserRow

SECRETS = ("password_hash", "second_factor", "recovery_hashes")


@dataclass(frozen=True)
class User:
    """A person, what they may do, and where they are written to.

    ``second_factor`` is the shared secret of a code generator, empty where there is none;
    ``recovery_hashes`` are of the codes that stand in for it, once each.
    """

    user: str
    full_name: str = ""
    role: str = ""
    email: str = ""
    password_hash: str = ""
    active: bool = True
    second_factor: str = ""
    recovery_hashes: Sequence[str] = ()


def users(register: Register) -> tuple[User, ...]:
    """Return all users, by name."""
    with register.reading() as session:
        return find(session, User, UserRow, order=(UserRow.user,))


def user_named(register: Register, user: str) -> User | None:
    """Return the user of that name, or None."""
    with register.reading() as session:
        row = session.get(UserRow, user)
        return None if row is None else record(User, row)


def known_user(register: Register, user: str) -> User:
    """Return the user of that name.

    Raises
    ------
    UnknownNameError
        If there is none.
    """
    found = user_named(register, user)
    if found is None:
        with register.reading() as session:
            known = session.scalars(select(UserRow.user)).all()
        raise UnknownNameError(read="accounts", name=user, known=known)
    return found


def put_user(register: Register, user: User, *, by: str) -> bool:
    """Add or change a user; the audit trail says that a secret was changed, never what it is."""
    values = values_of(user) | {"recovery_hashes": list(user.recovery_hashes)}
    key = {"user": values.pop("user")}
    with register.writing() as session:
        row = session.get(UserRow, user.user)
        before = {} if row is None else {name: getattr(row, name) for name in values}
        if before == values:
            return False
        if row is None:
            session.add(UserRow(**key, **values))
        else:
            for name, value in values.items():
                setattr(row, name, value)
        session.flush()
        told = {n: v for n, v in values.items() if n not in SECRETS}
        changed = {f"{n} changed": True for n in SECRETS if before and before[n] != values[n]}
        old = {n: v for n, v in before.items() if n not in SECRETS} or None
        audit.note(session, by=by, what="users", key=key, before=old, after=told | changed)
        return True


def use_recovery(register: Register, user: User, code_hash: str) -> bool:
    """Use up a code that stands in for the second factor; return whether it was one."""
    with register.writing():
        now = known_user(register, user.user)
        if code_hash not in now.recovery_hashes:
            return False
        left = [one for one in now.recovery_hashes if one != code_hash]
        return put_user(register, replace(now, recovery_hashes=left), by=user.user)
