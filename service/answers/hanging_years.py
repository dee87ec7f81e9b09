"""Works in rooms they do not hang in: the shares of the last year, kept until something changes.

A result holds one wall of one room; a work is worked out again when it, or what was learned of it,
has changed, and all works are when the room's air has.
"""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

import numpy as np

from analysis.air.room_air import RoomAir
from analysis.answers.judgement import JudgementLimits
from analysis.learning.posterior import Learned
from analysis.planning.hanging import look_first_at
from analysis.planning.year import LookFirst
from analysis.simulation.pasts import pasts_of
from analysis.works import Mount, Wall, Work
from service.estimates.fingerprints import air_between, work_facts
from service.storage.results import Result
from service.storage.stores import Stores

LIMITS = JudgementLimits()


@dataclass(frozen=True)
class Candidate:
    """A work to be hung, the room it hangs in now ("" where in none), and what was learned."""

    work: Work
    room_id: str
    learned: Learned | None


@dataclass(frozen=True)
class RoomYear:
    """A room's air, the instant from which its hours count, and the number of draws."""

    room_id: str
    air: RoomAir
    counted_from: datetime
    draws: int

    @property
    def inputs(self) -> str:
        """A name for what all years in the room rest on."""
        air = air_between(self.air, 0, self.air.hours)
        past = pasts_of(self.air).digest + repr(self.air.checked_utc)
        return "/".join((air, past, str(self.counted_from), str(self.draws), repr(LIMITS)))


def hanging_years(
    stores: Stores, candidates: Sequence[Candidate], year: RoomYear, wall: Wall
) -> dict[str, LookFirst]:
    """Return, by work, what a room's last year would have been to it on a wall of that room."""
    name, inputs = result_name(year.room_id, wall), year.inputs
    held = [one for one in candidates if one.work.mount is Mount.TENSION_HELD]
    facts = {one.work.work_id: _facts(one, year.room_id) for one in held}
    stored = stores.results.load(name, inputs)
    known: dict[str, Any] = dict(stored.facts) if stored else {}
    missing = [
        one for one in held if known.get(one.work.work_id, {}).get("of") != facts[one.work.work_id]
    ]
    if missing:
        new = _worked_out(missing, year, wall)
        known |= {key: {"of": facts[key], **asdict(found)} for key, found in new.items()}
        stores.results.save(name, inputs, Result(facts=known))
    return {work_id: _from_facts(known[work_id]) for work_id in facts}


def result_name(room_id: str, wall: Wall) -> str:
    """Return the name under which the years on a wall of a room are kept."""
    return f"hanging/{room_id}/{wall.value}"


def _worked_out(missing: Sequence[Candidate], year: RoomYear, wall: Wall) -> dict[str, LookFirst]:
    return look_first_at(
        [one.work for one in missing],
        year.air,
        wall,
        n=year.draws,
        learned={one.work.work_id: one.learned for one in missing if one.learned is not None},
        at_home=[one.work.work_id for one in missing if one.room_id == year.room_id],
        counted_from=year.counted_from,
        limits=LIMITS,
    )


def _facts(one: Candidate, room_id: str) -> str:
    """Return a name for everything about a work that its year in a room rests on."""
    made = hashlib.blake2b(work_facts(one.work).encode(), digest_size=16)
    made.update(str(one.room_id == room_id).encode())
    if one.learned is not None:
        for array in (one.learned.weights, *one.learned.levels.values()):
            made.update(np.ascontiguousarray(array).tobytes())
    return made.hexdigest()


def _from_facts(stored: Mapping[str, Any]) -> LookFirst:
    return LookFirst(**{name: value for name, value in stored.items() if name != "of"})
