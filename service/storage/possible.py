"""The facts of one work looked at together: what cannot be is refused before it is kept."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise

from analysis.drawn_parameters import BUILD_FACTS, UNITS
from analysis.errors import OutOfRangeError
from analysis.refusals import require_mounted_before_hanging, require_possible
from service.storage.register import Register, now_utc
from service.storage.works import Hanging, WorkRecord, as_work, work_record

KNOWN = {**UNITS, **BUILD_FACTS}


def require_possible_work(register: Register, work_id: str) -> None:
    """Raise if the facts of a work cannot all be true; see `require_possible_record`."""
    require_possible_record(work_record(register, work_id))


def require_possible_record(record: WorkRecord) -> None:
    """Raise if the facts of a work cannot all be true, at any time of its record.

    Raises
    ------
    OutOfRangeError
        If a length, a humidity, a date or a measured value cannot be: framed before it was
        mounted, hung before it was mounted, in two places at once, a half-time of 0.
    UnknownNameError
        If a measured value names no parameter.
    """
    closings = {framing.closed_utc for framing in record.framings}
    for time in _times(record):
        work = as_work(record, time)
        # After a new mounting the old frame is open until the next framing says when it closed.
        closed = work.closed_utc if time in closings else None
        require_possible(replace(work, closed_utc=closed), known=KNOWN)
    for hanging in record.hangings:
        if hanging.from_utc is not None:
            require_mounted_before_hanging(as_work(record, hanging.from_utc), hanging.from_utc)
    _require_one_place_at_a_time(record.hangings)


def _require_one_place_at_a_time(hangings: Sequence[Hanging]) -> None:
    for earlier, later in pairwise(hangings):
        if later.from_utc is None or earlier.to_utc is None or earlier.to_utc > later.from_utc:
            ends = f"{earlier.to_utc:%Y-%m-%d}" if earlier.to_utc else "no end"
            begins = f"{later.from_utc:%Y-%m-%d}" if later.from_utc else "no beginning"
            raise OutOfRangeError(
                read=f"work {later.work_id}",
                where="from_utc",
                found=f"{ends} in {earlier.room}, {begins} in {later.room}",
                expected="one place ended before the next begins",
                action="State when the earlier hanging ended.",
            )


def _times(record: WorkRecord) -> list[datetime]:
    """Return every time at which something about a work changes, one before all, and now."""
    begins = [
        *(mounting.mounted_utc for mounting in record.mountings),
        *(framing.closed_utc for framing in record.framings),
        *(hanging.from_utc for hanging in record.hangings),
        *(measured.from_utc for measured in record.measured),
    ]
    now = now_utc()
    dated = sorted({time for time in begins if time is not None})
    return [min([*dated, now]) - timedelta(days=1), *dated, now]
