"""Columns at fixed characters: cut where blanks or a person say so. Samples invented here."""

import numpy as np
import pandas as pd
import pytest

from service.errors import NotUnderstoodError, QuestionError
from service.ingest.read import read_bytes

TIMES = [f"2024-01-13 {h:02d}:{m:02d}" for h in range(4) for m in range(0, 60, 10)]
TEMP_C = [None if i % 7 == 3 else round(-2 + i / 2, 1) for i in range(24)]
RH_PCT = [None if i % 5 == 1 else 45 + i / 2 for i in range(24)]


def cell(value: float | None, width: int) -> str:
    return " " * width if value is None else f"{value:{width}.1f}"


SPACED = {
    "names over the columns": "date       time   temp     rh\n",
    "wider names, in two lines": "             time     air   relative\n"
    "date         of day  temp   humidity\n",
}


@pytest.mark.parametrize("name", SPACED)
def test_values_left_blank_do_not_shift_the_others(name: str) -> None:
    rows = "".join(
        f"{time}  {cell(temp, 6)} {cell(rh, 6)}\n"
        for time, temp, rh in zip(TIMES, TEMP_C, RH_PCT, strict=True)
    )
    found = read_bytes("fixed.txt", (SPACED[name] + rows).encode(), zone="UTC")
    frame = found.sensors[""]
    assert [f"{t:%Y-%m-%d %H:%M}" for t in frame.index] == TIMES
    assert [None if v != v else v for v in frame["temp_c"]] == TEMP_C
    assert [None if v != v else v for v in frame["rh_pct"]] == RH_PCT
    assert "cut at fixed characters: 1 to 10, 12 to 16" in found.understanding.notes[0]


def test_columns_that_touch_are_asked_about_and_the_answer_is_taken() -> None:
    data = "".join(
        f"{time.replace('-', '').replace(' ', '').replace(':', '')}{205 + i:04d}{450 + i:04d}\n"
        for i, time in enumerate(TIMES)
    ).encode()
    with pytest.raises(QuestionError, match="how many characters") as asked:
        read_bytes("touching.txt", data, zone="UTC")
    assert "--column widths=" in asked.value.action
    widths = {"widths": "12,4,4"}
    with pytest.raises(QuestionError, match=r"column 2 \(0205\), column 3 \(0450\)"):
        read_bytes("touching.txt", data, zone="UTC", columns=widths)
    said = widths | {"temp_c": "2 [0.1 °C]", "rh_pct": "3 [0.1 %]"}
    frame = read_bytes("touching.txt", data, zone="UTC", columns=said).sensors[""]
    assert frame["temp_c"].tolist() == pytest.approx([20.5 + i / 10 for i in range(24)])
    assert frame["rh_pct"].tolist() == pytest.approx([45 + i / 10 for i in range(24)])


@pytest.mark.parametrize("said", ["ten", "0,4", "5000"])
def test_widths_that_are_none_are_refused(said: str) -> None:
    with pytest.raises(NotUnderstoodError, match="how many characters each column has"):
        read_bytes("a.txt", b"1 2 3\n4 5 6\n", zone="UTC", columns={"widths": said})


def test_commas_after_blanks_are_no_fixed_columns() -> None:
    rows = "".join(f"{t}, {20 + i / 10}, {'' if i % 3 else 45}\n" for i, t in enumerate(TIMES))
    found = read_bytes("a.csv", ("time, temp, rh\n" + rows).encode(), zone="UTC")
    assert found.understanding.delimiter == ","
    assert found.understanding.rows.readings == 24


def test_names_of_several_words_stand_over_their_columns() -> None:
    heads = f"{'Read at':>19}{'Temperature of the air':>26}{'Humidity in %':>17}\n"
    rows = "".join(
        f"{f'13/1/2024 {h % 12 or 12}:{m:02d} {half}':>19}{20 + m / 10:>26.1f}{45 + h / 2:>17.1f}\n"
        for half in ("AM", "PM")
        for h in range(12)
        for m in (0, 30)
    )
    found = read_bytes("fixed.txt", (heads + rows).encode(), zone="UTC")
    frame = found.sensors[""]
    assert len(frame) == 48
    assert str(frame.index[-1]) == "2024-01-13 23:30:00+00:00"
    assert frame.iloc[1, :2].tolist() == [23.0, 45.0]
    assert not found.understanding.problems


OVER_PAIRS = {
    "to the right of the first": f"{'':16}{'Attic':>8}{'':10}{'Long Room':>8}\n",
    "in the middle": f"{'':16}{'Attic':^18}{'Long Room':^18}\n",
    "to the left": f"{'':20}{'Attic':<18}{'Long Room':<18}\n",
}


@pytest.mark.parametrize("place", OVER_PAIRS)
@pytest.mark.parametrize("row", ["{}  {:>6}{:>10}{:>8}{:>10}\n", "{}{:>8}{:>10}{:>8}{:>10}\n"])
def test_rooms_named_over_pairs_of_columns_are_told_apart(place: str, row: str) -> None:
    heads = row.format("date        time", "temp", "humidity", "temp", "humidity")
    rows = "".join(
        row.format(time, 20 + i / 10, 50 - i / 10, 18 + i / 10, 60 - i / 10)
        for i, time in enumerate(TIMES)
    )
    found = read_bytes("fixed.txt", (OVER_PAIRS[place] + heads + rows).encode(), zone="UTC")
    assert list(found.sensors) == ["Attic", "Long Room"]
    assert found.sensors["Attic"].iloc[1, :2].tolist() == [20.1, 49.9]
    assert found.sensors["Long Room"].iloc[1, :2].tolist() == [18.1, 59.9]


def test_a_date_with_the_name_of_its_month_is_one_column_without_headings_too() -> None:
    days = pd.date_range("2019-02-04 14:00", periods=40, freq="h")
    fahrenheit = [round(59.7 + 4 * np.sin(i / 7), 1) for i in range(40)]
    rh = [round(60.5 - 3 * np.sin(i / 7), 1) for i in range(40)]
    rows = "".join(
        f"  {day:%d %b %Y %H:%M}{t:6.1f}{h:6.1f}\n"
        for day, t, h in zip(days, fahrenheit, rh, strict=True)
    )
    with pytest.raises(QuestionError, match="without headings") as asked:
        read_bytes("fixed.txt", rows.encode(), zone="UTC")
    right = asked.value.answers[0].columns
    assert right == {"temp_c": "column 2 [°F]", "rh_pct": "column 3"}
    frame = read_bytes("fixed.txt", rows.encode(), zone="UTC", columns=right).sensors[""]
    assert pd.DatetimeIndex(frame.index).tz_convert(None).tolist() == days.tolist()
    assert frame["temp_c"].tolist() == pytest.approx([(t - 32) / 1.8 for t in fahrenheit])
    assert frame["rh_pct"].tolist() == rh


@pytest.mark.parametrize("share", [0.1, 0.4, 0.7])
def test_a_remark_in_front_of_some_rows_takes_none_of_them_away(share: float) -> None:
    start_s, remarks = 1_705_104_000, np.random.default_rng(4).uniform(size=24) < share
    heads = f"{'Remark':>8}{'Temp (°C)':>12}{'RH (%)':>9}{'Time':>13}\n"
    rows = "".join(
        f"{'opened' if remarks[i] else '':>8}{20 + i / 10:>12.1f}{45 + i / 2:>9.1f}"
        f"{start_s + 600 * i:>13}\n"
        for i in range(24)
    )
    found = read_bytes("fixed.txt", (heads + rows).encode(), zone="UTC")
    assert found.sensors[""]["temp_c"].tolist() == pytest.approx([20 + i / 10 for i in range(24)])
    assert found.sensors[""]["rh_pct"].tolist() == [45 + i / 2 for i in range(24)]
    assert not found.understanding.problems


def test_numbers_of_rows_and_seconds_since_1970_leave_the_names_of_rooms_where_they_are() -> None:
    row = "{:>5}{:>12}{:>10}{:>12}{:>10}{:>12}\n"
    heads = f"{'':22}Court{'':17}Stair\n" + row.format("#", "Time", *["Temp. °C", "Humidity %"] * 2)
    rows = "".join(
        row.format(i + 1, 1_517_792_400 + 1200 * i, 15 + i / 10, 54 - i / 10, 25 - i / 10, 43.0)
        for i in range(24)
    )
    found = read_bytes("fixed.txt", (heads + rows).encode(), zone="UTC")
    assert list(found.sensors) == ["Court", "Stair"]
    assert found.sensors["Stair"]["temp_c"].iloc[1] == 24.9


def test_another_column_in_front_leaves_the_names_of_rooms_where_they_are() -> None:
    row = "{:>12}{:>10}{:>7}{:>9}{:>11}{:>9}{:>11}\n"
    heads = f"{'':33}Store{'':15}Stair\n" + row.format(
        "Date", "Pressure", "Hour", *["Temp", "RH"] * 2
    )
    rows = "".join(
        row.format(time[:10], 1013 + i % 3, f"{i:02d}00", 18 + i / 10, 54 - i / 10, 22.0, 43.0)
        for i, time in enumerate(["2024-01-13"] * 24)
    )
    found = read_bytes("fixed.txt", (heads + rows).encode(), zone="UTC")
    assert list(found.sensors) == ["Store", "Stair"]
