"""Works judged hour by hour: what was found up to their last reading is kept in memory.

An hour that passes without a reading, a look or an entry changes nothing before the last reading:
it is told from there, to the bit as if the question were asked anew.
"""

import hashlib
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from service.estimates.assessments import Assessed, Later, assess_each, begin_each, go_on
from service.estimates.hanging_history import Companions
from service.estimates.last_reading import GOES_ON, Reached
from service.estimates.questions import questions
from service.estimates.record_problems import RecordProblem
from service.storage.inspections import inspections

if TYPE_CHECKING:
    from service.answers.museum import Museum

Found = list[Assessed | RecordProblem]


@dataclass
class _Kept:
    """Where a later hour goes on; None where nothing was carried, or something cannot be."""

    parts: list[Reached] | None


def assess_works(
    museum: "Museum", group: Companions, at_utc: datetime, detail: timedelta | None
) -> Found:
    """Return what can be said of works that have had the same air; see `Museum.assessed_over`.

    Without ``detail`` they have no ``air``, and later hours go on from what is found.
    """
    if detail is None:
        return _assess_hour(museum, group, at_utc)
    return _assess_over(museum, group, at_utc, detail)


def _assess_hour(museum: "Museum", group: Companions, at_utc: datetime) -> Found:
    fresh: list[Found] = []

    def begin() -> list[Reached] | None:
        found, parts = _begun(museum, group, at_utc)
        fresh.append(found)
        return parts

    kept = museum.cached(
        _name(museum, group, at_utc),
        lambda: _Kept(begin()),
        rooms={stay.room for stay in group.stays},
        works={work.work_id for work in group.works},
    )
    later = [] if fresh or kept.parts is None else _later(museum, kept.parts, at_utc)
    if later:
        return later
    if not fresh:
        kept.parts = begin()
    return fresh[0]


def _assess_over(museum: "Museum", group: Companions, at_utc: datetime, detail: timedelta) -> Found:
    found: Found = []
    for asked in questions(group, lambda part: museum.question(part, at_utc, detail)):
        if isinstance(asked, RecordProblem):
            found.append(asked)
        else:
            found += museum.engine.run(assess_each, museum.stores.results, asked)
    return found


def _later(museum: "Museum", parts: Sequence[Reached], at_utc: datetime) -> Found:
    """Return what can be said at an hour, going on from the last reading; empty: ask anew."""
    found: Found = []
    for one in parts:
        told = museum.engine.run(go_on, museum.stores.results, Later(one, at_utc))
        if told is None:
            return []
        found += told
    return found


def _begun(
    museum: "Museum", group: Companions, at_utc: datetime
) -> tuple[Found, list[Reached] | None]:
    """Return what can be said, and where later hours go on; where one cannot, the others do."""
    found: Found = []
    parts: list[Reached | None] = []
    for asked in questions(group, lambda part: museum.question(part, at_utc)):
        if isinstance(asked, RecordProblem):
            found.append(asked)
            parts.append(None)
            continue
        for one in museum.engine.run(begin_each, museum.stores.results, asked):
            found += [one] if isinstance(one, RecordProblem) else one.found
            parts.append(None if isinstance(one, RecordProblem) else one.reached)
    reached = [one for one in parts if one is not None]
    return found, reached if len(reached) == len(parts) else None


def _name(museum: "Museum", group: Companions, at_utc: datetime) -> Hashable:
    """Return a name for all that stands behind the last reading but what versions tell of.

    Versions tell of changes; what changes as time passes by itself is in the name: a reading, a
    look or a date of the register may lie ahead of the clock.
    """
    until = museum.seen_until(at_utc)
    looks = museum.cached("looks", lambda: _looks(museum), rooms=(), works=None)
    counted = [sum(at <= until for at in looks.get(one.work_id, ())) for one in group.works]
    facts = repr((group.stays, group.works, sorted(group.earlier.items()), counted))
    return (
        "last reading",
        hashlib.blake2b(facts.encode(), digest_size=16).hexdigest(),
        museum.presence(group.room, at_utc).read_out_utc,
        _cut(museum, group, at_utc),
        int(at_utc.timestamp() // GOES_ON.total_seconds()),
    )


def _looks(museum: "Museum") -> dict[str, list[datetime]]:
    """Return when each work was looked at."""
    found: dict[str, list[datetime]] = {}
    for one in inspections(museum.stores.register):
        found.setdefault(one.work_id, []).append(one.at_utc)
    return found


def _cut(museum: "Museum", group: Companions, at_utc: datetime) -> tuple[datetime, ...]:
    """Return at which instants readings are cut off; none where there is no later reading."""

    def last_of(room: str) -> datetime | None:
        reach = museum.reach(room)
        return None if reach is None else reach[1]

    ends = min(at_utc, museum.clock()), museum.clock()
    lasts = [last_of(room) for room in {stay.room for stay in group.stays}]
    outdoor = museum.whole_outdoor()
    lasts.append(None if outdoor is None else outdoor.index[-1].to_pydatetime())
    return ends if any(last is not None and last > ends[0] for last in lasts) else ()
