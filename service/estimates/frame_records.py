"""Which readings show a work's frame beside its room: a logger in it, undisturbed, in one room."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise, product

from analysis.errors import NotEnoughError
from analysis.instruments.side_by_side import Agreement, agreement
from analysis.records.room_records import Place, Placement
from analysis.records.work_records import Framing, Hanging
from service.climate.room_readings import placed_readings
from service.storage import loggers
from service.storage.stores import Stores
from service.storage.works import WorkRecord, holding

Ends = tuple[datetime, datetime]
ALWAYS, STILL = datetime(1, 1, 1, tzinfo=UTC), datetime(9999, 1, 1, tzinfo=UTC)
SIDE_BY_SIDE = timedelta(hours=24)


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
