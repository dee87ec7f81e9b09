"""What is asked of works that have had the same air, with all that the answer rests on.

A question is read from the stores once. It holds arrays and facts alone, so that another process,
or another machine, answers it without a register and without readings.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import pandas as pd

from analysis.air.room_air import RoomAir
from analysis.records.inspection_records import Inspection
from analysis.simulation.checkpoints import instant
from analysis.simulation.phases import Phase, lasting_after, mounted_since
from analysis.works import Mount, Work
from service.climate.room_readings import RoomReadings
from service.estimates.hanging_history import Companions, air_of_works, with_the_year_before
from service.estimates.record_problems import NOT_COMPUTED, RecordProblem
from service.storage.inspections import inspections
from service.storage.stores import Stores

# History in detail before the time asked for: the week that is judged, and a day before it.
DETAIL = timedelta(days=8)
WEEK = timedelta(days=7)
HOUR = timedelta(hours=1)


@dataclass(frozen=True)
class Question:
    """Which works are asked about, at which hour, in which air and after which looks.

    Parameters
    ----------
    group : Companions
        The works, with the year before their mounting where nobody measured.
    at_utc : datetime
        The hour to judge.
    seen : mapping of str to sequence of Inspection
        By work, the looks that count, oldest first.
    air : RoomAir or None
        What they hung in by the hour, up to the last usable reading; None: there is too little.
    draws : int
        How many draws each work has.
    elsewhere : bool
        Whether they are in a crate or in another house now.
    detail : timedelta
        How much history before that hour is worked out in detail.
    read_out_utc : datetime or None
        From when on the latest read-out of their room told anything new.
    """

    group: Companions
    at_utc: datetime
    seen: Mapping[str, Sequence[Inspection]]
    air: RoomAir | None
    draws: int
    elsewhere: bool = False
    detail: timedelta = DETAIL
    read_out_utc: datetime | None = None

    @classmethod
    def read(
        cls,
        stores: Stores,
        group: Companions,
        readings: Mapping[str, RoomReadings],
        at_utc: datetime,
        *,
        outdoor: pd.DataFrame | None = None,
        draws: int = 200,
        detail: timedelta = DETAIL,
        seen_until: datetime | None = None,
        read_out_utc: datetime | None = None,
    ) -> "Question":
        """Return a question with what the stores hold of it.

        Parameters
        ----------
        readings : mapping of str to RoomReadings
            Room → its readings, for every room of the group's stays; later ones are left aside.
        outdoor : pandas.DataFrame, optional
            Outdoor readings, for works on outside walls.
        seen_until : datetime, optional
            Inspections after it are not looked at; default: the hour to judge.
        """
        group = with_the_year_before(group, readings, at_utc)
        until = seen_until or at_utc
        return cls(
            group,
            at_utc,
            {work.work_id: counted_looks(stores, work, until) for work in group.works},
            air_of_works(group, readings, at_utc, outdoor),
            draws,
            readings[group.room].elsewhere,
            detail,
            read_out_utc,
        )

    def each(self) -> "list[Question]":
        """Return the same, asked of the works one by one."""
        return [replace(self, group=alone) for alone in self.group.each()]

    @property
    def held(self) -> list[Work]:
        """The works held by tension."""
        return [work for work in self.group.works if work.mount is Mount.TENSION_HELD]

    @property
    def before(self) -> dict[str, tuple[Phase, ...]]:
        """The phases of works since their air began, before the present one."""
        begun = instant(self._air().time_utc[0])
        return {key: lasting_after(phases, begun) for key, phases in self.group.earlier.items()}

    def since_utc(self, work: Work) -> datetime:
        """Return since when it counts what was so: the last look or read-out, the earlier one.

        Of a work that nobody has looked at it counts since the record began or it was mounted.
        """
        air = self._air()
        begun = [instant(air.time_utc[0]), self.mounted(work)]
        first = max(when for when in begun if when is not None)
        counted = self.seen[work.work_id]
        if not counted:
            return first
        last = instant(air.time_utc[-1])
        read_out = last - WEEK if self.read_out_utc is None else self.read_out_utc
        return max(first, min(counted[-1].at_utc, read_out, last - HOUR))

    def mounted(self, work: Work) -> datetime | None:
        """Return when a work was mounted anew as it is."""
        return mounted_since(work, self.group.earlier.get(work.work_id, ()))

    def _air(self) -> RoomAir:
        assert self.air is not None
        return self.air


def questions(
    group: Companions, read: Callable[[Companions], Question]
) -> list[Question | RecordProblem]:
    """Return the question of a group; where it cannot be put, one of each work that can.

    Parameters
    ----------
    read : callable
        How a question of some of the works is read.
    """
    try:
        return [read(group)]
    except NOT_COMPUTED as problem:
        if len(group.works) > 1:
            return [one for alone in group.each() for one in questions(alone, read)]
        return [RecordProblem.of(group.works[0].work_id, problem)]


def counted_looks(stores: Stores, work: Work, until: datetime | None) -> list[Inspection]:
    """Return the inspections of a work up to a time, oldest first; withdrawn ones do not count."""
    every = inspections(stores.register, work.work_id)
    return [one for one in every if until is None or one.at_utc <= until]
