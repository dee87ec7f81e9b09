"""The houses of a group while they are served: opened, closed, asked, as their files say."""

import logging
import os
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future, wait
from typing import TypeVar

from service.answers.museum import Museum
from service.group.house_files import House, every_house, is_there
from service.group.served_house import ServedHouse
from service.group.standings import HouseStanding
from service.group.turns import LENT_S, Turns
from service.settings import Settings

log = logging.getLogger(__name__)
Found = TypeVar("Found")
LOOK_EVERY_S = 5.0
TRY_AGAIN_AFTER_S = 30.0
ASKED_EVERY_S = 60.0  # so often each house is asked, as far as the processors allow
CLOSING_S = 60.0
# Houses that are opened together; one whose database is silent keeps the others waiting so long.
OPENED_AT_ONCE, OPENING_S = 4, 10.0


class HousesServed:
    """Every house of a group, each as its file says, looked at anew every few seconds.

    Parameters
    ----------
    settings : Settings
        Of the group.
    """

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        # So many houses work something out in the background at once as there are processors.
        self._at_once = os.cpu_count() or 1
        self._turns = Turns(self._at_once)
        self._following = Turns(self._at_once)
        self._opening = Turns(OPENED_AT_ONCE, OPENING_S)
        self._asked: dict[str, tuple[float, Future[HouseStanding]]] = {}
        self._asking = threading.Lock()
        self._houses: dict[str, ServedHouse] = {}
        self._tried: dict[str, float] = {}
        self._over, self._changed = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._run, name="houses", daemon=True)

    def start(self) -> None:
        """Begin to open all houses; none waits for another."""
        self.look()
        self._thread.start()

    def close(self) -> None:
        """Close all houses; what is in hand is finished first."""
        self._over.set()
        self._changed.set()
        self._thread.join()
        for one in self._houses.values():
            one.leave()
        until = time.monotonic() + CLOSING_S
        for one in self._houses.values():
            one.close(max(1.0, until - time.monotonic()))

    def every(self) -> list[ServedHouse]:
        """Return the houses that belong to the group now, in the order of their names."""
        return [one for name, one in sorted(self._houses.items()) if is_there(self.settings, name)]

    def named(self, name: str) -> ServedHouse | None:
        """Return the house of that name as long as it belongs to the group."""
        return self._houses.get(name) if is_there(self.settings, name) else None

    def look(self) -> None:
        """Open what is new, close what has gone, try again what could not be opened."""
        now = {one.name: one for one in every_house(self.settings)}
        for name, served in list(self._houses.items()):
            if name not in now or not _same(now[name], served.house):
                served.close(CLOSING_S)
                del self._houses[name]
                self._tried.pop(name, None)
        for name, house in now.items():
            if name not in self._houses:
                self._houses[name] = ServedHouse(house, self._turns, self._following, self._opening)
            if time.monotonic() - self._tried.get(name, -TRY_AGAIN_AFTER_S) >= TRY_AGAIN_AFTER_S:
                self._tried[name] = time.monotonic()
                self._houses[name].open()

    def ask_anew(self) -> None:
        """Ask houses how they stand, those first whose last word is oldest; few at a time."""
        now = time.monotonic()
        with self._asking:
            waiting = [name for name, (at, told) in self._asked.items()
                       if not told.done() and now - at < LENT_S]  # fmt: skip
            for house in sorted(self.every(), key=_since):
                if len(waiting) >= self._at_once:
                    return
                name = house.house.name
                if name in self._asked and now - self._asked[name][0] < ASKED_EVERY_S:
                    continue
                if name not in waiting and (told := house.ask("standing", house.standing)):
                    self._asked[name] = now, told
                    waiting.append(name)
                    told.add_done_callback(lambda _told: self._changed.set())

    def wake(self) -> None:
        """Let houses be asked anew now, as far as it is their time."""
        self._changed.set()

    def keep_to_memory(self) -> None:
        """Let the houses that nobody has asked for longest give way with what they keep at hand."""
        houses = [one for one in self.every() if one.is_open]
        over = sum(one.answers_bytes for one in houses) - self.settings.answers_mb * 2**20
        for house in sorted(houses, key=lambda one: one.asked_s):
            if over <= 0:
                return
            held = house.answers_bytes
            house.give_way(max(0, held - over))
            over -= held - house.answers_bytes

    def _run(self) -> None:
        looked = time.monotonic()
        while not self._over.is_set():
            self._changed.wait(LOOK_EVERY_S)
            self._changed.clear()
            try:
                if time.monotonic() - looked >= LOOK_EVERY_S:
                    looked = time.monotonic()
                    self.look()
                self.keep_to_memory()
                self.ask_anew()
            except Exception:
                log.exception("the houses of the group could not be looked at; it is tried again")


def _since(house: ServedHouse) -> float:
    """Return of when the last word of a house is; one that has said nothing yet comes first."""
    return 0.0 if house.word is None else house.word.said_s


def _same(one: House, other: House) -> bool:
    return one.settings == other.settings and str(one.problem) == str(other.problem)


def asked_at_once(
    houses: list[ServedHouse],
    what: str,
    about: Callable[[ServedHouse], Callable[[Museum], Found]],
    until: float,
) -> dict[str, Future[Found] | None]:
    """Ask houses the same; return what each promises, after those that are in time have answered.

    Of a house that is not open there is None.
    """
    asked = {one.house.name: one.ask(what, about(one)) for one in houses}
    waited_for = [one for one in asked.values() if one is not None]
    wait(waited_for, timeout=max(0.0, until - time.monotonic()))
    return asked
