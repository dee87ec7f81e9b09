"""The register's dated mountings, framings, hangings and measured values → a work's phases."""

from datetime import datetime, timedelta

from analysis.simulation.phases import Phase
from analysis.works import Work
from service.storage.works import Dated, WorkRecord, as_work, since

A_MOMENT = timedelta(seconds=1)


def life_until(record: WorkRecord, at_utc: datetime) -> tuple[Work, tuple[Phase, ...]]:
    """Return a work as it is at a time, and how it was before, oldest first.

    What the register dates after that time is left aside. Dates at which nothing changes that the
    calculations use, as when a work is hung on a wall of the same kind, begin no phase.
    """
    now = as_work(record, at_utc)
    dates = [] if _never_changed(record) else _dates(record, at_utc)
    if not dates:
        return now, ()
    works = [as_work(record, date) for date in [dates[0] - A_MOMENT, *dates[:-1]]]
    phases: list[Phase] = []
    for work, until, following in zip(works, dates, [*works[1:], now], strict=True):
        if work != following:
            phases.append(Phase(work, until))
    return now, tuple(phases)


def _never_changed(record: WorkRecord) -> bool:
    """Whether there is one mounting, framing and hanging at most: before it began it was so too."""
    parts = (record.mountings, record.framings, record.hangings)
    return not record.measured and all(len(items) <= 1 for items in parts)


def _dates(record: WorkRecord, at_utc: datetime) -> list[datetime]:
    """Return when anything about a work began, up to a time, in order."""
    parts: list[Dated] = [*record.mountings, *record.framings, *record.hangings, *record.measured]
    begun = {date for date in map(since, parts) if date is not None}
    return sorted(date for date in begun if date <= at_utc)
