"""What has changed since: a number for each room, work and site, grown with every change to it.

`service.storage.audit.note` and `service.storage.spans` call `changed` inside the transaction of
the change itself, so that no answer made from an older state can pass for one of a newer state.
Numbers are never used twice: the largest is the number of the newest change to anything.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import Any

from sqlalchemy import func, inspect, select
from sqlalchemy.orm import Session

from service.storage.register import Register
from service.storage.schema import PlacementRow, RoomRow, VersionRow

HOUSE, NUMBERS = "house", "versions"
FOLLOWED = "followed:"
OUTDOORS = "outdoors"
# What these tables hold is shown as it stands; nothing kept is made from it.
SHOWN_ONLY = ("choices", "users", "sessions", "uploads", "jobs", "tokens", "readings")
NEWEST = select(func.max(inspect(VersionRow).columns["number"]))  # asked most often of all
Stamp = tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class Versions:
    """The numbers as they stood at one moment: by scope, such as ``room:north`` or ``work:17``."""

    numbers: Mapping[str, int] = field(default_factory=dict)

    @cached_property
    def newest(self) -> int:
        """The number of the newest change to anything."""
        return max(self.numbers.values(), default=0)

    def stamp(self, *, rooms: Iterable[str] = (), works: Iterable[str] | None = ()) -> Stamp:
        """Return what an answer made from some rooms and works rests on; equal means unchanged.

        ``works`` None: all works, also those that are still to come. What concerns a whole site
        (its zone, its outdoor readings, an event of the house) concerns every stamp.
        """
        scopes = [*self._of_all, *{room_scope(room) for room in rooms}]
        stamp = [(scope, self.numbers.get(scope, 0)) for scope in sorted(scopes)]
        if works is None:
            stamp.append(("works", self._newest_work))
        else:
            named = sorted({work_scope(work) for work in works})
            stamp += [(scope, self.numbers.get(scope, 0)) for scope in named]
        return tuple(stamp)

    def whole(self) -> Stamp:
        """Return what an answer made from anything in the house rests on."""
        return (("everything", self.newest),)

    def newest_in(self, *, rooms: Iterable[str], works: Iterable[str]) -> int:
        """Return the number of the newest change to any of some rooms and works, or their site."""
        return max((number for _, number in self.stamp(rooms=rooms, works=works)), default=0)

    @cached_property
    def _of_all(self) -> tuple[str, ...]:
        """What concerns every room and work."""
        return tuple(one for one in self.numbers if one == HOUSE or one.startswith("site:"))

    @cached_property
    def _newest_work(self) -> int:
        found = (number for scope, number in self.numbers.items() if scope.startswith("work:"))
        return max(found, default=0)


def room_scope(room: str) -> str:
    """Return the name under which a room's number stands."""
    return f"room:{room}"


def work_scope(work_id: str) -> str:
    """Return the name under which a work's number stands."""
    return f"work:{work_id}"


def versions(register: Register, known: Versions | None = None) -> Versions:
    """Return the numbers now; ``known`` itself where nothing has changed since."""

    def read() -> Versions:
        with register.reading() as session:
            if known is not None and known.newest == _newest(session):
                return known
            rows = session.execute(select(VersionRow.scope, VersionRow.number)).all()
            return Versions({row.scope: row.number for row in rows})

    return register.at_this_moment(NUMBERS, read)


def followed_up(register: Register) -> dict[str, int]:
    """Return, by room, the number of the newest change of which the notices know."""
    wanted = select(VersionRow).where(VersionRow.scope.startswith(FOLLOWED, autoescape=True))
    with register.reading() as session:
        rows = session.scalars(wanted)
        return {row.scope.removeprefix(FOLLOWED): row.number for row in rows}


def note_followed_up(register: Register, room: str, number: int) -> None:
    """Note that what changed up to a number is followed up in a room."""
    with register.writing() as session:
        row = session.get(VersionRow, FOLLOWED + room)
        if row is None:
            session.add(VersionRow(scope=FOLLOWED + room, number=number))
        else:
            row.number = max(row.number, number)
        own = session.get(VersionRow, room_scope(room))
        if own is not None and own.number <= number:
            own.since_utc = None


def readings_since(register: Register, room: str) -> datetime | None:
    """Return the earliest reading that came into a room since it was followed up, or None."""
    with register.reading() as session:
        row = session.get(VersionRow, room_scope(room))
        return None if row is None else row.since_utc


def changed(
    session: Session, table: str, *facts: Mapping[str, Any] | None, everything: bool = False
) -> None:
    """Give a new number to all that a change concerns.

    Parameters
    ----------
    table : str
        Which table changed.
    facts : mappings of str to plain values
        The key of the row, its values before and after; None for what is not there.
    """
    if table in SHOWN_ONLY:
        return
    given = [one for one in facts if one]
    scopes = set() if everything else _scopes(session, table, given)
    raise_numbers(session, scopes or {HOUSE})


def logger_scopes(session: Session, loggers: Iterable[str]) -> set[str]:
    """Return the rooms in which loggers have hung; a logger outdoors concerns its whole site."""
    hung = session.execute(
        select(PlacementRow.room, PlacementRow.place, PlacementRow.work_id, RoomRow.site)
        .join(RoomRow, RoomRow.room == PlacementRow.room)
        .where(PlacementRow.logger.in_(list(loggers)))
    ).all()
    scopes = {room_scope(room) for room, _, _, _ in hung}
    scopes |= {f"site:{site}" for _, place, _, site in hung if place == OUTDOORS}
    return scopes | {work_scope(work) for _, _, work, _ in hung if work}


def raise_numbers(
    session: Session, scopes: Iterable[str], since_utc: datetime | None = None
) -> None:
    """Give the scopes a number that nothing has had before.

    ``since_utc`` is the first of the readings that came in, where some did.
    """
    number = _newest(session) + 1
    for scope in sorted(scopes):
        row = session.get(VersionRow, scope)
        if row is None:
            row = VersionRow(scope=scope)
            session.add(row)
        row.number = number
        row.since_utc = min(filter(None, (row.since_utc, since_utc)), default=None)
    session.flush()


def _newest(session: Session) -> int:
    session.flush()
    return int(session.connection().scalar(NEWEST) or 0)


def _scopes(session: Session, table: str, given: Iterable[Mapping[str, Any]]) -> set[str]:
    scopes: set[str] = set()
    loggers: set[str] = set()
    for facts in given:
        if facts.get("room"):
            scopes.add(room_scope(facts["room"]))
        elif facts.get("site"):
            scopes.add(f"site:{facts['site']}")
        if facts.get("work_id"):
            scopes.add(work_scope(facts["work_id"]))
        if facts.get("place") == OUTDOORS and table == "placements":
            scopes.add(HOUSE)
        if facts.get("logger"):
            loggers.add(facts["logger"])
    return scopes | (logger_scopes(session, loggers) if loggers else set())
