"""The latest week worked out before anybody asks for it, so that the first page comes at once."""

from collections.abc import Callable

from service.answers.museum import Museum


class WarmingUp:
    """Works out the latest week of every room, again whenever something has changed."""

    def __init__(self, museum: Museum) -> None:
        self._museum = museum
        self._warm_at = -1

    def __call__(self, interrupted: Callable[[], bool]) -> None:
        """Work out what the first page shows, and break off between two rooms when asked to."""
        newest = self._museum.versions().newest
        if newest == self._warm_at:
            return
        for room in self._museum.rooms():
            if interrupted():
                return
            if week := self._museum.week_of_room(room.room):
                self._museum.room_week(room.room, week)
        self._warm_at = newest
