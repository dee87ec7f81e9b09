"""Day, month and year are told apart by all the dates of a file. Invented here."""

import pandas as pd
import pytest
from fixtures.air_series import ROOM, Series, answered, asked, read, require_same, table

from analysis.errors import UnknownNameError
from service.errors import QuestionError
from service.ingest.read import read_bytes


def rows_of(form: str, series: Series = ROOM) -> list[str]:
    return series.lines(lambda a, t, rh: f"{a:{form}};{t};{rh}")


def of(first: str, count: int) -> Series:
    times = pd.date_range(first, periods=count, freq="1h")
    return Series(times, ROOM.temp_c.repeat(5)[:count], ROOM.rh_pct.repeat(5)[:count])


@pytest.mark.parametrize("place", [0, 40, 119])
@pytest.mark.parametrize("damaged", ["84.05.12 07:00", "99.13.24 07:00", "13.24.03 07:00"])
def test_one_damaged_date_does_not_turn_the_others(place: int, damaged: str) -> None:
    rows = rows_of("%d.%m.%y %H:%M")
    rows[place] = damaged + rows[place][14:]
    found = read(table("time;Temp;RH", rows))
    left = [n for n in range(120) if n != place]
    require_same(found, {"": Series(ROOM.times[left], ROOM.temp_c[left], ROOM.rh_pct[left])})
    assert [problem.line for problem in found.understanding.problems] == [place + 2]


def test_a_single_day_that_only_one_order_has_does_not_go_before_days_that_run_on() -> None:
    rows = rows_of("%m/%d/%Y %H:%M", of("2024-05-02", 120))
    rows[5] = "25" + rows[5][2:]
    question = asked(table("time;Temp;RH", rows))
    assert "fit day first and month first alike" in question.found
    by_month = [answer for answer in question.answers if answer.day_first is False]
    found = read(table("time;Temp;RH", rows), day_first=by_month[0].day_first)
    assert len(found.sensors[""]) == 119


def test_a_single_day_above_twelve_decides_where_the_days_run_on() -> None:
    series = of("2024-05-01", 12 * 24 + 1)
    require_same(read(table("time;Temp;RH", rows_of("%d/%m/%Y %H:%M", series))), {"": series})


@pytest.mark.parametrize("freq", ["1h", "1D"])
def test_short_years_in_front_are_known_by_the_days_behind_them(freq: str) -> None:
    times = pd.date_range("2024-03-13", periods=120, freq=freq)
    series = Series(times, ROOM.temp_c, ROOM.rh_pct)
    require_same(read(table("time;Temp;RH", rows_of("%y-%m-%d %H:%M", series))), {"": series})


def test_more_dates_of_another_order_than_damage_explains_are_asked_about() -> None:
    series = of("2024-05-14", 240)
    mixed = rows_of("%d/%m/%Y %H:%M", series)[:200] + rows_of("%m/%d/%Y %H:%M", series)[200:]
    with pytest.raises(QuestionError, match="only day first and some only month first"):
        read(table("time;Temp;RH", mixed))


# One day alone: nothing tells which end of the date is the year.
ONE_DAY = {"%d-%m-%y %H:%M": 1, "%d/%m/%y %H:%M": 1, "%d.%m.%y %H:%M:%S": 1, "%y/%m/%d %H:%M": 0}


@pytest.mark.parametrize("form", ONE_DAY)
@pytest.mark.parametrize("day", ["2024-01-13", "2013-11-24", "2022-05-22"])
def test_one_day_with_a_short_year_at_either_end_is_asked_about(form: str, day: str) -> None:
    series = of(day, 24)
    data = table("time;Temp;RH", rows_of(form, series))
    answers = {answer.words: answer for answer in asked(data).answers}
    assert list(answers)[-1] == "the year comes first"
    right = answers["the day comes first" if ONE_DAY[form] else "the year comes first"]
    require_same(answered(data, right), {"": series})


@pytest.mark.parametrize("heading", ["Date (YY/MM/DD)", "Datum JJ-MM-TT", "Horodatage (AA-MM-JJ)"])
def test_a_heading_that_puts_the_year_first_is_believed(heading: str) -> None:
    series = of("2024-01-13", 24)
    require_same(read(table(f"{heading};Temp;RH", rows_of("%y/%m/%d %H:%M", series))), {"": series})


def test_a_year_said_to_come_first_is_remembered_and_yields_to_what_a_file_tells() -> None:
    data = table("time;Temp;RH", rows_of("%y-%m-%d %H:%M", of("2024-01-13", 24)))
    first = answered(data, asked(data).answers[-1])
    another = of("2024-02-14", 24)
    again = table("time;Temp;RH", rows_of("%y-%m-%d %H:%M", another))
    found = read_bytes("next.csv", again, zone="UTC", choice=first.choice)
    require_same(found, {"": another})
    longer = of("2024-02-14", 120)
    other_way = table("time;Temp;RH", rows_of("%d-%m-%y %H:%M", longer))
    found = read_bytes("next.csv", other_way, zone="UTC", choice=first.choice)
    require_same(found, {"": longer})


def test_an_order_that_does_not_exist_is_refused() -> None:
    data = table("time;Temp;RH", rows_of("%y-%m-%d %H:%M", of("2024-01-13", 24)))
    with pytest.raises(UnknownNameError, match="day first, month first, year first"):
        read(data, {"order": "hour first"})


def test_half_of_the_day_belongs_to_its_clock_where_blanks_part_the_columns() -> None:
    lines = rows_of("%d/%m/%Y %I:%M %p")
    found = read(
        table("", [line.replace(";", "  ") for line in lines]), {"temp_c": "3", "rh_pct": "4"}
    )
    require_same(found, {"": ROOM})
