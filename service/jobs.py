"""Work that outlives a request: one thread does what the register remembers, in order.

Jobs are written down in the register before they are promised (`service.storage.job_records`), so
that a process that is killed loses none: this one, the next one or another takes them up. When none
waits, the thread does its rounds: what follows from changes, and what is worked out in advance.
"""

import logging
import sys
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from analysis.errors import StilltautError
from service.errors import StoreError
from service.site_locale import in_site_locale
from service.storage.job_records import (
    JobRecord,
    claim,
    claim_job,
    finish,
    job_named,
    let_go,
    renew,
)
from service.storage.register import Register

log = logging.getLogger(__name__)
LOOK_EVERY_S = 2.0
RENEW_EVERY_S = 20.0
TURN_S = 0.0005  # for so long a thread that works is left to itself


class OthersFirstError(Exception):
    """A job gives way to others; it is done to its end when they have come as far."""


@dataclass
class Task:
    """A job in hand: its record, and how it says how far it is."""

    register: Register
    record: JobRecord

    def step(self, words: str, **facts: Any) -> None:
        """Write down what is being done now, and facts for whoever goes on with it."""
        renew(self.register, self.record.job_id, words, facts)


Work = Callable[[Task], Mapping[str, Any]]
Round = Callable[[Callable[[], bool]], None]


@dataclass
class Jobs:
    """Does the jobs of the register one after the other in a thread of its own.

    Parameters
    ----------
    register : Register
        Where jobs are written down.
    kinds : mapping of str to callable
        What is done for each kind of job; it may be done twice and must then come to the same.
    rounds : sequence of callable
        What is looked after when no job waits. Each is given a function that says whether it is to
        break off, because a job came in or the program ends.
    """

    register: Register
    kinds: Mapping[str, Work]
    rounds: Sequence[Round] = ()
    closing: bool = False
    _wake: threading.Event = field(default_factory=threading.Event)
    _thread: threading.Thread | None = None

    def start(self) -> None:
        """Begin. While something is worked out, whoever asks for a page gets a turn every `TURN_S`.

        At Python's own 5 ms a page that is handed on four times waits 20 ms for them.
        """
        sys.setswitchinterval(TURN_S)
        self._thread = threading.Thread(target=self._run, name="jobs", daemon=True)
        self._thread.start()

    @property
    def alive(self) -> bool:
        """Whether what is written down is being done."""
        return self._thread is not None and self._thread.is_alive()

    def wake(self) -> None:
        """Look now: something was written down."""
        self._wake.set()

    def close(self) -> None:
        """Finish the job in hand and stop; what waits stays in the register."""
        self.closing = True
        self._wake.set()
        if self._thread is not None:
            self._thread.join()

    def wait_for(self, job_id: str, seconds: float) -> JobRecord:
        """Return a job once it is over, or as it stands after some seconds."""
        until = time.monotonic() + seconds
        while not (found := job_named(self.register, job_id)).over and time.monotonic() < until:
            time.sleep(0.05)
        return found

    def do_waiting(self) -> int:
        """Do all jobs that wait, here and now; return how many."""
        done = 0
        while not self.closing and (job := claim(self.register)) is not None:
            self._do(job)
            done += 1
        return done

    def do(self, job_id: str) -> bool:
        """Do one job here and now; return whether nobody else had it in hand."""
        job = claim_job(self.register, job_id)
        if job is not None:
            self._do(job)
        return job is not None

    def _run(self) -> None:
        while not self.closing:
            self._wake.clear()
            try:
                with in_site_locale(self.register):
                    self.do_waiting()
                    for one in self.rounds:
                        one(self._interrupted)
            except StilltautError:
                log.exception("a round was not finished; it is tried again")
            except Exception:
                log.exception("a round failed; it is tried again")
            if not self.closing:
                self._wake.wait(LOOK_EVERY_S)

    def _interrupted(self) -> bool:
        return self.closing or self._wake.is_set()

    def _do(self, job: JobRecord) -> None:
        if job.problem is not None:
            log.error("job %s: %s", job.title, job.problem["found"])
            return
        with _Lease(self.register, job.job_id):
            try:
                result = self.kinds[job.kind](Task(self.register, job))
            except OthersFirstError:
                let_go(self.register, job.job_id)
            except StoreError as problem:
                log.warning("job %s: %s", job.title, problem)
                finish(self.register, job.job_id, problem=five_parts(problem))
            except StilltautError as problem:
                finish(self.register, job.job_id, problem=five_parts(problem))
            except Exception as problem:
                log.exception("job %s failed", job.title)
                finish(self.register, job.job_id, problem=_unexpected(job, problem))
            except BaseException:
                let_go(self.register, job.job_id)
                raise
            else:
                finish(self.register, job.job_id, result=result)


class _Lease:
    """Holds on to a job while it is in hand, however long it takes."""

    def __init__(self, register: Register, job_id: str) -> None:
        self._register, self._job_id = register, job_id
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._hold, name="lease", daemon=True)

    def __enter__(self) -> None:
        self._thread.start()

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join()

    def _hold(self) -> None:
        while not self._over.wait(RENEW_EVERY_S):
            try:
                renew(self._register, self._job_id)
            except StoreError:
                log.warning("a job's lease could not be renewed; it is tried again")


def five_parts(problem: StilltautError) -> dict[str, str]:
    """Return an error as plain values, with what it says of the file that was kept."""
    parts = ("read", "where", "found", "expected", "action")
    found = {part: str(getattr(problem, part)) for part in parts}
    return found | {"kept": str(getattr(problem, "kept", "")), "kind": type(problem).__name__}


def _unexpected(job: JobRecord, problem: Exception) -> dict[str, str]:
    return {
        "read": job.title,
        "where": job.step,
        "found": f"an unexpected {type(problem).__name__}: {problem}",
        "expected": "the step to end",
        "action": "Nothing that was received is lost. Report this with the time it happened.",
    }
