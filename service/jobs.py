"""Work that outlives a request: one thread, jobs in order, each with a line that says how far."""

import logging
import threading
import uuid
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

from analysis.errors import StilltautError

log = logging.getLogger(__name__)


@dataclass
class Job:
    """One piece of work: what it is doing now, whether it is done, what came of it."""

    job_id: str
    title: str
    step: str = "waiting"
    begun: bool = False
    done: bool = False
    problem: StilltautError | None = None
    result: object = None
    finished: threading.Event = field(default_factory=threading.Event)


class Jobs:
    """Runs jobs one after the other in a thread of their own.

    What a job does to the stores is crash-safe by itself; the list of jobs is not kept over a
    restart, since start-up finishes what was received.
    """

    def __init__(self, keep: int = 50) -> None:
        self._pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="job")
        self._jobs: dict[str, Job] = {}
        self._keep = keep
        self.closing = False

    def start(self, title: str, work: Callable[[Job], object]) -> Job:
        """Queue ``work``; it receives its job and may set ``job.step`` as it goes."""
        job = Job(job_id=uuid.uuid4().hex[:12], title=title)
        self._jobs[job.job_id] = job
        for old in list(self._jobs)[: -self._keep]:
            if self._jobs[old].done:
                del self._jobs[old]
        self._pool.submit(self._run, job, work)
        return job

    def get(self, job_id: str) -> Job | None:
        """Return the job of that name, or None."""
        return self._jobs.get(job_id)

    def waits(self, title: str) -> bool:
        """Return whether a job of that title is queued and has not begun."""
        return any(job.title == title and not job.begun for job in list(self._jobs.values()))

    def close(self) -> None:
        """Wait for the job in hand and stop; a long job may look at ``closing`` and end early."""
        self.closing = True
        self._pool.shutdown(wait=True, cancel_futures=True)

    def _run(self, job: Job, work: Callable[[Job], object]) -> None:
        job.begun = True
        try:
            job.result = work(job)
        except StilltautError as problem:
            job.problem = problem
        except Exception as problem:
            log.exception("job %s failed", job.title)
            job.problem = StilltautError(
                read=job.title,
                where=job.step,
                found=f"an unexpected {type(problem).__name__}: {problem}",
                expected="the step to end",
                action="Nothing that was received is lost. Report this with the time it happened.",
            )
        finally:
            job.done = True
            job.finished.set()
