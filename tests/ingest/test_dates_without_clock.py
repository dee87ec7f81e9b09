"""Dates with no clock beside them: asked about, and read as the answer says. Invented here."""

import pandas as pd
import pytest
from fixtures.air_series import ROOM, Series, answered, asked, read, require_same, series, table

ROWS = ROOM.lines(lambda a, t, rh: f"{a:%d.%m.%Y};{t};{rh}")
HEADING = "Datum;Temp;RH"
EVENLY = {"rows": "evenly over each day"}


def part(first: int, last: int, of: Series = ROOM) -> Series:
    return Series(of.times[first:last], of.temp_c[first:last], of.rh_pct[first:last])


@pytest.mark.parametrize("newest_first", [False, True])
@pytest.mark.parametrize(("first", "last"), [(0, 120), (7, 117)])
def test_the_rows_of_each_day_are_spread_evenly_where_a_person_says_so(
    first: int, last: int, newest_first: bool
) -> None:
    rows = ROWS[first:last][:: -1 if newest_first else 1]
    data = table(HEADING, rows)
    question = asked(data)
    assert "24 readings of each day" in question.answers[0].words
    found = answered(data, question.answers[0])
    require_same(found, {"": part(first, last)})
    assert any("60 min apart, as said" in note for note in found.understanding.notes)
    assert found.choice.columns == EVENLY


def test_days_with_different_numbers_of_rows_are_not_spread() -> None:
    data = table(HEADING, ROWS[:30] + ROWS[35:])
    assert not [one for one in asked(data).answers if one.columns == EVENLY]
    assert "different numbers of rows" in asked(data, EVENLY).found


def test_a_column_that_parts_the_day_is_not_taken_for_two_sensors() -> None:
    halves = series(count=40, step="12h")
    rows = halves.lines(lambda a, t, rh: f"{a:%Y-%m-%d};{'am' if a.hour < 12 else 'pm'};{t};{rh}")
    data = table("Date;Session;Temp;RH", rows)
    sensors, evenly = asked(data).answers
    require_same(answered(data, evenly), {"": halves})
    assert set(answered(data, sensors).sensors) == {"am", "pm"}


def test_one_row_a_day_stands_at_midnight_and_the_preview_says_so() -> None:
    daily = series(step="1D")
    found = read(table("Date;Temp;RH", daily.lines(lambda a, t, rh: f"{a:%Y-%m-%d};{t};{rh}")))
    require_same(found, {"": daily})
    assert pd.Timestamp("2024-03-13", tz="UTC") in found.sensors[""].index
    assert any("Only dates stand there" in note for note in found.understanding.notes)
