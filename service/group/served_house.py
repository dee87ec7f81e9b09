"""One house of a group while it is served: in a thread, an event loop and threads of its own.

A house whose database does not answer waits alone. One that could not be opened is tried again.
"""

import asyncio
import logging
import threading
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, TypeVar

from fastapi import FastAPI
from starlette.types import Message, Receive, Scope, Send

from analysis.errors import StilltautError
from service.answers.museum import Museum
from service.group.house_files import House
from service.group.house_prefix import UnderPrefix
from service.group.standings import HouseStanding, rests_on, with_notices, worked_out
from service.group.turns import Turns
from service.site_locale import in_site_locale
from service.web.app import create_app

log = logging.getLogger(__name__)
Found = TypeVar("Found")
_ONE_AT_A_TIME = threading.Lock()  # what the routes take is read by a library that is no two's


@dataclass
class _Opened:
    """What there is of a house while it is open."""

    app: FastAPI
    served: UnderPrefix
    loop: asyncio.AbstractEventLoop
    closing: asyncio.Event

    @property
    def museum(self) -> Museum:
        """The house's stores and answers."""
        museum: Museum = self.app.state.museum
        return museum


class ServedHouse:
    """A house that is opened, served, asked and closed.

    Parameters
    ----------
    house : House
        As its file has it.
    turns : Turns
        Taken to work out how the house stands, and what its pages show before anybody asks.
    answers_mb : int
        How much of its answers it keeps in memory.
    """

    def __init__(self, house: House, turns: Turns, answers_mb: int) -> None:
        self.house, self._turns, self._answers_mb = house, turns, answers_mb
        self.problem: StilltautError | None = house.problem
        self._opened: _Opened | None = None
        self._thread: threading.Thread | None = None
        self._leaving = threading.Event()
        self._asked = ThreadPoolExecutor(2, f"asked-{house.name}")
        self._waited_for: dict[str, Future[Any]] = {}
        self._standing: tuple[tuple[object, ...], HouseStanding] | None = None

    @property
    def is_open(self) -> bool:
        """Whether requests can be answered."""
        return self._opened is not None

    def open(self) -> None:
        """Begin to open it, where it is not open yet and its file could be read."""
        running = self._thread is not None and self._thread.is_alive()
        if self.house.problem is None and not running and not self._leaving.is_set():
            self._thread = threading.Thread(
                target=self._run, name=f"house-{self.house.name}", daemon=True
            )
            self._thread.start()

    def leave(self) -> None:
        """Begin to close it: what is in hand is finished first."""
        self._leaving.set()
        if (opened := self._opened) is not None:
            opened.loop.call_soon_threadsafe(opened.closing.set)

    def close(self, patience_s: float | None = None) -> None:
        """Close it, and wait until that is done."""
        self.leave()
        if self._thread is not None and self._thread.is_alive():
            # One that is just being opened by a database that is silent has nothing in hand.
            self._thread.join(patience_s if self.is_open else 1.0)
        self._asked.shutdown(wait=False, cancel_futures=True)

    def _run(self) -> None:
        try:
            asyncio.run(self._hold())
        except StilltautError as problem:
            if str(problem) != str(self.problem):  # said once, however often it is tried
                log.warning("house %s could not be opened: %s", self.house.name, problem)
            self.problem = problem
        except Exception as problem:
            log.exception("house %s could not be opened", self.house.name)
            self.problem = _unexpected(self.house.name, problem)
        finally:
            self._opened = None

    async def _hold(self) -> None:
        settings = self.house.settings.with_changes(answers_mb=self._answers_mb)
        with _ONE_AT_A_TIME:
            app = create_app(settings, turn=self._turns.if_free, create=False)
        async with app.router.lifespan_context(app):
            served = UnderPrefix(app, self.house.name)
            here = asyncio.get_running_loop()
            opened = _Opened(app, served, here, asyncio.Event())
            self.problem, self._opened = None, opened
            if not self._leaving.is_set():
                await opened.closing.wait()
            self._opened = None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request in the house's own loop."""
        opened = self._opened
        if opened is None:
            raise ConnectionError(f"house {self.house.name} is not open")
        here = asyncio.get_running_loop()

        async def taken() -> Message:
            return await asyncio.wrap_future(asyncio.run_coroutine_threadsafe(_of(receive), here))

        async def given(message: Message) -> None:
            await asyncio.wrap_future(asyncio.run_coroutine_threadsafe(_to(send, message), here))

        answer = _answered(opened, scope, taken, given)
        await asyncio.wrap_future(asyncio.run_coroutine_threadsafe(answer, opened.loop))

    def standing(self, museum: Museum) -> HouseStanding:
        """Return how the house stands: as it was worked out, or anew when its turn has come."""
        now, kept = rests_on(museum), self._standing
        if kept is None or kept[0] != now:
            with self._turns.waited_for():
                kept = self._standing = now, worked_out(museum)
        return with_notices(kept[1], museum)

    def ask(self, what: str, about: Callable[[Museum], Found]) -> Future[Found] | None:
        """Ask the house something, in a thread of its own; None where it is not open.

        Asked again before it has answered, it is the same question.
        """
        opened, waiting = self._opened, self._waited_for.get(what)
        if opened is None:
            return None
        if waiting is not None and not waiting.done():
            return waiting
        found = self._asked.submit(_in_its_words, about, opened.museum)
        self._waited_for[what] = found
        return found


async def _of(receive: Receive) -> Message:
    return await receive()


async def _to(send: Send, message: Message) -> None:
    await send(message)


async def _answered(opened: _Opened, scope: Scope, receive: Receive, send: Send) -> None:
    await opened.served(scope, receive, send)


def _in_its_words(about: Callable[[Museum], Found], museum: Museum) -> Found:
    """Return what is asked for, worded as the house writes."""
    with in_site_locale(museum.stores.register):
        return about(museum)


def _unexpected(name: str, problem: Exception) -> StilltautError:
    return StilltautError(
        read=f"house {name}",
        where="",
        found=f"an unexpected {type(problem).__name__}: {problem}",
        expected="a house that can be opened",
        action="It is tried again. The other houses are not concerned.",
    )
