"""A second factor: codes of a generator (TOTP, RFC 6238), and recovery codes that stand in once."""

import hmac
import secrets
import time
from collections.abc import Sequence
from dataclasses import replace

import pyotp

from service.storage.accounts.sessions import hashed
from service.storage.accounts.users import User, known_user, put_user, use_recovery
from service.storage.register import Register

CODES = 10
STEPS_BESIDE = 1  # a clock may be half a minute off


def new_secret() -> str:
    """Return a secret to be shared with a code generator."""
    return str(pyotp.random_base32())


def provisioning_address(secret: str, user: str) -> str:
    """Return what a code generator reads."""
    return str(pyotp.TOTP(secret).provisioning_uri(name=user, issuer_name="stilltaut"))


def is_secret(text: str) -> bool:
    """Whether a text can be such a secret: 160 bits in base 32."""
    return len(text) == 32 and set(text) <= set("ABCDEFGHIJKLMNOPQRSTUVWXYZ234567")


def step_of(secret: str, code: str) -> int | None:
    """Return the half minute whose code this is, the present one or one beside it, or None."""
    digits, totp = code.replace(" ", ""), pyotp.TOTP(secret)
    now = int(time.time()) // totp.interval
    for step in range(now - STEPS_BESIDE, now + STEPS_BESIDE + 1):
        if hmac.compare_digest(totp.generate_otp(step).encode(), digits.encode()):
            return step
    return None


def is_second_factor(register: Register, user: User, code: str) -> bool:
    """Whether a code is right for a person; where none is set, any is.

    A code counts once: the half minute of the last one is kept beside the secret, and none of it
    or of an earlier one is taken. A recovery code is used up.
    """
    if not user.second_factor:
        return True
    secret, _, last = user.second_factor.partition(" ")
    step = step_of(secret, code)
    if step is None:
        return use_recovery(register, user, hashed(_plain(code)))
    with register.writing():
        now = known_user(register, user.user)
        if now.second_factor != user.second_factor or step <= int(last or 0):
            return False
        return put_user(register, replace(now, second_factor=f"{secret} {step}"), by=user.user)


def begin_second_factor(register: Register, user: User, secret: str) -> Sequence[str]:
    """Ask a person for codes from now on; return the recovery codes, shown this once."""
    codes = ["-".join(secrets.token_hex(2) for _ in range(4)) for _ in range(CODES)]
    with register.writing():
        now = known_user(register, user.user)
        kept = [hashed(_plain(code)) for code in codes]
        put_user(register, replace(now, second_factor=secret, recovery_hashes=kept), by=user.user)
    return codes


def end_second_factor(register: Register, name: str, *, by: str) -> None:
    """Ask a person for codes no more."""
    with register.writing():
        now = known_user(register, name)
        put_user(register, replace(now, second_factor="", recovery_hashes=()), by=by)


def _plain(code: str) -> str:
    return code.strip().replace("-", "").replace(" ", "").casefold()
