"""JSON and JSON lines: the records in it as a table of text, one line a record.

Understood are a list of objects (also deep inside others), a list of lists under headings, lists
side by side under a name each, objects named by their times, and an object a line. What stands
around the records (a device, a place) becomes a column where it differs from record to record,
else a line above the table. Numbers keep the digits in which they were written.
"""

import csv
import io
import json
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any

from service.errors import NotUnderstoodError, remark
from service.ingest.files.decode import Decoded

# One document is held whole, at some ten times its size; lines are read one by one.
DOCUMENT_BYTES = 100_000_000


MOST_COLUMNS = 2_000


_OBJECT = re.compile(rb'\s*\{\s*["}]')


_LIST = re.compile(rb'\s*\[\s*(?:[\[{"\]]|-?\d)')


_BRACKETED_WORD = re.compile(rb"\s*\[[^\]\[{\"]*[A-Za-z]")


def is_json(head: bytes) -> bool:
    """Return whether a text begins as JSON does, and not with a heading in brackets.

    Examples
    --------
    >>> [is_json(text) for text in (b'[{"t": 1}]', b"[Readings 2024]", b'{"rh": [1]}', b"{A}")]
    [True, False, True, False]
    """
    if _OBJECT.match(head):
        return True
    return bool(_LIST.match(head)) and not _BRACKETED_WORD.match(head)


def json_table(text: Decoded) -> Decoded:
    """Return the records of a JSON text as a table of tabs.

    Raises
    ------
    NotUnderstoodError
        If it breaks off, is nested too deeply, is too large, or holds no records.
    """
    in_lines = _is_lines(text.text)
    rows = list(_of_lines(text) if in_lines else _of_document(text))
    best, others = _largest(rows)
    around, above = _around(best)
    columns = list(dict.fromkeys([*around, *(name for one in best for name in one.record)]))
    if not columns or len(columns) > MOST_COLUMNS:
        found = f"records of {len(columns):,} values each" if columns else "no records"
        raise _refused(text.name, "", found)
    table = io.StringIO()
    table.writelines(f"{_plain(name)}: {_plain(value)}\n" for name, value in above.items())
    writer = csv.writer(table, delimiter="\t", lineterminator="\n")
    if not all(name.isdigit() for name in columns):
        writer.writerow([_plain(name) for name in columns])
    for one in rows:
        if isinstance(one, str):
            table.write(_plain(one) + "\n")
        elif one.place == best[0].place:
            values = {**one.around, **one.record}
            writer.writerow([_plain(values.get(name, "")) for name in columns])
    names = remark(f"{len(above) + 1} lines of names" if above else "1 line of names")
    notes = [remark(f"Lines are counted with {names} above the first record."), *others]
    body = table.getvalue().encode("utf-8", errors="replace")
    kind = "JSON lines" if in_lines else "JSON"
    return Decoded(text.name, kind, body, text.part, "tab", (*text.notes, *notes))


def _is_lines(text: bytes) -> bool:
    """Return whether the first filled line is whole by itself and others follow."""
    first, _, rest = text.lstrip().partition(b"\n")
    if not rest.strip():
        return False
    try:
        return isinstance(_parsed(first), (dict, list))
    except (ValueError, RecursionError):
        return False


Record = dict[str, str]


@dataclass(frozen=True)
class Found:
    """One record: the names under which it stands, its values, and those around it."""

    place: str
    record: Record
    around: Record = field(default_factory=dict)


def _of_lines(text: Decoded) -> Iterator[Found | str]:
    """Return the records of each line; a line that is no JSON stays as it is, in its place."""
    for line in text.text.decode("utf-8", errors="replace").split("\n"):
        if not line.strip():
            continue
        try:
            found = list(records_in(_parsed(line)))
        except (ValueError, RecursionError, TooDeepError):
            yield line
        else:
            yield from found
            if not found:
                yield line


def _of_document(text: Decoded) -> Iterator[Found]:
    if len(text.text) > DOCUMENT_BYTES:
        found = f"one document of {len(text.text) / 1e6:,.0f} MB"
        raise _refused(text.name, "", found, "one object a line, which may be of any length")
    try:
        yield from records_in(_parsed(text.text))
    except json.JSONDecodeError as problem:
        found = f"JSON that breaks off or is damaged ({problem.msg})"
        raise _refused(text.name, f"line {problem.lineno}", found) from problem
    except ValueError as problem:
        raise _refused(text.name, "", str(problem)) from problem
    except (RecursionError, TooDeepError) as problem:
        raise _refused(text.name, "", "lists within lists beyond any use") from problem


def _parsed(text: str | bytes) -> Any:
    """Return a JSON text as objects; numbers stay the text they are."""
    return json.loads(
        text, parse_float=str, parse_int=str, parse_constant=str, object_pairs_hook=_unique
    )


def _unique(pairs: Sequence[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        twice, _ = Counter(name for name, _ in pairs).most_common(1)[0]
        raise ValueError(f"an object that names {twice[:60]!r} twice")
    return found


def _largest(rows: Iterable[Found | str]) -> tuple[list[Found], list[str]]:
    """Return the records of the place that holds most, and a note on the other places."""
    found = sorted((row for row in rows if isinstance(row, Found)), key=lambda one: one.place)
    places = [list(group) for _, group in groupby(found, key=lambda one: one.place)]
    places.sort(key=lambda group: (-len(group), -group[0].place.count("."), group[0].place))
    if not places:
        return [], []
    best, *others = places
    if not others or not best[0].place:
        return best, []
    left = ", ".join(
        f"{group[0].place} ({len(group)})"
        if group[0].place
        else remark(f"the outermost object ({len(group)})")
        for group in others
    )
    count, place = len(best), best[0].place
    return best, [remark(f"The {count} records under {place} are read; left aside: {left}.")]


def _around(records: Sequence[Found]) -> tuple[list[str], dict[str, str]]:
    """Return what stands around the records: the names of columns, and what is always the same."""
    names = dict.fromkeys(name for one in records for name in one.around)
    values = {name: {one.around.get(name, "") for one in records} for name in names}
    above = {name: min(seen) for name, seen in values.items() if len(seen) == 1}
    own = {name for one in records for name in one.record}
    return [name for name in names if name not in above and name not in own], above


def _plain(text: str) -> str:
    return " ".join(text.split())


def _refused(
    name: str, where: str, found: str, expected: str = "records of readings"
) -> NotUnderstoodError:
    return NotUnderstoodError(
        read=name,
        where=where,
        found=found,
        expected=expected,
        action="Export the readings again as JSON, JSON lines or CSV, and give that file.",
    )


# Where the records stand in a JSON document, whatever stands around them.

DEEPEST = 32


_TIME = re.compile(r"\d{4}-\d{2}-\d{2}(?:[T ]\d{2}:\d{2}.*)?|\d{10}|\d{13}")


_WHEN = re.compile(r"\d+[-/.]\d+[-/.]\d|\d+:\d\d|\d{10}$|\d{13}$")


_VALUE, _UNIT = ("value", "val", "v"), ("unit", "units", "uom")


class TooDeepError(Exception):
    """A document nested deeper than any record of readings."""


def records_in(node: Any) -> Iterator[Found]:
    """Return every record of a document; numbers in it are texts.

    Examples
    --------
    >>> [one.record for one in records_in({"time": ["1", "2"], "rh": ["45", "46"]})]
    [{'time': '1', 'rh': '45'}, {'time': '2', 'rh': '46'}]
    >>> list(records_in({"device": "A", "data": [{"t": "1", "air": {"rh": "45"}}]}))[-1]
    Found(place='data', record={'t': '1', 'air rh': '45'}, around={'device': 'A'})
    """
    yield from _walk(node, "", {}, 0)


def _walk(node: Any, place: str, around: Record, depth: int) -> Iterator[Found]:
    if depth > DEEPEST:
        raise TooDeepError
    if isinstance(node, list):
        yield from _in_list(node, place, around, depth)
    elif isinstance(node, dict):
        table, beside = _table(node)
        if table:
            outside = {**around, **_flat({name: node[name] for name in beside})}
            yield from (Found(place, record, outside) for record in table)
        else:
            yield from _in_object(node, place, around, depth)


def _in_list(node: Sequence[Any], place: str, around: Record, depth: int) -> Iterator[Found]:
    rows = [one for one in node if isinstance(one, list)]
    if rows and len(rows) == len(node):
        yield from (Found(place, record, around) for record in _under_headings(rows))
        return
    for one in node:
        yield from _walk(one, place, around, depth + 1)


def _in_object(node: Mapping[str, Any], place: str, around: Record, depth: int) -> Iterator[Found]:
    """Return the object itself, and the records deeper in it."""
    inner = {name: value for name, value in node.items() if _holds_records(value, depth)}
    own = _flat({name: value for name, value in node.items() if name not in inner})
    if own:
        yield Found(place, own, around)
    if not inner:
        return
    under = place.rsplit(".", 1)[-1]
    outside = {**around, **{f"{under} {name}".strip(): value for name, value in own.items()}}
    if _alike(inner):
        series = _series_name(inner)
        for name, value in inner.items():
            yield from _walk(value, f"{place}.", {**outside, series: name}, depth + 1)
        return
    for name, value in inner.items():
        units = _units_beside(node, name, value)
        deeper = f"{place}.{name}".lstrip(".")
        yield from _walk(_with_units(value, units), deeper, outside, depth + 1)


def _holds_records(value: Any, depth: int = 0) -> bool:
    if depth > DEEPEST:
        raise TooDeepError
    if isinstance(value, list):
        return any(isinstance(one, (dict, list)) for one in value)
    if not isinstance(value, dict):
        return False
    return bool(_table(value)[0]) or any(_holds_records(v, depth + 1) for v in value.values())


def _table(node: Mapping[str, Any]) -> tuple[list[Record], list[str]]:
    """Return the records of an object that is a table by itself, and the names beside them."""
    if len(node) > 1 and all(_TIME.fullmatch(name) for name in node):
        return [
            {"time": name, **(_flat(v) if isinstance(v, dict) else {"value": _text(v)})}
            for name, v in node.items()
        ], []
    return _headed(node) or _side_by_side(node) or (_by_index(node), [])


def _side_by_side(node: Mapping[str, Any]) -> tuple[list[Record], list[str]] | None:
    """Return the records of lists of the same length, one of them times, each under its name."""
    lists = {n: v for n, v in node.items() if isinstance(v, list) and len(v) > 1 and _scalars(v)}
    beside = [name for name in node if name not in lists]
    if len(lists) < 2 or len({len(v) for v in lists.values()}) > 1:
        return None
    if beside and not any(_WHEN.match(_text(v[0])) for v in lists.values()):
        return None
    if any(_holds_records(node[name]) for name in beside):
        return None
    rows = zip(*lists.values(), strict=True)
    return [dict(zip(lists, map(_text, row), strict=True)) for row in rows], beside


def _by_index(node: Mapping[str, Any]) -> list[Record]:
    """Return the records of columns that are objects with the same names of rows."""
    columns = list(node.values())
    if len(columns) < 2 or not all(isinstance(c, dict) and len(c) > 1 for c in columns):
        return []
    keys = list(columns[0])
    numbered = all(key.isdigit() for key in keys) or all(_TIME.fullmatch(key) for key in keys)
    if not numbered or not all(list(c) == keys and _scalars(c.values()) for c in columns):
        return []
    timed = {"time": ""} if _TIME.fullmatch(keys[0]) else {}
    return [
        {**({"time": key} if timed else {}), **{name: _text(node[name][key]) for name in node}}
        for key in keys
    ]


def _headed(node: Mapping[str, Any]) -> tuple[list[Record], list[str]] | None:
    """Return the records of an object that holds headings in one list and rows in another."""
    rows = {n: v for n, v in node.items() if isinstance(v, list) and v and all(map(_is_row, v))}
    if len(rows) != 1:
        return None
    ((place, body),) = rows.items()
    for name, heads in node.items():
        named = isinstance(heads, list) and all(isinstance(one, str) for one in heads)
        if named and len(heads) == max(map(len, body)):
            beside = [other for other in node if other not in (name, place)]
            return _under_headings([heads, *body]), beside
    return None


def _is_row(row: Any) -> bool:
    return isinstance(row, list) and _scalars(row)


def _under_headings(rows: Sequence[Sequence[Any]]) -> list[Record]:
    """Return rows under the names in the first, or under their numbers where it has none."""
    rows = [row for row in rows if _is_row(row)]
    if not rows:
        return []
    width = max(map(len, rows))
    named = all(isinstance(one, str) and not re.match(r"\s*[-+]?\d", one) for one in rows[0])
    heads = list(map(_text, rows[0])) if named else []
    names = [*heads, *(str(n + 1) for n in range(len(heads), width))]
    return [dict(zip(names, map(_text, row), strict=False)) for row in rows[named:]]


def _scalars(values: Any) -> bool:
    return not any(isinstance(one, (dict, list)) for one in values)


def _alike(inner: Mapping[str, Any]) -> bool:
    """Return whether several lists of objects have the same names: a series under each name."""
    firsts = [v[0] if isinstance(v, list) and v and isinstance(v[0], dict) else None
              for v in inner.values()]  # fmt: skip
    return (
        len(firsts) > 1
        and all(first is not None for first in firsts)
        and all(set(first or ()) == set(firsts[0] or ()) for first in firsts)
    )


def _series_name(inner: Mapping[str, Any]) -> str:
    """Return what the names of the series are: quantities of one value each, or sensors."""
    first = next(iter(inner.values()))[0]
    return "quantity" if len([name for name in first if name not in _UNIT]) <= 2 else "sensor"


def _units_beside(node: Mapping[str, Any], name: str, value: Any) -> Mapping[str, Any]:
    """Return the object beside a table that holds a unit for each of its columns."""
    if not isinstance(value, dict):
        return {}
    for other, beside in node.items():
        if other != name and isinstance(beside, dict) and "unit" in other.lower():
            return beside
    return {}


def _with_units(value: Any, units: Mapping[str, Any]) -> Any:
    if not units:
        return value
    stated = {name: str(unit) for name, unit in units.items() if isinstance(unit, str) and unit}
    return {f"{name} ({stated[name]})" if name in stated else name: v for name, v in value.items()}


def _flat(node: Mapping[str, Any], before: str = "") -> Record:
    """Return the values of an object, those of objects within it under both names."""
    unit = next((node[u] for u in _UNIT if isinstance(node.get(u), str)), "")
    value = next((v for v in _VALUE if v in node), "")
    if before and unit and value and len(node) == 2:
        return {f"{before} ({unit})": _text(node[value])}
    flat: Record = {}
    for name, inner in node.items():
        full = f"{before} {name}".strip()
        if isinstance(inner, dict):
            flat |= _flat(inner, full)
        else:
            flat[full] = _text(inner)
    return flat


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return " ".join(_text(one) for one in value)
    return str(value)
