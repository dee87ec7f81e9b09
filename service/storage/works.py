"""Works: the print, how it is held, its frame, where it hung; each dated.

`analysis.works.Work` is what the calculations see: one work with the mount and the frame that
held at a time.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from itertools import pairwise
from typing import Any, TypeVar

from sqlalchemy import ColumnElement, or_, select

from analysis.errors import UnknownNameError
from analysis.learning.stated_values import OF_A_FRAME, OF_A_HANGING
from analysis.records import Span
from analysis.records.inspection_records import Measured
from analysis.records.work_records import Framing, Hanging, Known, Mounting, Print
from analysis.simulation.drawer import OF_A_MOUNTING
from analysis.works import (
    KINDS,
    Adhesive,
    Borrowed,
    Finish,
    FrameBuild,
    Glazing,
    Grain,
    Mount,
    Override,
    Panel,
    Paper,
    Wall,
    Work,
)
from service.storage.class_knowledge import lent
from service.storage.records import correct_line, find
from service.storage.register import Register, now_utc
from service.storage.schema import FrameRow, HangingRow, MountRow, OverrideRow, WorkRow
from service.storage.tables import Table


@dataclass(frozen=True)
class WorkRecord:
    """All that the register knows of a work, each part in order of time.

    ``lent`` is what classes lend to all works: of it counts what fits this one.
    """

    print: Print
    mountings: tuple[Mounting, ...]
    framings: tuple[Framing, ...]
    hangings: tuple[Hanging, ...]
    measured: tuple[Measured, ...]
    lent: Mapping[str, tuple[Borrowed, ...]] = field(default_factory=dict)


ALWAYS = float("-inf")  # since always, or not known when
Dated = Mounting | Framing | Hanging | Measured
DatedType = TypeVar("DatedType", Mounting, Framing, Hanging, Measured)


def prints(register: Register) -> tuple[Print, ...]:
    """Return all prints, by number."""
    with register.reading() as session:
        return find(session, Print, WorkRow, order=(WorkRow.work_id,))


def work_record(register: Register, work_id: str) -> WorkRecord:
    """Return everything about one work.

    Raises
    ------
    UnknownNameError
        If the register does not know it.
    """
    found = work_records(register, work_id)
    if work_id not in found:
        known = [sheet.work_id for sheet in prints(register)]
        raise UnknownNameError(read="works", name=work_id, known=known)
    return found[work_id]


def work_records(register: Register, work_id: str | None = None) -> dict[str, WorkRecord]:
    """Return everything about all works, or about one, by number."""
    lends = lent(register)
    with register.reading() as session:

        def dated(kind: type[DatedType], table: type[Table]) -> dict[str, list[DatedType]]:
            parts: dict[str, list[DatedType]] = defaultdict(list)
            for part in find(session, kind, table, *_of(table, work_id)):
                parts[part.work_id].append(part)
            return parts

        sheets = find(session, Print, WorkRow, *_of(WorkRow, work_id), order=(WorkRow.work_id,))
        mounts, frames = dated(Mounting, MountRow), dated(Framing, FrameRow)
        hung, measured = dated(Hanging, HangingRow), dated(Measured, OverrideRow)
    return {
        key: WorkRecord(
            sheet,
            _in_order(mounts[key]),
            _in_order(frames[key]),
            _in_order(hung[key]),
            _in_order(measured[key]),
            lends,
        )
        for key, sheet in ((sheet.work_id, sheet) for sheet in sheets)
    }


def _of(table: Any, work_id: str | None) -> list[ColumnElement[bool]]:
    return [] if work_id is None else [table.work_id == work_id]


def hangings_in(
    register: Register,
    room: str | None,
    start_utc: datetime | None = None,
    end_utc: datetime | None = None,
) -> tuple[Hanging, ...]:
    """Return the hangings in a room, or in all (None), that overlap a span, in order of time."""
    where = [] if room is None else [HangingRow.room == room]
    if end_utc is not None:
        where.append(or_(HangingRow.from_utc.is_(None), HangingRow.from_utc < end_utc))
    if start_utc is not None:
        where.append(or_(HangingRow.to_utc.is_(None), HangingRow.to_utc > start_utc))
    with register.reading() as session:
        found = find(session, Hanging, HangingRow, *where, order=(HangingRow.work_id,))
    return _in_order(found)


def is_any_hung(register: Register) -> bool:
    """Return whether a work has ever hung anywhere."""
    with register.reading() as session:
        return session.scalars(select(HangingRow.work_id).limit(1)).first() is not None


def work_at(register: Register, work_id: str, time: datetime | None = None) -> Work:
    """Return a work as it is at a time (now, when None)."""
    return as_work(work_record(register, work_id), time or now_utc())


def works_at(register: Register, room: str, time: datetime | None = None) -> tuple[Work, ...]:
    """Return the works that hang in a room at a time (now, when None), by number."""
    time = time or now_utc()
    hanging = hangings_in(register, room, start_utc=time)
    here = {item.work_id for item in hanging if not item.from_utc or item.from_utc <= time}
    return tuple(work_at(register, work_id, time) for work_id in sorted(here))


def as_work(record: WorkRecord, time: datetime) -> Work:
    """Return what the calculations see of a work at a time.

    Of mounts, frames and hangings the last begun counts; before the first, the first. A print that
    was mounted anew since its frame was closed is in the frame that is closed next; where none is
    recorded in the old one, closed again at a humidity that is not known.
    """
    sheet = record.print
    held = holding(record.mountings, time) or Mounting(sheet.work_id)
    around, closed = _around(record, held, time)
    hung = holding(record.hangings, time) or Hanging(sheet.work_id, "", wall=Wall.INSIDE)
    mounting_no = sum(_begins(item) < _begins(held) for item in record.mountings)
    framing_no = sum(before < closed for before in _closings(record))
    ends: dict[tuple[str, ...], float] = {
        OF_A_MOUNTING: _begins(held) if mounting_no else ALWAYS,
        OF_A_FRAME: closed if framing_no else ALWAYS,
        OF_A_HANGING: _begins(hung) if _hung_before(record, hung) else ALWAYS,
    }
    facts = {name: _kind(name, (sheet, held, around, hung)) for name in KINDS}
    work = Work(
        work_id=sheet.work_id,
        title=sheet.title,
        width_mm=sheet.width_mm,
        height_mm=sheet.height_mm,
        paper=Paper(facts["paper"] or KINDS["paper"][0]),
        finish=Finish(facts["finish"] or KINDS["finish"][0]),
        grain=Grain(sheet.grain),
        on_loan=sheet.on_loan,
        mount=Mount(facts["mount"] or KINDS["mount"][0]),
        panel=Panel(facts["panel"] or KINDS["panel"][0]),
        adhesive=Adhesive(facts["adhesive"] or KINDS["adhesive"][0]),
        hinge_free_length_mm=_number(held.hinge_free_length_mm),
        hinge_coverage=_number(held.hinge_coverage),
        mounted_utc=held.mounted_utc,
        mounted_rh_pct=_number(held.mounted_rh_pct),
        mounted_temp_c=_number(held.mounted_temp_c),
        frame=FrameBuild(facts["frame"] or KINDS["frame"][0]),
        closed_utc=around.closed_utc,
        closing_rh_pct=_number(around.closing_rh_pct),
        spacer_mm=_number(around.spacer_mm),
        glazing=Glazing(facts["glazing"] or KINDS["glazing"][0]),
        conditioned=around.conditioned,
        wall=Wall(facts["wall"] or KINDS["wall"][0]),
        sun_or_spot=hung.sun_or_spot,
        mounting_no=mounting_no,
        framing_no=framing_no,
        unknown=frozenset(name for name, kind in facts.items() if kind is None),
        overrides=_ranges(held, around) | _overrides(record.measured, time, ends),
    )
    return replace(work, borrowed=_borrowed(work, record.lent))


def _borrowed(work: Work, lends: Mapping[str, tuple[Borrowed, ...]]) -> dict[str, Borrowed]:
    """Return what the classes of a work lend to it."""
    fitting = {
        name: [one for one in ranges if replace(work, borrowed={name: one}).lent(name)]
        for name, ranges in lends.items()
    }
    return {name: found[0] for name, found in fitting.items() if found}


def _hung_before(record: WorkRecord, hung: Hanging) -> bool:
    return any(_begins(item) < _begins(hung) for item in record.hangings)


def _kind(name: str, parts: Sequence[Print | Mounting | Framing | Hanging]) -> str | None:
    """Return which kind a fact of a work is; None: not known."""
    kind: str | None = next(getattr(part, name) for part in parts if hasattr(part, name))
    return kind


def _number(value: Known) -> float | None:
    return None if isinstance(value, Span) else value


# What the calculations call a number of which the record states a range.
STATED_AS = {
    "hinge_free_length_mm": "hinge_free_length_mm",
    "hinge_coverage": "hinge_coverage",
    "mounted_rh_pct": "mounted_rh_pct",
    "mounted_temp_c": "mounted_temp_c",
    "closing_rh_pct": "closing_rh_pct",
    "spacer_mm": "gap_mm",
}


def _ranges(held: Mounting, around: Framing) -> dict[str, Override]:
    """Return the ranges that the record states in place of numbers."""
    found = {}
    for name, stated_as in STATED_AS.items():
        part = held if hasattr(held, name) else around
        span = getattr(part, name)
        if isinstance(span, Span):
            origin = "range in the record"
            found[stated_as] = Override(span.mid, span.low, span.high, origin)
    return found


def _around(record: WorkRecord, held: Mounting, time: datetime) -> tuple[Framing, float]:
    """Return the frame around a print held as it is at a time, and when it was closed."""
    framing = holding(record.framings, time) or Framing(record.print.work_id)
    mounted = _begins(held)
    if held == next(iter(record.mountings), held) or _begins(framing) >= mounted:
        return framing, _begins(framing)
    closed_next = [item for item in record.framings if _begins(item) >= mounted]
    if closed_next and holding(record.mountings, closed_next[0].closed_utc or time) == held:
        return closed_next[0], _begins(closed_next[0])
    return replace(framing, closed_utc=None, closing_rh_pct=None), mounted


def _closings(record: WorkRecord) -> list[float]:
    """Return when the frame was closed: as recorded, and for new mountings without a record."""
    recorded = [_begins(item) for item in record.framings] or [ALWAYS]
    mounted = [*map(_begins, record.mountings), float("inf")]
    return recorded + [
        begin
        for begin, end in list(pairwise(mounted))[1:]
        if not any(begin <= closed < end for closed in recorded)
    ]


def since(item: Dated) -> datetime | None:
    """Return when a dated part begins; None for "since always"."""
    if isinstance(item, Mounting):
        return item.mounted_utc
    return item.closed_utc if isinstance(item, Framing) else item.from_utc


def holding(items: Sequence[DatedType], time: datetime) -> DatedType | None:
    """Return the part that holds at a time: the last begun; before the first, the first."""
    begun = [item for item in items if (since(item) or time) <= time]
    return begun[-1] if begun else next(iter(items), None)


def _in_order(items: Sequence[DatedType]) -> tuple[DatedType, ...]:
    return tuple(sorted(items, key=_begins))


def _begins(item: Dated) -> float:
    begin = since(item)
    return begin.timestamp() if begin else ALWAYS


def _overrides(
    measured: Sequence[Measured], time: datetime, ends: Mapping[tuple[str, ...], float]
) -> dict[str, Override]:
    """Return the measured parameters that hold at a time; a later one replaces an earlier.

    What was measured of a mounting, a frame or a place ends with it: ``ends`` holds the names, and
    when the present one began. Undated, it was measured of the first.
    """
    begun = [item for item in measured if (item.from_utc or time) <= time and not item.withdrawn]
    return {
        item.name: Override(item.value, item.low, item.high, item.origin)
        for item in begun
        if all(
            _begins(item) >= began for names, began in ends.items() if item.name.startswith(names)
        )
    }


def withdraw_measured(
    register: Register,
    work_id: str,
    name: str,
    from_utc: datetime | None,
    *,
    why: str,
    by: str,
    at_utc: datetime,
) -> bool:
    """Take a measured value out of the count, with the reason and the date; it stays on record.

    Raises
    ------
    UnknownNameError
        If there is no such value.
    """
    key = {"work_id": work_id, "name": name, "from_utc": from_utc}
    values = {"withdrawn": why, "withdrawn_utc": at_utc}
    return correct_line(register, "overrides.csv", key, values, by=by)
