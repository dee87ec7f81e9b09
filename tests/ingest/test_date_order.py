"""Day, month and year are told apart by all the dates of a file. Invented here."""

import pandas as pd
import pytest
from fixtures.air_series import ROOM, Series, asked, read, require_same, table

from service.errors import QuestionError


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
