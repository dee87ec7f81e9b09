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


def once_a_day(of: Series) -> list[str]:
    """Return rows of which only the first of each day bears its date."""
    shown = [str(day.date()) if new else "" for day, new in zip(
        of.times, ~of.times.normalize().duplicated(), strict=True)]  # fmt: skip
    rows = of.lines(lambda a, t, rh: f"{a:%H:%M};{t};{rh}")
    return [f"{date};{row}" for date, row in zip(shown, rows, strict=True)]


def test_a_date_that_stands_once_a_day_is_asked_about_and_carried_down() -> None:
    data = table("Date;Clock;Temp;RH", once_a_day(part(7, 120)))
    question = asked(data)
    carried, left = question.answers
    assert "without a date" in question.found
    found = answered(data, carried)
    require_same(found, {"": part(7, 120)})
    assert any("down to the next date, as said" in note for note in found.understanding.notes)
    assert found.choice.columns == carried.columns
    assert len(answered(data, left).sensors[""]) == 5


def test_a_single_missing_date_stays_a_row_kept_apart() -> None:
    rows = ROOM.lines(lambda a, t, rh: f"{a:%Y-%m-%d};{a:%H:%M};{t};{rh}")
    rows[30] = rows[30][10:]
    found = read(table("Date;Clock;Temp;RH", rows))
    assert len(found.sensors[""]) == len(rows) - 1
    assert found.understanding.rows.unreadable == 1


@pytest.mark.parametrize(("column", "unit"), [("No.", 1), ("min", 60)])
def test_start_and_interval_of_the_lines_above_are_offered_not_taken(
    column: str, unit: int
) -> None:
    rows = [f"{i * unit};{t};{rh}" for i, (t, rh) in enumerate(
        zip(ROOM.temp_c, ROOM.rh_pct, strict=True))]  # fmt: skip
    above = ["Read out: 2024-04-02 08:00", "Started at 2024-03-13 00:00", "Interval: 01:00:00"]
    data = table("\n".join([*above, f"{column};Temp;RH"]), rows)
    (offered,) = asked(data).answers
    require_same(answered(data, offered), {"": ROOM})
    assert "start" not in answered(data, offered).choice.columns


def test_two_starts_above_the_rows_offer_none() -> None:
    rows = [f"{i};{t};{rh}" for i, (t, rh) in enumerate(
        zip(ROOM.temp_c, ROOM.rh_pct, strict=True))]  # fmt: skip
    above = ["Start: 2024-03-13 00:00", "First reading 2024-03-14 00:00", "Interval 1 h"]
    assert not asked(table("\n".join([*above, "No.;Temp;RH"]), rows)).answers
