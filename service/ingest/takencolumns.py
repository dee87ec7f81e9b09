"""The columns taken from a table: their times, units and sensors, before they are put together."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from service.errors import Answer, QuestionError
from service.ingest.assembly import Wide
from service.ingest.choice import Choice
from service.ingest.clock import Clock, clock_of
from service.ingest.columns import (
    READINGS,
    Column,
    columns_stated,
    sensors_of,
)
from service.ingest.doubts import require_not_exchanged, require_what_they_say
from service.ingest.headings import Heading
from service.ingest.plan import Plan, no_reading, turned_plan
from service.ingest.plausibility import Judged, asked_once, judged, refused
from service.ingest.quantities import POSSIBLE, WORDS
from service.ingest.sensorcolumns import Apart, Codes, coded, sensors_distinguished
from service.ingest.table import Table


@dataclass(frozen=True)
class Settled:
    """What the rows of a file have settled for any part of it.

    ``judged`` are the columns by their headings, ``refused`` the headings left aside for their
    values, ``sensors`` those by which sensors are told apart, ``order`` that of day and month.
    """

    judged: Mapping[str, Judged]
    refused: frozenset[str]
    sensors: tuple[Heading, ...]
    order: str


@dataclass(frozen=True)
class Taken:
    """The columns of a table with their times and units, before they are put together."""

    plan: Plan
    table: Table
    clock: Clock
    kept: Mapping[int, Judged]
    notes: list[str]
    wide: Wide
    apart: Apart | None

    def settled(self) -> Settled:
        """Return what is settled for any other rows of the file."""
        judged = {settled.column.heading: settled for settled in self.kept.values()}
        refused = frozenset(c.heading for c in self.plan.columns) - judged.keys()
        sensors = self.apart.headings if self.apart else ()
        return Settled(judged, refused, sensors, self.clock.times.order)


def taken(
    name: str, plan: Plan, asked: Choice, remembered: Choice, settled: Settled | None = None
) -> Taken:
    """Return the columns of a plan's table with their times and units.

    Parameters
    ----------
    settled : Settled, optional
        What is settled already where the table is only a part of a file; its own rows otherwise
        decide.

    Raises
    ------
    NotUnderstoodError, QuestionError
        As `read_bytes` does.
    """
    table = plan.table()
    names = None
    if plan.tall:
        plan, names = turned_plan(plan, table)
    if settled:
        plan = _with_the_others(plan, table, settled)
    clock = clock_of(name, plan.time, table, plan.layout.head, asked, remembered)
    kept, notes = _judged(name, plan, table, asked.columns, settled)
    wide = {
        label: {q: kept[quantities[q].index] for q in POSSIBLE if q in quantities}
        for label, quantities in sensors_of(name, [j.column for j in kept.values()]).items()
    }
    if settled:
        apart = coded(settled.sensors, table) if settled.sensors else None
    else:
        sure = columns_stated(plan.headings, asked.columns, "sure")
        require_what_they_say(name, wide, table, sure)
        apart = _sensors_distinguished(plan, table, clock, kept, "sensor" in asked.columns, names)
    return Taken(plan, table, clock, kept, notes, wide, apart)


def _with_the_others(plan: Plan, table: Table, settled: Settled) -> Plan:
    """Return a plan with the columns that other rows have: in a tall file some have not all."""
    here = {column.heading for column in plan.columns}
    others = [judged.column for judged in settled.judged.values()]
    others = [column for column in others if column.heading not in here]
    first = max((column.index for column in plan.columns), default=plan.layout.width) + 1
    added = tuple(replace(one, index=first + n) for n, one in enumerate(others))
    table.numbers |= {column.index: np.full(table.rows, np.nan) for column in added}
    return replace(plan, columns=(*plan.columns, *added))


def _sensors_distinguished(
    plan: Plan,
    table: Table,
    clock: Clock,
    kept: Mapping[int, Judged],
    stated: bool,
    names: Codes | None,
) -> Apart | None:
    """Return the sensors that a column of the file tells apart, or None for a single one."""
    if not plan.sensors:
        return None
    values = [table.numbers[i] for i, j in kept.items() if j.column.quantity in READINGS]
    times = (clock.times.clock_us, clock.times.read)
    return sensors_distinguished(plan.sensors, table, times, values, stated, names)


def _judged(
    name: str, plan: Plan, table: Table, stated: Mapping[str, str], before: Settled | None
) -> tuple[dict[int, Judged], list[str]]:
    """Return the columns whose values can be what their headings say, and notes on the others."""
    if before is None:
        sure = columns_stated(plan.headings, stated, "sure")
        require_not_exchanged(name, plan.columns, table, sure)
    kept: dict[int, Judged] = {}
    notes: list[str] = []
    doubts: list[QuestionError] = []
    beside = None
    for column in sorted(plan.columns, key=lambda c: c.quantity != "temp_c"):
        written = table.numbers[column.index]
        if before and column.heading in before.refused:
            continue
        if before and column.heading in before.judged:
            kept[column.index] = replace(before.judged[column.heading], column=column, note="")
            continue
        if column.stated:
            _require_numbers(name, column, table)
        try:
            settled = judged(name, column, written, beside)
        except QuestionError as question:
            doubts.append(question)
            continue
        if settled is None:
            notes.append(refused(column, written))
            continue
        if column.quantity == "temp_c" and beside is None:
            beside = settled.unit
        kept[column.index] = settled
        notes += [settled.note] if settled.note else []
    if doubts:
        raise asked_once(doubts)
    if before is None:
        if not any(settled.column.quantity in READINGS for settled in kept.values()):
            raise no_reading(name, plan.layout, plan.headings, notes)
        _require_quantities(name, plan, kept, notes)
    return dict(sorted(kept.items(), key=lambda item: (item[1].column.rank, item[0]))), notes


def _require_numbers(name: str, column: Column, table: Table) -> None:
    """Raise if the column that a person named holds words and not one number."""
    if np.isfinite(table.numbers[column.index]).any():
        return
    words = next(((row, text) for row, index, text in table.unread if index == column.index), None)
    if words is None:
        return  # nothing stands in it: a logger may keep an empty column
    raise QuestionError(
        read=name,
        where=f"line {table.line(words[0])}, column {column.heading!r}",
        found=f"{words[1]!r}, and no number in the whole column",
        expected=f"the numbers of a {WORDS[column.quantity]}",
        action=f"Name the right column: --column {column.quantity}='HEADING [UNIT]'. In a file "
        "without headings columns are counted as they were cut, which the preview shows.",
    )


def _require_quantities(
    name: str, plan: Plan, kept: Mapping[int, Judged], notes: Sequence[str]
) -> None:
    """Raise if the only column named for a reading was refused for its values."""
    for column in plan.columns:
        others = any(j.column.quantity == column.quantity for j in kept.values())
        if column.index in kept or others or column.quantity not in READINGS:
            continue
        leave = Answer("leave it aside", {"aside": column.heading})
        raise QuestionError(
            read=name,
            where=f"column {column.heading!r}",
            found=" ".join(note.removesuffix("; it is left aside.") for note in notes),
            expected=f"values that a {WORDS[column.quantity]} can have",
            action="Correct the heading or the unit in a copy of the file, name the right column "
            f"as --column {column.quantity}='HEADING [UNIT]', or say {leave.options()}.",
            answers=[leave],
        )
