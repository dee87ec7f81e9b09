"""Sign-ins that failed, so that guessing becomes slow."""

from datetime import datetime, timedelta

from sqlalchemy import delete, select

from service.storage.accounts.schema_accounts import AttemptRow
from service.storage.register import Register, now_utc

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
