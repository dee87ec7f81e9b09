"""The columns of a file as its page shows them: what each is taken for, and may be instead."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from dashboards.file_lines import ColumnLine
from dashboards.lines import Choice, Table
from dashboards.text import wording
from dashboards.text.messages import N_, Worded, _
from service.ingest.headings import headings_of
from service.ingest.layout import Layout
from service.ingest.read import FileReading
from service.ingest.sensorcolumns import NONE
from service.ingest.understanding import Channel

QUANTITIES: Mapping[str, str] = Worded(
    {
        "temp_c": N_("temperature"),
        "rh_pct": N_("relative humidity"),
        "dew_point_c": N_("dew point"),
        "absolute_humidity_g_m3": N_("absolute humidity"),
        "time": N_("time, or date and time"),
        "date": N_("date alone"),
        "sensor": N_("name of the sensor or of the quantity"),
    }
)
# What a column may be taken for: quantity and unit, as a form sends them.
COLUMN_OPTIONS = (
    *(f"temp_c|{unit}" for unit in ("°C", "°F", "0.1 °C", "0.1 °F", "K")),
    *(f"rh_pct|{unit}" for unit in ("%", "fraction", "0.1 %")),
    *(f"dew_point_c|{unit}" for unit in ("°C", "°F")),
    "absolute_humidity_g_m3|g/m³",
    "time|",
    "date|",
    "sensor|",
)
MARKS = {"temp_c": N_("temperature"), "rh_pct": N_("humidity"), "time": N_("time")}
ROWS_SHOWN = 6
CELL_SHOWN = 40


def columns_taken(reading: FileReading, layout: Layout | None) -> list[ColumnLine]:
    """Return every column of a file, and what it may be instead.

    Of a file with several sensors a column may be left aside, or have another unit.
    """
    known = reading.understanding
    alone = len(reading.sensors) == 1
    by_heading: dict[str, list[Channel]] = {}
    for channel in known.channels:
        by_heading.setdefault(channel.column, []).append(channel)
    named = [h.shown for h in headings_of(layout)] if layout else []
    names = list(dict.fromkeys([*named, *by_heading, *known.time.columns]))
    return [
        _column(name, by_heading.get(name, ()), name in known.time.columns, alone) for name in names
    ]


def _column(name: str, channels: Sequence[Channel], is_time: bool, alone: bool) -> ColumnLine:
    first = channels[0] if channels else None
    quantity = "time" if is_time else first.quantity if first else ""
    taken = "" if not quantity else f"{quantity}|{first.unit if first else ''}"
    words = QUANTITIES.get(quantity, quantity)
    if first is not None:
        words = ", ".join(filter(None, (words, first.unit)))
    values = COLUMN_OPTIONS
    if not alone and quantity:
        values = tuple(v for v in values if v.startswith(f"{quantity}|"))
    return ColumnLine(
        column=name,
        taken_for=words or _("not used"),
        mark=MARKS.get(quantity, ""),
        readings=None if first is None else sum(one.readings for one in channels),
        missing=0 if first is None else sum(one.missing for one in channels),
        low=min((one.minimum for one in channels if one.readings), default=None),
        high=max((one.maximum for one in channels if one.readings), default=None),
        options=() if is_time and not alone else _options(taken, values),
        as_taken=taken,
        alone=alone,
    )


def unread_columns(layout: Layout | None, stated: Mapping[str, str]) -> list[ColumnLine]:
    """Return the columns of a file that is not understood yet, each to be chosen."""
    names = [h.shown for h in headings_of(layout)] if layout else []
    chosen = {
        stated.get(f"column_{n}_is", ""): stated.get(f"column_{n}", "") for n in range(len(names))
    }
    empty = ColumnLine("", "", "", None, 0, None, None)
    as_told = _("as the file tells")
    return [
        replace(empty, column=name, options=_options(chosen.get(name, ""), otherwise=as_told))
        for name in names
    ]


def _options(
    taken: str, values: Sequence[str] = COLUMN_OPTIONS, otherwise: str = N_("not used")
) -> tuple[Choice, ...]:
    every = [taken, *values] if taken and taken not in values else [*values]
    words = [(value, _option_words(value)) for value in every]
    return (
        Choice("", _(otherwise), not taken),
        *(Choice(value, text, value == taken) for value, text in words),
    )


def _option_words(value: str) -> str:
    quantity, _bar, unit = value.partition("|")
    name = QUANTITIES.get(quantity, quantity)
    shown = wording.joined("0", "1") if unit == "fraction" else unit
    return f"{name}, {shown}" if unit else name


def told_apart(reading: FileReading, layout: Layout | None) -> list[Choice]:
    """Return by which column the sensors of a file are told apart, and what else may tell them."""
    taken = reading.understanding.told_apart
    if not taken or layout is None:
        return []
    used = {channel.column for channel in reading.understanding.channels}
    used |= {*reading.understanding.time.columns, *taken}
    others = [h.shown for h in headings_of(layout) if h.name and h.shown not in used]
    return [
        Choice("", _("by {columns}", columns=wording.listed(taken)), True),
        Choice(NONE, _("by nothing: it is one sensor")),
        *(Choice(name, _("by {columns}", columns=name)) for name in others),
    ]


def marked(reading: FileReading) -> dict[str, str]:
    """Return the word for what each column was taken for."""
    known = reading.understanding
    marks = {channel.column: MARKS.get(channel.quantity, "") for channel in known.channels}
    marks |= dict.fromkeys(known.told_apart, N_("sensor"))
    return {**marks, **dict.fromkeys(known.time.columns, MARKS["time"])}


def rows_of(layout: Layout | None, marks: Mapping[str, str]) -> Table | None:
    """Return the first rows as they stand, the columns named by what they were taken for."""
    if layout is None:
        return None
    names = [heading.shown for heading in headings_of(layout)]
    rows = [[cell[:CELL_SHOWN] for cell in row] for row in layout.rows[:ROWS_SHOWN]]
    return Table(names, rows, marks=[marks.get(name, "") for name in names])
