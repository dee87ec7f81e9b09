"""Tables that stand below one another in one text, each under headings of its own, as one table."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from service.errors import NotUnderstoodError, QuestionError, remark
from service.ingest.fields import BLANKS, DELIMITERS, kind, split
from service.ingest.files.decode import Decoded
from service.ingest.layout import TYPED, layout_of

MOST_BYTES = 40_000_000
MOST_TABLES = 60


@dataclass
class _Table:
    """One of them: the lines of its title and headings, and of its rows, by their numbers."""

    title: str
    head: list[str]
    above: list[int]
    rows: list[int]


def as_one(text: Decoded) -> Decoded | None:
    r"""Return tables below one another as one, a column of which says from which each row is.

    Every row keeps its line. None where the text is no such thing: one table, headings that
    differ in more than one name, or so many of them that they are rather pages of one.

    Examples
    --------
    >>> text = "North\nTime,T\n2024-01-01 00:00,20\n\nSouth\nTime,T\n2024-01-01 00:00,18\n"
    >>> found = as_one(Decoded("a.csv", "utf-8", text.encode()))
    >>> print(found.text.decode())
    <BLANKLINE>
    Time,T,table
    2024-01-01 00:00,20,North
    <BLANKLINE>
    <BLANKLINE>
    <BLANKLINE>
    2024-01-01 00:00,18,South
    <BLANKLINE>
    """
    if len(text.text) > MOST_BYTES:
        return None
    try:
        layout = layout_of(text)
    except (NotUnderstoodError, QuestionError):
        return None
    lines = text.lines(0, len(text.text))
    tables = list(_tables(lines, layout.delimiter, layout.width))
    if not 1 < len(tables) <= MOST_TABLES:
        return None
    apart = _different(tables)
    titles = [table.title for table in tables]
    titled = len(set(titles)) > 1
    if apart is None or not (titled or apart >= 0):
        return None
    mark = " " if layout.delimiter == BLANKS else DELIMITERS[layout.delimiter]
    _mark_rows(lines, tables, mark, titled, apart)
    named = ", ".join(repr(one.title if titled else one.head[apart]) for one in tables)
    count = len(tables)
    note = remark(f"{count} tables stand below one another in the file, read as one: {named}.")
    return replace(text, text="\n".join(lines).encode(), notes=(*text.notes, note))


def _tables(lines: Sequence[str], delimiter: str, width: int) -> Iterator[_Table]:
    """Yield each table: lines that are no rows, of which one is as wide as they, then rows."""
    above: list[int] = []
    table: _Table | None = None
    for number, line in enumerate(lines):
        cells = split(line, delimiter) if line.strip() else []
        if not _is_row(cells, width):
            above += [number] if line.strip() else []
            continue
        heads = [n for n in above if _is_head(split(lines[n], delimiter), width)]
        if heads:
            if table:
                yield table
            title = next((lines[n] for n in reversed(above) if n < heads[0]), "")
            head = [cell.strip().strip('"') for cell in split(lines[heads[0]], delimiter)]
            table = _Table(
                _plain(title), head, [heads[0], *(n for n in above if n != heads[0])], []
            )
        above = []
        if table:
            table.rows.append(number)
    if table:
        yield table


def _is_row(cells: Sequence[str], width: int) -> bool:
    return len(cells) == width and sum(kind(cell) in TYPED for cell in cells) >= 2


def _is_head(cells: Sequence[str], width: int) -> bool:
    return len(cells) == width and all(kind(cell) == "text" for cell in cells)


def _plain(title: str) -> str:
    """Return a title without what would end its field."""
    for mark in ('"', *DELIMITERS.values()):
        title = title.replace(mark, " ") if mark else title
    return " ".join(title.split())


def _different(tables: Sequence[_Table]) -> int | None:
    """Return the one column whose names differ, -1 where none does, None where several do."""
    names = zip(*(table.head for table in tables), strict=True)
    apart = [at for at, column in enumerate(names) if len(set(column)) > 1]
    return None if len(apart) > 1 else apart[0] if apart else -1


def _mark_rows(
    lines: list[str], tables: Sequence[_Table], mark: str, titled: bool, apart: int
) -> None:
    """Write behind each row from which table it is, and one line of headings for all."""
    first = tables[0]
    head = ["value" if at == apart else name for at, name in enumerate(first.head)]
    head += ["table"] * titled + ["quantity"] * (apart >= 0)
    for table in tables:
        label = [table.title] * titled + ([_plain(table.head[apart])] if apart >= 0 else [])
        for number in table.above:
            lines[number] = ""
        for number in table.rows:
            lines[number] += mark + mark.join(f'"{one}"' if mark == " " else one for one in label)
    lines[first.above[0]] = mark.join(head)
