"""What a month, a quarter or other dates brought: one set of facts for page, paper and JSON."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from analysis.limits.lenders_terms import Kept
from analysis.records.house_records import EventKind
from analysis.results import Listing
from service.answers.museum import Museum
from service.reports.doings import Doings, doings
from service.reports.excursions import Excursion, excursions
from service.reports.kept_hours import WorkHours
from service.reports.period import Period
from service.reports.room_dates import RoomDates, room_dates
from service.reports.works_hours import works_hours

PLANT = (EventKind.PLANT, EventKind.WORKS)


@dataclass(frozen=True)
class PeriodReport:
    """All that a report of some dates is made of; ``made_utc`` is when it was asked for."""

    dates: Period
    zone: str
    made_utc: datetime
    rooms: Sequence[RoomDates]
    works: Sequence[WorkHours]
    excursions: Sequence[Excursion]
    done: Doings

    def listed(self, *which: Listing) -> list[WorkHours]:
        """Return the works that stand in some lists at the end of the dates."""
        return [one for one in self.works if one.listing in which]

    @property
    def costing(self) -> Mapping[str, list[Excursion]]:
        """The excursions by what is on record of them: ``plant``, ``planned``, ``unknown``."""
        found: dict[str, list[Excursion]] = {"plant": [], "planned": [], "unknown": []}
        for one in self.excursions:
            plant = one.entry is not None and one.entry.kind in PLANT
            found["plant" if plant else "planned" if one.explained else "unknown"].append(one)
        return found

    @property
    def by_outcome(self) -> Mapping[Kept | None, list[RoomDates]]:
        """The rooms by whether they kept to their bands; None: those without one."""
        found: dict[Kept | None, list[RoomDates]] = {}
        for one in self.rooms:
            found.setdefault(None if one.now.band is None else one.now.kept, []).append(one)
        return found

    @property
    def excursion_hours(self) -> int:
        """Hours of likely waves that belong to an excursion, summed over works."""
        return sum(one.work_hours for one in self.excursions)

    @property
    def other_hours(self) -> int:
        """Hours of likely waves in this house that belong to none."""
        here = sum(one.waves_h for one in self.works) - self.away_hours
        return here - self.excursion_hours

    @property
    def away_hours(self) -> int:
        """Hours of likely waves in crates and other houses."""
        own = {one.room.room for one in self.rooms}
        return sum(s.hours for one in self.works for s in one.spells if s.room not in own)

    @property
    def untold(self) -> list[WorkHours]:
        """Works of some of whose hours nothing is told, though an estimate covers them."""
        covered = [one for one in self.works if one.listing is not Listing.NOT_COVERED]
        return [one for one in covered if one.untold_h]


def period_report(museum: Museum, asked: Period) -> PeriodReport:
    """Return the report of some dates, up to the present where they are not over."""
    now = museum.clock()
    dates = asked.so_far(now, museum.zone)
    name = ("report", dates, museum.now())
    return museum.cached(name, lambda: _report(museum, dates))


def _report(museum: Museum, dates: Period) -> PeriodReport:
    start, end = dates.start_utc, dates.end_utc
    works = works_hours(museum, start, dates.closes_utc)
    return PeriodReport(
        dates=dates,
        zone=museum.zone,
        made_utc=museum.clock(),
        rooms=[room_dates(museum, room, dates) for room in museum.rooms()],
        works=works,
        excursions=excursions(museum, works, start, end),
        done=doings(museum, works, start, dates.closes_utc),
    )
