"""What an engine does with tasks, and which one is set: threads of this process, or Dask."""

from collections.abc import Callable, Generator, Sequence
from functools import cache
from typing import TYPE_CHECKING, Protocol, TypeVar

from service.engine.in_hand import in_threads
from service.errors import EngineError
from service.settings import Settings
from service.storage.results import Results

if TYPE_CHECKING:
    from service.engine.clusters import Cluster

Given = TypeVar("Given")
Found = TypeVar("Found")
Item = TypeVar("Item")
THREADS, DASK = "threads", "dask"


class Engine(Protocol):
    """Answers tasks. A task holds all that its answer rests on; results are but answers kept."""

    @property
    def workers(self) -> int:
        """How many tasks are worked out at once."""
        ...

    def run(
        self, function: Callable[[Results, Given], Found], results: Results, task: Given
    ) -> Found:
        """Return what a function of a module makes of a task."""
        ...

    def ahead(
        self, function: Callable[[Item], Found], items: Sequence[Item], beside: int = 1
    ) -> Generator[Found, None, None]:
        """Yield what a function makes of each item, in order.

        The function runs here and calls `run`; how far it goes ahead is the engine's to choose.
        ``beside`` items at least are in hand at once.
        """
        ...


class Threads:
    """Everything in this process; the loop over works takes all cores."""

    @property
    def workers(self) -> int:
        """One: the next task waits for the one before."""
        return 1

    def run(
        self, function: Callable[[Results, Given], Found], results: Results, task: Given
    ) -> Found:
        """Return what a function makes of a task."""
        return function(results, task)

    def ahead(
        self, function: Callable[[Item], Found], items: Sequence[Item], beside: int = 1
    ) -> Generator[Found, None, None]:
        """Yield what a function makes of each item, when it is asked for or a little before."""
        if beside > 1:
            return in_threads(function, items, beside)
        return (function(item) for item in items)


def engine_of(settings: Settings) -> Engine:
    """Return the engine that is set, the same for all of a process.

    Raises
    ------
    EngineError
        If no engine is called so, or Dask is not installed.
    """
    name, _, address = settings.engine.partition("=")
    if settings.engine == THREADS:
        return Threads()
    if name != DASK:
        raise EngineError(
            read="settings",
            where="engine",
            found=repr(settings.engine),
            expected="threads, dask or dask=ADDRESS",
            action="Correct --engine or STILLTAUT_ENGINE.",
        )
    return _dask(address)


def shared_engine(settings: Settings) -> str:
    """Return the engine under which other processes find the workers of this one, begun here."""
    if settings.engine != DASK:
        return settings.engine
    return f"{DASK}={_dask('').address}"


@cache
def _dask(address: str) -> "Cluster":
    try:
        from service.engine.clusters import Cluster
    except ModuleNotFoundError as problem:
        raise EngineError(
            read="settings",
            where="engine",
            found=f"dask, but the package {problem.name} is not installed",
            expected="dask and distributed",
            action='Install them with pip install "stilltaut[group]", or leave --engine out.',
        ) from problem
    return Cluster(address)
