"""Which layout: delimiter, number of columns, decimal mark, and where the readings begin."""

import re
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from service.errors import NotUnderstoodError, QuestionError
from service.ingest.fields import BLANKS, DELIMITERS, kind, split
from service.ingest.files.decode import Decoded

SAMPLE_BYTES = 48_000
SAMPLE_LINES = 100
# So much of the squared steps of the whole digits alone those of the joined numbers may be.
CALMER = 0.6
TYPED = ("number", "time")
# A date and the clock behind it, with or without marks, or a date with the name of its month.
_STAMP = re.compile(
    r"\b(?:\d{1,2}[-/. ]+[^\W\d_]{3,10}\.?[-/. ,]+(?:\d{4}|\d{2})(?: \d{1,2}[:.h]\d{2}[\d:.]*)?"
    r"|\d{1,4}([-/.])\d{1,2}\1\d{1,4} \d{1,2}[:h]\d{2}[\d:.]*"
    r"|(?:19|20)\d{6} \d{4}(?:\d{2})?(?![.,]\d))\b"
)


@dataclass(frozen=True)
class Layout:
    """How the lines of a file are cut.

    ``delimiter`` is a key of `fields.DELIMITERS`, ``decimal`` "." or ",", ``kinds`` the kind of
    each column ("number", "time", "text" or "missing"), ``header_lines`` the number of lines
    above the first reading, ``head`` those lines, ``rows`` some rows cut into fields.
    """

    delimiter: str
    decimal: str
    kinds: tuple[str, ...]
    header_lines: int
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    @property
    def width(self) -> int:
        """Number of columns."""
        return len(self.kinds)

    def column(self, index: int) -> list[str]:
        """Return a column of the sample rows."""
        return [row[index] for row in self.rows]


def layout_of(text: Decoded) -> Layout:
    """Return the layout of a decoded file.

    Raises
    ------
    NotUnderstoodError
        If no delimiter makes a table of the lines, or the table has no rows.
    QuestionError
        If the lines have columns of fixed width without separators.
    """
    lines = _sample(text)
    delimiter, width = _delimiter(
        text.name, lines, [text.delimiter] if text.delimiter else [*DELIMITERS]
    )
    rows = [row for line in lines if len(row := split(line, delimiter)) == width]
    kinds = _kinds([row for row in rows if _typed(row)])
    head = _head(text, delimiter, kinds, rows)
    body = [row for row in rows if _conforms(row, kinds)]
    below = len(lines) - sum(bool(line.strip()) for line in head)
    if len(body) < 0.5 * below or not body or sum(k in TYPED for k in kinds) < 2:
        raise _one_column(text.name, lines)
    if delimiter == "comma" and (cut := _cut_numbers(kinds, body)) is not None:
        raise _decimals_cut(text.name, body[0], cut)
    decimal = _decimal(kinds, body)
    return Layout(delimiter, decimal, kinds, len(head), tuple(head), tuple(map(tuple, body)))


def _cut_numbers(kinds: Sequence[str], rows: Sequence[Sequence[str]]) -> int | None:
    """Return the first of two columns that are whole and decimal digits of one number, if any.

    Numbers that move by tenths then jump by one where their tenths run over: together the columns
    move far more calmly than the whole digits alone.
    """
    whole = [all(re.fullmatch(r"\s*-?\d*\s*", row[i]) for row in rows) for i in range(len(kinds))]
    for i in range(len(kinds) - 1):
        if not (whole[i] and whole[i + 1] and kinds[i] == kinds[i + 1] == "number"):
            continue
        pairs = [(row[i].strip(), row[i + 1].strip()) for row in rows]
        digits = {behind for front, behind in pairs if front and behind}
        # Two digits that stay below 60 may be the minutes of a clock.
        tenths = {len(d) for d in digits} == {1} and len(digits) > 7
        hundredths = {len(d) for d in digits} == {2} and max(digits) > "60"
        if (tenths or hundredths) and _calmer_together(pairs):
            return i
    return None


def _calmer_together(pairs: Sequence[tuple[str, str]]) -> bool:
    filled = [(front, behind) for front, behind in pairs if front and behind]
    front = [float(one) for one, _ in filled]
    joined = [float(f"{one}.{behind}") for one, behind in filled]
    alone, together = (sum((b - a) ** 2 for a, b in pairwise(v)) for v in (front, joined))
    return alone > 0 and together < CALMER * alone


def _decimals_cut(name: str, row: Sequence[str], at: int) -> NotUnderstoodError:
    return NotUnderstoodError(
        read=name,
        where=f"columns {at + 1} and {at + 2}",
        found=f"{row[at]} and {row[at + 1]}, which move as the number {row[at]},{row[at + 1]} does",
        expected="a comma between columns or in numbers, not both",
        action="If the comma is the decimal mark too, export with semicolons between columns.",
    )


def _sample(text: Decoded) -> list[str]:
    """Return lines from the head, the middle and the tail of a file, blank ones left out."""
    size = len(text.text)
    if size <= 3 * SAMPLE_BYTES:
        lines = text.lines(0, size)
    else:
        middle = size // 2
        parts = [(0, SAMPLE_BYTES), (middle, middle + SAMPLE_BYTES), (size - SAMPLE_BYTES, size)]
        lines = [line for part in parts for line in text.lines(*part)]
    filled = [line for line in lines if line.strip() and "\0" not in line]
    step = max(1, len(filled) // SAMPLE_LINES)
    return filled[:50] + filled[50:-50:step] + filled[50:][-50:]


def _delimiter(name: str, lines: Sequence[str], possible: Sequence[str]) -> tuple[str, int]:
    """Return the delimiter and width under which most fields of most lines are values."""
    best = (0.0, "", 0)
    for delimiter in possible:
        scores: Counter[int] = Counter()
        for line in lines:
            row = split(line, delimiter)
            if len(row) > 1:
                # Blanks part dates from clocks in files of every kind.
                weight = 1 if delimiter == BLANKS else 2
                whole = row
                if delimiter == BLANKS:
                    # The pieces of one time count once.
                    whole = split(_STAMP.sub("2000-01-01", line), delimiter)
                scores[len(row)] += weight * _milli_share(whole)
        width, score = max(scores.items(), key=lambda item: item[1], default=(0, 0))
        if score > best[0]:
            best = (score, delimiter, width)
    if best[2] < 2:
        raise _one_column(name, lines)
    return best[1], best[2]


def _milli_share(row: Sequence[str]) -> int:
    """Return how many fields are values, times the squared share that are, in thousandths."""
    kinds = [kind(field) for field in row]
    filled = [k for k in kinds if k != "missing"]
    if not any(k in TYPED for k in filled):
        return 0
    typed = sum(k in TYPED for k in filled)
    return round(1000 * typed * (typed / len(filled)) ** 2)


def _typed(row: Sequence[str]) -> bool:
    return sum(kind(field) in TYPED for field in row) >= 2


def _kinds(rows: Sequence[Sequence[str]]) -> tuple[str, ...]:
    """Return the commonest kind of the filled fields of each column."""
    kinds = []
    for column in zip(*rows, strict=True):
        seen = Counter(k for k in map(kind, column) if k != "missing")
        likely = sorted(seen, key=lambda k: (-seen[k], k == "text"))
        kinds.append(likely[0] if likely else "missing")
    return tuple(kinds)


def _conforms(row: Sequence[str], kinds: Sequence[str]) -> bool:
    """Return whether a row holds values where the columns hold values."""
    here = [kind(f) for f, k in zip(row, kinds, strict=False) if k in TYPED]
    filled = [k for k in here if k != "missing"]
    typed = sum(k in TYPED for k in filled)
    return typed >= 1 and typed >= 0.6 * len(filled)


def _head(
    text: Decoded, delimiter: str, kinds: Sequence[str], rows: Sequence[Sequence[str]]
) -> list[str]:
    """Return the lines above the first row of values."""
    head: list[str] = []
    forms = _forms_of([row for row in rows if _conforms(row, kinds)], kinds)
    for line in _lines(text):
        row = split(line, delimiter)
        fits = abs(len(row) - len(kinds)) <= 1 and not _comment(line)
        if fits and (
            _conforms(row, kinds) or _damaged(row, kinds) or _looks_like(row, kinds, forms)
        ):
            break
        head.append(line)
    while head and _cut_short(split(head[-1], delimiter), kinds, forms):
        head.pop()
    return head


def _cut_short(
    row: Sequence[str], kinds: Sequence[str], forms: Mapping[int, Collection[str]]
) -> bool:
    """Return whether a row begins as the others do and ends before its time: no heading.

    A single cell is none, since the day of the export may stand alone above a table.
    """
    if len(row) >= len(kinds):
        return False
    whole = [(cell, kinds[i], forms.get(i, ())) for i, cell in enumerate(row[:-1])]
    return any(k == "time" for _, k, _ in whole) and all(
        kind(cell) in (k, "missing") and (k not in TYPED or _marks(cell) in form)
        for cell, k, form in whole
    )


def _damaged(row: Sequence[str], kinds: Sequence[str]) -> bool:
    """Return whether a row holds numbers below an unreadable time, so that it is no heading."""
    pairs = list(zip(row, kinds, strict=False))
    numbers = [kind(cell) for cell, k in pairs if k == "number" and cell.strip()]
    times = [cell for cell, k in pairs if k == "time"]
    digits = any(sum(c.isdecimal() for c in cell) >= 4 for cell in times)
    return digits and bool(numbers) and all(k == "number" for k in numbers)


def _forms_of(rows: Sequence[Sequence[str]], kinds: Sequence[str]) -> dict[int, set[str]]:
    """Return what stands in each column: the marks between digits, or the texts themselves."""
    forms: dict[int, set[str]] = {}
    for i, column in enumerate(zip(*rows, strict=False)):
        forms[i] = {_marks(cell) if kinds[i] in TYPED else cell.strip() for cell in column}
    return forms


def _marks(cell: str) -> str:
    """Return a cell with each letter and digit as one and the same character.

    Examples
    --------
    >>> _marks("2024-01-31 23:50"), _marks(" 21.5")
    ('0000-00-00 00:00', '00.0')
    """
    return re.sub(r"[^\W_]|\?", "0", cell.strip())


def _looks_like(row: Sequence[str], kinds: Sequence[str], forms: dict[int, set[str]]) -> bool:
    """Return whether a row is one of values with some digits damaged, so that it is no heading.

    Most of its cells have the marks of their columns; a part are numbers or times still, or texts
    that stand in other rows too.
    """
    filled = [(cell, kinds[i], forms[i]) for i, cell in enumerate(row[: len(kinds)]) if i in forms]
    typed = [(c, f) for c, k, f in filled if k in TYPED and kind(c) != "missing"]
    alike = [cell for cell, form in typed if _marks(cell) in form and _has_digit(cell)]
    whole = any(kind(cell) in TYPED for cell in alike)
    told = whole or any(k == "text" and c.strip() and c.strip() in f for c, k, f in filled)
    digits = sum(map(str.isdecimal, "".join(alike)))
    told |= len(alike) == len(typed) and digits > sum(_marks(c).count("0") for c in alike) / 2
    return told and len(typed) > 1 and len(alike) > 0.6 * len(typed)


def _has_digit(cell: str) -> bool:
    return any(character.isdecimal() for character in cell)


def _comment(line: str) -> bool:
    return line.lstrip().startswith(("#", "//"))


def _lines(text: Decoded) -> Iterator[str]:
    at = 0
    while at < len(text.text):
        end = text.text.find(b"\n", at)
        end = len(text.text) if end < 0 else end
        yield text.text[at:end].decode("utf-8", errors="replace").rstrip("\r")
        at = end + 1


def _decimal(kinds: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return the decimal mark that the numeric columns use."""
    numbers = [f for row in rows for f, k in zip(row, kinds, strict=True) if k == "number"]
    commas = sum("," in field and "." not in field for field in numbers)
    points = sum("." in field and "," not in field for field in numbers)
    return "," if commas > points else "."


def _one_column(name: str, lines: Sequence[str]) -> NotUnderstoodError | QuestionError:
    lengths = Counter(len(line) for line in lines)
    length, count = lengths.most_common(1)[0] if lengths else (0, 0)
    if length > 11 and count > 0.9 * len(lines) and count > 5:
        return QuestionError(
            read=name,
            where=f"{count} of the {len(lines)} lines looked at",
            found=f"lines of {length} characters each, without separators and without headings",
            expected="to know at which characters each quantity stands",
            action="Say how many characters each column has, in their order, for example "
            "--column widths='12,5,6,6'.",
        )
    return _nothing_fits(name, lines)


def _nothing_fits(name: str, lines: Sequence[str]) -> NotUnderstoodError:
    first = lines[0].strip()[:60] if lines else ""
    return NotUnderstoodError(
        read=name,
        where=f"{len(lines)} lines looked at",
        found=f"no rows of values; it begins {first!r}",
        expected="a line for each reading, cut by semicolon, tab, bar, comma or blanks",
        action="Export the readings themselves as CSV or text, and give that file.",
    )
