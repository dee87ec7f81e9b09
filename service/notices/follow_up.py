"""What follows from a change: works judged, notices brought up to date, never forgotten.

The register numbers every change (`service.storage.versions`) and notes up to which number a room
was followed up. What lies between is due: it is done by whoever made the change, by the program
that serves, or by the next one to start, however the last one ended.
"""

import logging
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import closing, suppress

from analysis.errors import StilltautError
from service.answers.museum import Museum
from service.errors import EngineError
from service.notices.after_arrival import after_arrival
from service.notices.state import NoticeChanges
from service.storage.outbox import alone
from service.storage.versions import followed_up, note_followed_up, readings_since
from service.storage.works import hangings_in

log = logging.getLogger(__name__)
DUTY, LEASE_S = "follow up", 300.0


def follow_up(museum: Museum, rooms: Sequence[str]) -> NoticeChanges:
    """Bring the notices of rooms up to date, and note that it was done.

    Doing it twice, here and by another process, comes to the same.
    """
    register, changes = museum.stores.register, NoticeChanges()
    for room in _judged(museum, rooms):
        newest = museum.versions().newest
        since = readings_since(register, room)
        changes.add(after_arrival(museum, [room], from_utc=since))
        note_followed_up(register, room, newest)
    return changes


def _judged(museum: Museum, rooms: Sequence[str]) -> Iterator[str]:
    """Yield rooms, those after them being judged meanwhile where the engine goes ahead.

    What cannot be judged is met again, and said, by whoever follows the room up.
    """

    def judged(room: str) -> None:
        with suppress(Exception):
            museum.judgements(room)

    with closing(museum.engine.ahead(judged, rooms)) as each:
        for room in rooms:
            next(each)
            yield room


def due_rooms(museum: Museum) -> tuple[str, ...]:
    """Return the rooms in which something has changed since they were followed up."""
    done, now = followed_up(museum.stores.register), museum.versions()
    found = []
    for room in museum.every_room():
        hung = {one.work_id for one in hangings_in(museum.stores.register, room.room)}
        if now.newest_in(rooms=[room.room], works=hung) > done.get(room.room, 0):
            found.append(room.room)
    return tuple(found)


def follow_up_all(museum: Museum, rooms: Iterable[str] | None = None) -> NoticeChanges:
    """Follow up every room that is due, or those of some rooms that are."""
    due = due_rooms(museum)
    wanted = due if rooms is None else tuple(room for room in rooms if room in due)
    return follow_up(museum, wanted) if wanted else NoticeChanges()


class FollowingUp:
    """Follows up room by room what others have changed, while the pages are served.

    A room that cannot be followed up holds up no other; it is tried again once something changes.
    """

    def __init__(self, museum: Museum) -> None:
        self._museum = museum
        self._failed: dict[str, int] = {}
        self._looked_at = -1

    def __call__(self, interrupted: Callable[[], bool]) -> None:
        """Do what is due, and break off between two rooms when asked to."""
        newest = self._museum.versions().newest
        if newest == self._looked_at:
            return
        with alone(self._museum.stores.register, DUTY, LEASE_S) as mine:
            if mine:
                self._follow_up(newest, interrupted)

    def _follow_up(self, newest: int, interrupted: Callable[[], bool]) -> None:
        due = [one for one in due_rooms(self._museum) if self._failed.get(one) != newest]
        for room in _judged(self._museum, due):
            if interrupted():
                return
            try:
                follow_up(self._museum, [room])
            except EngineError as problem:
                log.warning("rooms are followed up once they can be judged: %s", problem)
                return
            except StilltautError as problem:
                log.warning("room %s is not followed up: %s", room, problem)
                self._failed[room] = newest
            except Exception:
                log.exception("room %s could not be followed up", room)
                self._failed[room] = newest
        self._looked_at = newest
