"""Incidents: something that happened to a room, from opening to lesson."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from analysis.errors import UnknownNameError
from service.storage.records import find, put, values_of
from service.storage.register import Register
from service.storage.schema import IncidentRow


@dataclass(frozen=True)
class Incident:
    """The record of an incident.

    ``cause_state`` is known, suspected or unknown. ``details`` holds plain values: peak, rate,
    second instrument, people told, actions with times, works present, inspection results.
    """

    room: str
    opened_utc: datetime
    opened_by: str
    noticed: str = ""
    first_utc: datetime | None = None
    last_utc: datetime | None = None
    cause: str = ""
    cause_state: str = "unknown"
    details: Mapping[str, Any] = field(default_factory=dict)
    closed_utc: datetime | None = None
    closed_by: str = ""
    lesson: str = ""
    id: int = 0


def incidents(register: Register, room: str | None = None) -> tuple[Incident, ...]:
    """Return the incidents of one room, or of all, newest first."""
    where = [] if room is None else [IncidentRow.room == room]
    order = (IncidentRow.opened_utc.desc(), IncidentRow.id.desc())
    with register.reading() as session:
        return find(session, Incident, IncidentRow, *where, order=order)


def incident(register: Register, number: int) -> Incident:
    """Return one incident.

    Raises
    ------
    UnknownNameError
        If there is none of that number.
    """
    found = {one.id: one for one in incidents(register)}
    if number not in found:
        raise UnknownNameError(
            read="incidents", name=str(number), known=[str(known) for known in found]
        )
    return found[number]


def change_incident(register: Register, number: int, *, by: str, **changes: Any) -> Incident:
    """Change an incident by its number; ``details`` are added to those that stand there."""
    before = incident(register, number)
    details = {**before.details, **changes.pop("details", {})}
    put_incident(register, replace(before, details=details, **changes), by=by)
    return incident(register, number)


def put_incident(register: Register, incident: Incident, *, by: str) -> bool:
    """Open an incident, or change the one of the same room and opening."""
    values = values_of(incident)
    values["details"] = dict(incident.details)
    del values["id"]
    key = {name: values.pop(name) for name in ("room", "opened_utc")}
    with register.writing() as session:
        return put(session, IncidentRow, key, values, by=by)
