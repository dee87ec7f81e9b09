"""Worker processes of Dask answer tasks: some of this machine, or those of a scheduler's.

A task and its answer are arrays and facts, so that a worker needs no register and no readings. Each
worker says what calculates there (`service.engine.calculation`): one that would come to other
digits is refused, never mixed in. A worker that dies is replaced, and its task is done by another.
"""

import atexit
import logging
import pickle
import threading
from collections.abc import Callable, Generator, Iterator, Mapping, Sequence
from concurrent.futures import CancelledError
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import dask
from dask.system import CPU_COUNT
from distributed import Client, Future, get_worker
from distributed.comm.core import CommClosedError
from distributed.scheduler import KilledWorker

from service.engine.in_hand import in_threads
from service.engine.own_workers import OwnWorkers
from service.errors import EngineError, remark
from service.estimates.fingerprints import calculation
from service.storage.results import Results

Given = TypeVar("Given")
Found = TypeVar("Found")
Item = TypeVar("Item")
CONNECT_S = 30
LOOK_EVERY_S = 15.0
NOBODY_AFTER = 4  # looks at which no worker was there, until it is said
AHEAD = 2  # items beyond one a worker that are made ready
# The air of decades is larger than what Dask calls a large task.
CONFIG = {"distributed.admin.large-graph-warning-threshold": "100MB"}
LOST = (KilledWorker, CancelledError, CommClosedError, OSError)


@dataclass(frozen=True)
class _Answer:
    """What came of a task: its value, what its function raised, or why the worker refused."""

    value: Any = None
    problem: Exception | None = None
    otherwise: tuple[str, ...] = ()
    worker: str = ""


class Cluster:
    """The workers at an address; without one, processes of this machine, one a core.

    It begins with the first task, and ends with the process or when it is closed.
    """

    def __init__(self, address: str = "", own: int = CPU_COUNT) -> None:
        self._address, self._own = address, own
        self._lock = threading.Lock()
        self._client: Client | None = None
        self._workers: OwnWorkers | None = None

    @property
    def workers(self) -> int:
        """How many workers there are now, at least one."""
        with self._lost_said():
            return max(len(self._connected().nthreads()), 1)

    @property
    def address(self) -> str:
        """The address at which others find the same workers."""
        return str(self._connected().scheduler.address)

    def run(
        self, function: Callable[[Results, Given], Found], results: Results, task: Given
    ) -> Found:
        """Return what a function of a module makes of a task, on whichever worker is free.

        Raises
        ------
        EngineError
            If a worker calculates otherwise, or no worker is left to do it.
        """
        asked = pickle.dumps((function, task), protocol=pickle.HIGHEST_PROTOCOL)
        folder = str(results.folder.absolute())
        with self._lost_said():
            client = self._connected()
            future = client.submit(_answered, asked, folder, calculation(), pure=False)
            try:
                answer = self._awaited(client, future)
            finally:
                future.cancel()
        if answer.otherwise:
            raise _calculates_otherwise(answer.worker, answer.otherwise)
        if answer.problem is not None:
            raise answer.problem
        found: Found = answer.value
        return found

    def ahead(
        self, function: Callable[[Item], Found], items: Sequence[Item], beside: int = 1
    ) -> Generator[Found, None, None]:
        """Yield what a function makes of each item, in order; a few more are in hand meanwhile.

        Within an item that is in hand the next waits for the one before.
        """
        return in_threads(function, items, max(self.workers + AHEAD, beside))

    def close(self) -> None:
        """Let go of the workers; end those that were begun here."""
        with self._lock:
            self._close()

    def _connected(self) -> Client:
        with self._lock:
            if self._client is None or self._client.status != "running":
                self._close()
                self._client = self._open()
                atexit.register(self.close)
            return self._client

    def _open(self) -> Client:
        dask.config.set(CONFIG)
        logging.getLogger("distributed").setLevel(logging.WARNING)
        if not self._address:
            self._workers = OwnWorkers(self._own)
        address = self._workers.address if self._workers else self._address
        try:
            client = Client(address, timeout=CONNECT_S, set_as_default=False)
            client.wait_for_workers(1, timeout=CONNECT_S)
        except (OSError, ValueError) as problem:
            found = remark(f"nobody within {CONNECT_S} s ({problem})")
            raise _nobody(self._address, found) from problem
        try:
            _require_same(client)
        except EngineError:
            client.close()
            raise
        return client

    def _close(self) -> None:
        client, workers = self._client, self._workers
        self._client = self._workers = None
        if client is not None:
            client.close()
        if workers is not None:
            workers.close()

    def _awaited(self, client: Client, future: Future) -> _Answer:
        """Wait for an answer for as long as there is somebody to give it."""
        nobody = 0
        while True:
            try:
                answer: _Answer = future.result(timeout=LOOK_EVERY_S)
                return answer
            except TimeoutError:
                nobody = 0 if client.nthreads() else nobody + 1
            if nobody >= NOBODY_AFTER:
                minutes = NOBODY_AFTER * LOOK_EVERY_S / 60.0
                raise _nobody(self._address, remark(f"no worker for {minutes:g} minutes"))

    @contextmanager
    def _lost_said(self) -> Iterator[None]:
        try:
            yield
        except LOST as problem:
            found = remark(f"the connection was lost ({type(problem).__name__}: {problem})")
            raise _nobody(self._address, found) from problem


def _answered(asked: bytes, folder: str, expected: Mapping[str, str]) -> _Answer:
    """Answer a task on a worker, if it calculates as whoever asks."""
    worker = str(get_worker().address)
    if otherwise := _differences(expected, calculation()):
        return _Answer(otherwise=otherwise, worker=worker)
    try:
        function, task = pickle.loads(asked)
    except (ImportError, AttributeError) as problem:  # its program was changed while it ran
        return _Answer(otherwise=(f"{type(problem).__name__}: {problem}",), worker=worker)
    try:
        return _Answer(function(_results_here(folder), task), worker=worker)
    except Exception as problem:
        problem.add_note(f"on worker {worker}")
        return _Answer(problem=problem, worker=worker)


def _results_here(folder: str) -> Results:
    """Return the results of the house where this machine has them, else some of the worker's own.

    They hold what was worked out before, by names of all it rests on; without them it is done anew.
    """
    shared = Path(folder)
    if shared.parent.is_dir():
        return Results(shared)
    return Results(Path(get_worker().local_directory) / "results")


def _require_same(client: Client) -> None:
    """Raise if a worker would come to other digits than this process."""
    expected = calculation()
    for worker, found in client.run(calculation, on_error="return").items():
        if not isinstance(found, Mapping):
            raise _calculates_otherwise(worker, [f"{type(found).__name__}: {found}"])
        if otherwise := _differences(expected, found):
            raise _calculates_otherwise(worker, otherwise)


def _differences(here: Mapping[str, str], there: Mapping[str, str]) -> tuple[str, ...]:
    return tuple(
        f"{name} {there.get(name, '?')} (here {here.get(name, '?')})"
        for name in sorted({*here, *there})
        if here.get(name) != there.get(name)
    )


def _calculates_otherwise(worker: str, otherwise: Sequence[str]) -> EngineError:
    return EngineError(
        read="dask",
        where=f"worker {worker}",
        found=", ".join(otherwise),
        expected="what calculates here, so that every digit is the same",
        action="Give all machines the same release and packages, and where processors differ the "
        "same NUMBA_CPU_NAME, NUMBA_CPU_FEATURES and NPY_DISABLE_CPU_FEATURES; or take that worker "
        "away.",
    )


def _nobody(address: str, found: str) -> EngineError:
    return EngineError(
        read="dask",
        where=address or remark("workers of this machine"),
        found=found,
        expected="a scheduler with workers that answer",
        action="See whether scheduler and workers run. Nothing that was kept is lost; ask again.",
    )
