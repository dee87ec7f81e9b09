"""What stands above the columns: one row of names or several, a row of units, a legend."""

import itertools
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from service.ingest.fields import kind, split
from service.ingest.layout import TYPED, Layout
from service.ingest.quantities import quantity_of, words_of
from service.ingest.units import unit_in, unit_of

MOST_ROWS = 5
_LEGEND = re.compile(r"\W{0,4}(\S.{0,40}?)\s*[=:]\s*(\S.{2,})")
_RULE = re.compile(r"[-=+|_\s;,\"]+")


@dataclass(frozen=True)
class Heading:
    """What is written above one column.

    ``name`` is the text shown for it ("" if there is none), ``texts`` everything above it in
    rows of names, ``unit`` its cell in a row of units, ``group`` the sensor named above it in a
    row that spans columns, ``legend`` its line of explanation in the preamble. ``again`` tells
    that another column has the same name.
    """

    index: int
    name: str
    texts: tuple[str, ...] = ()
    unit: str = ""
    group: str = ""
    legend: str = ""
    again: bool = False

    @property
    def shown(self) -> str:
        """The name, or the number of the column where it has none; both where it is not alone."""
        number = f"column {self.index + 1}"
        return f"{self.name} ({number})" if self.name and self.again else self.name or number


def headings_of(layout: Layout) -> tuple[Heading, ...]:
    """Return the heading of each column of a layout."""
    names, units, groups = _rows(layout)
    legend = _legend(layout.head)
    names.sort(key=_named_columns, reverse=True)
    headings = []
    for index in range(layout.width):
        texts = tuple(row[index] for row in names if row[index])
        if layout.kinds[index] == "time":
            texts = tuple(sorted(texts, key=_time_word, reverse=True))
        explained = next((legend[t.casefold()] for t in texts if t.casefold() in legend), "")
        unit = units[index] if units else ""
        group = groups[index] if groups else ""
        headings.append(Heading(index, texts[0] if texts else "", texts, unit, group, explained))
    seen = Counter(heading.name.casefold() for heading in headings)
    return tuple(replace(h, again=seen[h.name.casefold()] > 1) for h in headings)


Row = list[str]


def _rows(layout: Layout) -> tuple[list[Row], Row, Row]:
    """Return rows of names (topmost first), the row of units and the row of groups."""
    names: list[Row] = []
    units: Row = []
    groups: Row = []
    for line in [line for line in reversed(layout.head) if not _rule(line)][:MOST_ROWS]:
        row = _aligned(line, layout, nearest=not names and not units)
        if row is None:
            break
        if _is_title(row):
            continue
        if not units and _is_units(row, layout):
            units = row
        elif not names:
            if all(kind(cell) in (*TYPED, "missing") for cell in row):
                break
            names.insert(0, row)
        elif _is_groups(row, layout):
            groups = _spread(row)
            break
        elif _is_names(row, layout):
            names.insert(0, row)
        else:
            break
    if not names and units and all(len(cell) <= 1 for cell in units):
        # Single letters are names of columns, not ampere and degrees.
        names, units = [units], []
    return names, units, groups


def _is_title(row: Row) -> bool:
    """Return whether a row is a title above the table: one text, in its first cell."""
    alone = len(row) > 2 and bool(row[0]) and not any(row[1:])
    named = _time_word(row[0]) or bool(quantity_of(words_of(unit_in(row[0])[1])))
    return alone and not named and kind(row[0]) == "text"


def _rule(line: str) -> bool:
    return not line.strip("#/ ") or bool(_RULE.fullmatch(line))


def misfit(layout: Layout) -> int:
    """Return how many headings stand above the columns where they are not as many, else 0.

    Then no heading may be trusted to stand above its own column.
    """
    lines = [line for line in reversed(layout.head) if not _rule(line)]
    if not lines or _aligned(lines[0], layout, nearest=True) is not None:
        return 0
    row = [cell.strip().strip('"') for cell in split(lines[0], layout.delimiter)]
    while row and not row[-1]:
        row.pop()
    speak = sum(bool(quantity_of(words_of(unit_in(cell)[1]))) or _time_word(cell) for cell in row)
    return len(row) if speak and len(row) > 1 and speak >= 0.3 * len(row) else 0


def _aligned(line: str, layout: Layout, *, nearest: bool) -> Row | None:
    """Return a line's cells, one for each column, or None where it does not fit.

    Only the line nearest the readings may be cut by another delimiter than they are.
    """
    bare = line.strip().lstrip("#").removeprefix("//") if line.lstrip()[:1] in "#/" else line
    others = ("blanks", "comma", "semicolon", "tab") if nearest else ()
    for delimiter in (layout.delimiter, *others):
        row = [cell.strip().strip('"') for cell in split(bare, delimiter)]
        while len(row) > layout.width and not row[-1]:
            row.pop()
        if len(row) == layout.width:
            return row
        if len(row) == layout.width - 1 and layout.width > 2:
            return _one_short(row, layout)
        if len(row) > layout.width and delimiter == layout.delimiter and len(row) > 2:
            return None
    return None


def _one_short(row: Row, layout: Layout) -> Row | None:
    """Return a header that is a name short, with a blank where it is surely missing, or None."""
    first, second = layout.kinds[0], layout.kinds[1]
    numbered = first == "number" and _counts(layout.column(0))
    if (second == "time" and first != "time") or (numbered and not _counting_word(row[0])):
        return ["", *row]
    # Text or nothing at the end needs no name; numbers there would take another's.
    return [*row, ""] if layout.kinds[-1] in ("missing", "text") else None


def _counts(column: Sequence[str]) -> bool:
    """Return whether a column holds running row numbers."""
    try:
        numbers = [int(cell.strip().strip('"')) for cell in column]
    except ValueError:
        return False
    steps = [b - a for a, b in itertools.pairwise(numbers)]
    # Seconds since 1970 rise too, but they are no numbers of rows.
    return bool(steps) and min(steps) == 1 and numbers[-1] < 100_000_000


def _counting_word(name: str) -> bool:
    return bool(re.search(r"#|\bno\b|\bnr\b|number|index|reading|record|\bid\b", name.casefold()))


def _time_word(name: str) -> bool:
    return bool(re.search(r"time|date|dat[ou]|zeit|heure|hora|tid|aika|fecha", name.casefold()))


def _is_units(row: Row, layout: Layout) -> bool:
    """Return whether a row holds units: some cells are, none names a quantity or the time."""
    if any(_time_word(cell) for cell, k in zip(row, layout.kinds, strict=True) if k == "time"):
        return False
    filled = [cell for cell in row if cell]
    fits = sum(unit_of(cell) is not None or bool(unit_of(cell.strip("()[]"))) for cell in filled)
    named = sum(len(cell) > 3 and bool(quantity_of(words_of(cell))) for cell in filled)
    return fits >= 1 and fits >= 0.4 * len(filled) and named == 0


def _is_groups(row: Row, layout: Layout) -> bool:
    """Return whether a row names sensors above groups of columns."""
    times = [i for i, k in enumerate(layout.kinds) if k == "time"] or [0]
    above = [cell for i, cell in enumerate(row) if i not in times]
    filled = [cell for cell in above if cell]
    if not filled or any(row[i] and not _time_word(row[i]) for i in times):
        return False
    gaps = len(filled) < len(above) or len(set(filled)) < len(filled)
    return gaps and all(kind(cell) == "text" and not quantity_of(words_of(cell)) for cell in filled)


def _spread(row: Row) -> Row:
    """Return a row with each name carried on over the blanks to its right."""
    spread: Row = []
    for cell in row:
        spread.append(cell or (spread[-1] if spread else ""))
    return spread


def _is_names(row: Row, layout: Layout) -> bool:
    filled = [cell for cell in row if cell]
    texts = sum(kind(cell) == "text" for cell in filled)
    full = len(row) > 2 and texts >= 0.8 * len(row)
    return full and _named_columns(row) > 0


def _named_columns(row: Row) -> int:
    return sum(bool(quantity_of(words_of(unit_in(cell)[1]))) for cell in row if cell)


def _legend(head: Sequence[str]) -> dict[str, str]:
    """Return the preamble's explanations by the heading they explain, in lower case."""
    found = (_LEGEND.match(line) for line in head)
    return {match[1].strip().casefold(): match[2] for match in found if match}
