"""A known series as the bytes of a file: the delimiter, the container, and what went wrong."""

import csv
import io
import json
import zipfile
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
import openpyxl
import pandas as pd
import xlwt

from bench.written_series import (
    LAYOUTS,
    ROOMS,
    Rng,
    Style,
    Table,
    Written,
    chance,
    pick,
    series,
    style as drawn_style,
)
from bench.written_twists import twisted

DELIMITERS = {"semicolon": ";", "comma": ",", "tab": "\t", "bar": "|"}
ENCODINGS = ("utf-8", "utf-8", "utf-8-sig", "cp1252", "utf-16", "utf-16-le", "utf-16-be")
# Months in which no zone of `written_times.ZONES` sets its clocks.
QUIET_MONTHS = (1, 2, 5, 6, 7, 8, 12)
STEPS_MIN = (5, 10, 15, 20, 30, 60)
ABOVE = (
    "Climate record",
    "Place: Hall, upper floor",
    "Serial number: 20481",
    "Interval: 600 s",
    "Made by the house for its own use",
    "# all values as measured",
    "",
)


@dataclass
class Lines:
    """The lines of a text file; ``times`` holds the time of each, None where it is no row."""

    text: list[str]
    times: list[pd.Timestamp | None]

    def rows(self) -> list[int]:
        """Return the numbers of the lines that are rows."""
        return [i for i, time in enumerate(self.times) if time is not None]

    def insert(self, at: int, text: str) -> None:
        """Put a line that is no row before another."""
        self.text.insert(at, text)
        self.times.insert(at, None)


def written(number: int) -> Written:
    """Return the file of a number: always the same one."""
    rng = np.random.default_rng([20260322, number])
    how = drawn_style(rng)
    layout = str(rng.choice(list(LAYOUTS), p=[0.55, 0.2, 0.15, 0.1]))
    frames = _frames(rng, how, layout)
    table = LAYOUTS[layout](rng, how, frames)
    truth = {name: _as_written(how, frame) for name, frame in frames.items()}
    facts = [layout, how.form.name, how.zone, how.temp_unit, how.rh_unit, how.words.time]
    made = Written(
        number,
        f"{number}.csv",
        b"",
        truth,
        how.zone,
        how.form.day_first,
        (),
        tolerance_s=how.form.tolerance_s,
    )
    facts.append(twisted(np.random.default_rng([7, number]), how, table, made))
    made.columns = _said(table, how)
    made.time_columns = "+".join(table.heads[i] for i in table.time_at)
    kind = str(rng.choice(list(CONTAINERS), p=[0.8, 0.08, 0.06, 0.06]))
    if kind == "text" and number % 17 == 0 and layout in ("one sensor", "wide"):
        kind = "fixed width"
    (_fixed_width if kind == "fixed width" else CONTAINERS[kind])(rng, how, table, made, facts)
    made.facts = (kind, *facts)
    return made


def _frames(rng: Rng, how: Style, layout: str) -> dict[str, pd.DataFrame]:
    step = 60 if how.form.hourly else pick_int(rng, STEPS_MIN)
    count = int(rng.integers(60, 400))
    first = pd.Timestamp(
        year=int(rng.integers(2012, 2026)),
        month=pick_int(rng, QUIET_MONTHS),
        day=int(rng.integers(1, 13)),
        hour=int(rng.integers(24)),
        tz="UTC",
    )
    index = pd.date_range(first, periods=count, freq=f"{step}min")
    if layout in ("one sensor", "tall"):
        return {"": series(rng, index)}
    numbered = layout == "long" and chance(rng, 0.3)
    rooms = [str(room) for room in rng.permutation(ROOMS)[: int(rng.integers(2, 5))]]
    names = [str(n + 1) for n in range(len(rooms))] if numbered else rooms
    return {name: series(rng, index) for name in names}


def pick_int(rng: Rng, options: Sequence[int]) -> int:
    """Return one of some numbers."""
    return options[int(rng.integers(len(options)))]


def _as_written(how: Style, frame: pd.DataFrame) -> pd.DataFrame:
    """Return the series as its digits give it."""
    temp = [how.temp_c(value) for value in frame["temp_c"]]
    return pd.DataFrame({"temp_c": temp, "rh_pct": frame["rh_pct"]}, index=frame.index)


def _said(table: Table, how: Style) -> dict[str, str]:
    """Return what a person would say of the columns of a file of one sensor."""
    if len(table.temp_at) != 1:
        return {}
    unit = {"fraction": "fraction"}.get(how.rh_unit, how.rh_unit)
    return {
        "temp_c": f"{table.temp_at[0] + 1} [{how.temp_unit}]",
        "rh_pct": f"{table.rh_at[0] + 1} [{unit}]",
    }


def _text_file(rng: Rng, how: Style, table: Table, made: Written, facts: list[str]) -> None:
    """Write a text file, in some cases damaged."""
    delimiter = str(pick(rng, list(DELIMITERS)))
    quoted = chance(rng, 0.15) or (how.comma and delimiter == "comma")
    if table.bare_commas:
        delimiter, quoted = "comma", False
    lines = _lines(rng, table, DELIMITERS[delimiter], quoted)
    if chance(rng, 0.25):
        _newest_first(lines)
        facts.append("newest first")
    encoding = str(pick(rng, ENCODINGS))
    stray = b""
    if chance(rng, 0.5):
        name = str(pick(rng, list(DAMAGE)))
        facts.append(name)
        DAMAGE[name](rng, lines, made)
        stray = b"Caf\xe9 \xb0\n" if name == "stray byte above" and encoding == "utf-8" else b""
    end = str(pick(rng, ["\n", "\r\n"]))
    made.line_times = [*[None] * bool(stray), *lines.times]
    body = (end.join(lines.text) + end).encode(encoding, errors="replace")
    made.data = stray + body
    facts += [delimiter, encoding]


def _lines(rng: Rng, table: Table, delimiter: str, quoted: bool) -> Lines:
    def line(cells: Iterable[str]) -> str:
        if table.bare_commas:
            return ",".join(cells)
        out = io.StringIO()
        if quoted:
            writer = csv.writer(out, delimiter=delimiter, quoting=csv.QUOTE_ALL, lineterminator="")
        else:
            writer = csv.writer(out, delimiter=delimiter, lineterminator="")
        writer.writerow(cells)
        return out.getvalue()

    above = [str(pick(rng, ABOVE)) for _ in range(int(rng.integers(0, 5)))]
    if delimiter == ",":
        above = [text.replace(",", "") for text in above]
    head = [*above, *map(line, table.above), line(table.heads)]
    if chance(rng, 0.1):
        head.append(line("-" * len(name) for name in table.heads))
    if table.below:
        head.append(line(table.below))
    if table.headless:
        head = []
    body = [line(row) for row in table.rows]
    return Lines([*head, *body], [*[None] * len(head), *table.times])


def _newest_first(lines: Lines) -> None:
    first = lines.rows()[0]
    lines.text[first:] = lines.text[first:][::-1]
    lines.times[first:] = lines.times[first:][::-1]


def _workbook(rng: Rng, how: Style, table: Table, made: Written, facts: list[str]) -> None:
    """Write a workbook with numbers as numbers, and times as dates where they can be."""
    book = openpyxl.Workbook()
    sheet = book.active
    for _ in range(int(rng.integers(0, 3))):
        sheet.append(["Climate record"])
    heads = [*table.above, table.heads, *([table.below] if table.below else [])]
    for row in [] if table.headless else heads:
        sheet.append([cell or None for cell in row])
    dated = how.form.name == "ISO"
    for row in table.rows:
        sheet.append([_value(c, dated and i in table.time_at) for i, c in enumerate(row)])
    if chance(rng, 0.3):
        book.create_sheet("Notes").append(["Seen by", "the registrar"])
    if made.number % 4 == 0:
        made.data, made.name = _old_workbook(sheet), f"{made.number}.xls"
        return
    file = io.BytesIO()
    book.save(file)
    made.data, made.name = file.getvalue(), f"{made.number}.xlsx"


def _old_workbook(sheet: Any) -> bytes:
    """Return a sheet as a workbook of the older format."""
    old = xlwt.Workbook()
    copy = old.add_sheet("Readings")
    date = xlwt.easyxf(num_format_str="YYYY-MM-DD hh:mm:ss")
    for i, row in enumerate(sheet.iter_rows(values_only=True)):
        for j, value in enumerate(row):
            if isinstance(value, datetime):
                copy.write(i, j, value, date)
            elif value is not None:
                copy.write(i, j, value)
    file = io.BytesIO()
    old.save(file)
    return file.getvalue()


def _fixed_width(rng: Rng, how: Style, table: Table, made: Written, facts: list[str]) -> None:
    """Write columns at fixed characters, numbers to the right, nothing between but blanks."""
    rows = [*table.above, table.heads, *([table.below] if table.below else []), *table.rows]
    if table.headless:
        rows = table.rows
    widths = [max(map(len, column)) + 2 for column in zip(*rows, strict=True)]
    lines = ["".join(c.rjust(w) for c, w in zip(row, widths, strict=True)) for row in rows]
    made.data = ("\n".join(line.rstrip() for line in lines) + "\n").encode("utf-8")
    made.line_times = [*[None] * (len(lines) - len(table.rows)), *table.times]


def _value(cell: str, dated: bool) -> object:
    if dated:
        return datetime.fromisoformat(cell)
    try:
        return float(cell.replace(",", "."))
    except ValueError:
        return cell or None


def _json(rng: Rng, how: Style, table: Table, made: Written, facts: list[str]) -> None:
    """Write a list of objects, or an object a line."""
    heads = list(table.heads)
    for place in (*table.temp_at, *table.rh_at):
        heads[place] += f" [{table.below[place]}]" if table.below else ""
    if table.above:
        heads = [f"{room} {name}".strip() for room, name in zip(_spread(table), heads, strict=True)]
    records = [dict(zip(heads, map(_plain, row), strict=True)) for row in table.rows]
    if chance(rng, 0.5):
        text = "\n".join(json.dumps(one, ensure_ascii=False) for one in records)
    else:
        text = json.dumps({"house": "Sallowmere", "readings": records}, ensure_ascii=False)
    made.data, made.name = text.encode(), f"{made.number}.json"


def _spread(table: Table) -> list[str]:
    """Return the names above pairs of columns, over both of each pair."""
    names: list[str] = []
    for cell in table.above[0]:
        names.append(cell or (names[-1] if names else ""))
    return names


def _plain(cell: str) -> object:
    try:
        return float(cell) if "." in cell else int(cell) if not cell.startswith("0") else cell
    except ValueError:
        return cell or None


def _packed(rng: Rng, how: Style, table: Table, made: Written, facts: list[str]) -> None:
    """Write a text file into an archive, a note beside it."""
    _text_file(rng, how, table, made, facts)
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(made.name, made.data)
        archive.writestr("about.txt", "Read on Monday\n")
    made.data, made.name = file.getvalue(), f"{made.number}.zip"


Writer = Callable[[Rng, Style, Table, Written, list[str]], None]
CONTAINERS: dict[str, Writer] = {
    "text": _text_file,
    "workbook": _workbook,
    "JSON": _json,
    "archive": _packed,
}


def _cut_line(rng: Rng, lines: Lines, made: Written) -> None:
    at = _some_row(rng, lines, made)
    lines.text[at] = lines.text[at][: len(lines.text[at]) // 2]


def _unreadable_time(rng: Rng, lines: Lines, made: Written) -> None:
    at = _some_row(rng, lines, made)
    lines.text[at] = lines.text[at].replace("1", "x").replace("2", "x").replace("0", "x")


def _some_row(rng: Rng, lines: Lines, made: Written) -> int:
    rows = lines.rows()
    at = rows[int(rng.integers(len(rows)))]
    time = lines.times[at]
    assert time is not None
    made.damaged.add(time)
    return at


def _first_row_broken(rng: Rng, lines: Lines, made: Written) -> None:
    at = lines.rows()[0]
    time = lines.times[at]
    assert time is not None
    made.damaged.add(time)
    lines.text[at] = lines.text[at].replace("1", "?").replace("2", "?").replace("0", "?")


def _blank_lines(rng: Rng, lines: Lines, made: Written) -> None:
    for _ in range(5):
        lines.insert(pick_int(rng, lines.rows()), "")


def _heading_again(rng: Rng, lines: Lines, made: Written) -> None:
    rows = lines.rows()
    if rows[0]:
        lines.insert(rows[len(rows) // 2], lines.text[rows[0] - 1])


def _footer(rng: Rng, lines: Lines, made: Written) -> None:
    lines.insert(len(lines.text), "End of the record")


def _nul_line(rng: Rng, lines: Lines, made: Written) -> None:
    lines.insert(lines.rows()[7], "\0" * 20)


def _doubled(rng: Rng, lines: Lines, made: Written) -> None:
    rows = lines.rows()
    start = rows[len(rows) // 3]
    lines.text[start:start] = lines.text[start : start + 6]
    lines.times[start:start] = lines.times[start : start + 6]


def _letters_swapped(rng: Rng, lines: Lines, made: Written) -> None:
    """Swap two letters somewhere in the headings: a misspelling."""
    at = lines.rows()[0] - 1
    text = lines.text[at] if at >= 0 else ""
    places = [
        i for i in range(1, len(text) - 1) if text[i : i + 2].isalpha() and text[i - 1].isalpha()
    ]
    if places:
        i = places[int(rng.integers(len(places)))]
        lines.text[at] = text[:i] + text[i + 1] + text[i] + text[i + 2 :]


def _nothing(rng: Rng, lines: Lines, made: Written) -> None:
    """Damage nothing in the lines: a stray byte is put before them."""


Damage = Callable[[Rng, Lines, Written], None]
DAMAGE: dict[str, Damage] = {
    "cut line": _cut_line,
    "unreadable time": _unreadable_time,
    "first row broken": _first_row_broken,
    "blank lines": _blank_lines,
    "heading again": _heading_again,
    "footer": _footer,
    "NUL line": _nul_line,
    "doubled rows": _doubled,
    "letters swapped": _letters_swapped,
    "stray byte above": _nothing,
}
