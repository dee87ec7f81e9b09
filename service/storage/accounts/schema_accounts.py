"""Tables of the register: who may sign in, and who is signed in. Secrets stand there as hashes."""

from datetime import datetime

from sqlalchemy import JSON
from sqlalchemy.orm import Mapped, mapped_column

from service.storage.tables import Table, reference


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
