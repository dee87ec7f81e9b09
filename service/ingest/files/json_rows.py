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
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from typing import Any

from service.errors import NotUnderstoodError
from service.ingest.files.decode import Decoded
from service.ingest.files.json_records import Found, TooDeepError, records_in

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
    names = f"{len(above) + 1} line{'s' * bool(above)} of names"
    notes = [f"Lines are counted with {names} above the first record.", *others]
    body = table.getvalue().encode("utf-8", errors="replace")
    kind = "JSON lines" if in_lines else "JSON"
    return Decoded(text.name, text.sha256, kind, body, text.part, "tab", (*text.notes, *notes))


def _is_lines(text: bytes) -> bool:
    """Return whether the first filled line is whole by itself and others follow."""
    first, _, rest = text.lstrip().partition(b"\n")
    if not rest.strip():
        return False
    try:
        return isinstance(_parsed(first), (dict, list))
    except (ValueError, RecursionError):
        return False


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
        f"{group[0].place or 'the outermost object'} ({len(group)})" for group in others
    )
    return best, [f"The {len(best)} records under {best[0].place} are read; left aside: {left}."]


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
