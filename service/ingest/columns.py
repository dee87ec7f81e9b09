"""Which column is which quantity, in which unit, and of which sensor."""

import difflib
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from analysis.errors import UnknownNameError
from service.errors import QuestionError
from service.ingest.evidence import limit
from service.ingest.headings import Heading
from service.ingest.layout import Layout
from service.ingest.quantities import (
    POSSIBLE,
    is_air,
    label_of,
    measures,
    near_quantity,
    quantity_of,
    words_of,
)
from service.ingest.units import Unit, unit_in, unit_in_legend, unit_of

READINGS = ("temp_c", "rh_pct")
# Under these a person names columns that are readings too, as if their headings said so.
ALSO = {quantity: f"also_{quantity}" for quantity in READINGS}
# A name with the number of its sensor behind it.
_NUMBERED = re.compile(r"(\D{2,}?)[_-]?(\d{1,2})\W*")
_BEHIND = re.compile(r"\d\s*([^\d\s.,+\-].*)$")


@dataclass(frozen=True)
class Column:
    """A column taken for a quantity.

    ``unit`` is None while the file does not state it. ``rank`` is low for the likeliest column;
    ``stated`` is true where a person named it.
    """

    index: int
    heading: str
    quantity: str
    label: str
    unit: Unit | None
    rank: int = 0
    stated: bool = False


Sensors = dict[str, dict[str, Column]]


def columns_of(
    name: str, layout: Layout, headings: Sequence[Heading], stated: Mapping[str, str]
) -> list[Column]:
    """Return the columns that hold a quantity, likeliest first.

    Parameters
    ----------
    name : str
        The file's name, for messages.
    layout, headings
        As from `layout_of` and `headings_of`.
    stated : mapping of str to str
        Quantity to heading, as a person said it; a unit may follow in brackets.

    Raises
    ------
    UnknownNameError
        If a quantity or heading that was said is not known.
    """
    chosen = [c for c in _stated(name, headings, stated) if c.quantity != "unit"]
    taken = {column.index for column in chosen} | columns_stated(headings, stated, "aside")
    units = {c.index: c.unit for c in _stated(name, headings, {"unit": stated.get("unit", "")})}
    # Whoever names both has named the sensor; whoever names one has mended one column.
    whole = set(READINGS) <= {column.quantity for column in chosen}
    given = {column.quantity for column in chosen if whole or column.quantity not in READINGS}
    for too in _named_too(name, headings, stated):
        if too.index not in taken and too.quantity not in given:
            chosen.append(too)
            taken.add(too.index)
    for heading in headings:
        if heading.index in taken or layout.kinds[heading.index] not in ("number", "missing"):
            continue
        given_unit = units.get(heading.index) or _unit_of_cells(layout, heading)
        column = column_of(heading, units.get(heading.index))
        if column and column.unit is None and given_unit and measures(given_unit, column.quantity):
            column = replace(column, unit=given_unit)
        if column and column.quantity not in given:
            chosen.append(column)
    return sorted(_with_labels(chosen), key=lambda column: (column.rank, column.index))


def _stated(name: str, headings: Sequence[Heading], stated: Mapping[str, str]) -> Iterator[Column]:
    """Return the columns that a person named; several of a quantity are numbered in order."""
    for quantity, text in stated.items():
        if quantity not in (*POSSIBLE, "unit") or not text:
            continue
        parts = stated_parts(headings, text)
        for number, part in enumerate(parts, start=1):
            column = stated_column(name, headings, quantity, part)
            yield replace(column, label=str(number)) if len(parts) > 1 else column


def _named_too(
    name: str, headings: Sequence[Heading], stated: Mapping[str, str]
) -> Iterator[Column]:
    """Return the columns of which a person says that their headings, misspelt, name a reading."""
    for quantity, key in ALSO.items():
        for part in stated_parts(headings, stated[key]) if stated.get(key) else ():
            column = stated_column(name, headings, quantity, part)
            label = column.label or " ".join(_other_words(column.heading, quantity))
            yield replace(column, label=label, rank=0, stated=False)


def _other_words(heading: str, quantity: str) -> Iterator[str]:
    """Yield what a heading near to a quantity's name says besides: a room, or a number."""
    words = unit_in(heading)[1].split()
    for place, word in enumerate(words):
        numbered = _NUMBERED.fullmatch(word)
        if numbered and near_quantity(words_of(numbered[1])) == quantity:
            yield numbered[2]
        elif near_quantity(words_of(word)) != quantity and not (place and unit_of(word)):
            yield word


def stated_parts(headings: Sequence[Heading], text: str) -> list[str]:
    """Return the headings that "A+B" names, each with its unit; a plus sign may be one's own."""
    if find_heading(headings, text) or "+" not in text:
        return [text]
    pieces, parts = text.split("+"), list[str]()
    while pieces:
        for count in range(len(pieces), 0, -1):
            part = "+".join(pieces[:count])
            if count == 1 or find_heading(headings, part.rpartition("[")[0] or part):
                parts.append(part.strip())
                pieces = pieces[count:]
                break
    return parts


def columns_stated(headings: Sequence[Heading], stated: Mapping[str, str], key: str) -> set[int]:
    """Return the indices of the columns that a person names under a key such as "aside"."""
    parts = stated_parts(headings, stated[key]) if stated.get(key) else []
    return {h.index for part in parts if (h := find_heading(headings, part))}


def _unit_of_cells(layout: Layout, heading: Heading) -> Unit | None:
    """Return the unit that stands behind the numbers of a column, where it is one and the same."""
    cells = [cell.strip().strip('"') for cell in layout.column(heading.index)]
    behind = {match[1].strip() for cell in cells if (match := _BEHIND.search(cell))}
    found = {unit_of(text) for text in behind}
    return found.pop() if len(found) == 1 else None


def _with_labels(columns: Sequence[Column]) -> list[Column]:
    """Return columns with each said one given to the sensor whose name its heading holds."""
    known = {c.label for c in columns if not c.stated and c.label}
    labelled = []
    for column in columns:
        home = [label for label in known if label.casefold() in column.heading.casefold()]
        mend = column.stated and not column.label and home
        labelled.append(replace(column, label=max(home, key=len)) if mend else column)
    return labelled


def stated_column(name: str, headings: Sequence[Heading], quantity: str, text: str) -> Column:
    """Return the column that a person named, by heading or by number."""
    heading = find_heading(headings, text)
    unit = None
    if heading is None and text.rstrip().endswith("]"):
        bare, _, bracket = text.rstrip().removesuffix("]").rpartition("[")
        heading, unit = find_heading(headings, bare), unit_of(bracket)
    if heading is None:
        heading = stated_heading(name, headings, quantity, text)
    stated = unit or _unit(heading)
    fits = stated if stated and (quantity == "unit" or measures(stated, quantity)) else None
    return Column(heading.index, heading.shown, quantity, heading.group, fits, -9, stated=True)


def stated_heading(name: str, headings: Sequence[Heading], key: str, text: str) -> Heading:
    """Return the heading that a person named, or raise `UnknownNameError` listing the headings."""
    heading = find_heading(headings, text)
    if heading is None:
        known = [h.shown for h in headings]
        raise UnknownNameError(read=name, name=f"{key}={text.strip()}", known=known)
    return heading


def find_heading(headings: Sequence[Heading], text: str) -> Heading | None:
    """Return the heading with this text, or of this number counted from 1."""
    wanted = text.strip().casefold()
    for heading in headings:
        if wanted and wanted in {t.casefold() for t in (*heading.texts, heading.shown)}:
            return heading
    for heading in headings:
        bare = {unit_in(t)[1].strip().casefold() for t in heading.texts}
        if wanted and wanted in bare:
            return heading
    number = wanted.removeprefix("column").strip()
    if number.isdecimal() and 0 < int(number) <= len(headings):
        return headings[int(number) - 1]
    return None


def column_of(heading: Heading, stated: Unit | None = None) -> Column | None:
    """Return the heading's column with its quantity, or None where it names none.

    ``stated`` is the unit where a person named it.
    """
    texts = [heading.legend] if heading.legend else list(heading.texts)
    words = [words_of(unit_in(text)[1]) for text in texts]
    unit = stated or _unit(heading)
    quantity = _agreed(words) or _by_unit_alone(heading, unit)
    if quantity and unit is not None and quantity.endswith("pressure_pa") and unit.name == "other":
        # "mm" above a pressure is hardly a length; the values tell of what.
        unit = None
    if quantity is None or (unit is not None and not measures(unit, quantity)):
        return None
    spoken = " ".join(words)
    rank = 2 * ("avg" in spoken or "mean" in spoken or "mittel" in spoken)
    rank += 4 * (quantity == "temp_c" and not is_air(spoken))
    rank += unit is not None and unit.name == "°F"
    if stated:
        rank = min(rank, 0)
    return Column(heading.index, heading.shown, quantity, _label(heading), unit, rank, bool(stated))


def _agreed(words: Sequence[str]) -> str | None:
    """Return the quantity that the texts above a column name, unless one denies it."""
    found = [quantity_of(text) for text in words if text]
    named = [quantity for quantity in found if quantity]
    silent = [text for text, quantity in zip(words, found, strict=False) if not quantity]
    denied = any(quantity_of(f"{text} temp") is None for text in silent)
    return named[0] if named and not denied else None


def _by_unit_alone(heading: Heading, unit: Unit | None) -> str | None:
    """Return the quantity where the heading is nothing but a unit, such as "°C" or "% RH"."""
    bare = [unit_in(text)[1] for text in heading.texts]
    if unit is None or any(bare) or heading.legend:
        return None
    if unit.family == "temperature":
        return "temp_c"
    return "rh_pct" if unit.name == "%" else None


def _label(heading: Heading) -> str:
    return heading.group or label_of(unit_in(heading.name)[1])


def _unit(heading: Heading) -> Unit | None:
    """Return the unit stated for a column: in its cell, its name or its legend."""
    if heading.unit:
        return unit_of(heading.unit) or unit_of(heading.unit.strip("()[]"))
    stated = [unit_in(text)[0] for text in heading.texts]
    if heading.legend:
        stated.append(unit_in_legend(heading.legend))
    return next((unit for unit in stated if unit), None)


def sensors_of(name: str, columns: Sequence[Column]) -> Sensors:
    """Return the columns of each sensor, by its label; "" for a single one.

    Raises
    ------
    QuestionError
        If several temperatures could belong to one humidity.
    """
    temps = [c for c in columns if c.quantity == "temp_c"]
    humidities = [c for c in columns if c.quantity == "rh_pct"]
    if len(humidities) > 1 or (not humidities and len(temps) > 1):
        sensors = _labelled(temps, humidities)
    else:
        sensors = {"": _single(name, temps, humidities)}
    for column in columns:
        if column.quantity not in READINGS:
            label = _home(column, sensors)
            if label is not None:
                sensors[label].setdefault(column.quantity, column)
    return sensors


def _single(name: str, temps: Sequence[Column], humidities: Sequence[Column]) -> dict[str, Column]:
    """Return the one temperature and humidity of a single sensor."""
    chosen = {c.quantity: c for c in humidities[:1]}
    told = [c for c in temps if c.stated and c.rank < 0]
    if told:
        return chosen | {"temp_c": told[0]}
    same = [c for c in temps if humidities and _key(c) == _key(humidities[0])]
    likely = same or [c for c in temps if c.rank == temps[0].rank]
    if len({_key(c) for c in likely}) > 1:
        raise QuestionError(
            read=name,
            where="headings",
            found=f"several temperatures: {', '.join(repr(c.heading) for c in likely)}",
            expected=f"to know which belongs to {humidities[0].heading!r}",
            action=f'Say it: --column temp_c="{likely[0].heading}".',
        )
    return chosen | {c.quantity: c for c in likely[:1]}


def _labelled(temps: Sequence[Column], humidities: Sequence[Column]) -> Sensors:
    """Return columns grouped by label; pairs without distinct labels are numbered in order."""
    temps, humidities = _likeliest(temps), _likeliest(humidities)
    if any(len({_key(c) for c in group}) == 1 < len(group) for group in (temps, humidities)):
        return _labelled(_numbered(temps), _numbered(humidities))
    humidities = _given_homes(humidities, temps)
    sensors: Sensors = {}
    keys: dict[str, str] = {}
    for column in sorted([*temps, *humidities], key=lambda c: (c.rank, c.index)):
        label = keys.setdefault(_key(column), column.label)
        sensors.setdefault(label, {}).setdefault(column.quantity, column)
    return dict(sorted(sensors.items(), key=lambda item: min(c.index for c in item[1].values())))


def _given_homes(damp: Sequence[Column], warm: Sequence[Column]) -> list[Column]:
    """Return humidities with the name of the one temperature whose name is within theirs."""
    names = {_key(c): c.label for c in warm}
    lonely = set(names) - {_key(c) for c in damp}
    given = []
    for column in damp:
        near = [key for key in lonely if key and (_within(key, _key(column)))]
        fits = _key(column) not in names and len(near) == 1
        given.append(replace(column, label=names[near[0]]) if fits else column)
    return given


def _within(one: str, other: str) -> bool:
    """Return whether the words of one name begin the other, or two letters are exchanged."""
    short, long = sorted((one.split(), other.split()), key=len)
    alike = difflib.SequenceMatcher(None, one, other).ratio() >= limit("name", "near")
    return long[: len(short)] == short or (alike and sorted(one) == sorted(other))


def _likeliest(columns: Sequence[Column]) -> list[Column]:
    """Return the columns without those that have a likelier one of the same label."""
    best: dict[str, int] = {}
    for column in columns:
        best[_key(column)] = min(column.rank, best.get(_key(column), column.rank))
    return [column for column in columns if column.rank == best[_key(column)]]


def _numbered(columns: Sequence[Column]) -> list[Column]:
    in_order = sorted(columns, key=lambda column: column.index)
    return [replace(c, label=str(number)) for number, c in enumerate(in_order, start=1)]


def _key(column: Column) -> str:
    return column.label.casefold()


def _home(column: Column, sensors: Sensors) -> str | None:
    """Return the label of the sensor that another quantity belongs to."""
    if len(sensors) == 1:
        return next(iter(sensors))
    return next((label for label in sensors if label.casefold() == _key(column)), None)
