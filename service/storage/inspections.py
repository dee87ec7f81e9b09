"""What people saw: short inspections, withdrawn with a reason but never deleted."""

from datetime import datetime

from analysis.errors import UnknownNameError
from analysis.records.inspection_records import Inspection
from service.storage.records import find, put, put_record
from service.storage.register import Register
from service.storage.schema import InspectionRow


def inspections(
    register: Register, work_id: str | None = None, *, with_withdrawn: bool = False
) -> tuple[Inspection, ...]:
    """Return the inspections of one work, or of all, oldest first."""
    where = [] if work_id is None else [InspectionRow.work_id == work_id]
    if not with_withdrawn:
        where.append(InspectionRow.withdrawn == "")
    order = (InspectionRow.at_utc, InspectionRow.work_id, InspectionRow.by)
    with register.reading() as session:
        return find(session, Inspection, InspectionRow, *where, order=order)


def photographs_named(register: Register) -> set[str]:
    """Return the names of the photographs that belong to an inspection."""
    every = inspections(register, with_withdrawn=True)
    return {one.photograph for one in every if one.photograph}


def put_inspection(register: Register, inspection: Inspection, *, by: str = "") -> bool:
    """Add an inspection, or correct the one by the same person at the same time.

    Sending the same form twice changes nothing.

    Raises
    ------
    OutOfRangeError
        If what was seen is not as its fields are declared: a grade of 5, waves of -5 mm.
    StoreError
        If the register does not know the work.
    """
    return put_record(register, inspection, by=by)


def withdraw_inspection(
    register: Register, work_id: str, at_utc: datetime, seen_by: str, *, why: str, by: str
) -> bool:
    """Take an inspection out of the count, with the reason; return whether that changed anything.

    It keeps what was seen, but no photograph.

    Raises
    ------
    UnknownNameError
        If there is no such inspection.
    """
    with register.writing() as session:
        known = inspections(register, work_id, with_withdrawn=True)
        key = {"work_id": work_id, "at_utc": at_utc, "by": seen_by}
        if not any((i.at_utc, i.by) == (at_utc, seen_by) for i in known):
            raise UnknownNameError(
                read=f"inspections of {work_id}",
                name=f"{at_utc.isoformat()} by {seen_by}",
                known=[f"{i.at_utc.isoformat()} by {i.by}" for i in known],
            )
        gone = {"withdrawn": why, "photograph": ""}
        return put(session, InspectionRow, key, gone, by=by)
