"""Where a work that hangs nowhere hung last, and what was said of it then."""

from datetime import datetime
from typing import TYPE_CHECKING

from analysis.results import Judgement
from service.climate.room_readings import A_MOMENT, full_hour
from service.estimates.assessments import Left
from service.estimates.hanging_history import companions
from service.storage.works import WorkRecord

if TYPE_CHECKING:
    from service.answers.museum import Museum


def last_left(museum: "Museum", record: WorkRecord, at_utc: datetime) -> Left | None:
    """Return where a work that hangs nowhere hung last; None where it never hung."""
    gone = [h for h in record.hangings if h.to_utc is not None and h.to_utc <= at_utc]
    if not gone or gone[-1].to_utc is None:
        return None
    stay, went = gone[-1], gone[-1].to_utc
    then = full_hour(went - A_MOMENT)
    work_id = record.print.work_id

    def make() -> Judgement | None:
        groups = companions([record], then)
        return museum.assess_group(groups[0], then)[0].last if groups else None

    rooms = [one.room for one in record.hangings]
    last = museum.cached(("left", work_id, then), make, rooms=rooms, works=[work_id])
    return Left(museum.room(stay.room).name, went, last)
