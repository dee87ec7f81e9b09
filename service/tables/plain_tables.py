"""A page's table of finished text as a table to be taken away: units in headings, numbers bare."""

import re
from collections.abc import Sequence

from dashboards.lines import Table
from dashboards.text import wording
from service.tables.table_files import Cell, FileTable

NUMBER = re.compile(r"[-+]?\d+(\.\d+)?")
ENDS = re.compile(
    r"^(?P<said>.*\d)\s?(?P<unit>%RH|%|°C|K|mm|h|min|days|N/m|mrad|Pa)"
    r"(?P<reach> \(.*\))?$"
)
NO_BREAK = "\N{NO-BREAK SPACE}"


def plain_table(table: Table, name: str) -> FileTable:
    """Return a table of a page as a file: a unit that a whole column shares stands in its heading.

    Examples
    --------
    >>> rows = [("Mon 23", "44 %RH"), ("Tue 24", "−1 %RH")]
    >>> made = plain_table(Table(("Day", "Humidity"), rows), "days")
    >>> made.headings, made.rows
    (['Day', 'Humidity [%RH]'], [['Mon 23', 44.0], ['Tue 24', -1.0]])
    """
    columns = [_column(heading, [row[i] for row in table.rows])
               for i, heading in enumerate(table.headings)]  # fmt: skip
    headings = [heading for heading, _cells in columns]
    rows = [list(row) for row in zip(*(cells for _heading, cells in columns), strict=True)]
    return FileTable(name, headings, rows)


def _column(heading: str, cells: Sequence[str]) -> tuple[str, list[Cell]]:
    said = [str(cell).replace(NO_BREAK, " ").strip() for cell in cells]
    known = [cell for cell in said if cell not in ("", wording.NONE)]
    ends = [ENDS.match(cell) for cell in known]
    units = {end["unit"] for end in ends if end}
    if known and all(ends) and len(units) == 1:
        unit = units.pop()
        heading = heading if unit in heading else f"{heading} [{unit}]"
        said = [
            end["said"] + (end["reach"] or "") if (end := ENDS.match(cell)) else cell
            for cell in said
        ]
    return heading, _numbers(said)


def _numbers(said: Sequence[str]) -> list[Cell]:
    """Return a column as numbers where every cell is one, an empty cell where nothing is known."""
    plain = [cell.replace(wording.MINUS, "-").replace(wording.decimal_mark(), ".") for cell in said]
    none = [cell in ("", wording.NONE) for cell in said]
    if all(empty or NUMBER.fullmatch(cell) for cell, empty in zip(plain, none, strict=True)):
        return [None if e else float(cell) for cell, e in zip(plain, none, strict=True)]
    return [None if e else cell for cell, e in zip(said, none, strict=True)]
