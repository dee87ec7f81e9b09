"""Browsers in which somebody is signed in, and one-time links by which a password is chosen.

What a browser or a link shows is random and long, so a plain hash of it cannot be guessed back;
the text itself is never kept.
"""

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import delete, select

from service.storage import audit
from service.storage.accounts.users import User
from service.storage.records import find, record
from service.storage.register import Register, now_utc
from service.storage.schema import AttemptRow, SessionRow, SignInLinkRow, UserRow

NOTED_EVERY = timedelta(minutes=5)  # so rarely a session's use is written down


LONGEST = timedelta(days=7)  # signed in for so long at most, however often it is used


LINK_LASTS = timedelta(hours=24)


@dataclass(frozen=True)
class SignInLink:
    """A link that lets one person choose a password once."""

    user: str
    ends_utc: datetime
    by: str


def hashed(text: str) -> str:
    """Return what is kept of a long random text."""
    return hashlib.sha256(text.encode()).hexdigest()


def begin_session(register: Register, user: str) -> str:
    """Sign a person in; return what their browser shows from now on."""
    text, now = secrets.token_urlsafe(32), now_utc()
    with register.writing() as session:
        session.execute(delete(SessionRow).where(SessionRow.begun_utc < now - LONGEST))
        session.add(SessionRow(session_hash=hashed(text), user=user, begun_utc=now, used_utc=now))
        audit.note(session, by=user, what="sessions", key={"user": user}, before=None,
                   after={"signed in": True})  # fmt: skip
    return text


def session_user(register: Register, text: str, idle: timedelta) -> User | None:
    """Return who is signed in by what a browser shows, or None; notes that it was used."""
    now, key = now_utc(), hashed(text)
    found = _session(register, key)
    if found is None or not found.holds(now, idle):
        return None
    if found.used_utc < now - NOTED_EVERY:
        with register.writing() as session:
            row = session.get(SessionRow, key)
            if row is None:
                return None
            row.used_utc = now
    return found.user


def session_at_hand(register: Register, text: str, idle: timedelta) -> User | None:
    """Return who is signed in where the register need not be asked, and nothing be noted."""
    now, key = now_utc(), hashed(text)
    found = _session(register, key) if register.knows(("session", key)) else None
    noted = found is not None and found.used_utc >= now - NOTED_EVERY and found.holds(now, idle)
    return found.user if found is not None and noted else None


@dataclass(frozen=True)
class _Session:
    """A browser in which somebody is signed in: since when, used when, who."""

    begun_utc: datetime
    used_utc: datetime
    user: User

    def holds(self, now_utc: datetime, idle: timedelta) -> bool:
        """Whether it was used lately enough, and has not lasted too long."""
        return self.used_utc >= now_utc - idle and self.begun_utc >= now_utc - LONGEST


def _session(register: Register, key: str) -> _Session | None:
    def read() -> _Session | None:
        with register.reading() as session:
            row = session.get(SessionRow, key)
            person = None if row is None else session.get(UserRow, row.user)
            if row is None or person is None or not person.active:
                return None
            return _Session(row.begun_utc, row.used_utc, record(User, person))

    name = ("session", key)
    found = register.at_this_moment(name, read) if register.knows(name) else read()
    # What nobody is signed in by is not remembered: there is no end of it.
    return None if found is None else register.at_this_moment(name, lambda: found)


def end_session(register: Register, text: str) -> None:
    """Sign one browser out."""
    with register.writing() as session:
        row = session.get(SessionRow, hashed(text))
        if row is not None:
            audit.note(session, by=row.user, what="sessions", key={"user": row.user}, before=None,
                       after={"signed out": True})  # fmt: skip
            session.delete(row)


def end_sessions(register: Register, user: str, *, but: str = "") -> int:
    """Sign a person out of every browser, or of every other one; return of how many."""
    with register.writing() as session:
        ended = delete(SessionRow).where(
            SessionRow.user == user, SessionRow.session_hash != hashed(but)
        )
        return int(session.execute(ended).rowcount)  # type: ignore[attr-defined]


def make_link(register: Register, user: str, *, by: str) -> str:
    """Make a link for a person, in place of an earlier one; return its text, this once."""
    text, now = secrets.token_urlsafe(32), now_utc()
    with register.writing() as session:
        session.execute(delete(SignInLinkRow).where(SignInLinkRow.user == user))
        row = SignInLinkRow(
            link_hash=hashed(text), user=user, made_utc=now, ends_utc=now + LINK_LASTS, by=by
        )
        session.add(row)
        audit.note(session, by=by, what="users", key={"user": user}, before=None,
                   after={"link made": True})  # fmt: skip
    return text


def erase_user(register: Register, user: str, *, by: str) -> None:
    """Take a person out: the account, its sessions, links and failed sign-ins."""
    with register.writing() as session:
        for table in (SessionRow, SignInLinkRow, AttemptRow, UserRow):
            session.execute(delete(table).where(table.user == user))
        audit.note(session, by=by, what="users", key={"user": user}, before={"user": user},
                   after=None)  # fmt: skip


def link_of(register: Register, text: str) -> SignInLink | None:
    """Return the link of that text while it holds, or None."""
    with register.reading() as session:
        found = find(session, SignInLink, SignInLinkRow, SignInLinkRow.link_hash == hashed(text))
    return found[0] if found and found[0].ends_utc > now_utc() else None


def use_up_link(register: Register, text: str) -> SignInLink | None:
    """Take a link out and return it; None where it was used before, or holds no more."""
    with register.writing() as session:
        found = link_of(register, text)
        session.execute(delete(SignInLinkRow).where(SignInLinkRow.link_hash == hashed(text)))
        return found


# Sign-ins that failed, so that guessing becomes slow.

KEPT = timedelta(days=1)


def note_attempt(register: Register, user: str, address: str) -> None:
    """Note a sign-in that failed; those of yesterday are forgotten."""
    now = now_utc()
    with register.writing() as session:
        session.execute(delete(AttemptRow).where(AttemptRow.at_utc < now - KEPT))
        session.add(AttemptRow(user=user, address=address, at_utc=now))


def attempts_since(
    register: Register, since_utc: datetime, *, user: str = "", address: str = ""
) -> list[datetime]:
    """Return when sign-ins failed for a name, from an address, or both; the oldest first."""
    wanted = select(AttemptRow.at_utc).where(AttemptRow.at_utc >= since_utc)
    if user:
        wanted = wanted.where(AttemptRow.user == user)
    if address:
        wanted = wanted.where(AttemptRow.address == address)
    with register.reading() as session:
        return list(session.scalars(wanted.order_by(AttemptRow.at_utc)))


def forget_attempts(register: Register, user: str, address: str) -> None:
    """Forget what failed for a name from an address, since it succeeded there."""
    with register.writing() as session:
        session.execute(
            delete(AttemptRow).where(AttemptRow.user == user, AttemptRow.address == address)
        )
