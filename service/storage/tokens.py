"""What gateways and programs show to be let in: shown once, kept as a hash, revoked for good."""

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from sqlalchemy import delete, select

from analysis.errors import OutOfRangeError, UnknownNameError
from service.storage import audit
from service.storage.loggers import logger_named, loggers as known_loggers
from service.storage.records import find, record
from service.storage.register import Register, now_utc
from service.storage.schema import BatchRow, TokenRow

BEGINS = "stt_"
PER_HOUR = 60
MOST_PER_HOUR = 3600
HOUR = timedelta(hours=1)


class Scope(StrEnum):
    """What a token lets its bearer do, and no more."""

    READINGS = "readings"  # one logger's batches
    LOOK = "look"  # the answers of the JSON interface
    BRING_IN = "bring in"  # those, and files of any logger


@dataclass(frozen=True)
class Token:
    """A token as the register knows it: what for, how many batches an hour, until when.

    ``logger`` is empty where the token is not a gateway's; ``name`` says who has it.
    """

    number: int
    logger: str
    per_hour: int
    made_utc: datetime
    by: str
    revoked_utc: datetime | None = None
    used_utc: datetime | None = None
    name: str = ""
    scope: str = Scope.READINGS


def make_token(
    register: Register, logger_id: str, *, by: str, per_hour: int = PER_HOUR
) -> tuple[Token, str]:
    """Make a token for one logger; return it, and its text, which is never to be had again.

    Raises
    ------
    UnknownNameError
        If the register does not know the logger.
    OutOfRangeError
        If the rate is none.
    """
    if not 0 < per_hour <= MOST_PER_HOUR:
        raise OutOfRangeError(
            read="token",
            where="batches an hour",
            found=str(per_hour),
            expected=f"1 to {MOST_PER_HOUR}",
            action="Choose how often the gateway may send.",
        )
    with register.writing():
        if logger_named(register, logger_id) is None:
            known = [one.logger for one in known_loggers(register)]
            raise UnknownNameError(read="loggers", name=logger_id, known=known)
        return _made(register, Scope.READINGS, logger=logger_id, per_hour=per_hour, by=by)


def make_program_token(
    register: Register, name: str, scope: Scope, *, by: str
) -> tuple[Token, str]:
    """Make a token for a program that asks the JSON interface; return it and its text, as above.

    Raises
    ------
    OutOfRangeError
        If it has no name, or the scope is a gateway's.
    """
    if not name.strip() or scope is Scope.READINGS:
        raise OutOfRangeError(
            read="token",
            where="name" if not name.strip() else "scope",
            found="nothing" if not name.strip() else str(scope),
            expected="which program will show it" if not name.strip() else "look or bring in",
            action="Say it and ask again. No token was made.",
        )
    return _made(register, scope, name=name.strip(), by=by)


def _made(
    register: Register,
    scope: Scope,
    *,
    by: str,
    logger: str = "",
    name: str = "",
    per_hour: int = PER_HOUR,
) -> tuple[Token, str]:
    text = BEGINS + secrets.token_urlsafe(32)
    with register.writing() as session:
        row = TokenRow(
            name=name,
            scope=str(scope),
            logger=logger,
            token_hash=_hash(text),
            per_hour=per_hour,
            made_utc=now_utc(),
            by=by,
            revoked_utc=None,
            used_utc=None,
        )
        session.add(row)
        session.flush()
        key = {"number": row.number}
        after = {"logger": logger, "per_hour": per_hour, "name": name, "scope": str(scope)}
        audit.note(session, by=by, what="tokens", key=key, before=None, after=after)
        return record(Token, row), text


def token_of(register: Register, text: str) -> Token | None:
    """Return the token that a gateway shows, or None where it is none, or revoked."""
    with register.reading() as session:
        found = find(session, Token, TokenRow, TokenRow.token_hash == _hash(text))
    return found[0] if found and found[0].revoked_utc is None else None


def tokens(register: Register) -> tuple[Token, ...]:
    """Return all tokens, the newest first."""
    with register.reading() as session:
        return find(session, Token, TokenRow, order=(TokenRow.number.desc(),))


def revoke_token(register: Register, number: int, *, by: str) -> Token:
    """Let a token count no more; doing it again changes nothing.

    Raises
    ------
    UnknownNameError
        If there is no such token.
    """
    with register.writing() as session:
        row = session.get(TokenRow, number)
        if row is None:
            known = [str(one) for one in session.scalars(select(TokenRow.number))]
            raise UnknownNameError(read="tokens", name=str(number), known=known)
        if row.revoked_utc is None:
            row.revoked_utc = now_utc()
            key, after = {"number": number}, {"revoked": True}
            audit.note(session, by=by, what="tokens", key=key, before=None, after=after)
        session.flush()
        return record(Token, row)


def note_used(register: Register, number: int) -> None:
    """Note that a token was shown just now."""
    with register.writing() as session:
        session.get_one(TokenRow, number).used_utc = now_utc()


def let_in(register: Register, number: int, now: datetime | None = None) -> float:
    """Note a batch under a token, unless an hour has had as many as it may; return the wait [s].

    0 lets it in. The register keeps count, so that the rate holds over all that serve the pages.
    """
    now = now or now_utc()
    with register.writing() as session:
        token = session.get_one(TokenRow, number)
        session.execute(delete(BatchRow).where(BatchRow.at_utc <= now - HOUR))
        wanted = select(BatchRow.at_utc).where(BatchRow.token == number)
        sent = session.scalars(wanted.order_by(BatchRow.at_utc)).all()
        if len(sent) >= token.per_hour:
            return max(1.0, (sent[-token.per_hour] + HOUR - now).total_seconds())
        session.add(BatchRow(token=number, at_utc=now))
        token.used_utc = now
    return 0.0


def _hash(text: str) -> str:
    # The text is random and long: a plain hash of it cannot be guessed back.
    return hashlib.sha256(text.encode()).hexdigest()
