"""What makes a table harder to read than its layout: each twist changes the table and its truth.

A twist that hides what no reader can know sets ``no_answer``: such a file may only be asked about.
"""

from collections.abc import Callable

import numpy as np
import pandas as pd

from bench.written_series import Rng, Style, Table, Written, chance, pick

Twist = Callable[[Rng, Style, Table, Written], bool]


def twisted(rng: Rng, how: Style, table: Table, made: Written) -> str:
    """Twist a table, in some cases; return the name of what was done, or nothing."""
    if not chance(rng, 0.4):
        return ""
    name = str(pick(rng, list(TWISTS)))
    return name if TWISTS[name](rng, how, table, made) else ""


def _insert(table: Table, at: int, head: str, cells: list[str]) -> None:
    """Put a column into a table."""
    table.heads.insert(at, head)
    for row, cell in zip(table.rows, cells, strict=True):
        row.insert(at, cell)
    for row in table.above:
        row.insert(at, "")
    for places in (table.temp_at, table.rh_at, table.time_at):
        places[:] = [place + (place >= at) for place in places]


def _row_numbers(rng: Rng, how: Style, table: Table, made: Written) -> bool:
    _insert(table, 0, "#", [str(n + 1) for n in range(len(table.rows))])
    return True


def _units_in_a_row(rng: Rng, how: Style, table: Table, made: Written) -> bool:
    units = [""] * len(table.heads)
    for place in table.temp_at:
        units[place] = how.temp_unit
        table.heads[place] = table.heads[place].replace(how.heading("", how.temp_unit).strip(), "")
    for place in table.rh_at:
        units[place] = how.rh_unit
        table.heads[place] = table.heads[place].replace(how.heading("", how.rh_unit).strip(), "")
    table.heads = [head.strip(" ,/_") for head in table.heads]
    table.below = units
    return bool(table.temp_at)


def _units_in_the_fields(rng: Rng, how: Style, table: Table, made: Written) -> bool:
    if how.temp_unit == "K" or how.rh_unit != "%":
        return False
    for row in table.rows:
        for place in table.temp_at:
            row[place] += f" {how.temp_unit}" if row[place][-1:].isdigit() else ""
        for place in table.rh_at:
            row[place] += " %" if row[place][-1:].isdigit() else ""
    return bool(table.temp_at)


def _thousands(rng: Rng, how: Style, table: Table, made: Written) -> bool:
    blank = str(pick(rng, [" ", "\N{NO-BREAK SPACE}", "\N{NARROW NO-BREAK SPACE}"]))
    values = np.round(rng.normal(101_325, 200, len(table.rows))).astype(int)
    at = int(rng.integers(len(table.heads) + 1))
    _insert(table, at, "Pressure (Pa)", [f"{v // 1000}{blank}{v % 1000:03}" for v in values])
    return True


def _no_headings(rng: Rng, how: Style, table: Table, made: Written) -> bool:
    table.headless = len(made.truth) == 1 and len(table.temp_at) == 1 and not table.above
    return table.headless


def _headings_swapped(rng: Rng, how: Style, table: Table, made: Written) -> bool:
    if len(table.temp_at) != 1 or how.temp_unit != "°C" or how.rh_unit != "%":
        return False
    (temp,), (rh,) = table.temp_at, table.rh_at
    table.heads[temp], table.heads[rh] = table.heads[rh], table.heads[temp]
    return True


def _humidity_repeats_temperature(rng: Rng, how: Style, table: Table, made: Written) -> bool:
    if len(table.temp_at) != 1 or how.temp_unit != "°C" or how.rh_unit != "%":
        return False
    for row in table.rows:
        row[table.rh_at[0]] = row[table.temp_at[0]]
    made.truth = {name: frame.assign(rh_pct=np.nan) for name, frame in made.truth.items()}
    made.no_answer = True
    return True


def _numbered_pairs(rng: Rng, how: Style, table: Table, made: Written) -> bool:
    if len(table.temp_at) < 2 or table.above:
        return False
    temp, rh = [("T", "RH"), ("Temp", "rF"), ("T_", "HR_")][int(rng.integers(3))]
    before = chance(rng, 0.4)
    for number, (t, h) in enumerate(zip(table.temp_at, table.rh_at, strict=True), 1):
        names = [f"S{number}{name}" if before else f"{name}{number}" for name in (temp, rh)]
        table.heads[t], table.heads[h] = (
            how.heading(names[0], how.temp_unit),
            how.heading(names[1], how.rh_unit),
        )
    frames = list(made.truth.values())
    made.truth = {str(number): frame for number, frame in enumerate(frames, 1)}
    return True


def _rows_of_remarks(rng: Rng, how: Style, table: Table, made: Written) -> bool:
    """Put rows without readings between: a time, and what somebody noted."""
    if len(table.temp_at) != 1 or len(made.truth) != 1:
        return False
    _insert(table, len(table.heads), "Remark", [""] * len(table.rows))
    for place in sorted(rng.integers(1, len(table.rows), 3).tolist(), reverse=True):
        row = [c if i in table.time_at else "" for i, c in enumerate(table.rows[place])]
        table.rows.insert(place, [*row[:-1], "window opened"])
        table.times.insert(place, table.times[place])
    return True


def _end_delimiter(rng: Rng, how: Style, table: Table, made: Written) -> bool:
    _insert(table, len(table.heads), "", [""] * len(table.rows))
    return True


def _decimal_commas_between_commas(rng: Rng, how: Style, table: Table, made: Written) -> bool:
    table.bare_commas = made.no_answer = len(table.temp_at) >= 1 and how.comma
    return table.bare_commas


def _clock_set_back(rng: Rng, how: Style, table: Table, made: Written) -> bool:
    """Let the clock be set back by hours within the file: the later times are all too early."""
    if len(made.truth) != 1 or len(table.temp_at) != 1 or len(table.rows) < 80:
        return False
    hours = int(rng.integers(2, 6))
    place = len(table.rows) // 2
    local = pd.DatetimeIndex(table.times).tz_convert(how.form.clock(how.zone))
    late = local[place:] - pd.Timedelta(hours=hours)
    columns = how.form.columns(how.words, pd.DatetimeIndex([*local[:place], *late]))
    for at, (_, cells) in zip(table.time_at, columns, strict=True):
        for row, cell in zip(table.rows, cells, strict=True):
            row[at] = cell
    return True


TWISTS: dict[str, Twist] = {
    "row numbers": _row_numbers,
    "units in a row": _units_in_a_row,
    "units in the fields": _units_in_the_fields,
    "thousands with blanks": _thousands,
    "no headings": _no_headings,
    "headings swapped": _headings_swapped,
    "humidity repeats the temperature": _humidity_repeats_temperature,
    "numbered pairs": _numbered_pairs,
    "rows of remarks": _rows_of_remarks,
    "delimiter at the end": _end_delimiter,
    "decimal commas between commas": _decimal_commas_between_commas,
    "clock set back": _clock_set_back,
}
