"""Tables as files: CSV and XLSX, units in the headings, times with their offset, no formulas."""

import csv
import io
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell

from analysis.errors import UnknownNameError
from dashboards.text.dates import with_offset
from service.register.formulas import marked

Cell = str | float | int | datetime | None
ENDINGS = ("csv", "xlsx")
ILLEGIBLE = {code: " " for code in range(32) if code not in (9, 10, 13)}  # a workbook refuses them


@dataclass(frozen=True)
class FileTable:
    """A table to be taken away.

    Attributes
    ----------
    name : str
        What the file is called, without its ending.
    headings : Sequence[str]
        Each column with its unit.
    rows : iterable of rows
        Text, numbers, instants, or None for what is not known.
    """

    name: str
    headings: Sequence[str]
    rows: Iterable[Sequence[Cell]]


def table_bytes(table: FileTable, ending: str, zone: str) -> bytes:
    """Return a table as ``csv`` or ``xlsx``; instants as local time with the zone's offset.

    Text that a spreadsheet would take for a formula is marked with ``'`` in CSV, as in the
    register's files; in XLSX it is stored as text.

    Raises
    ------
    UnknownNameError
        If the ending is neither.
    """
    if ending not in ENDINGS:
        raise UnknownNameError(read="kinds of table", name=ending, known=ENDINGS)
    return _csv(table, zone) if ending == "csv" else _xlsx(table, zone)


def _csv(table: FileTable, zone: str) -> bytes:
    into = io.StringIO()
    write = csv.writer(into, lineterminator="\r\n")
    write.writerow(table.headings)
    for row in table.rows:
        write.writerow([_text(cell, zone) for cell in row])
    return into.getvalue().encode("utf-8-sig")  # spreadsheets then know its letters


def _text(cell: Cell, zone: str) -> str:
    if cell is None or (isinstance(cell, float) and not math.isfinite(cell)):
        return ""
    if isinstance(cell, datetime):
        return with_offset(cell, zone)
    return marked(cell) if isinstance(cell, str) else repr(cell)


def _xlsx(table: FileTable, zone: str) -> bytes:
    book = Workbook(write_only=True)
    sheet = book.create_sheet("table")
    sheet.append([_typed(sheet, heading, zone) for heading in table.headings])
    for row in table.rows:
        sheet.append([_typed(sheet, cell, zone) for cell in row])
    into = io.BytesIO()
    book.save(into)
    return into.getvalue()


def _typed(sheet: object, cell: Cell, zone: str) -> Any:
    """Return a cell, None for an empty one; text stays text, whatever it begins with."""
    if cell is None or (isinstance(cell, float) and not math.isfinite(cell)):
        return None
    if isinstance(cell, datetime):
        cell = with_offset(cell, zone)
    if not isinstance(cell, str):
        return WriteOnlyCell(sheet, value=cell)
    made = WriteOnlyCell(sheet, value="")
    made.value = cell.translate(ILLEGIBLE)
    made.data_type = "s"
    return made
