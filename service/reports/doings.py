"""What was done over a report's dates, and what waits for somebody at their end."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from analysis.records.house_records import CalendarEvent
from service.answers.museum import Museum
from service.reports.kept_hours import WorkHours
from service.storage.incidents import Incident, incidents
from service.storage.loggers import calibrations
from service.storage.notices import Notice, notices
from service.storage.places import calendar
from service.storage.works import Dated, WorkRecord, since, work_records


@dataclass(frozen=True)
class Changed:
    """A work whose grade was another at its last look than at the one before."""

    work_id: str
    title: str
    before: int
    after: int


@dataclass(frozen=True)
class Doings:
    """What was done over the dates.

    Parameters
    ----------
    looks, looked_at : int
        Looks, and works that were looked at.
    changed : sequence of Changed
        Works whose grade changed.
    notices : sequence of Notice
        Raised over something that began within the dates, or was raised within them.
    opened, closed : sequence of Incident
        Incidents opened and closed within the dates.
    waiting : sequence of Incident
        Incidents that were open at their end.
    actions : sequence of str
        What people wrote down of what they did in incidents.
    checked : sequence of str
        Loggers that were compared with a reference.
    mounted, framed, hung : sequence of str
        Titles of works that were mounted, framed, or hung anew.
    planned : sequence of CalendarEvent
        What the calendar holds.
    """

    looks: int
    looked_at: int
    changed: Sequence[Changed]
    notices: Sequence[Notice]
    opened: Sequence[Incident]
    closed: Sequence[Incident]
    waiting: Sequence[Incident]
    actions: Sequence[str]
    checked: Sequence[str]
    mounted: Sequence[str]
    framed: Sequence[str]
    hung: Sequence[str]
    planned: Sequence[CalendarEvent]

    @property
    def unseen(self) -> Sequence[Notice]:
        """The notices that nobody has seen, or nobody since they grew worse."""
        return [one for one in self.notices if one.unseen]


def doings(
    museum: Museum, works: Sequence[WorkHours], start_utc: datetime, end_utc: datetime
) -> Doings:
    """Return what was done over some dates."""
    register = museum.stores.register

    def within(*times: datetime | None) -> bool:
        return any(one is not None and start_utc <= one < end_utc for one in times)

    every = incidents(register)
    records = work_records(register).values()

    def titles(parts: Callable[[WorkRecord], Sequence[Dated]]) -> list[str]:
        return [r.print.title for r in records if within(*(since(one) for one in parts(r)))]

    return Doings(
        looks=sum(len(one.looks) for one in works),
        looked_at=sum(bool(one.looks) for one in works),
        changed=list(_changed(works)),
        notices=[one for one in notices(register) if within(one.since_utc, one.raised_utc)],
        opened=[one for one in every if within(one.opened_utc)],
        closed=[one for one in every if within(one.closed_utc)],
        waiting=[one for one in every if _waits(one, end_utc)],
        actions=list(_actions(every, start_utc, end_utc)),
        checked=sorted({one.logger for one in calibrations(register) if within(one.from_utc)}),
        mounted=titles(lambda record: record.mountings),
        framed=titles(lambda record: record.framings),
        hung=titles(lambda record: record.hangings),
        planned=calendar(register, None, start_utc, end_utc),
    )


def _changed(works: Iterable[WorkHours]) -> Iterable[Changed]:
    for one in works:
        seen = [*([one.before] if one.before else []), *one.looks]
        if one.looks and len(seen) > 1 and seen[0].grade != seen[-1].grade:
            yield Changed(one.work_id, one.title, seen[0].grade, seen[-1].grade)


def _waits(one: Incident, end_utc: datetime) -> bool:
    closed = one.closed_utc is not None and one.closed_utc < end_utc
    return one.opened_utc < end_utc and not closed


def _actions(every: Iterable[Incident], start_utc: datetime, end_utc: datetime) -> Iterable[str]:
    """Yield what people did, without their names, in order of time."""
    lines = [line for one in every for line in one.details.get("actions", ())]
    within = [
        line for line in lines if start_utc <= datetime.fromisoformat(line["at_utc"]) < end_utc
    ]
    for line in sorted(within, key=lambda line: str(line["at_utc"])):
        yield str(line["text"])
