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
from service.group.turns import Turns
from service.settings import Settings

log = logging.getLogger(__name__)
Found = TypeVar("Found")
LOOK_EVERY_S = 5.0
TRY_AGAIN_AFTER_S = 30.0
ASKED_IN_TURNS = 12  # so that each house is asked once a minute
LEAST_ANSWERS_MB = 16
CLOSING_S = 60.0


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
        self._turns = Turns(os.cpu_count() or 1)
        self._houses: dict[str, ServedHouse] = {}
        self._tried: dict[str, float] = {}
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._run, name="houses", daemon=True)

    def start(self) -> None:
        """Begin to open all houses; none waits for another."""
        self.look()
        self._thread.start()

    def close(self) -> None:
        """Close all houses; what is in hand is finished first."""
        self._over.set()
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
        share = max(LEAST_ANSWERS_MB, self.settings.answers_mb // max(1, len(now)))
        for name, house in now.items():
            if name not in self._houses:
                self._houses[name] = ServedHouse(house, self._turns, answers_mb=share)
            if time.monotonic() - self._tried.get(name, -TRY_AGAIN_AFTER_S) >= TRY_AGAIN_AFTER_S:
                self._tried[name] = time.monotonic()
                self._houses[name].open()

    def _run(self) -> None:
        turn = 0
        while not self._over.wait(LOOK_EVERY_S):
            turn = (turn + 1) % ASKED_IN_TURNS
            try:
                self.look()
                for house in self.every()[turn::ASKED_IN_TURNS]:
                    house.ask("standing", house.standing)  # so that the page has it at hand
            except Exception:
                log.exception("the houses of the group could not be looked at; it is tried again")


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
