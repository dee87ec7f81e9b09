"""Tables of the register: places, loggers, and what was going on."""

from datetime import datetime

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from service.storage.tables import Table, reference


class SiteRow(Table):
    """A building or campus with one time zone and one altitude."""

    __tablename__ = "sites"
    site: Mapped[str] = mapped_column(primary_key=True)
    name: Mapped[str]
    zone: Mapped[str]
    altitude_m: Mapped[float]
    note: Mapped[str]


class RoomRow(Table):
    """A gallery, a store, or another space with its own air."""

    __tablename__ = "rooms"
    room: Mapped[str] = mapped_column(primary_key=True)
    site: Mapped[str] = mapped_column(reference("sites.site"))
    name: Mapped[str]
    outside_walls: Mapped[str]
    store: Mapped[bool]
    note: Mapped[str]


class BandRow(Table):
    """An agreed band of a room; the newest that has begun holds."""

    __tablename__ = "bands"
    id: Mapped[int] = mapped_column(primary_key=True)
    room: Mapped[str] = mapped_column(reference("rooms.room"), index=True)
    band_name: Mapped[str]
    rh_low_pct: Mapped[float | None]
    rh_high_pct: Mapped[float | None]
    temp_low_c: Mapped[float | None]
    temp_high_c: Mapped[float | None]
    band_owner: Mapped[str]
    band_since: Mapped[datetime | None]
    band_review: Mapped[datetime | None]
    __table_args__ = (UniqueConstraint("room", "band_since"),)


class LoggerRow(Table):
    """An instrument that records temperature and humidity."""

    __tablename__ = "loggers"
    logger: Mapped[str] = mapped_column(primary_key=True)
    description: Mapped[str]
    zone: Mapped[str]
    interval_s: Mapped[float | None]
    note: Mapped[str]


class PlacementRow(Table):
    """Where a logger hung, from when to when."""

    __tablename__ = "placements"
    id: Mapped[int] = mapped_column(primary_key=True)
    logger: Mapped[str] = mapped_column(reference("loggers.logger"), index=True)
    room: Mapped[str] = mapped_column(reference("rooms.room"), index=True)
    from_utc: Mapped[datetime | None]
    to_utc: Mapped[datetime | None]
    place: Mapped[str]
    work_id: Mapped[str | None] = mapped_column(reference("works.work_id"))
    position: Mapped[str]
    note: Mapped[str]
    __table_args__ = (
        UniqueConstraint("logger", "from_utc"),
        CheckConstraint("to_utc > from_utc", name="ends_after_it_begins"),
    )


class CalibrationRow(Table):
    """A dated correction: one point is an offset, two points a straight line."""

    __tablename__ = "calibrations"
    id: Mapped[int] = mapped_column(primary_key=True)
    logger: Mapped[str] = mapped_column(reference("loggers.logger"), index=True)
    channel: Mapped[str]
    from_utc: Mapped[datetime | None]
    read_1: Mapped[float]
    true_1: Mapped[float]
    read_2: Mapped[float | None]
    true_2: Mapped[float | None]
    uncertainty: Mapped[float | None]
    by: Mapped[str]
    reference: Mapped[str]
    note: Mapped[str]
    __table_args__ = (
        UniqueConstraint("logger", "channel", "from_utc"),
        CheckConstraint("channel IN ('temp_c', 'rh_pct')", name="channel_known"),
    )


class EventRow(Table):
    """What people know was going on: openings, cleaning, works, plant, closures."""

    __tablename__ = "events"
    id: Mapped[int] = mapped_column(primary_key=True)
    site: Mapped[str] = mapped_column(reference("sites.site"))
    room: Mapped[str | None] = mapped_column(reference("rooms.room"), index=True)
    kind: Mapped[str]
    from_utc: Mapped[datetime]
    to_utc: Mapped[datetime | None]
    title: Mapped[str]
    note: Mapped[str]
    __table_args__ = (UniqueConstraint("site", "room", "kind", "from_utc"),)
