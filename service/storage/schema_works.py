"""Tables of the register: works, their mounts and frames, where they hung, what people saw."""

from datetime import datetime

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from service.storage.tables import Table, reference


class WorkRow(Table):
    """The print itself."""

    __tablename__ = "works"
    work_id: Mapped[str] = mapped_column(primary_key=True)
    title: Mapped[str]
    width_mm: Mapped[float]
    height_mm: Mapped[float]
    paper: Mapped[str]
    finish: Mapped[str]
    grain: Mapped[str]
    on_loan: Mapped[bool]
    note: Mapped[str]
    __table_args__ = (CheckConstraint("width_mm > 0 AND height_mm > 0", name="has_a_size"),)


class MountRow(Table):
    """How the print has been held since a date."""

    __tablename__ = "mounts"
    id: Mapped[int] = mapped_column(primary_key=True)
    work_id: Mapped[str] = mapped_column(reference("works.work_id"), index=True)
    mounted_utc: Mapped[datetime | None]
    mount: Mapped[str]
    panel: Mapped[str]
    adhesive: Mapped[str]
    hinge_free_length_mm: Mapped[float | None]
    hinge_coverage: Mapped[float | None]
    mounted_rh_pct: Mapped[float | None]
    mounted_temp_c: Mapped[float | None]
    by: Mapped[str]
    note: Mapped[str]
    __table_args__ = (UniqueConstraint("work_id", "mounted_utc"),)


class FrameRow(Table):
    """The frame around the print since a date."""

    __tablename__ = "frames"
    id: Mapped[int] = mapped_column(primary_key=True)
    work_id: Mapped[str] = mapped_column(reference("works.work_id"), index=True)
    closed_utc: Mapped[datetime | None]
    frame: Mapped[str]
    closing_rh_pct: Mapped[float | None]
    spacer_mm: Mapped[float | None]
    glazing: Mapped[str]
    conditioned: Mapped[bool]
    by: Mapped[str]
    note: Mapped[str]
    __table_args__ = (UniqueConstraint("work_id", "closed_utc"),)


class HangingRow(Table):
    """Where the work hung, from when to when."""

    __tablename__ = "hangings"
    id: Mapped[int] = mapped_column(primary_key=True)
    work_id: Mapped[str] = mapped_column(reference("works.work_id"), index=True)
    room: Mapped[str] = mapped_column(reference("rooms.room"), index=True)
    from_utc: Mapped[datetime | None]
    to_utc: Mapped[datetime | None]
    wall: Mapped[str]
    sun_or_spot: Mapped[bool]
    position: Mapped[str]
    note: Mapped[str]
    __table_args__ = (
        UniqueConstraint("work_id", "from_utc"),
        CheckConstraint("to_utc > from_utc", name="ends_after_it_begins"),
    )


class OverrideRow(Table):
    """A number a person measured for one work, in place of the table's; withdrawn, not deleted."""

    __tablename__ = "overrides"
    id: Mapped[int] = mapped_column(primary_key=True)
    work_id: Mapped[str] = mapped_column(reference("works.work_id"), index=True)
    name: Mapped[str]
    value: Mapped[float]
    low: Mapped[float]
    high: Mapped[float]
    origin: Mapped[str]
    from_utc: Mapped[datetime | None]
    withdrawn: Mapped[str]
    withdrawn_utc: Mapped[datetime | None]
    __table_args__ = (
        UniqueConstraint("work_id", "name", "from_utc"),
        CheckConstraint("low <= value AND value <= high", name="value_in_its_range"),
    )


class InspectionRow(Table):
    """What a person saw; withdrawn with a reason, never deleted."""

    __tablename__ = "inspections"
    id: Mapped[int] = mapped_column(primary_key=True)
    work_id: Mapped[str] = mapped_column(reference("works.work_id"), index=True)
    at_utc: Mapped[datetime]
    grade: Mapped[int]
    wave_mm: Mapped[float | None]
    released: Mapped[bool | None]
    place: Mapped[str]
    lamp_side: Mapped[str]
    note: Mapped[str]
    by: Mapped[str]
    withdrawn: Mapped[str]
    __table_args__ = (
        UniqueConstraint("work_id", "at_utc", "by"),
        CheckConstraint("grade BETWEEN 0 AND 4", name="grade_0_to_4"),
    )
