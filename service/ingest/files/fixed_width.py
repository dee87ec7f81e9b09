"""Tables whose columns stand at fixed characters: cut where blanks, or a person, say so."""

import csv
import io
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from service.errors import NotUnderstoodError
from service.ingest.files.decode import Decoded

SAMPLE_BYTES = 60_000
SAMPLE_LINES = 300
# Share of the lines of a table that must fit the columns found, and of cells that must line up.
MOST_LINES, ALIGNED = 0.95, 0.9
LONGEST = 2_000
_TOKEN = re.compile(r"\S+")
_VALUE = re.compile(r"[-+−]?[\d.,:/\-TZ+]*\d[\d.,:/\-TZ+%°CF]*")
_OTHER_DELIMITER = re.compile(r"[;\t|]|(?<!\d),|,(?!\d)")

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
    spans = _spans_said(text.name, widths) if widths else _spans_seen(text)
    if not spans:
        return text
    lines = text.text.decode("utf-8", errors="replace").replace("\r\n", "\n").split("\n")
    table = io.StringIO()
    writer = csv.writer(table, delimiter="\t", lineterminator="\n")
    above = True
    for line in lines:
        above = above and not _is_row(line)
        if not line.strip():
            table.write("\n")
        else:
            writer.writerow(_named(line, spans) if above and not widths else _cut(line, spans))
    places = ", ".join(f"{start + 1} to {end}" for start, end in spans)
    note = f"The columns are cut at fixed characters: {places}."
    return replace(text, text=table.getvalue().encode(), delimiter="tab", notes=(*text.notes, note))


def _spans_said(name: str, widths: str) -> list[Span]:
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
    lines = [line for line in _sample(text) if _is_row(line)]
    if len(lines) < 5 or max(map(len, lines)) > LONGEST or any("\t" in line for line in lines):
        return []
    if sum(bool(_OTHER_DELIMITER.search(line)) for line in lines) > 0.1 * len(lines):
        return []
    counts = Counter(len(line.split()) for line in lines)
    if counts.most_common(1)[0][1] == len(lines):
        return []
    spans = _runs(lines)
    return spans if len(spans) >= 3 and all(_lined_up(lines, span) for span in spans) else []


def _sample(text: Decoded) -> list[str]:
    size = len(text.text)
    parts = [(0, SAMPLE_BYTES), (size // 2, size // 2 + SAMPLE_BYTES), (size - SAMPLE_BYTES, size)]
    if size <= 3 * SAMPLE_BYTES:
        parts = [(0, size)]
    lines = [line for part in parts for line in text.lines(*part)]
    return lines[:SAMPLE_LINES] + lines[SAMPLE_LINES:][-SAMPLE_LINES:]


def _is_row(line: str) -> bool:
    """Return whether a line begins with a value and holds another."""
    tokens = line.split()
    values = [bool(_VALUE.fullmatch(token)) for token in tokens]
    return sum(values) >= 2 and values[0]


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
    """Return whether the cells of a column are single and begin or end at one character."""
    cells = [line[slice(*span)].ljust(span[1] - span[0]) for line in lines]
    filled = [cell for cell in cells if cell.strip()]
    starts = Counter(len(cell) - len(cell.lstrip()) for cell in filled).most_common(1)[0][1]
    ends = Counter(len(cell.rstrip()) for cell in filled).most_common(1)[0][1]
    points = Counter(cell.find(".") for cell in filled).most_common(1)[0]
    level = max(starts, ends, points[1] if points[0] >= 0 else 0)
    single = sum(len(cell.split()) == 1 for cell in filled)
    return level >= ALIGNED * len(filled) and single >= MOST_LINES * len(filled)


def _cut(line: str, spans: Sequence[Span]) -> Iterator[str]:
    """Return the cells of a line; what stands between or behind the columns is a cell too many."""
    yield from (line[start:end].strip() for start, end in spans)
    rest = [line[end:start] for (_, end), (start, _) in pairwise([*spans, (len(line), 0)])]
    beyond = [line[: spans[0][0]], *rest]
    yield from (part.strip() for part in beyond if part.strip())


def _named(line: str, spans: Sequence[Span]) -> list[str]:
    """Return the words of a line above the table, each over the column it stands nearest to."""
    names: list[list[str]] = [[] for _ in spans]
    for match in _TOKEN.finditer(line):
        start, end = match.span()
        distances = [max(a - end, start - b, 0) + abs(a + b - start - end) / 1e4 for a, b in spans]
        names[distances.index(min(distances))].append(match.group())
    return [" ".join(words) for words in names]
