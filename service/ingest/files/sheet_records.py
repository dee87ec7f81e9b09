"""What the records of an older workbook (XLS) say against each other.

The format has no checksum: a damaged record may put a value into another cell that exists, or hide
the rows behind it. What is declared of a sheet and its rows, and the order in which cells stand,
tells of it. Records as in [MS-XLS], https://learn.microsoft.com/openspecs (section in brackets).
"""

import io
import struct
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import olefile

STREAM = "Workbook"
BIFF8 = 0x0600
BOF, EOF, BOUNDSHEET, FILEPASS = 0x0809, 0x000A, 0x0085, 0x002F
DIMENSIONS, ROW = 0x0200, 0x0208  # 2.4.90, 2.4.221
# Cells with the length of their records: BLANK, NUMBER, BOOLERR, RK, LABELSST (2.4.20, 2.4.180,
# 2.4.24, 2.4.220, 2.4.149); LABEL and FORMULA have none (2.4.148, 2.4.127).
LENGTHS = {0x0201: 6, 0x0203: 14, 0x0205: 8, 0x027E: 10, 0x00FD: 10, 0x0204: 0, 0x0006: 0}
# Runs of cells with the bytes of each: MULRK, MULBLANK (2.4.175, 2.4.174).
RUNS = {0x00BD: 6, 0x00BE: 2}
# What may stand among cells: DBCELL, SHRFMLA, ARRAY, TABLE, STRING, CONTINUE, UNCALCED, INDEX,
# NOTE, HLINK, PHONETICINFO.
AMONG = {0x00D7, 0x04BC, 0x0221, 0x0236, 0x0207, 0x003C, 0x005E, 0x020B, 0x001C, 0x01B8, 0x00EF}
WORKSHEET = 0
Record = tuple[int, bytes]


@dataclass(frozen=True)
class Disagreement:
    """What was found in a sheet, and what the rest of the sheet leads one to expect."""

    found: str
    expected: str


@dataclass
class _Sheet:
    """The records of a sheet, as far as they tell where its cells stand."""

    rows: tuple[int, int] = (0, 0)
    columns: tuple[int, int] = (0, 0)
    spans: dict[int, tuple[int, int]] = field(default_factory=dict)
    cells: list[tuple[int, int, int]] = field(default_factory=list)
    strange: Disagreement | None = None


def disagreements(data: bytes) -> tuple[Disagreement | None, ...]:
    """Return the first disagreement within each worksheet of an older workbook, None without one.

    Parameters
    ----------
    data : bytes
        The file; of formats before BIFF8, and of locked workbooks, nothing is returned.

    Returns
    -------
    tuple of Disagreement or None
        One for each worksheet, in the order of the workbook.
    """
    try:
        with olefile.OleFileIO(io.BytesIO(data)) as document:
            stream = document.openstream(STREAM).read()
    except (OSError, ValueError, IndexError, struct.error):
        return ()
    head = list(_records(stream, 0))
    ids = {record for record, _ in head}
    if not head or head[0][1][:2] != BIFF8.to_bytes(2, "little") or FILEPASS in ids:
        return ()
    sheets = [body for record, body in head if record == BOUNDSHEET and len(body) > 6]
    starts = [int.from_bytes(b[:4], "little") for b in sheets]
    tables = [start for start, b in zip(starts, sheets, strict=True) if b[5] == WORKSHEET]
    return tuple(_disagreement(_sheet(stream, start, set(starts))) for start in tables)


def _records(stream: bytes, at: int) -> Iterator[Record]:
    """Yield the records from a place up to the end of what begins there."""
    depth = 0
    while at + 4 <= len(stream):
        record, length = struct.unpack_from("<HH", stream, at)
        depth += (record == BOF) - (record == EOF)
        if depth < 1 and record != EOF:
            return
        yield record, stream[at + 4 : at + 4 + length]
        at += 4 + length
        if depth == 0:
            return


def _sheet(stream: bytes, start: int, starts: set[int]) -> _Sheet:
    found, end, last, pending = _Sheet(), start, 0, None
    for record, body in _records(stream, start):
        end, last = end + 4 + len(body), record
        if record == DIMENSIONS and len(body) >= 12:
            found.rows = struct.unpack_from("<II", body)
            found.columns = struct.unpack_from("<HH", body, 8)
        elif record == ROW and len(body) >= 6:
            row, first, behind = struct.unpack_from("<HHH", body)
            found.spans[row] = (first, behind)
        elif record in LENGTHS or record in RUNS:
            found.strange = found.strange or pending or _wrong_length(record, body)
            found.cells += [_place(record, body)] if len(body) >= 6 else []
        elif found.cells and record not in AMONG and not pending:
            pending = Disagreement(
                found=f"a record of kind {record} among the cells of row {found.cells[-1][0] + 1}",
                expected="cells alone",
            )
    if last != EOF or _goes_on(stream, end, starts):
        row = max((place[0] for place in found.cells), default=0) + 1
        found.strange = found.strange or Disagreement(
            found=f"an end of the sheet behind row {row}, and more of it behind that",
            expected="nothing behind its end",
        )
    return found


def _wrong_length(record: int, body: bytes) -> Disagreement | None:
    """Return what a cell's record says wrongly of its own length."""
    if record in LENGTHS:
        wrong = LENGTHS[record] not in (0, len(body))
    else:
        _, first, last = _place(record, body) if len(body) >= 6 else (0, 0, 0)
        wrong = len(body) - 6 != RUNS[record] * (last - first + 1)
    if not wrong:
        return None
    return Disagreement(
        found=f"a cell's record of {len(body)} bytes", expected="the length that such a cell has"
    )


def _place(record: int, body: bytes) -> tuple[int, int, int]:
    """Return the row of a record's cells, their first column and their last."""
    row, column = struct.unpack_from("<HH", body)
    last = int.from_bytes(body[-2:], "little") if record in RUNS else column
    return row, column, last


def _goes_on(stream: bytes, end: int, starts: set[int]) -> bool:
    """Return whether a sheet's records go on behind its end."""
    if end in starts or end + 4 > len(stream):
        return False
    record = int.from_bytes(stream[end : end + 2], "little")
    return record in LENGTHS or record in RUNS or record == ROW


def _disagreement(sheet: _Sheet) -> Disagreement | None:
    cells = sheet.cells
    if sheet.strange or not cells:
        return sheet.strange
    return _outside(sheet) or _out_of_order(cells) or _not_there(sheet)


def _outside(sheet: _Sheet) -> Disagreement | None:
    """Return a cell outside of what the sheet, or its row, says of itself."""
    (first, behind), (left, right) = sheet.rows, sheet.columns
    for row, start, stop in sheet.cells:
        if behind and not first <= row < behind:
            return Disagreement(
                found=f"a cell in row {row + 1:,} of a sheet that says it has rows {first + 1:,} "
                f"to {behind:,}",
                expected="every cell within them",
            )
        begin, end = sheet.spans.get(row, (0, 0))
        begin, end = (begin, end) if end > begin else (left, right)
        if end > begin and not (begin <= start and stop < end):
            return Disagreement(
                found=f"a cell in column {stop + 1} of row {row + 1:,}, which says it has columns "
                f"{begin + 1} to {end}",
                expected="every cell within them",
            )
    return None


def _out_of_order(cells: Sequence[tuple[int, int, int]]) -> Disagreement | None:
    """Return a cell that stands alone among those of another row or column.

    Some programs write column by column; then those behind do not go on from those before.
    """
    for before, here, after in zip(cells, cells[1:], cells[2:], strict=False):
        if before[:2] < after[:2] and not before[:2] < here[:2] < after[:2]:
            return Disagreement(
                found=f"a cell of row {here[0] + 1:,}, column {here[1] + 1} between row "
                f"{before[0] + 1:,}, column {before[1] + 1} and row {after[0] + 1:,}, column "
                f"{after[1] + 1}",
                expected="cells in their order",
            )
    return None


def _not_there(sheet: _Sheet) -> Disagreement | None:
    """Return rows that say they have cells and have none, or that the sheet says it has."""
    there = {row for row, _, _ in sheet.cells}
    lost = sorted(
        r for r, (first, behind) in sheet.spans.items() if behind > first and r not in there
    )
    if lost:
        return Disagreement(
            found=f"no cell in row {lost[0] + 1:,} ({len(lost):,} such rows)",
            expected="cells, as the row says it has some",
        )
    last = max(*there, *sheet.spans)
    if sheet.rows[1] > last + 1:
        return Disagreement(
            found=f"a sheet that says it has {sheet.rows[1]:,} rows, and {last + 1:,} of them",
            expected="all its rows",
        )
    return None
