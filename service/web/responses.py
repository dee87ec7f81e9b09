"""What the JSON interface answers, as models: OpenAPI describes these, and nothing else comes back.

Times are UTC with offset, relative humidity is in per cent, a chance lies between 0 and 1. A number
that is not known is null.
"""

from datetime import datetime
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

Chance = Annotated[float | None, Field(ge=0.0, le=1.0)]


class Answer(BaseModel):
    """What every answer has in common.

    A value that a newer part of the program adds passes through; a test holds that none does so
    without being described here.
    """

    model_config = ConfigDict(extra="allow")


class Span(Answer):
    """The 5, 50 and 95 % points of a quantity."""

    low: float | None
    mid: float | None
    high: float | None


class RoomOut(Answer):
    """A room that has readings."""

    room: str
    name: str
    store: bool = Field(description="A store, not a gallery")


class EventOut(Answer):
    """A swing, excursion, spike, step or silence in a room's air."""

    kind: str
    channel: str
    start_utc: datetime
    peak_utc: datetime
    end_utc: datetime
    size: float | None
    cause: str
    over: bool


class LeadTimeOut(Answer):
    """Hours until the chance of visible waves passes one half."""

    if_room_stays_h: float | None
    if_trend_goes_on_h: float | None
    horizon_h: float


class SinceOut(Answer):
    """What was so since the last look or the last read-out, whichever is longer ago."""

    since_utc: datetime
    inspected: bool
    shown_utc: tuple[datetime, datetime] | None
    beyond_utc: datetime | None
    p_low: Chance
    p_high: Chance


class JudgementOut(Answer):
    """Where a work belongs, and why."""

    work_id: str
    title: str
    listing: str
    state: str
    at_utc: datetime
    p_visible_now: Chance
    p_visible_week: Chance
    p_clearance: Chance
    p_hinges: Chance
    headroom_up_pct: Span | None
    headroom_down_pct: Span | None
    headroom_quick_pct: Span | None = Field(description="Of a spike, which the panel lags behind")
    headroom_dry_pct: Span | None = Field(description="Before a shrinking panel slackens the print")
    print_rh_pct: Span | None
    lead_time: LeadTimeOut | None
    reason: str
    chain: list[tuple[str, str]]
    condition: str
    look_again_utc: datetime | None
    what_would_mend: str
    because: list[str] = Field(description="Why it stands in its list, as keys")
    cause: str | None = Field(description="What slackened it or would, or null")
    refusal: str = Field(description="Key of the reason for which nothing is told, or empty")
    missing: list[str] = Field(description="Facts of the register without which less is told")
    order_key: list[float | None]
    since: SinceOut | None
    known_until_utc: datetime | None


class AnsweredOut(JudgementOut):
    """What is said of one work now, and what was said last where nothing holds now."""

    last_answer: str = Field(description="The last answer from readings, dated; empty: none needed")


class RoomWeekOut(Answer):
    """One week of a room."""

    room: str
    week: str = Field(description="ISO week, as 2026-W12")
    sentence: str
    coverage_pct: float | None
    events: list[EventOut]
    judgements: list[JudgementOut]


class AirAheadOut(Answer):
    """The air of a room in the days to come, by the hour; low and high are 5 and 95 %."""

    time_utc: list[datetime]
    temp_c: list[float]
    temp_low_c: list[float]
    temp_high_c: list[float]
    rh_pct: list[float]
    rh_low_pct: list[float]
    rh_high_pct: list[float]


class WorkAheadOut(Answer):
    """One work in the days to come; a chance is null at an hour for which nothing can be told."""

    work: str
    title: str
    p_worst: float | None
    worst_utc: datetime | None
    time_utc: list[datetime]
    p_visible: list[float | None]


class DaysAheadOut(Answer):
    """The days to come of a room and of its works."""

    room: str
    name: str
    what_if: str = Field(description="Empty, off, door or 45")
    from_utc: datetime = Field(description="Last hour at which room and outdoors were measured")
    forecast_made_utc: datetime | None = Field(description="null: the weeks of the season stand in")
    outdoors_until_utc: datetime | None = Field(
        description="last reading outdoors, where the season's usual air stands in since then"
    )
    record_days: float
    air: AirAheadOut
    works: list[WorkAheadOut]


class RoomRoundOut(Answer):
    """One room of the round, with what its readings reach to."""

    room: str
    name: str
    known_until_utc: datetime | None
    current: bool
    rhythm: str
    due_utc: datetime | None
    works: list[AnsweredOut]


class RoundOut(Answer):
    """All works with what is said of each now; works away and in no room apart."""

    now_utc: datetime
    rooms: list[RoomRoundOut]
    away: list[RoomRoundOut] = Field(description="Crates and rooms of other houses with works")
    unplaced: list[AnsweredOut]


class InspectionOut(Answer):
    """One look at one work."""

    work_id: str
    at_utc: datetime
    grade: int = Field(ge=0, le=4)
    wave_mm: float | None
    place: str
    lamp_side: str
    note: str
    by: str
    withdrawn: str = Field(description="Why it no longer counts; empty when it counts")
    released: bool | None = Field(description="Null where the edges were not looked at")
    finding: str | None = Field(description="Kind of finding; null where it was not said")
    photograph: str = Field(description="SHA-256 of its photograph; empty: none")
    estimate_p: float | None = Field(
        description="Chance that waves show as it was told before, null where none was", ge=0, le=1
    )


class BorneInMind(Answer):
    """What a number cannot show, in one sentence."""

    key: str
    sentence: str


class BorrowedOut(Answer):
    """A range that other works of its kind lend: it takes the place of the tables'."""

    name: str
    unit: str
    low: float = Field(description="Two deviations of the logarithm below the middle")
    value: float
    high: float
    kind: dict[str, str] = Field(description="The facts that make the kind")
    works: list[str] = Field(description="Works it was measured on; empty: of another museum")
    origin: str
    sentence: str


class WorkOut(AnsweredOut):
    """What can be said of one work now, what to bear in mind, and what people saw."""

    room: str | None
    inspections: list[InspectionOut]
    bear_in_mind: list[BorneInMind]
    borrowed: list[BorrowedOut]


Hours = Annotated[
    list[float | None], Field(description="Low, middle, high; null where nothing bounds it")
]


class FitOut(Answer):
    """A half-time fitted from a logger in the frame."""

    half_time_h: Hours
    bound: str
    sound: bool
    residual_rms_pct: float | None
    lag_one: float | None
    offset_pct: float | None
    temp_c: list[float]
    rh_pct: list[float]
    statements: list[str]


class FrameRecordOut(Answer):
    """The record that a half-time was fitted to."""

    logger: str
    room: str
    first_utc: datetime
    last_utc: datetime
    interval_h: float


class MeasuredOut(Answer):
    """A half-time in use in place of the tables' range."""

    half_time_h: Hours
    origin: str
    from_utc: datetime | None


class HalfTimeOut(Answer):
    """How fast a work's frame follows its room."""

    work_id: str
    answer: str
    usual_h: Hours
    fitted: FitOut | None
    record: FrameRecordOut | None
    warmer_than_logger_k: list[float] | None
    why_not_used: list[str]
    in_use: MeasuredOut | None


class InfluenceOut(Answer):
    """What moves a link of the chain, and what would settle it."""

    name: str
    words: str
    way: str
    rank_correlation: float
    share_of_spread: float
    clear: bool
    narrower_if_known: float | None
    settled_by: str


class LinkOut(Answer):
    """One link of the chain at an hour; only its name where its value is not told."""

    step: str
    name: str
    quantity: str
    unit: str
    known: bool
    value: Span | None
    against: float | None = None
    sentence: str = ""
    decides: str = ""
    influences: list[InfluenceOut] = []
    ends: dict[str, float] | None = None


class WhyOut(Answer):
    """The chain behind a work at an hour."""

    work_id: str
    at_utc: datetime
    answer: str
    refused: str
    what_would_mend: str
    effective_draws: float | None
    links: list[LinkOut]


class NoticeWorkOut(Answer):
    """A work that a notice names."""

    work_id: str
    title: str
    why: str


class NoticeOut(Answer):
    """A notice."""

    id: int
    kind: str
    room: str | None
    room_name: str
    headline: str
    what: str
    since_utc: datetime
    ended_utc: datetime | None
    sensor: str
    confirmed_by: str
    works: list[NoticeWorkOut]
    felt: str
    lead: str
    do_now: list[str]
    past: bool = Field(description="It was over before the readings came in")
    planned: str = Field(description="What was entered beforehand for that time, or empty")
    seen_by: str


class SensorReceiptOut(Answer):
    """What became of one sensor's readings."""

    logger: str
    sensor: str
    rows: int
    added: int
    same: int
    filled: int
    conflicts: int
    flagged: int
    first_utc: datetime | None
    last_utc: datetime | None
    months: list[str]
    conflicts_listed: list[tuple[datetime, str, float | None, float | None]]


class FileReceiptOut(Answer):
    """What became of one file."""

    outcome: str
    upload: int
    file: str
    sha256: str
    received_utc: datetime
    rows: int
    added: int
    same: int
    filled: int
    conflicts: int
    flagged: int
    unreadable: int
    sensors: list[SensorReceiptOut]


class ReceiptOut(FileReceiptOut):
    """What became of a file, and the notices that it raised.

    Where several came in an archive, ``earlier`` holds the receipts of those before the last, and
    ``left_aside`` the names of those without readings.
    """

    notices: list[str]
    earlier: list[FileReceiptOut]
    left_aside: list[str]


class BatchOut(Answer):
    """What became of a gateway's batch; it is stored for good."""

    upload: int
    rows: int
    added: int
    same: int
    conflicts: int


class Problem(BaseModel):
    """A problem document (RFC 9457), with the five parts of every error of this program."""

    type: str = "about:blank"
    title: str = Field(description="What could not be done, in one short sentence")
    status: int
    detail: str = Field(description="What was found, what was expected, what to do")
    instance: str = Field(description="The address that was asked")
    read: str = Field(description="What was read")
    where: str = Field(description="The place in it, or empty")
    found: str
    expected: str
    action: str = Field(description="What a person can do")
    kept: str = Field(default="", description="What was kept all the same, or empty")
