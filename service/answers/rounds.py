"""The lines of the round: each work with where it hangs and how it was last seen."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from analysis.records.inspection_records import Inspection
from analysis.results import Because, Judgement, Listing
from dashboards.lines import RoundLine
from dashboards.text.sentences import LISTINGS
from service.answers.museum import Museum
from service.storage.inspections import inspections
from service.storage.works import hangings_in


def round_lines(
    museum: Museum, at_utc: datetime, room_id: str | None = None
) -> Mapping[Listing, Sequence[RoundLine]]:
    """Return the four lists at a time, of one room or of all, each in order of need."""
    rooms = museum.rooms() if room_id is None else (museum.room(room_id),)
    last = _last_seen(museum, at_utc)
    lines: list[RoundLine] = []
    for room in rooms:
        hung = {h.work_id: h.position for h in hangings_in(museum.stores.register, room.room)}
        for judgement in museum.judgements(room.room, at_utc):
            seen = last.get(judgement.work_id)
            lines.append(
                RoundLine(
                    judgement=judgement,
                    room_id=room.room,
                    room_name=room.name,
                    place=hung.get(judgement.work_id, ""),
                    last_grade=None if seen is None else seen.grade,
                    last_seen_utc=None if seen is None else seen.at_utc,
                    last_released=None if seen is None else seen.released,
                    at_its_edges=_at_its_edges(judgement),
                )
            )
    lines.sort(key=lambda line: line.judgement.order_key)
    return {
        listing: [line for line in lines if line.judgement.listing is listing]
        for listing in LISTINGS
    }


def _at_its_edges(judgement: Judgement) -> bool:
    """Return whether hinges send people to a work: likely to give way, or found loose."""
    return bool({Because.LOOSE_HINGE, Because.HINGES} & set(judgement.because))


def _last_seen(museum: Museum, at_utc: datetime) -> dict[str, Inspection]:
    """Return each work's last inspection; people go on looking after the newest reading."""
    every = inspections(museum.stores.register)
    now = at_utc == museum.as_of()
    return {one.work_id: one for one in every if now or one.at_utc <= at_utc}
