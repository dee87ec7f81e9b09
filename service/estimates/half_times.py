"""A logger left inside a frame → how fast that frame follows its room; from stores to answer."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise, product

from analysis.errors import NotEnoughError, OutOfRangeError
from analysis.instruments.side_by_side import Agreement, agreement
from analysis.learning.board_back import half_time_range_h
from analysis.learning.half_time import (
    HalfTimeFit,
    Span,
    fit_half_time,
    frame_warmth,
    override_of,
    reach_of,
    warmth_is_of_the_frame,
)
from analysis.parameters import parameter
from analysis.records.inspection_records import Measured
from analysis.records.room_records import Place, Placement
from analysis.records.work_records import Framing, Hanging
from analysis.results import Range
from analysis.series import usable
from analysis.works import Override, Work
from dashboards.text.error_words import error_words
from dashboards.text.half_time_text import doubts_words
from dashboards.text.messages import N_, _
from service.climate.room_readings import placed_readings, room_readings
from service.storage import loggers, works
from service.storage.records import put_record
from service.storage.register import now_utc
from service.storage.stores import Stores
from service.storage.works import WorkRecord, as_work, holding, withdraw_measured

NAME = "half_time_h"


WARMTH = "frame_minus_logger_k"


FITTED = "fitted from"  # how the origin of a fitted value begins


BEFORE = timedelta(days=1)  # of the room, so that its first readings can be doubted by the others


NO_LOGGER = N_("No logger has been in this frame, as far as the register knows.")


OTHER_FRAME = N_("The frame has been opened or taped anew since: this is how it was before.")


CONDITIONED = N_("Something in the frame conditions its air: no half-time describes that.")


ONE_BOUND = N_(
    "The record bounds the half-time on one side only, and one bound is no number to use."
)


@dataclass(frozen=True)
class FrameRecord:
    """A logger in the frame of a work, while the frame was neither opened, taped anew nor moved.

    ``framing`` is that of the time, None where the register has none; ``position`` is where the
    work hung in the room, ``hung_utc`` since when, None where that is not known.
    """

    placement: Placement
    room: str
    from_utc: datetime
    to_utc: datetime
    framing: Framing | None
    position: str = ""
    hung_utc: datetime | None = None

    @property
    def length(self) -> timedelta:
        """How long it lasted."""
        return self.to_utc - self.from_utc


@dataclass(frozen=True)
class FrameHalfTime:
    """What is known of how fast a work's frame follows its room.

    Parameters
    ----------
    default_h : Range
        What is taken without a fit: low, typical, high.
    record : FrameRecord or None
        The record of the logger in the frame; None where there never was one.
    found : HalfTimeFit or None
        The fit; None where there is no record, or too little of it.
    beside : Agreement or None
        The two loggers side by side in the same air, where they hung so.
    why_not : tuple of str
        Why the fit is not offered for use; empty where it is.
    to_use : Measured or None
        The row that "use this half-time" writes.
    warmer : Measured or None
        The row that it writes beside: how much warmer the frame is than the room's logger. None
        where the record does not tell it.
    in_use : Measured or None
        The half-time that holds for the work now.
    near : tuple of str
        Where the room's loggers hang, as written down, and last where the work does.
    """

    work: Work
    default_h: Range
    record: FrameRecord | None = None
    found: HalfTimeFit | None = None
    beside: Agreement | None = None
    why_not: tuple[str, ...] = ()
    to_use: Measured | None = None
    warmer: Measured | None = None
    in_use: Measured | None = None
    near: tuple[str, ...] = ()

    @property
    def fitted_in_use(self) -> bool:
        """Whether the half-time in use came from a fit."""
        return self.in_use is not None and self.in_use.origin.startswith(FITTED)

    @property
    def up_to_date(self) -> bool:
        """Whether the half-time in use is the one that the record gives now."""
        return self.to_use is not None and self.to_use == self.in_use


def half_time_of_frame(
    stores: Stores, work_id: str, at_utc: datetime | None = None
) -> FrameHalfTime:
    """Return how fast the frame of a work follows its room, as far as the records tell.

    Raises
    ------
    UnknownNameError
        If the register does not know the work.
    """
    now = at_utc or now_utc()
    recorded = works.work_record(stores.register, work_id)
    work = as_work(recorded, now)
    known = FrameHalfTime(work, default_half_time(work), in_use=in_use(recorded, work, now))
    record = frame_record(stores, recorded, now)
    if record is None:
        return replace(known, why_not=(_(NO_LOGGER),))
    known = replace(
        known, record=record, beside=side_by_side(stores, record), near=_near(stores, record)
    )
    try:
        found = _fit(stores, record, known.beside)
    except NotEnoughError as problem:
        return replace(known, why_not=(_too_little(problem),))
    why_not = _why_not(work, found, record.framing == holding(recorded.framings, now))
    known = replace(known, found=found, why_not=why_not)
    if why_not:
        return known
    return replace(
        known,
        to_use=_measured(work_id, record, found),
        warmer=_warmer(stores, work_id, record, found) if warmth_is_of_the_frame(work) else None,
    )


def frame_record(stores: Stores, recorded: WorkRecord, at_utc: datetime) -> FrameRecord | None:
    """Return the record of a logger in a work's frame that a fit would use, or None."""
    return best_record(recorded, loggers.placements(stores.register), at_utc)


def fitted_conditions(
    stores: Stores, recorded: WorkRecord, at_utc: datetime
) -> tuple[Span, Span] | None:
    """Return the conditions in the frame over which a half-time in use was fitted.

    They are worked out again from the record it rests on: temperature [°C] and humidity [%], each
    as its 5 % and 95 % points; None where the half-time in use was not fitted from a record.
    """
    row = in_use(recorded, as_work(recorded, at_utc), at_utc)
    record = frame_record(stores, recorded, at_utc)
    if row is None or record is None or not row.origin.startswith(FITTED):
        return None
    inside = placed_readings(stores, record.placement, record.from_utc, record.to_utc)
    temp, humidity = (usable(inside, name).dropna() for name in ("temp_c", "rh_pct"))
    return None if temp.empty or humidity.empty else (reach_of(temp), reach_of(humidity))


def default_half_time(work: Work) -> Range:
    """Return the half-time that is taken of a work's frame where none was fitted [h]."""
    if "board_mass_kg_m2" not in work.overrides:
        row = parameter("frames", f"build_{work.frame.value.lower()}", NAME)
        return Range(row.low, row.value, row.high)
    back = work.overrides.get("back_permeance")
    mass = _range(work.overrides["board_mass_kg_m2"])
    return half_time_range_h(mass, None if back is None else _range(back))


def _range(stated: Override) -> Range:
    return Range(stated.low, stated.value, stated.high)


def in_use(recorded: WorkRecord, work: Work, now: datetime) -> Measured | None:
    """Return the row of the half-time that holds for a work now, or None."""
    stated = work.overrides.get(NAME)
    if stated is None:
        return None
    rows = [one for one in recorded.measured if one.name == NAME and not one.withdrawn]
    return [one for one in rows if (one.from_utc or now) <= now][-1]


def use_half_time(
    stores: Stores, work_id: str, *, by: str, at_utc: datetime | None = None
) -> FrameHalfTime:
    """Write the fitted half-time down for the work, with its origin; again changes nothing.

    Raises
    ------
    OutOfRangeError
        If the fit is not one to use: one bound only, a doubtful record, another frame.
    """
    known = half_time_of_frame(stores, work_id, at_utc)
    if known.to_use is None:
        raise OutOfRangeError(
            read=f"work {work_id}",
            where="half-time of its frame",
            found=" ".join(known.why_not),
            expected="a record that bounds the half-time on both sides, without doubts",
            action="Leave the logger inside for longer; the build's usual half-time stays in use.",
        )
    put_record(stores.register, known.to_use, by=by)
    if known.warmer is not None:
        put_record(stores.register, known.warmer, by=by)
    return half_time_of_frame(stores, work_id, at_utc)


def take_back(
    stores: Stores, work_id: str, *, by: str, why: str, at_utc: datetime | None = None
) -> None:
    """Take the half-time in use out of the count, and what else its record told; both stay kept.

    Raises
    ------
    NotEnoughError
        If none is in use.
    """
    now = at_utc or now_utc()
    recorded = works.work_record(stores.register, work_id)
    row = in_use(recorded, as_work(recorded, now), now)
    if row is None:
        raise NotEnoughError(
            read=f"work {work_id}",
            where="half-time of its frame",
            found="none in use",
            expected="one that can be taken back",
            action="Nothing: the build's usual half-time is in use.",
        )
    of_the_record = [row] if not row.origin.startswith(FITTED) else _of_one_record(recorded, row)
    for one in of_the_record:
        withdraw_measured(
            stores.register, work_id, one.name, one.from_utc, why=why, by=by, at_utc=now_utc()
        )


def _of_one_record(recorded: WorkRecord, row: Measured) -> list[Measured]:
    """Return what was told by the record that a fitted half-time rests on, itself included."""
    return [
        one
        for one in recorded.measured
        if not one.withdrawn and one.name in (NAME, WARMTH) and one.origin == row.origin
    ]


def _fit(stores: Stores, record: FrameRecord, beside: Agreement | None) -> HalfTimeFit:
    inside = placed_readings(stores, record.placement, record.from_utc, record.to_utc)
    room = room_readings(stores, record.room, record.from_utc - BEFORE, record.to_utc).frame
    return fit_half_time(room, inside, offset_pct=None if beside is None else beside.bias)


def _near(stores: Stores, record: FrameRecord) -> tuple[str, ...]:
    span = record.from_utc, record.to_utc
    hung = loggers.placements_in(stores.register, record.room, *span)
    return (*(one.position for one in hung), record.position)


def _too_little(problem: NotEnoughError) -> str:
    return _(
        "The record is too short: {where}: {found}, not {expected}.",
        where=error_words(problem.where),
        found=error_words(problem.found),
        expected=error_words(problem.expected),
    )


def _why_not(work: Work, found: HalfTimeFit, of_the_present_frame: bool) -> tuple[str, ...]:
    reasons = [] if of_the_present_frame else [_(OTHER_FRAME)]
    if work.conditioned:
        reasons.append(_(CONDITIONED))
    if override_of(found) is None:
        reasons.append(_(ONE_BOUND))
    return (*reasons, *doubts_words(found))


def _measured(work_id: str, record: FrameRecord, found: HalfTimeFit) -> Measured | None:
    stated = override_of(found)
    if stated is None:
        return None
    closed = None if record.framing is None else record.framing.closed_utc
    return Measured(
        work_id=work_id,
        name=NAME,
        value=_three_digits(stated.value),
        low=_three_digits(stated.low),
        high=_three_digits(stated.high),
        origin=_origin(stated, record, found),
        from_utc=closed or found.pair.time_utc[0].to_pydatetime(),
    )


def _warmer(
    stores: Stores, work_id: str, record: FrameRecord, found: HalfTimeFit
) -> Measured | None:
    beside = side_by_side(stores, record, "temp_c")
    warmer = frame_warmth(found.pair, None if beside is None else beside.bias)
    stated = override_of(found)
    if warmer is None or stated is None:
        return None
    return Measured(
        work_id=work_id,
        name=WARMTH,
        value=round(warmer.mid, 2),
        low=round(warmer.low, 2),
        high=round(warmer.high, 2),
        origin=_origin(stated, record, found),
        from_utc=record.hung_utc or found.pair.time_utc[0].to_pydatetime(),
    )


def _origin(stated: Override, record: FrameRecord, found: HalfTimeFit) -> str:
    first, last = (found.pair.time_utc[at].to_pydatetime() for at in (0, -1))
    logger = record.placement.logger
    return f"{stated.origin}, {logger} in the frame, {first.date()} to {last.date()}"


def _three_digits(value: float) -> float:
    return round(value, 2 - math.floor(math.log10(abs(value)))) if value else 0.0


# Which readings show a work's frame beside its room: a logger in it, undisturbed, in one room.

Ends = tuple[datetime, datetime]


ALWAYS, STILL = datetime(1, 1, 1, tzinfo=UTC), datetime(9999, 1, 1, tzinfo=UTC)


SIDE_BY_SIDE = timedelta(hours=24)


def best_record(
    record: WorkRecord, placements: Sequence[Placement], now_utc: datetime
) -> FrameRecord | None:
    """Return the longest record of the frame as it is now, else the latest of an earlier frame."""
    found = list(frame_records(record, placements, now_utc))
    around = holding(record.framings, now_utc)
    present = [one for one in found if one.framing == around]
    if present:
        return max(present, key=lambda one: one.length)
    return max(found, key=lambda one: one.to_utc, default=None)


def frame_records(
    record: WorkRecord, placements: Sequence[Placement], now_utc: datetime
) -> Iterator[FrameRecord]:
    """Yield every span in which a logger was in the frame and nobody touched it."""
    work_id = record.print.work_id
    inside = [p for p in placements if p.place == Place.IN_FRAME and p.work_id == work_id]
    for placement, framed, hung in product(inside, _framed(record), _hung(record)):
        placed = placed_until(placement, placements)
        spans = (placed, framed[0], hung[0], (ALWAYS, now_utc))
        begin, end = max(span[0] for span in spans), min(span[1] for span in spans)
        if begin < end:
            hanging = hung[1] or Hanging(work_id, placement.room)
            place = hanging.position, hanging.from_utc
            yield FrameRecord(placement, hanging.room, begin, end, framed[1], *place)


def placed_until(placement: Placement, placements: Sequence[Placement]) -> Ends:
    """Return from when to when a logger was somewhere; its next place ends what is left open."""
    begin, end = placement.from_utc or ALWAYS, placement.to_utc or STILL
    later = [
        one.from_utc
        for one in placements
        if one.logger == placement.logger and one.from_utc is not None and one.from_utc > begin
    ]
    return begin, min([end, *later])


def _framed(record: WorkRecord) -> list[tuple[Ends, Framing | None]]:
    """Return from when to when each framing lasted."""
    if not record.framings:
        return [((ALWAYS, STILL), None)]
    begins = [*(one.closed_utc or ALWAYS for one in record.framings), STILL]
    return list(zip(pairwise(begins), record.framings, strict=True))


def _hung(record: WorkRecord) -> list[tuple[Ends, Hanging | None]]:
    """Return from when to when each hanging lasted."""
    if not record.hangings:
        return [((ALWAYS, STILL), None)]
    return [((one.from_utc or ALWAYS, one.to_utc or STILL), one) for one in record.hangings]


def side_by_side(stores: Stores, record: FrameRecord, column: str = "rh_pct") -> Agreement | None:
    """Return how a room's logger and the one in the frame agreed in the same air, where they hung.

    Looked for are days on which the inner logger hung in a room beside one of the loggers that
    measure the room of the work; of several the one that is trusted first.
    """
    register = stores.register
    span = record.from_utc, record.to_utc
    of_the_room = [p.logger for p in loggers.placements_in(register, record.room, *span)]
    every = loggers.placements(register)
    for own in reversed([p for p in every if p.logger == record.placement.logger]):
        if own.place != Place.ROOM_AIR:
            continue
        beside = [
            other
            for other in loggers.placements_in(register, own.room, own.from_utc, own.to_utc)
            if other.logger != own.logger and other.logger in of_the_room
        ]
        for other in sorted(beside, key=lambda one: of_the_room.index(one.logger)):
            found = _agreement(stores, every, (other, own), column)
            if found is not None:
                return found
    return None


def _agreement(
    stores: Stores, every: Sequence[Placement], both: tuple[Placement, Placement], column: str
) -> Agreement | None:
    spans = [placed_until(placement, every) for placement in both]
    begin, end = max(span[0] for span in spans), min(span[1] for span in spans)
    first, second = (
        placed_readings(
            stores,
            placement,
            None if begin == ALWAYS else begin,
            None if end == STILL else end,
        )
        for placement in both
    )
    if first.empty or second.empty or end - begin < SIDE_BY_SIDE:
        return None
    try:
        return agreement(first, second, column)
    except NotEnoughError:
        return None
