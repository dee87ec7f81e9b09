"""The facts of one work looked at together: what cannot be is refused before it is kept."""

from collections.abc import Callable, Mapping, Sequence
from contextvars import Context
from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial
from itertools import pairwise

from analysis.errors import OutOfRangeError, StilltautError, UnknownNameError
from analysis.records.work_records import Hanging
from analysis.simulation.drawn_parameters import BUILD_FACTS, UNITS
from analysis.simulation.refusals import require_mounted_before_hanging, require_possible
from service.storage.register import Register, now_utc
from service.storage.works import WorkRecord, as_work, work_record

KNOWN = {**UNITS, **BUILD_FACTS}


Problems = Mapping[str, StilltautError]


def problems_of(register: Register, work_id: str) -> Problems:
    """Return everything that cannot be true of a work, by its text; nothing for a new one."""
    with register.reading():
        try:
            return problems_in(work_record(register, work_id))
        except UnknownNameError:
            return {}


def require_no_new_problem(register: Register, work_id: str) -> None:
    """Raise if the open transaction makes a work's facts impossible in a way they were not before.

    What was wrong before may stay for the moment, so that one thing after another can be mended.

    Raises
    ------
    OutOfRangeError
        If a length, a humidity, a date or a measured value cannot be: framed before it was
        mounted, hung before it was mounted, in two places at once, a half-time of 0.
    UnknownNameError
        If a measured value names no parameter.
    """
    after = problems_of(register, work_id)
    # A context of its own knows nothing of the open transaction, and so reads what is committed.
    before = Context().run(problems_of, register, work_id) if after else {}
    new = [one for text, one in after.items() if text not in before]
    if new:
        raise new[0]


def problems_in(record: WorkRecord) -> Problems:
    """Return everything that cannot be true in the record of a work, at any of its times."""
    checks: list[Callable[[], None]] = [
        partial(_require_possible_at, record, time) for time in _times(record)
    ]
    checks += [partial(_require_mounted_before, record, one.from_utc) for one in record.hangings]
    checks.append(partial(_require_one_place_at_a_time, record.hangings))
    found: dict[str, StilltautError] = {}
    for check in checks:
        try:
            check()
        except StilltautError as problem:
            found[str(problem)] = problem
    return found


def _require_possible_at(record: WorkRecord, time: datetime) -> None:
    work = as_work(record, time)
    # After a new mounting the old frame is open until the next framing says when it closed.
    closings = {framing.closed_utc for framing in record.framings}
    closed = work.closed_utc if time in closings else None
    require_possible(replace(work, closed_utc=closed), known=KNOWN)


def _require_mounted_before(record: WorkRecord, hung_utc: datetime | None) -> None:
    if hung_utc is not None:
        require_mounted_before_hanging(as_work(record, hung_utc), hung_utc)


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
