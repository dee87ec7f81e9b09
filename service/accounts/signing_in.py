"""Signing in: by password and, where a person has one, a second factor; guessing made slow."""

from dataclasses import dataclass, replace
from datetime import timedelta

from analysis.errors import StilltautError
from service.accounts.passwords import is_outdated, is_password, password_hash
from service.accounts.roles import Role, role_named
from service.accounts.second_factor import is_second_factor
from service.storage.accounts.sessions import (
    attempts_since,
    begin_session,
    end_sessions,
    erase_user,
    forget_attempts,
    make_link,
    note_attempt,
    use_up_link,
)
from service.storage.accounts.users import User, known_user, put_user, user_named, users
from service.storage.register import Register, now_utc

FIRST = "administrator"


@dataclass(frozen=True)
class Limit:
    """So many failures within so long, for the name, the address, or both together."""

    most: int
    within: timedelta
    by_user: bool
    by_address: bool


LIMITS = (
    Limit(5, timedelta(minutes=15), True, True),
    Limit(30, timedelta(hours=1), True, False),
    Limit(60, timedelta(hours=1), False, True),
)


class RefusedError(StilltautError):
    """A sign-in that was refused. ``after_s`` is not 0 where it may be tried again only then."""

    after_s: float = 0.0


def account_name(text: str) -> str:
    """Return the name of an account as it is kept: small letters, no spaces around it."""
    return text.strip().casefold()


def sign_in(register: Register, name: str, password: str, code: str, address: str) -> str:
    """Return what the browser of a person shows from now on.

    Nothing tells whether the name, the password or the code was wrong.

    Raises
    ------
    RefusedError
        If they are not right together, or too often were not.
    """
    user = account_name(name)[:100]
    _require_patience(register, user, address)
    found = user_named(register, user)
    right = is_password(password, found.password_hash if found and found.active else "")
    if found is None or not right or not is_second_factor(register, found, code):
        note_attempt(register, user, address)
        raise _refused()
    forget_attempts(register, user, address)
    if is_outdated(found.password_hash):
        put_user(register, replace(found, password_hash=password_hash(password, user)), by=user)
    return begin_session(register, user)


def _require_patience(register: Register, user: str, address: str) -> None:
    now = now_utc()
    for limit in LIMITS:
        failed = attempts_since(
            register,
            now - limit.within,
            user=user if limit.by_user else "",
            address=address if limit.by_address else "",
        )
        if len(failed) >= limit.most:
            raise _too_often(failed[-limit.most] + limit.within - now)


def _refused() -> RefusedError:
    return RefusedError(
        read="the form",
        where="",
        found="a name, a password and a code that do not belong together",
        expected="those of an account",
        action="Try again, or ask whoever administers this service for a link.",
    )


def _too_often(wait: timedelta) -> RefusedError:
    problem = RefusedError(
        read="the form",
        where="",
        found="too many sign-ins that failed",
        expected="a pause",
        action=f"Try again in {max(1, round(wait.total_seconds() / 60))} min, or ask whoever "
        "administers this service for a link.",
    )
    problem.after_s = wait.total_seconds()
    return problem


def change_password(
    register: Register, user: User, old: str, new: str, *, address: str, session: str
) -> None:
    """Change a person's own password, and sign them out of every other browser.

    Raises
    ------
    RefusedError
        If the old password is wrong, or too often was.
    OutOfRangeError
        If the new one will not do.
    """
    _require_patience(register, user.user, address)
    if not is_password(old, user.password_hash):
        note_attempt(register, user.user, address)
        raise _refused()
    hashed = password_hash(new, user.user)
    with register.writing():
        put_user(register, replace(user, password_hash=hashed), by=user.user)
        end_sessions(register, user.user, but=session)


def choose_password(register: Register, link: str, new: str) -> str | None:
    """Use a link up: keep the password chosen, end all sessions; return whose it is, or None.

    A second factor stays: a link stands in for a forgotten password, not for a lost telephone.

    Raises
    ------
    OutOfRangeError
        If the password will not do; the link still holds then.
    """
    with register.writing():
        found = use_up_link(register, link)
        user = None if found is None else user_named(register, found.user)
        if user is None or not user.active:
            return None
        hashed = password_hash(new, user.user)
        put_user(register, replace(user, password_hash=hashed), by=user.user)
        end_sessions(register, user.user)
        return user.user


def administrators(register: Register) -> list[User]:
    """Return who can administer: active, and with a password chosen."""
    return [
        one
        for one in users(register)
        if one.active and one.password_hash and role_named(one.role) is Role.ADMINISTER
    ]


def first_link(register: Register) -> str:
    """Return the text of a link for the first administrator, or "" where there is one."""
    if administrators(register):
        return ""
    with register.writing():
        known = user_named(register, FIRST) or User(FIRST, "Administrator")
        let_in = replace(known, role=str(Role.ADMINISTER), active=True)
        put_user(register, let_in, by="the service")
        return make_link(register, FIRST, by="the service")


def add_user(register: Register, user: User, *, by: str) -> str:
    """Add a person; return the text of the link by which they choose their password.

    Raises
    ------
    StilltautError
        If the name is taken or none, or the role unknown.
    """
    name = account_name(user.user)
    if not name or not name.isprintable() or "/" in name or len(name) > 60:
        raise _wrong("name of the account", repr(user.user), "one word, such as a.person")
    if not user.full_name.strip():
        raise _wrong("full name", "nothing", "how the person signs")
    if role_named(user.role) is None:
        raise _wrong("role", repr(user.role), "one of " + ", ".join(Role))
    with register.writing():
        if user_named(register, name) is not None:
            raise _wrong("name of the account", name, "a name that is not taken")
        put_user(register, replace(user, user=name), by=by)
        return make_link(register, name, by=by)


def change_user(register: Register, name: str, *, role: str, active: bool, by: str) -> None:
    """Change what a person may do, or let them in no more; their sessions end.

    Raises
    ------
    StilltautError
        If there is no such person or role, or nobody would be left who administers.
    """
    if role_named(role) is None:
        raise _wrong("role", repr(role), "one of " + ", ".join(Role))
    with register.writing():
        user = known_user(register, name)
        others = [one.user for one in administrators(register) if one.user != name]
        stays = active and role_named(role) is Role.ADMINISTER
        if not others and not stays and role_named(user.role) is Role.ADMINISTER:
            raise _wrong("role", "the only administrator", "another one before this is changed")
        if put_user(register, replace(user, role=role, active=active), by=by):
            end_sessions(register, name)


def erase(register: Register, name: str, *, by: str) -> None:
    """Take a person out who is let in no more; who changed what keeps the names as they were typed.

    Raises
    ------
    StilltautError
        If there is no such account, or it is still let in.
    """
    if known_user(register, name).active:
        raise _wrong("account", f"{name}, who is still let in", "one that is closed first")
    erase_user(register, name, by=by)


def link_for(register: Register, name: str, *, by: str) -> str:
    """Return the text of a link by which a person chooses a new password."""
    known_user(register, name)
    return make_link(register, name, by=by)


def _wrong(where: str, found: str, expected: str) -> StilltautError:
    return StilltautError(
        read="the form",
        where=where,
        found=found,
        expected=expected,
        action="Correct it and send the form again. Nothing was changed.",
    )
