"""The outbox: letters wait here until a mail server has taken them.

A letter is put in the outbox in the transaction that raises its notice, and claimed before it is
sent, so that a server that is down delays it, and two senders never send it twice. A sender that
dies while holding a claim leaves it; after `CLAIM_S` the letter is due again, under the same
Message-ID, by which a receiving system can tell a repetition.
"""

import contextlib
import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from email.utils import make_msgid
from functools import partial

from sqlalchemy import select

from service.errors import StoreError
from service.storage.job_records import is_gone, this_process
from service.storage.records import find, record
from service.storage.register import Register, now_utc
from service.storage.schema import LeaseRow, LetterRow

CLAIM_S = 300.0
FIRST_WAIT_S = 30.0
LONGEST_WAIT_S = 3600.0


@dataclass(frozen=True)
class Letter:
    """A letter to one recipient. ``letter_key`` makes queueing it twice the same as once."""

    letter_key: str
    recipient: str
    subject: str
    body: str
    notice_id: int | None = None
    id: int = 0
    message_id: str = ""
    queued_utc: datetime | None = None
    due_utc: datetime | None = None
    tries: int = 0
    last_error: str = ""
    sent_utc: datetime | None = None


def queue_letter(register: Register, letter: Letter, at: datetime | None = None) -> bool:
    """Put a letter into the outbox; return False when it has been there already.

    It is due at once, or at the letter's own ``due_utc``.
    """
    at = at or now_utc()
    with register.writing() as session:
        known = select(LetterRow.id).where(LetterRow.letter_key == letter.letter_key)
        if session.scalar(known) is not None:
            return False
        session.add(
            LetterRow(
                letter_key=letter.letter_key,
                notice_id=letter.notice_id,
                recipient=letter.recipient,
                subject=letter.subject,
                body=letter.body,
                message_id=letter.message_id or make_msgid(domain="stilltaut.invalid"),
                queued_utc=at,
                due_utc=letter.due_utc or at,
                tries=0,
                last_error="",
                claimed_by="",
            )
        )
        return True


def claim_due(
    register: Register, sender: str, at: datetime | None = None, limit: int = 20
) -> tuple[Letter, ...]:
    """Take the letters that are due, oldest first; nobody else gets them for `CLAIM_S`.

    Parameters
    ----------
    sender : str
        Name of who sends, for example host and process number.
    """
    at = at or now_utc()
    wanted = (
        select(LetterRow)
        .where(LetterRow.sent_utc.is_(None), LetterRow.due_utc <= at)
        .order_by(LetterRow.id)
        .limit(limit)
        .with_for_update(skip_locked=True)
    )
    with register.writing() as session:
        rows = session.scalars(wanted).all()
        for row in rows:
            row.claimed_by, row.due_utc = sender, at + timedelta(seconds=CLAIM_S)
        session.flush()
        return tuple(record(Letter, row) for row in rows)


def mark_sent(register: Register, letter_id: int, at: datetime | None = None) -> None:
    """Note that the mail server has taken a letter."""
    with register.writing() as session:
        row = session.get_one(LetterRow, letter_id)
        row.sent_utc, row.tries, row.last_error = at or now_utc(), row.tries + 1, ""


def mark_failed(
    register: Register, letter_id: int, error: str, at: datetime | None = None
) -> datetime:
    """Note a failed attempt; return when the letter is due again (waits double up to an hour)."""
    at = at or now_utc()
    with register.writing() as session:
        row = session.get_one(LetterRow, letter_id)
        wait_s = min(FIRST_WAIT_S * 2**row.tries, LONGEST_WAIT_S)
        row.tries, row.last_error, row.claimed_by = row.tries + 1, error, ""
        row.due_utc = at + timedelta(seconds=wait_s)
        return row.due_utc


def letters(register: Register, *, only_waiting: bool = False) -> Sequence[Letter]:
    """Return the letters, oldest first."""
    where = [LetterRow.sent_utc.is_(None)] if only_waiting else []
    with register.reading() as session:
        return find(session, Letter, LetterRow, *where, order=(LetterRow.id,))


def take_lease(register: Register, duty: str, holder: str, for_s: float) -> bool:
    """Take a duty for a while, or keep it; return whether it is held.

    Parameters
    ----------
    duty : str
        What only one process should do at a time, for example "notices".
    holder : str
        Who asks, for example host and process number.
    for_s : float
        How long it is held if nobody renews it [s]; no longer than the process of this machine
        that holds it lives.
    """
    now = now_utc()
    with register.writing() as session:
        row = session.get(LeaseRow, duty, with_for_update=True)
        if row is None:
            row = LeaseRow(duty=duty, holder=holder, until_utc=now)
            session.add(row)
        elif row.holder != holder and row.until_utc > now and not _left(row.holder):
            return False
        row.holder, row.until_utc = holder, now + timedelta(seconds=for_s)
        return True


def _left(holder: str) -> bool:
    """Return whether a duty was left by a process of this machine that has ended."""
    return not holder.startswith(f"{this_process()}/") and is_gone(holder)


def give_back(register: Register, duty: str, holder: str) -> None:
    """End a lease before its time."""
    with register.reading() as session:
        if session.get(LeaseRow, duty) is None:
            return
    with register.writing() as session:
        row = session.get(LeaseRow, duty)
        if row is not None and row.holder == holder:
            session.delete(row)


@contextlib.contextmanager
def alone(
    register: Register,
    duty: str,
    for_s: float,
    *,
    renewed: bool = False,
    begin: Callable[[], object] = lambda: None,
) -> Iterator[bool]:
    """Hold a duty for a block; gives whether it is held, or another process has it.

    Parameters
    ----------
    duty, for_s
        As for `take_lease`: after so long [s] the duty of a machine that fell silent is free.
    renewed : bool
        Whether it is held on to for as long as the block takes.
    begin : callable
        What is written down in the same transaction in which the duty is taken on.
    """
    holder = _this_thread()
    with register.writing():
        mine = take_lease(register, duty, holder, for_s)
        if mine:
            begin()
    if not mine:
        yield False
        return
    over = threading.Event()
    renewing = partial(_renew, register, duty, holder, for_s, over)
    thread = threading.Thread(target=renewing, name="lease", daemon=True)
    if renewed:
        thread.start()
    try:
        yield True
    finally:
        over.set()
        if renewed:
            thread.join()
        give_back(register, duty, holder)


def end_duty(register: Register, duty: str) -> None:
    """End a duty of this thread, in the transaction that ends its work; `alone` finds it ended."""
    give_back(register, duty, _this_thread())


def _this_thread() -> str:
    return f"{this_process()}/{threading.get_ident()}"


def _renew(register: Register, duty: str, holder: str, for_s: float, over: threading.Event) -> None:
    while not over.wait(for_s / 3):
        with contextlib.suppress(StoreError):  # tried again
            take_lease(register, duty, holder, for_s)
