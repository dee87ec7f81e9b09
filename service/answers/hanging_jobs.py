"""Where to hang a whole collection: a job that the register remembers, worked out room by room.

What a room's year would be to each work is kept as soon as the room is done, so that a job whose
process was killed goes on with the rooms that are left, and comes to the same.
"""

import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from analysis.planning.hanging import HangingTable, Place, hanging_table
from analysis.planning.year import LookFirst
from analysis.works import Mount, Wall
from dashboards.text.messages import _
from service.answers.museum import Museum
from service.answers.planning import Hung, hanging_of, works_now
from service.jobs import OthersFirstError, Task, Work
from service.storage.job_records import (
    GIVES_WAY,
    JobRecord,
    JobState,
    jobs_of,
    others_first,
    put_job,
)
from service.storage.register import Register
from service.storage.results import Result
from service.storage.works import prints

PLAN_HANGING = f"{GIVES_WAY}hanging"
LARGE = 5000  # works times walls of rooms; more are a job
DRAWS = 20  # of each work in a job; a single work, or few, are worked out with all


@dataclass(frozen=True)
class Asked:
    """Which works on which walls of which rooms; all works or rooms where none is named."""

    works: tuple[str, ...] = ()
    rooms: tuple[str, ...] = ()
    walls: tuple[str, ...] = (Wall.INSIDE.value,)

    @property
    def name(self) -> str:
        """The name under which its table is kept."""
        return "hanging table/" + hashlib.sha256(json.dumps(asdict(self)).encode()).hexdigest()[:24]


def is_large(museum: Museum, asked: Asked) -> bool:
    """Whether so much is asked for that it is a job."""
    many = len(asked.works) or len(prints(museum.stores.register))
    rooms = len(asked.rooms) or len(museum.rooms())
    return many * rooms * len(asked.walls) > LARGE


def draws_of_job(museum: Museum) -> int:
    """Return how many draws a job gives each work."""
    return min(DRAWS, museum.settings.draws)


def latest_job(register: Register, asked: Asked) -> JobRecord | None:
    """Return the last job of the same question, or None."""
    found = [
        job
        for job in jobs_of(register, kind=PLAN_HANGING)
        if job.arguments["asked"] == _plain(asked)
    ]
    return found[-1] if found else None


def begin_job(museum: Museum, asked: Asked) -> JobRecord:
    """Write a job down, or return the one that is in hand already for the same question."""
    register = museum.stores.register
    with register.writing():
        known = latest_job(register, asked)
        if known is not None and not known.over:
            return known
        arguments = {"asked": _plain(asked), "draws": draws_of_job(museum)}
        return put_job(register, PLAN_HANGING, _("Where to hang the works?"), arguments)


def _plain(asked: Asked) -> dict[str, list[str]]:
    return {name: list(values) for name, values in asdict(asked).items()}


def asked_of(job: JobRecord) -> Asked:
    """Return what a job is about."""
    return Asked(**{name: tuple(values) for name, values in job.arguments["asked"].items()})


def hanging_work(museum: Museum, told: Callable[[str], None] | None = None) -> Work:
    """Return what is done for such a job; others go before it, between two rooms.

    ``told`` hears how far it is, as the register does: a command of its own keeps nobody waiting.
    """

    def work(task: Task) -> Mapping[str, Any]:
        asked = asked_of(task.record)

        def tell(words: str) -> None:
            if told is None and others_first(museum.stores.register):
                raise OthersFirstError
            task.step(words)
            if told is not None:
                told(words)

        as_of = museum.versions().newest
        found = hanging_of(
            museum,
            asked.works,
            asked.rooms,
            [Wall(one) for one in asked.walls],
            draws=task.record.arguments["draws"],
            tell=tell,
        )
        _keep(museum, asked, task.record.job_id, found)
        return {"as_of": as_of, "works": len(found.works), "places": len(found.years)}

    return work


def _keep(museum: Museum, asked: Asked, job_id: str, found: Hung) -> None:
    years = [
        [place.room, place.wall.value, {work: asdict(one) for work, one in years.items()}]
        for place, years in found.years.items()
    ]
    facts = {"years": years, "rooms_now": dict(found.rooms_now)}
    museum.stores.results.save(asked.name, job_id, Result(facts=facts))


def kept_table(museum: Museum, job: JobRecord) -> HangingTable | None:
    """Return the table that a job came to; None where it is not kept any more."""
    stored = museum.stores.results.load(asked_of(job).name, job.job_id)
    if job.state != JobState.DONE or stored is None:
        return None
    found = {
        Place(room, Wall(wall)): {work: LookFirst(**one) for work, one in years.items()}
        for room, wall, years in stored.facts["years"]
    }
    rooms_now = stored.facts["rooms_now"]
    told = set[str]().union(*found.values())
    works = works_now(museum, rooms_now)
    known = [one for one in works if one.work_id in told or one.mount is not Mount.TENSION_HELD]
    return hanging_table(known, found, rooms_now)


def is_old(museum: Museum, job: JobRecord) -> bool:
    """Whether anything has changed in the house since a job began."""
    return job.result is not None and job.result["as_of"] != museum.versions().newest
