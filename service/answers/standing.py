"""All works at a time: those that hang, by companions; those whose record is impossible."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from analysis.records.inspection_records import Inspection
from analysis.records.work_records import Hanging
from service.estimates.hanging_history import Companions, companions, stays_until
from service.estimates.record_problems import RecordProblem, phases_or_problem
from service.storage.inspections import inspections
from service.storage.register import Register
from service.storage.works import WorkRecord


@dataclass(frozen=True)
class Standing:
    """All works at a time: those that hang, by companions; those whose record is impossible."""

    groups: tuple[Companions, ...]
    impossible: tuple[tuple[WorkRecord, RecordProblem], ...]
    unplaced: tuple[WorkRecord, ...]


def standing(register: Register, records: Mapping[str, WorkRecord], at_utc: datetime) -> Standing:
    """Return all works of some records as they stand at a time."""
    hung, impossible, unplaced = [], [], []
    seen: dict[str, list[Inspection]] = {}
    for one in inspections(register):
        seen.setdefault(one.work_id, []).append(one)
    for work_id, record in records.items():
        inspected = seen.get(work_id, [])
        phased_work = phases_or_problem(record, inspected, at_utc)
        if isinstance(phased_work, RecordProblem):
            impossible.append((record, phased_work))
        elif stays_until(record.hangings, at_utc):
            hung.append(record)
        else:
            unplaced.append(record)
    return Standing(companions(hung, at_utc), tuple(impossible), tuple(unplaced))


def hung_together(hangings: Sequence[Hanging], at_utc: datetime) -> dict[str, dict[str, set[str]]]:
    """Return, by room, the works that hang there at a time, each with all rooms it has been in.

    Parameters
    ----------
    hangings : sequence of Hanging
        Of all works, in order of time.
    """
    every: dict[str, list[Hanging]] = defaultdict(list)
    for one in hangings:
        every[one.work_id].append(one)
    found: dict[str, dict[str, set[str]]] = defaultdict(dict)
    for work_id, own in every.items():
        if stays := stays_until(own, at_utc):
            found[stays[-1].room][work_id] = {stay.room for stay in stays}
    return found
