"""Rooms against agreed and published limits, as the lines of a page."""

from collections.abc import Iterator, Sequence
from datetime import datetime

import pandas as pd

from analysis.bands import band_limit
from analysis.errors import StilltautError
from analysis.judged_time import Outcome
from analysis.limits import Limit, published_limits
from analysis.report_lines import verdict_lines
from analysis.verdict import judge
from dashboards import wording
from dashboards.lines import LimitLine
from service.museum import Museum
from service.room_events import agreed
from service.storage import places
from service.storage.calibrations import calibrations
from service.storage.places import Room

# What a loan, a lender or a report asks for most often; `stilltaut` knows the others too.
COMMON = (
    "green_protocol_2023",
    "en15757_2010",
    "class_aa",
    "class_a1",
    "class_a2",
    "class_b",
)


def limit_lines(museum: Museum) -> list[LimitLine]:
    """Return one line a room and limit: its own band first, then the published ones."""
    return [line for room in museum.rooms() for line in _room_lines(museum, room)]


def _room_lines(museum: Museum, room: Room) -> Iterator[LimitLine]:
    frame = museum.readings(room.room).frame
    now = museum.as_of() or museum.clock()
    uncertainty = _uncertainty_rh_pct(museum, room.room)
    for limit in _limits(museum, room, now):
        try:
            yield _line(museum, room, limit, frame, uncertainty)
        except StilltautError as problem:
            yield _cannot_tell(room, limit, problem)


def _limits(museum: Museum, room: Room, now: datetime) -> Iterator[Limit]:
    band = agreed(places.band_at(museum.stores.register, room.room, now))
    if band is not None:
        yield band_limit(band)
    known = published_limits()
    yield from (known[name] for name in COMMON if name in known)


def _uncertainty_rh_pct(museum: Museum, room_id: str) -> float | None:
    """Return the largest uncertainty stated by the calibrations of a room's loggers (k = 2)."""
    stated = [
        layer.uncertainty
        for logger in museum.readings(room_id).by_logger
        for layer in calibrations(museum.stores.register, logger)
        if layer.channel == "rh_pct" and layer.uncertainty is not None
    ]
    return max(stated, default=None)


def _line(
    museum: Museum, room: Room, limit: Limit, frame: pd.DataFrame, uncertainty: float | None
) -> LimitLine:
    verdict = judge(limit, frame, museum.zone, uncertainty_rh_pct=uncertainty)
    _, *said = verdict_lines(verdict, museum.zone)
    return LimitLine(
        room_id=room.room,
        room_name=room.name,
        limit=limit.name,
        edition=limit.edition,
        verdict=verdict.words,
        sentence=" ".join(said[:-1]),
        basis=verdict.basis,
        verified=limit.verified,
        source=limit.source,
    )


def _cannot_tell(room: Room, limit: Limit, problem: StilltautError) -> LimitLine:
    return LimitLine(
        room_id=room.room,
        room_name=room.name,
        limit=limit.name,
        edition=limit.edition,
        verdict=Outcome.CANNOT_TELL.value,
        sentence=f"Found {problem.found}, needed {problem.expected}. {problem.action}",
        basis="",
        verified=limit.verified,
        source=limit.source,
    )


def limits_answer(lines: Sequence[LimitLine]) -> str:
    """Return how many rooms kept to the band agreed for them."""
    own = {line.room_name: line.verdict for line in lines if line.source == "House"}
    if not own:
        return "No band was agreed for any room yet; published limits are shown below."
    kept = [name for name, verdict in own.items() if verdict.endswith(("inside", "conforms"))]
    if not kept:
        return "No room kept to the band agreed for it."
    verb = "kept" if len(kept) > 1 else "has kept"
    return f"{wording.listed(kept)} {verb} to the agreed band; the others did not, or cannot tell."
