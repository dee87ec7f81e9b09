"""The latest week worked out before anybody asks for it, so that the first page comes at once."""

import time
from collections.abc import Callable

from service.answers.museum import Museum


class WarmingUp:
    """Works out the latest week of every room, again whenever something has changed.

    Parameters
    ----------
    museum : Museum
        What to warm up.
    after_s : float
        How long after the start to begin: those who ask at once do not share the processor with it.
    """

    def __init__(self, museum: Museum, after_s: float = 0.0) -> None:
        self._museum = museum
        self._warm_at = -1
        self._begins = time.monotonic() + after_s

    def __call__(self, interrupted: Callable[[], bool]) -> None:
        """Work out what the first page shows, and break off between two rooms when asked to."""
        newest = self._museum.versions().newest
        if newest == self._warm_at or time.monotonic() < self._begins:
            return
        for room in self._museum.rooms():
            if interrupted():
                return
            if week := self._museum.week_of_room(room.room):
                self._museum.room_week(room.room, week)
        self._warm_at = newest
