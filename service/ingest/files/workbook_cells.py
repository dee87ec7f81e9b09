"""A process of its own that opens a workbook: the bytes on standard input, its sheets on the other.

Run by `service.ingest.files.workbook`, never imported: a workbook made to exhaust memory or time
ends this process and no other. Each sheet is written as one line of JSON (its name, whether it is
hidden, and how many bytes follow) and then as a table of tabs.
"""

import csv
import datetime as dt
import io
import json
import sys
from collections.abc import Iterable
from typing import Any

from python_calamine import (
    CalamineError,
    CalamineSheet,
    PasswordError,
    SheetTypeEnum,
    SheetVisibleEnum as Visible,
    load_workbook,
)

DAY = dt.timedelta(days=1)
# Serial times are fractions of a day, and their clocks a few milliseconds off a whole second.
NEAR_A_SECOND = dt.timedelta(milliseconds=5)


def main() -> int:
    """Write the sheets; return 0, or 3 for a password, 4 for no workbook, 5 for too much."""
    memory_bytes, cpu_s, most_sheets, most_cells = map(int, sys.argv[1:5])
    _limit(memory_bytes, cpu_s)
    try:
        book = load_workbook(io.BytesIO(sys.stdin.buffer.read()))
        tables = [sheet for sheet in book.sheets_metadata if sheet.typ == SheetTypeEnum.WorkSheet]
        if len(tables) > most_sheets:
            return 5
        for sheet in tables:
            found = book.get_sheet_by_name(sheet.name)
            most_cells -= found.total_height * found.total_width
            if most_cells < 0:
                return 5
            _write(sheet.name, sheet.visible != Visible.Visible, found)
    except PasswordError:
        return 3
    except MemoryError:
        return 5
    except CalamineError as problem:
        sys.stderr.write(str(problem))
        return 4
    return 0


def _limit(memory_bytes: int, cpu_s: int) -> None:
    """Limit what this process may use, where the operating system can."""
    try:
        import resource
    except ImportError:
        return
    resource.setrlimit(resource.RLIMIT_AS, (memory_bytes, memory_bytes))
    resource.setrlimit(resource.RLIMIT_CPU, (cpu_s, cpu_s))


def _write(name: str, hidden: bool, sheet: CalamineSheet) -> None:
    rows = [[_text(cell) for cell in row] for row in sheet.iter_rows()]
    _with_midnights(rows)
    table = io.StringIO()
    csv.writer(table, delimiter="\t", lineterminator="\n").writerows(_without_margin(rows))
    payload = table.getvalue().encode("utf-8", errors="replace")
    head = {"name": name, "hidden": hidden, "rows": len(rows), "bytes": len(payload)}
    sys.stdout.buffer.write(json.dumps(head).encode() + b"\n" + payload)


def _text(cell: Any) -> str:
    """Return a cell as text: numbers in full, dates and times as ISO 8601."""
    if isinstance(cell, str):
        return " ".join(cell.split())
    if isinstance(cell, bool):
        return str(cell).upper()
    if isinstance(cell, (int, float)):
        return f"{cell:.0f}" if cell == cell and abs(cell) < 1e15 and cell % 1 == 0 else repr(cell)
    if isinstance(cell, dt.datetime):
        return _whole(cell).isoformat(" ")
    if isinstance(cell, dt.date):
        return cell.isoformat()
    if isinstance(cell, dt.time):
        return _clock(cell)
    return _duration(cell)


def _whole(time: dt.datetime) -> dt.datetime:
    """Return a time to the second where it is within a few milliseconds of one."""
    second = (time + NEAR_A_SECOND).replace(microsecond=0)
    return second if abs(time - second) <= NEAR_A_SECOND else time


def _clock(time: dt.time) -> str:
    near = _whole(dt.datetime.combine(dt.date(2000, 1, 1), time))
    return "24:00:00" if near.day > 1 else near.time().isoformat()


def _duration(time: dt.timedelta) -> str:
    seconds = round(time.total_seconds())
    hours, rest = divmod(seconds, 3600)
    return f"{hours}:{rest // 60:02}:{rest % 60:02}"


def _with_midnights(rows: list[list[str]]) -> None:
    """Write midnight out in a column of times: a cell of whole days is given as a date alone."""
    for index in range(max(map(len, rows), default=0)):
        column = [row[index] for row in rows if index < len(row)]
        if any(_is_time(cell) for cell in column) and any(_is_date(cell) for cell in column):
            for row in rows:
                if index < len(row) and _is_date(row[index]):
                    row[index] += " 00:00:00"


def _is_date(cell: str) -> bool:
    return len(cell) == 10 and cell[4::3] == "--" and cell.replace("-", "").isdigit()


def _is_time(cell: str) -> bool:
    return len(cell) >= 19 and cell[10] == " " and _is_date(cell[:10])


def _without_margin(rows: list[list[str]]) -> Iterable[list[str]]:
    """Leave off columns without a cell on either side; rows keep their numbers."""
    filled = {index for row in rows for index, cell in enumerate(row) if cell}
    first, last = min(filled, default=0), max(filled, default=-1)
    return ([*row[first : last + 1]] for row in rows)


if __name__ == "__main__":
    sys.exit(main())
