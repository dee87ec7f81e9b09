"""What is to be read from where, before any number is: the plan of a file, or why there is none."""

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache

from service.errors import Answer, NotUnderstoodError, QuestionError, remark
from service.ingest.axis import sample_of, time_columns
from service.ingest.choice import Choice
from service.ingest.columns import READINGS, Column, column_of, columns_of, columns_stated
from service.ingest.fields import kind
from service.ingest.files.decode import Decoded
from service.ingest.headings import Heading
from service.ingest.layout import Layout
from service.ingest.quantities import WORDS, quantity_of, words_of
from service.ingest.sensorcolumns import Codes, is_named, sensor_headings
from service.ingest.table import Table, table_of
from service.ingest.tall import Tall, tall_of, turned
from service.ingest.timecolumns import TimeColumns
from service.ingest.timeless import running_number
from service.ingest.unclaimed import (
    neither_named,
    require_claimed,
    require_motion,
    require_no_rival,
    require_temperature,
    unclaimed,
)
from service.ingest.units import unit_of

# A heading so short says little of itself.
MOST_LETTERS = 4


@dataclass(frozen=True)
class Plan:
    """What is to be read from where, before any number is."""

    text: Decoded
    layout: Layout
    headings: tuple[Heading, ...]
    time: TimeColumns
    columns: tuple[Column, ...]
    sensors: tuple[Heading, ...]
    evidence: str
    tall: Tall | None = None
    counter: Heading | None = None

    def table(self) -> Table:
        """Return the columns that the plan needs."""
        numbers = {column.index for column in self.columns} | self.time.numbers()
        texts = self.time.texts() | {heading.index for heading in self.sensors}
        if self.tall:
            numbers, texts = numbers | {self.tall.value.index}, texts | self.tall.texts()
        numbers |= {self.counter.index} if self.counter else set()
        table = table_of(self.text, self.layout, numbers - texts, texts)
        table.tall = self.tall is not None
        table.counted = table.numbers[self.counter.index] if self.counter else None
        return table


def plan_of(
    text: Decoded, layout: Layout, headings: tuple[Heading, ...], asked: Choice, remembered: Choice
) -> Plan:
    """Return which columns are read for what, each proposal judged by what the rows hold.

    Raises
    ------
    NotUnderstoodError, QuestionError
        If no column is a reading, or a person must say which.
    """
    order = asked.order or remembered.order
    name, stated = text.name, asked.columns
    tall = None if set(stated) & set(READINGS) else tall_of(layout, headings)
    apart = tall.names if tall else ()
    aside = columns_stated(headings, stated, "aside")
    likely = [heading for heading in headings if heading.index not in aside]
    time, evidence = time_columns(text, layout, likely, stated, order, apart)
    taken = {heading.index for heading in time.headings}
    if tall and taken & {tall.value.index, *(h.index for h in tall.names)}:
        tall = None
    found = () if tall else columns_of(name, layout, headings, stated)
    columns = tuple(column for column in found if column.index not in taken)
    taken |= {column.index for column in columns} | {h.index for h in apart}
    if tall:
        taken.add(tall.value.index)
    sensors = sensor_headings(name, layout, likely, taken, stated)
    counters = running_number(layout, [h for h in headings if h.index not in taken])
    counter = counters[0] if counters and not sensors and not tall else None
    plan = Plan(text, layout, headings, time, columns, tuple(sensors), evidence, tall, counter)
    _require_whole_headings(plan)
    if not tall:
        _require_no_doubt(plan, taken, stated)
    return plan


def _require_no_doubt(plan: Plan, taken: set[int], stated: Mapping[str, str]) -> None:
    """Raise if a column without a clear name may be a reading, or one with a name none."""
    name, headings = plan.text.name, plan.headings
    sample = cache(lambda: sample_of(plan.text, plan.layout))
    # Whole numbers may tell sensors apart; without a name for it they may be a humidity too.
    sensors = [h for h in plan.sensors if is_named(h) or "sensor" in stated or not _lacks(plan)]
    taken = taken | {heading.index for heading in sensors}
    free = unclaimed(plan.layout, headings, sample, taken, stated, sensors[:2])
    found = {column.quantity for column in plan.columns}
    if not found & set(READINGS):
        _require_decimals(name, plan.layout)
        question = neither_named(name, free, _in_turn(plan.layout, plan.sensors))
        raise question or no_reading(name, plan.layout, headings, [], plan.sensors)
    require_temperature(name, plan.columns, columns_stated(headings, stated, "sure"))
    require_claimed(name, free, [q for q in READINGS if q not in found])
    require_no_rival(name, plan.columns, free)
    for column in plan.columns if not plan.sensors else ():
        if (
            column.quantity in READINGS
            and len(column.heading) <= MOST_LETTERS
            and not column.stated
        ):
            require_motion(name, column, sample().table.numbers[column.index])
    _require_numbers(plan, found, stated)


def _lacks(plan: Plan) -> bool:
    """Return whether just one of temperature and humidity was found."""
    return len({column.quantity for column in plan.columns} & set(READINGS)) == 1


def _require_decimals(name: str, layout: Layout) -> None:
    """Raise if commas between columns may be decimal marks too, where no heading tells.

    Raises
    ------
    NotUnderstoodError
        If beside columns of whole numbers stand single figures, and no point anywhere.
    """
    numbers = [i for i, k in enumerate(layout.kinds) if k == "number"]
    cells = {i: [c.strip().lstrip("-") for c in layout.column(i)] for i in numbers}
    whole = all(c.isdecimal() for column in cells.values() for c in column if c)
    pairs = [i for i in numbers if i + 1 in cells and all(len(c) == 1 for c in cells[i + 1])]
    moved = [i for i in pairs if len(set(cells[i + 1])) > 4]
    if layout.delimiter != "comma" or not whole or not moved:
        return
    raise NotUnderstoodError(
        read=name,
        where=f"line {layout.header_lines + 1}",
        found=f"whole numbers with single figures beside them: {', '.join(layout.rows[0])[:80]}",
        expected="numbers with their decimals",
        action="If the comma is the decimal mark too, export with semicolons between columns.",
    )


def _require_whole_headings(plan: Plan) -> None:
    """Raise if a unit alone stands right of its quantity: a comma cut the heading, and numbers.

    Raises
    ------
    NotUnderstoodError
        If both columns hold whole numbers.
    """
    pairs = itertools.pairwise(plan.headings) if plan.layout.delimiter == "comma" else ()
    for one, other in pairs:
        cut = len(other.texts) == 1 and unit_of(other.name) is not None
        cut = cut and not other.name.isalpha()
        named = bool(quantity_of(words_of(one.name)))
        cells = (*plan.layout.column(one.index), *plan.layout.column(other.index))
        whole = all(c.strip().lstrip("-").isdecimal() for c in cells if kind(c) != "missing")
        if cut and named and whole:
            raise not_as_many(plan.text.name, plan.layout, plan.layout.width - 1)


def _require_numbers(plan: Plan, found: set[str], stated: Mapping[str, str]) -> None:
    """Raise if a heading names a temperature or humidity above something that is no number."""
    aside = columns_stated(plan.headings, stated, "aside")
    for heading in plan.headings:
        column = column_of(heading) if plan.layout.kinds[heading.index] == "text" else None
        if column is None or column.quantity in found or heading.index in aside:
            continue
        if column.quantity in READINGS:
            cells = [cell.strip() for cell in plan.layout.column(heading.index)]
            leave = Answer("leave it aside", {"aside": heading.shown})
            raise QuestionError(
                read=plan.text.name,
                where=f"column {heading.shown!r}",
                found=f"texts such as {next(filter(None, cells), '')!r}",
                expected=f"numbers, as of a {WORDS[column.quantity]}",
                action=f"Correct them in a copy of the file, or say {leave.options()}.",
                answers=[leave],
            )


def turned_plan(plan: Plan, table: Table) -> tuple[Plan, Codes]:
    """Return the plan of a tall file with a column for each quantity, put into the table."""
    assert plan.tall is not None
    beside = [h.index for h in (*plan.time.headings, *plan.sensors)]
    found = turned(plan.tall, table, plan.layout.width, beside)
    if not any(column.quantity in READINGS for column in found.columns):
        raise no_reading(plan.text.name, plan.layout, plan.headings, [])
    named = " and ".join(repr(h.shown) for h in plan.tall.names) or remark("the unit behind it")
    value, aside = plan.tall.value.shown, ", ".join(found.left_aside[:20])
    note = remark(
        f"One value a line, in {value!r}; what it is says {named}. Left aside: {aside}."
        if aside
        else f"One value a line, in {value!r}; what it is says {named}."
    )
    evidence = "\n".join(filter(None, (plan.evidence, note)))
    return replace(plan, columns=found.columns, evidence=evidence), found.codes


def not_as_many(name: str, layout: Layout, count: int) -> NotUnderstoodError:
    """Return the error of ``count`` headings above another number of fields."""
    decimals = layout.delimiter == "comma" and count < layout.width
    return NotUnderstoodError(
        read=name,
        where=f"line {layout.header_lines + 1}",
        found=f"{layout.width} fields below {count} headings: {', '.join(layout.rows[0])[:80]}",
        expected="as many headings as fields, each above its own",
        action="If the comma is the decimal mark too, export with semicolons between columns."
        if decimals
        else "Correct the line of headings in a copy of the file, and give that.",
    )


def no_reading(
    name: str,
    layout: Layout,
    headings: Sequence[Heading],
    notes: Sequence[str],
    sensors: Sequence[Heading] = (),
) -> NotUnderstoodError | QuestionError:
    """Return the error, or the question, where no column is a temperature or a humidity."""
    named = [heading.shown for heading in headings if heading.name]
    if named:
        return NotUnderstoodError(
            read=name,
            where="headings",
            found=" ".join(notes) or "the columns " + ", ".join(named[:40]),
            expected="a column of air temperature or relative humidity",
            action='If one of them is, say so: --column temp_c="…" --column rh_pct="…".',
        )
    return _no_headings(name, layout, sensors)


def _no_headings(name: str, layout: Layout, sensors: Sequence[Heading]) -> QuestionError:
    columns = [i for i, k in enumerate(layout.kinds) if k == "number"]
    examples = ", ".join(f"column {i + 1} ({layout.rows[0][i].strip()})" for i in columns)
    likely = [i + 1 for i in columns if len(set(layout.column(i))) > 1]
    temp, rh = likely[-2:] if len(likely) > 1 else (2, 3)
    return QuestionError(
        read=name,
        where=f"line {layout.header_lines + 1}",
        found=f"columns without headings: {examples}" + _in_turn(layout, sensors),
        expected="to know which is temperature and which relative humidity",
        action=f"Say it by number: --column temp_c={temp} --column rh_pct={rh} (with the right "
        f"ones), a unit behind it in brackets: --column temp_c='{temp} [°F]'.",
    )


def _in_turn(layout: Layout, sensors: Sequence[Heading]) -> str:
    """Return which column is taken to tell sensors apart, where one may."""
    shown = [f"{h.shown} ({', '.join(sorted(set(layout.column(h.index)))[:4])})" for h in sensors]
    return f"; {shown[0]} may tell sensors apart" if shown else ""
