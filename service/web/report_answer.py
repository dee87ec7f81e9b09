"""What the JSON interface answers about dates as a whole, and about journeys, as models."""

from datetime import date, datetime

from pydantic import Field

from service.web.responses import Answer, Chance


class AirOverOut(Answer):
    """A room's air over dates; numbers are null where nothing was measured."""

    outcome: str | None = Field(description="met, not met or cannot tell; null: no band")
    outside_pct: float | None = Field(description="Of the time judged, beyond the uncertainty")
    longest_outside_h: float | None
    measured_pct: dict[str, float] = Field(description="Of the dates, by quantity")
    mean_rh_pct: float | None
    low_rh_pct: float | None = Field(description="5 % of the time below")
    high_rh_pct: float | None = Field(description="95 % of the time below")


class RoomDatesOut(AirOverOut):
    """A room over the dates, and over the same dates of the year before."""

    room: str
    name: str
    band: str | None
    a_year_before: AirOverOut
    loggers_unchecked: list[str]


class ExcursionOut(Answer):
    """An excursion of a room's air, and the hours of likely waves that belong to it."""

    room: str
    kind: str
    since_utc: datetime
    until_utc: datetime | None
    from_value: float | None
    peak_value: float | None
    likely_cause: str
    in_the_calendar: str
    incident: int | None
    hours_by_work: dict[str, int]


class WorkHoursOut(Answer):
    """A work over the dates; hours are those in the house."""

    work_id: str
    title: str
    room: str | None
    listing: str = Field(description="At the end of the dates")
    waves_h: int = Field(description="In which waves were likelier than not")
    told_h: int
    untold_h: int
    highest_chance: Chance
    grades: list[int]


class TableOut(Answer):
    """A table in words."""

    headings: list[str]
    rows: list[list[str]]
    caption: str
    figures: list[int]
    marks: list[str]


class StayOut(Answer):
    """A stay of a journey; numbers are null where nothing was measured or can be told."""

    room: str
    name: str
    kind: str = Field(description="home, crate or away")
    from_utc: datetime
    to_utc: datetime | None
    left_utc: datetime | None
    arrived_utc: datetime | None
    opened_utc: datetime | None
    measured_pct: float = Field(description="Of the stay, by readings of humidity")
    air_rh_pct: tuple[float | None, float | None] = Field(description="5 and 95 % of the time")
    print_rh_pct: tuple[float | None, float | None] = Field(description="Lowest and highest end")
    waves_h: int = Field(description="In which waves were likelier than not")
    highest_chance: Chance
    untold_h: int
    gaps_utc: list[tuple[datetime, datetime]] = Field(description="Without a reading")


class JourneyOut(Answer):
    """A journey of a work: figures, and the same in words."""

    work_id: str
    title: str
    since_utc: datetime = Field(description="Some days before it left its room")
    until_utc: datetime
    over: bool = Field(description="False: it is not back")
    listing: str = Field(description="At the end of it")
    answer: str
    stays: list[StayOut]
    table: TableOut
    sentences: list[str]


class ReportPartOut(Answer):
    """A part of the report in words."""

    key: str
    heading: str
    sentences: list[str]
    table: TableOut | None
    how: str


class ReportOut(Answer):
    """A month, a quarter or other dates: figures, and the same in words."""

    first: date
    last: date
    over: bool = Field(description="False: told up to now")
    rooms: list[RoomDatesOut]
    excursions: list[ExcursionOut]
    works: list[WorkHoursOut]
    excursion_work_hours: int
    other_work_hours: int
    away_work_hours: int = Field(description="In crates and other houses")
    looks: int
    notices: int
    notices_unseen: int
    incidents_opened: int
    incidents_closed: int
    incidents_open_at_end: list[int]
    reader: str = Field(alias="for")
    question: str
    answer: str
    summary: list[str]
    asks: list[tuple[str, str]]
    parts: list[ReportPartOut]
    cautions: list[str]
