"""Work in hand, as the register remembers it: files that wait for a person, jobs, their results.

A job is written down before it is promised, so that it outlives the process that took it on: any
process may claim it, and one whose owner has died is claimed again. States: *preview* (a person is
to confirm or correct), *waiting*, *running*, *done*, *failed*, *dropped* (a person said no).
"""

import os
import socket
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from analysis.errors import UnknownNameError
from service.storage.records import find, record
from service.storage.register import Register, now_utc
from service.storage.schema import JobRow

LEASE = timedelta(seconds=60)
MOST_TRIES = 5
# How the step begins of a job whose readings are stored already: the others go before it.
STORED = "stored"
# How the kind begins of a job that takes long and that nobody waits for: all others go before it.
GIVES_WAY = "plan "
# Another one after each start of the machine, and another one within each container (Linux).
BOOTED, NUMBERED = Path("/proc/sys/kernel/random/boot_id"), Path("/proc/self/ns/pid")
# Tells this process from an earlier one that had the same number; a forked one has its own.
_MARKS: dict[int, str] = {}


class JobState(StrEnum):
    """How far a job has come."""

    PREVIEW = "preview"
    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    DROPPED = "dropped"


OPEN = (JobState.PREVIEW, JobState.WAITING, JobState.RUNNING)


@dataclass(frozen=True)
class JobRecord:
    """One piece of work. ``batch`` joins those that came together."""

    job_id: str
    batch: str
    kind: str
    title: str
    arguments: Mapping[str, Any]
    state: str
    step: str
    result: Mapping[str, Any] | None
    problem: Mapping[str, str] | None
    queued_utc: datetime
    changed_utc: datetime
    owner: str
    lease_utc: datetime | None
    tries: int

    @property
    def over(self) -> bool:
        """Whether nothing more will come of it by itself."""
        return self.state not in (JobState.WAITING, JobState.RUNNING)


def this_process() -> str:
    """Return the name under which this process has jobs in hand."""
    number = os.getpid()
    mark = _MARKS.setdefault(number, uuid.uuid4().hex[:8])
    return f"{_this_machine()}/{number}/{mark}"


@cache
def _this_machine() -> str:
    """Return a name within which a number is that of one process only.

    Copies of a machine, and containers, may have one name and the same numbers.
    """
    parts = [BOOTED.read_text().strip()] if BOOTED.exists() else []
    parts += [os.readlink(NUMBERED)] if NUMBERED.exists() else []
    return f"{socket.gethostname()}-{sha256(' '.join(parts).encode()).hexdigest()[:8]}"


def put_job(
    register: Register,
    kind: str,
    title: str,
    arguments: Mapping[str, Any],
    *,
    batch: str = "",
    state: JobState = JobState.WAITING,
) -> JobRecord:
    """Write a job down; once this returns it is promised."""
    now, job_id = now_utc(), uuid.uuid4().hex[:12]
    with register.writing() as session:
        row = JobRow(
            job_id=job_id,
            batch=batch or job_id,
            kind=kind,
            title=title,
            arguments=dict(arguments),
            state=state,
            step="waiting",
            result=None,
            problem=None,
            queued_utc=now,
            changed_utc=now,
            owner="",
            lease_utc=None,
            tries=0,
        )
        session.add(row)
        session.flush()
        return record(JobRecord, row)


def job_named(register: Register, job_id: str) -> JobRecord:
    """Return one job, or raise `UnknownNameError`."""
    with register.reading() as session:
        found = find(session, JobRecord, JobRow, JobRow.job_id == job_id)
    if not found:
        raise UnknownNameError(read="files in hand", name=job_id, known=[])
    return found[0]


def jobs_of(
    register: Register,
    *,
    batch: str | None = None,
    states: Sequence[JobState] = (),
    kind: str | None = None,
) -> tuple[JobRecord, ...]:
    """Return jobs in the order in which they were written down."""
    where = [] if batch is None else [JobRow.batch == batch]
    if kind is not None:
        where.append(JobRow.kind == kind)
    if states:
        where.append(JobRow.state.in_(states))
    with register.reading() as session:
        return find(session, JobRecord, JobRow, *where, order=(JobRow.queued_utc, JobRow.number))


def claim(register: Register, at: datetime | None = None) -> JobRecord | None:
    """Take on the oldest job that nobody has in hand, or None where there is none.

    A job that has ended with its process several times is marked as failed, not tried for ever.
    """
    now = at or now_utc()
    with register.reading() as session:  # most looks find nothing and shall lock nobody out
        if _next(session, now) is None:
            return None
    with register.writing() as session:
        row = _next(session, now)
        if row is None:
            return None
        row.owner, row.lease_utc = this_process(), now + LEASE
        row.tries += 1
        row.changed_utc = now
        row.state = JobState.RUNNING if row.tries <= MOST_TRIES else JobState.FAILED
        if row.state == JobState.FAILED:
            row.problem = _ended_again(row)
        session.flush()
        return record(JobRecord, row)


def claim_job(register: Register, job_id: str) -> JobRecord | None:
    """Take on one job that waits or whose owner is gone, or None where somebody has it in hand."""
    now = now_utc()
    with register.writing() as session:
        row = _row(session, job_id)
        left = row.state == JobState.RUNNING and _left(row, now)
        if row.state != JobState.WAITING and not left:
            return None
        row.owner, row.lease_utc, row.changed_utc = this_process(), now + LEASE, now
        row.state, row.tries = JobState.RUNNING, row.tries + 1
        session.flush()
        return record(JobRecord, row)


def renew(
    register: Register, job_id: str, step: str | None = None, facts: Mapping[str, Any] | None = None
) -> None:
    """Hold on to a job in hand, say how far it is, and keep facts among its arguments."""
    with register.writing() as session:
        row = _row(session, job_id)
        row.lease_utc = now_utc() + LEASE
        if step is not None:
            row.step, row.changed_utc = step, now_utc()
        if facts:
            row.arguments = {**row.arguments, **facts}


def finish(
    register: Register,
    job_id: str,
    *,
    result: Mapping[str, Any] | None = None,
    problem: Mapping[str, str] | None = None,
) -> JobRecord:
    """Write down what came of a job."""
    state = JobState.DONE if problem is None else JobState.FAILED
    return _set(register, job_id, state=state, result=result, problem=problem)


def others_wait(register: Register, kind: str) -> bool:
    """Return whether jobs of a kind wait of which nothing is stored yet."""
    waiting = jobs_of(register, states=[JobState.WAITING])
    return any(one.kind == kind and not one.step.startswith(STORED) for one in waiting)


def others_first(register: Register) -> bool:
    """Return whether jobs wait that go before one that takes long."""
    waiting = jobs_of(register, states=[JobState.WAITING])
    return any(not one.kind.startswith(GIVES_WAY) for one in waiting)


def let_go(register: Register, job_id: str) -> None:
    """Give a job in hand back, so that another process may take it on at once.

    That is no failure: the try does not count.
    """
    with register.writing() as session:
        tries = max(0, _row(session, job_id).tries - 1)
        _set(register, job_id, state=JobState.WAITING, owner="", lease_utc=None, tries=tries)


def confirm_job(register: Register, job_id: str, arguments: Mapping[str, Any]) -> JobRecord:
    """Move a preview to the jobs that wait; one confirmed before stays as it is."""
    with register.writing():
        known = job_named(register, job_id)
        if known.state not in (JobState.PREVIEW, JobState.FAILED):
            return known
        return _set(
            register,
            job_id,
            state=JobState.WAITING,
            arguments=dict(arguments),
            problem=None,
            step="waiting",
            tries=0,
            queued_utc=now_utc(),
        )


def change_preview(register: Register, job_id: str, arguments: Mapping[str, Any]) -> JobRecord:
    """Keep what was said of a file that still waits for a person; one confirmed stays as it is."""
    with register.writing():
        known = job_named(register, job_id)
        if known.state not in (JobState.PREVIEW, JobState.FAILED):
            return known
        stated = dict(arguments)
        return _set(register, job_id, arguments=stated, state=JobState.PREVIEW, problem=None)


def note_beside(register: Register, job_id: str, arguments: Mapping[str, Any]) -> None:
    """Keep what stands on the form of a file while another of its form is sent."""
    with register.writing():
        if job_named(register, job_id).state in (JobState.PREVIEW, JobState.FAILED):
            _set(register, job_id, arguments=dict(arguments))


def drop_job(register: Register, job_id: str) -> JobRecord:
    """Put a preview aside: a person wants nothing stored of it."""
    known = job_named(register, job_id)
    if known.state not in (JobState.PREVIEW, JobState.FAILED):
        return known
    return _set(register, job_id, state=JobState.DROPPED)


def _set(register: Register, job_id: str, **values: Any) -> JobRecord:
    with register.writing() as session:
        row = _row(session, job_id)
        for name, value in values.items():
            setattr(row, name, value)
        row.changed_utc = now_utc()
        session.flush()
        return record(JobRecord, row)


def _row(session: Session, job_id: str) -> JobRow:
    return session.scalars(select(JobRow).where(JobRow.job_id == job_id)).one()


def _next(session: Session, now: datetime) -> JobRow | None:
    """Return the oldest job that waits, or whose owner is gone; files to store go first."""
    open_ = or_(JobRow.state == JobState.WAITING, JobRow.state == JobState.RUNNING)
    found = session.scalars(select(JobRow).where(open_).order_by(JobRow.queued_utc, JobRow.number))
    rows = sorted(found, key=lambda row: (row.kind.startswith(GIVES_WAY), row.step[:6] == STORED))
    return next((row for row in rows if row.state == JobState.WAITING or _left(row, now)), None)


def _left(row: JobRow, now: datetime) -> bool:
    """Return whether a job in hand has lost its owner."""
    if row.lease_utc is None or row.lease_utc < now:
        return True
    return row.owner != this_process() and is_gone(row.owner)


def is_gone(owner: str) -> bool:
    """Return whether a process of this machine is no more; of other machines nothing is known."""
    host, _, rest = owner.partition("/")
    number = rest.partition("/")[0]
    if host != _this_machine() or not number.isdigit():
        return False
    if int(number) == os.getpid():
        return True  # the number is this process's own by now
    try:
        os.kill(int(number), 0)
    except ProcessLookupError:
        return True
    except OSError:
        return False
    return False


def _ended_again(row: JobRow) -> dict[str, str]:
    return {
        "read": row.title,
        "where": row.step,
        "found": f"the program ended {row.tries - 1} times while it was at this",
        "expected": "the step to end",
        "action": "Nothing that was received is lost. Report this with the time it happened.",
    }
