"""People who may sign in. Passwords are kept only as hashes, made elsewhere."""

from dataclasses import dataclass

from service.storage import audit
from service.storage.records import find, values_of
from service.storage.register import Register
from service.storage.schema import UserRow


@dataclass(frozen=True)
class User:
    """A person, what they may do, and where they are written to."""

    user: str
    full_name: str = ""
    role: str = ""
    email: str = ""
    password_hash: str = ""
    active: bool = True


def users(register: Register) -> tuple[User, ...]:
    """Return all users, by name."""
    with register.reading() as session:
        return find(session, User, UserRow, order=(UserRow.user,))


def put_user(register: Register, user: User, *, by: str) -> bool:
    """Add or change a user; the audit trail does not hold the hash."""
    values = values_of(user)
    key = {"user": values.pop("user")}
    secret = {"password_hash": values.pop("password_hash")}
    with register.writing() as session:
        row = session.get(UserRow, user.user)
        if row is None:
            session.add(UserRow(**key, **values, **secret))
        elif {name: getattr(row, name) for name in values | secret} == values | secret:
            return False
        else:
            for name, value in (values | secret).items():
                setattr(row, name, value)
        session.flush()
        audit.note(session, by=by, what="users", key=key, before=None, after=values)
        return True
