"""Several sensors in one file are never merged, whatever tells them apart. Invented here."""

import itertools
from collections.abc import Callable

import pandas as pd
import pytest
from fixtures.air_series import (
    ATTIC,
    ROOM,
    STORE,
    Series,
    answered,
    asked,
    read,
    require_same,
    stamp,
    table,
)

THREE = {"1": ROOM, "2": STORE, "3": ATTIC}


def in_turn(form: Callable[[pd.Timestamp, str, float, float], str]) -> list[str]:
    """Return the lines of three sensors, one after another at each time."""
    return list(itertools.chain.from_iterable(zip(*_each(form), strict=True)))


def _each(form: Callable[[pd.Timestamp, str, float, float], str]) -> list[list[str]]:
    return [
        [
            form(*row)
            for row in zip(one.times, itertools.repeat(name), one.temp_c, one.rh_pct, strict=False)
        ]
        for name, one in THREE.items()
    ]


def moved(minutes: int) -> dict[str, Series]:
    return {
        name: Series(one.times + pd.Timedelta(minutes=minutes * int(name)), one.temp_c, one.rh_pct)
        for name, one in THREE.items()
    }


@pytest.mark.parametrize("heading", ["node", "Kiste", "x", "sensor id"])
def test_a_column_of_small_numbers_tells_sensors_apart(heading: str) -> None:
    rows = in_turn(lambda a, n, t, rh: f"{stamp(a)},{n},{t},{rh}")
    require_same(read(table(f"time,{heading},temp,rh", rows)), THREE)


def test_sensors_asked_in_turn_at_times_of_their_own() -> None:
    rows = in_turn(
        lambda a, n, t, rh: f"{stamp(a + pd.Timedelta(minutes=5 * int(n)))},{n},{t},{rh}"
    )
    found = read(table("time,Kiste,temp,rh", rows))
    require_same(found, moved(5))
    assert any("recur in turn" in n and "sensor=none" in n for n in found.understanding.notes)
    as_one = read(table("time,Kiste,temp,rh", rows), {"sensor": "none"})
    assert list(as_one.sensors) == [""]


@pytest.mark.parametrize("minutes", [0, 5])
def test_the_answer_to_a_file_without_headings_keeps_its_sensors_apart(minutes: int) -> None:
    rows = in_turn(
        lambda a, n, t, rh: f"{stamp(a + pd.Timedelta(minutes=minutes * int(n)))},{n},{t},{rh}"
    )
    question = asked(table("", rows))
    assert "column 2 (1, 2, 3) may tell sensors apart" in question.found
    require_same(answered(table("", rows), question.answers[0]), moved(minutes))


def test_sensors_below_one_another() -> None:
    parts = _each(lambda a, n, t, rh: f"{stamp(a)},{n},{t},{rh}")
    rows = list(itertools.chain.from_iterable(parts))
    require_same(read(table("time,Kiste,temp,rh", rows)), THREE)


def test_a_building_and_a_room_together() -> None:
    names = {"1": "A,1", "2": "A,2", "3": "B,1"}
    rows = in_turn(lambda a, n, t, rh: f"{stamp(a)},{names[n]},{t},{rh}")
    expected = {names[n].replace(",", " "): one for n, one in THREE.items()}
    require_same(read(table("time,building,room,temp,rh", rows)), expected)


def test_short_texts_without_a_name() -> None:
    rows = in_turn(lambda a, n, t, rh: f"{stamp(a)},00:1f:aa:0{n},{t},{rh}")
    expected = {f"00:1f:aa:0{n}": one for n, one in THREE.items()}
    require_same(read(table("time,x,temp,rh", rows)), expected)


@pytest.mark.parametrize(
    ("heading", "cell"),
    [("wd", lambda a: a.day_of_week), ("h", lambda a: a.hour), ("flag", lambda a: a.hour % 2)],
)
def test_a_part_of_the_date_or_a_flag_is_no_sensor(
    heading: str, cell: Callable[[pd.Timestamp], int]
) -> None:
    rows = ROOM.lines(lambda a, t, rh: f"{stamp(a)},{cell(a)},{t},{rh}")
    require_same(read(table(f"time,{heading},temp,rh", rows)), {"": ROOM})


def test_two_sensors_that_nothing_tells_apart_are_asked_about() -> None:
    rows = [f"{stamp(a)},{x},{y}" for a, *values in zip(
        ROOM.times, ROOM.temp_c, ROOM.rh_pct, STORE.temp_c, STORE.rh_pct, strict=True)
        for x, y in (values[:2], values[2:])]  # fmt: skip
    question = asked(table("time,temp,rh", rows))
    assert "another value for a time already read" in question.found
    assert "--column sensor=" in question.action


def test_sensors_below_one_another_newest_first_with_rows_again_are_told_apart() -> None:
    rows: list[str] = []
    for name, of in (("Attic", ATTIC), ("Store", STORE), ("Court", ROOM)):
        lines = of.lines(lambda a, t, rh: f"{stamp(a)};NAME;{t};{rh}")
        rows += [line.replace("NAME", name) for line in lines[::-1]]
    found = read(table("time;Zaal;Temp;RH", [*rows[:46], *rows[40:]]))
    require_same(found, {"Attic": ATTIC, "Store": STORE, "Court": ROOM})


def test_a_damaged_row_without_a_name_or_a_number_makes_no_third_sensor() -> None:
    rows = [f"{stamp(a)};{name};{t};{rh}" for (a, name, t, rh) in sorted(
        (a, name, t, rh) for name, of in (("1", ROOM), ("2", STORE))
        for a, t, rh in zip(of.times, of.temp_c, of.rh_pct, strict=True))]  # fmt: skip
    rows[4] = f"{stamp(ROOM.times[2])};?;6?;5?"
    found = read(table("time;room;temp;rh", rows))
    assert set(found.sensors) == {"1", "2"}
    assert len(found.sensors["1"]) == len(ROOM.times) - 1
    assert any(problem.line == 6 for problem in found.understanding.problems)
