"""Passwords: what one must be, and its hash (Argon2id, the library's settings after RFC 9106)."""

import threading
from functools import cache

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from analysis.errors import OutOfRangeError

SHORTEST, LONGEST = 12, 200
# A hash takes 64 MB while it is made: so many at once, the others wait.
_AT_ONCE = threading.BoundedSemaphore(2)
_HASHER = PasswordHasher()


def password_hash(password: str, user: str) -> str:
    """Return the hash of a new password.

    Raises
    ------
    OutOfRangeError
        If it is too short or too long, the name itself, or one sign over and over.
    """
    found = ""
    if not SHORTEST <= len(password) <= LONGEST:
        found = f"{len(password)} signs"
    elif len(set(password)) < 5:
        found = "a few signs over and over"
    elif user and len(password.casefold().replace(user.casefold(), "")) < SHORTEST // 2:
        found = "little more than the name of the account"
    if found:
        raise OutOfRangeError(
            read="the form",
            where="new password",
            found=found,
            expected=f"{SHORTEST} to {LONGEST} signs that nobody would guess, such as four words",
            action="Choose another one. Nothing was changed.",
        )
    with _AT_ONCE:
        return _HASHER.hash(password)


def is_password(password: str, hashed: str) -> bool:
    """Whether a password is the one of a hash; as slow where there is no hash as where there is."""
    with _AT_ONCE:
        try:
            return _HASHER.verify(hashed or _nobodys_hash(), password[:LONGEST]) and bool(hashed)
        except (VerificationError, InvalidHashError):
            return False


def is_outdated(hashed: str) -> bool:
    """Whether a hash was made with weaker settings than those of today."""
    return _HASHER.check_needs_rehash(hashed)


@cache
def _nobodys_hash() -> str:
    return _HASHER.hash("nobody's password")
