"""One house of a group while it is served: in a thread, an event loop and threads of its own.

A house whose database does not answer waits alone. One that could not be opened is tried again.
"""

import asyncio
import logging
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack, suppress
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from fastapi import FastAPI
from starlette.types import Message, Receive, Scope, Send

from analysis.errors import StilltautError
from service.answers.museum import Museum
from service.errors import StoreError
from service.group.house_files import House
from service.group.house_prefix import UnderPrefix
from service.group.standings import (
    HouseStanding,
    LastWord,
    keep_word,
    kept_word,
    rests_on,
    with_notices,
    worked_out,
)
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
    following : Turns
        Taken for what follows from changes: its own, so that no page keeps a notice waiting.
    opening : Turns
        Taken while it is opened.
    """

    def __init__(self, house: House, turns: Turns, following: Turns, opening: Turns) -> None:
        self.house, self._turns, self._following, self._opening = house, turns, following, opening
        self.problem: StilltautError | None = house.problem
        self._opened: _Opened | None = None
        self._thread: threading.Thread | None = None
        self._leaving = threading.Event()
        self._asked = ThreadPoolExecutor(2, f"asked-{house.name}")
        self._waited_for: dict[str, Future[Any]] = {}
        self.word: LastWord | None = kept_word(house.settings.data_dir)
        self.asked_s = 0.0  # when a person last asked for a page [s, monotonic]

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
        opening = ExitStack()
        with opening:
            opening.enter_context(self._opening.waited_for())
            if not self._leaving.is_set():
                await self._opened_until_closed(opening)

    async def _opened_until_closed(self, opening: ExitStack) -> None:
        with _ONE_AT_A_TIME:
            app = create_app(
                self.house.settings,
                turn=self._turns.if_free,
                following=self._following.if_free,
                create=False,
            )
        async with app.router.lifespan_context(app):
            opening.close()  # the next house may
            served = UnderPrefix(app, self.house.name)
            here = asyncio.get_running_loop()
            opened = _Opened(app, served, here, asyncio.Event())
            self.problem, self._opened = None, opened
            if not self._leaving.is_set():
                await opened.closing.wait()
            self._opened = None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request in the house's own loop."""
        opened, self.asked_s = self._opened, time.monotonic()
        if opened is None:
            raise ConnectionError(f"house {self.house.name} is not open")
        here = asyncio.get_running_loop()

        async def taken() -> Message:
            return await asyncio.wrap_future(asyncio.run_coroutine_threadsafe(_of(receive), here))

        async def given(message: Message) -> None:
            await asyncio.wrap_future(asyncio.run_coroutine_threadsafe(_to(send, message), here))

        answer = _answered(opened, scope, taken, given)
        await asyncio.wrap_future(asyncio.run_coroutine_threadsafe(answer, opened.loop))

    def said(self, museum: Museum) -> tuple[HouseStanding | None, bool]:
        """Return how the house stood when it was last worked out, and whether that is so now.

        Its notices are as they are now. Nothing is worked out.
        """
        now, word = rests_on(museum), self.word
        if word is None:
            return None, False
        standing, holds = with_notices(word.standing, museum), word.rests_on == now
        return (replace(standing, now_utc=museum.clock()) if holds else standing), holds

    def standing(self, museum: Museum) -> HouseStanding:
        """Return how the house stands: as it was worked out, or anew when its turn has come."""
        now, word = rests_on(museum), self.word
        if word is None or word.rests_on != now:
            with self._turns.waited_for():
                word = self.word = LastWord(
                    now, with_notices(worked_out(museum), museum), time.time()
                )
            with suppress(StoreError):  # a full disk: it is said all the same
                keep_word(self.house.settings.data_dir, word)
        return replace(with_notices(word.standing, museum), now_utc=museum.clock())

    @property
    def answers_bytes(self) -> int:
        """How much of its answers the house keeps in memory."""
        opened = self._opened
        return 0 if opened is None else opened.museum.answers_bytes

    def give_way(self, most_bytes: int) -> None:
        """Keep no more of its answers in memory than this."""
        if (opened := self._opened) is not None:
            opened.museum.keep_no_more_than(most_bytes)

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
