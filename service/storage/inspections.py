"""What people saw: short inspections, withdrawn with a reason but never deleted."""

from dataclasses import dataclass
from datetime import datetime

from analysis.errors import OutOfRangeError, UnknownNameError
from service.storage.records import find, put, values_of
from service.storage.register import Register
from service.storage.schema import InspectionRow

GRADES = (0, 1, 2, 3, 4)


@dataclass(frozen=True)
class Inspection:
    """One look at one work. ``withdrawn`` says why it no longer counts; "" when it counts.

    ``released``: True, a hinge was found loose; False, the edges were looked at and all hold; None,
    they were not looked at.
    """

    work_id: str
    at_utc: datetime
    grade: int
    wave_mm: float | None = None
    place: str = ""
    lamp_side: str = ""
    note: str = ""
    by: str = ""
    withdrawn: str = ""
    released: bool | None = None


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


def put_inspection(register: Register, inspection: Inspection, *, by: str = "") -> bool:
    """Add an inspection, or correct the one by the same person at the same time.

    Sending the same form twice changes nothing.

    Raises
    ------
    OutOfRangeError
        If the grade is not one of 0 to 4.
    StoreError
        If the register does not know the work.
    """
    if inspection.grade not in GRADES:
        raise OutOfRangeError(
            read=f"inspection of {inspection.work_id}",
            where="grade",
            found=str(inspection.grade),
            expected="a whole number from 0 to 4",
            action="Choose the grade again.",
        )
    values = values_of(inspection)
    key = {name: values.pop(name) for name in ("work_id", "at_utc", "by")}
    with register.writing() as session:
        return put(session, InspectionRow, key, values, by=by or inspection.by)


def withdraw_inspection(
    register: Register, work_id: str, at_utc: datetime, seen_by: str, *, why: str, by: str
) -> bool:
    """Take an inspection out of the count, with the reason; return whether that changed anything.

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
        return put(session, InspectionRow, key, {"withdrawn": why}, by=by)
