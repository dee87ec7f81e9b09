"""Tables whose columns stand at fixed characters: cut where blanks, or a person, say so."""

import csv
import io
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from service.errors import NotUnderstoodError, remark
from service.ingest.fields import kind
from service.ingest.files.decode import Decoded

SAMPLE_BYTES = 60_000
SAMPLE_LINES = 300
# Share of the cells of a column that must line up.
ALIGNED = 0.9
# So many numbers that grow from each to the next are a count.
LEAST_COUNTED = 10
LONGEST = 2_000
_TOKEN = re.compile(r"\S+")
_PHRASE = re.compile(r"\S+(?: \S+)*")
_MONTH = re.compile(r"[^\W\d_]{3,}")
_VALUE = re.compile(r"[-+−]?[\d.,:/\-TZ+]*\d[\d.,:/\-TZ+%°CF]*")
_OTHER_DELIMITER = re.compile(r"[;\t|]|(?<!\d),|,(?!\d)|:\d\d,\d|\.\d+,|,\d+,")
# So many pieces a date with the name of its month, and its clock, may have.
MOST_PIECES = 5

Span = tuple[int, int]


def by_width(text: Decoded, widths: str = "") -> Decoded:
    """Return a text of fixed columns as a table of tabs; any other text as it is.

    Parameters
    ----------
    text : Decoded
        The decoded file.
    widths : str
        The number of characters of each column, as a person said them: ``"10,6,5,5"``.

    Raises
    ------
    NotUnderstoodError
        If the widths that were said are no numbers.
    """
    spans = _spans_declared(text.name, widths) if widths else _spans_seen(text)
    if not spans:
        return text
    values = _values(text, spans)
    above_rows = _above(text)
    heads = _named(above_rows[-1], spans, [], []) if above_rows else []
    lines = text.text.decode("utf-8", errors="replace").replace("\r\n", "\n").split("\n")
    table = io.StringIO()
    writer = csv.writer(table, delimiter="\t", lineterminator="\n")
    above, usual = True, _usual(_sample(text))
    for line in lines:
        above = above and not _is_row(line, usual)
        if not line.strip():
            table.write("\n")
        else:
            writer.writerow(
                _named(line, spans, values, heads) if above and not widths else _cut(line, spans)
            )
    places = ", ".join(f"{start + 1} to {end}" for start, end in spans)
    note = remark(f"The columns are cut at fixed characters: {places}.")
    return replace(text, text=table.getvalue().encode(), delimiter="tab", notes=(*text.notes, note))


def _spans_declared(name: str, widths: str) -> list[Span]:
    try:
        counts = [int(one) for one in re.split(r"[,; ]+", widths.strip())]
    except ValueError:
        counts = []
    if not counts or min(counts) < 1 or sum(counts) > LONGEST:
        raise NotUnderstoodError(
            read=name,
            where="the widths that were said",
            found=repr(widths),
            expected="how many characters each column has, one number for each",
            action="Write them with commas between, for example 10,6,5,5.",
        )
    ends = [sum(counts[: n + 1]) for n in range(len(counts))]
    return list(pairwise([0, *ends]))


def _spans_seen(text: Decoded) -> list[Span]:
    """Return the columns of a table that blanks alone do not cut evenly, else nothing."""
    lines = _sample(text)
    if 2 * sum("\t" in line or bool(_OTHER_DELIMITER.search(line)) for line in lines) > len(lines):
        return []
    usual = _usual(lines)
    lines = [line for line in lines if _is_row(line, usual)]
    if len(lines) < 5 or max(map(len, lines)) > LONGEST or any("\t" in line for line in lines):
        return []
    if sum(bool(_OTHER_DELIMITER.search(line)) for line in lines) > 0.1 * len(lines):
        return []
    counts = Counter(len(line.split()) for line in lines)
    above = _above(text)
    heading = above[-1] if above else ""
    runs = _runs(lines)
    spans = _dates_joined(runs, lines)
    cut = _fits(heading, len(lines[0].split())) and (heading or spans == runs)
    if len(counts) == 1 and cut and not _grouped(above, lines):
        return []
    if len(spans) < 3 or not all(_lined_up(lines, span) for span in spans):
        return []
    return _joined(spans, heading, lines)


def _above(text: Decoded) -> list[str]:
    """Return the filled lines above the rows, among the first lines; nothing without rows."""
    above: list[str] = []
    usual = _usual(_sample(text))
    for line in text.lines(0, SAMPLE_BYTES):
        if _is_row(line, usual):
            return above
        if line.strip(" -=_"):
            above.append(line.rstrip())
    return []


def _grouped(above: Sequence[str], lines: Sequence[str]) -> bool:
    """Return whether a line over the headings names sensors, each over columns of its own.

    Blanks cut the rows alone as well then, but not that line.
    """
    if len(above) < 2:
        return False
    names = list(_PHRASE.finditer(above[-2]))
    return (
        2 <= len(names) < len(lines[0].split())
        and names[0].start() >= _runs(lines)[0][1]
        and all(kind(name.group()) == "text" for name in names)
    )


def _fits(heading: str, count: int) -> bool:
    """Return whether blanks cut a line of headings into as many names as the rows have values."""
    if not heading:
        return True
    return len(heading.split()) == count and len(_PHRASE.findall(heading)) in (1, count)


def _dates_joined(spans: Sequence[Span], lines: Sequence[str]) -> list[Span]:
    """Return the columns, joined where single blanks part the pieces of a date and its clock."""
    joined: list[Span] = []
    left = list(spans)
    while left:
        close = 1
        while close < min(len(left), MOST_PIECES) and left[close][0] - left[close - 1][1] == 1:
            close += 1
        wholes = [(left[0][0], left[n - 1][1]) for n in range(close, 1, -1)]
        whole = next((w for w in wholes if _are_times(lines, w)), left[0])
        joined.append(whole)
        left = [span for span in left if span[0] >= whole[1]]
    return joined


def _are_times(lines: Sequence[str], span: Span) -> bool:
    cells = [line[slice(*span)] for line in lines]
    named = sum(kind(cell) == "time" and bool(_MONTH.search(cell)) for cell in cells)
    return named >= ALIGNED * len(cells)


def _joined(spans: Sequence[Span], heading: str, lines: Sequence[str]) -> list[Span]:
    """Return the columns, joined where one blank alone parts them under one heading.

    A date and its clock, a clock and its half of the day, a number and its unit stand so.
    """
    phrases = [match.span() for match in _PHRASE.finditer(heading)]
    if len(phrases) < 2:
        return list(spans)
    owners = [_nearest(span, phrases) for span in spans]
    joined = [spans[0]]
    for n, span in enumerate(spans[1:], 1):
        if owners[n] == owners[n - 1] and span[0] - joined[-1][1] == 1:
            joined[-1] = (joined[-1][0], span[1])
        else:
            joined.append(span)
    return joined


def _nearest(span: Span, others: Sequence[Span]) -> int:
    """Return which of some spans lies over another, or next to it."""
    start, end = span

    def apart(other: Span) -> tuple[int, int]:
        beside = max(other[0] - end, start - other[1])
        return beside if beside > 0 else 0, min(abs(other[0] - start), abs(other[1] - end))

    return min(range(len(others)), key=lambda n: apart(others[n]))


def _sample(text: Decoded) -> list[str]:
    size = len(text.text)
    parts = [(0, SAMPLE_BYTES), (size // 2, size // 2 + SAMPLE_BYTES), (size - SAMPLE_BYTES, size)]
    if size <= 3 * SAMPLE_BYTES:
        parts = [(0, size)]
    lines = [line for part in parts for line in text.lines(*part)]
    return lines[:SAMPLE_LINES] + lines[SAMPLE_LINES:][-SAMPLE_LINES:]


def _rows(text: Decoded) -> list[str]:
    """Return the rows among some lines."""
    lines = _sample(text)
    usual = _usual(lines)
    return [line for line in lines if _is_row(line, usual)]


def _usual(lines: Sequence[str]) -> int:
    """Return how many values most rows hold that begin with one."""
    counts = Counter(sum(_are_values(line)) for line in lines if _is_row(line))
    return counts.most_common(1)[0][0] if counts else 0


def _is_row(line: str, usual: int = 0) -> bool:
    """Return whether a line begins with a value and holds another, or holds as many as usual.

    A remark may stand in the first column of some rows.
    """
    values = _are_values(line)
    full = 0 < usual <= sum(values) and 2 * sum(values) >= len(values)
    return sum(values) >= 2 and (values[0] or full)


def _are_values(line: str) -> list[bool]:
    return [bool(_VALUE.fullmatch(token)) for token in line.split()]


def _runs(lines: Sequence[str]) -> list[Span]:
    """Return the runs of characters between those that are blank in every line."""
    width = max(map(len, lines))
    filled = [False] * width
    for line in lines:
        for match in _TOKEN.finditer(line):
            filled[match.start() : match.end()] = [True] * (match.end() - match.start())
    edges = [i for i, (a, b) in enumerate(pairwise([False, *filled, False])) if a != b]
    return list(zip(edges[::2], edges[1::2], strict=True))


def _lined_up(lines: Sequence[str], span: Span) -> bool:
    """Return whether the cells of a column begin, end or have their points at one character."""
    cells = [line[slice(*span)].ljust(span[1] - span[0]) for line in lines]
    filled = [cell for cell in cells if cell.strip()]
    starts = Counter(len(cell) - len(cell.lstrip()) for cell in filled).most_common(1)[0][1]
    ends = Counter(len(cell.rstrip()) for cell in filled).most_common(1)[0][1]
    points = Counter(cell.find(".") for cell in filled).most_common(1)[0]
    level = max(starts, ends, points[1] if points[0] >= 0 else 0)
    return level >= ALIGNED * len(filled)


def _cut(line: str, spans: Sequence[Span]) -> Iterator[str]:
    """Return the cells of a line; what stands between or behind the columns is a cell too many."""
    yield from (line[start:end].strip() for start, end in spans)
    rest = [line[end:start] for (_, end), (start, _) in pairwise([*spans, (len(line), 0)])]
    beyond = [line[: spans[0][0]], *rest]
    yield from (part.strip() for part in beyond if part.strip())


def _values(text: Decoded, spans: Sequence[Span]) -> list[int]:
    """Return which columns hold no times, nor count them."""
    lines = _rows(text)
    cells = [[line[slice(*span)].strip() for line in lines] for span in spans]
    return [
        n
        for n, column in enumerate(cells)
        if [kind(cell) for cell in column].count("time") <= 0.5 * len(lines) and not _counts(column)
    ]


def _counts(cells: Sequence[str]) -> bool:
    """Return whether whole numbers grow from each row to the next: of rows, or of seconds."""
    numbers = [int(cell) for cell in cells if cell.isdecimal()]
    rising = all(before < after for before, after in pairwise(numbers))
    return len(numbers) == len(cells) >= LEAST_COUNTED and rising


def _named(
    line: str, spans: Sequence[Span], values: Sequence[int], heads: Sequence[str]
) -> list[str]:
    """Return what stands in a line above the table, each piece over the nearest column.

    Pieces are parted by two blanks or more, or where none are, by one. Names that share evenly the
    columns whose ``heads`` come once for each of them, or else those of ``values``, stand over the
    first of their share.
    """
    pieces = list(_PHRASE.finditer(line))
    if len(pieces) < 2:
        pieces = list(_TOKEN.finditer(line))
    names: list[list[str]] = [[] for _ in spans]
    places = [_nearest(piece.span(), spans) for piece in pieces]
    again = Counter(filter(None, heads))
    values = [n for n, head in enumerate(heads) if again[head] == len(pieces) > 1] or values
    share, rest = divmod(len(values), max(1, len(pieces)))
    if share > 1 and not rest:
        shares = [values[n : n + share] for n in range(0, len(values), share)]
        if all(place in part for place, part in zip(places, shares, strict=True)):
            places = [part[0] for part in shares]
    for piece, place in zip(pieces, places, strict=True):
        names[place].append(piece.group())
    return [" ".join(words) for words in names]
