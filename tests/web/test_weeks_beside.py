"""The week of a day, and a week beside last year's and beside outdoors."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import httpx
import pandas as pd
import pytest
from fixtures.invented_week import room_week

from analysis.air.mean_difference import mean_difference
from analysis.results import Beside, RoomWeek
from dashboards.charts.room_air import key_words
from dashboards.charts.style import svg
from dashboards.charts.week import week_chart
from dashboards.text.beside_text import beside_sentence


@pytest.fixture(scope="module")
def week() -> RoomWeek:
    return room_week()


RECORD = "the record runs from"


@pytest.mark.parametrize(
    ("asked", "leads"),
    [
        ("/?on=2026-03-19", "/?week=2026-W12"),
        ("/rooms/north?on=2026-03-15", "/rooms/north/2026-W11"),
        ("/rooms/north?on=2026-03-16&beside=year", "/rooms/north/2026-W12?beside=year"),
    ],
)
def test_a_day_leads_to_its_week_and_keeps_what_is_drawn(
    web: httpx.Client, asked: str, leads: str
) -> None:
    answer = web.get(asked, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, leads)
    assert web.get(leads).status_code == 200


@pytest.mark.parametrize("day", ["1999-01-04", "2031-01-04", "0001-01-01", "9999-12-31"])
@pytest.mark.parametrize("page", ["/", "/rooms/north"])
def test_a_day_far_off_is_answered_calmly(web: httpx.Client, page: str, day: str) -> None:
    answer = web.get(page, params={"on": day})
    assert answer.status_code == 200
    assert RECORD in answer.text
    assert 'type="date"' in answer.text
    assert "The latest week" in answer.text


@pytest.mark.parametrize("day", ["soon", "2026-02-30", "19.03.2026", "2026-W12-9"])
def test_what_is_no_day_is_said(web: httpx.Client, day: str) -> None:
    answer = web.get("/", params={"on": day})
    assert answer.status_code == 422
    assert "a day such as 2026-03-19" in answer.text


def test_a_house_without_a_record_leads_to_its_first_page(
    serve: Callable[[Path], httpx.Client], tmp_path: Path
) -> None:
    answer = serve(tmp_path).get("/?on=2026-03-19", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/")


def test_links_keep_what_the_week_is_drawn_beside(web: httpx.Client) -> None:
    page = web.get("/rooms/north/2026-W12?beside=year").text
    assert 'rel="prev" href="/rooms/north/2026-W11?beside=year"' in page
    assert '<input type="hidden" name="beside" value="year">' in page
    assert 'href="/rooms/north/2026-W12?beside=year" aria-current="true"' in page
    assert 'href="/rooms/north/2026-W12"' in page
    assert "beside=outdoors" not in page  # the small museum has no outdoor air
    assert "cannot be told" in page  # nor a record of last year
    assert web.get("/rooms/north/2026-W12?beside=moon").status_code == 422


def moved(week: RoomWeek, beside: Beside, rh_pct: float, temp_c: float) -> RoomWeek:
    """Return a week beside readings that lie so far off its own."""
    frame = week.readings.assign(
        rh_pct=week.readings["rh_pct"] + rh_pct,
        temp_c=week.readings["temp_c"] + temp_c,
        dew_point_c=week.readings["dew_point_c"] + rh_pct,
    )
    return replace(week, before=frame, beside=beside)


def test_the_difference_to_last_year_is_said_in_one_sentence(week: RoomWeek) -> None:
    said = beside_sentence(moved(week, Beside.YEAR, -3.0, 0.5), "17 to 23 March 2025")
    assert said.startswith(
        "Against the same week of last year, 17 to 23 March 2025, the room was 3 %RH damper and "
        "0.5 °C cooler on average, over the "
    )
    same = beside_sentence(moved(week, Beside.YEAR, 0.2, 0.0), "")
    assert "the room was as damp and as warm on average" in same
    nothing = replace(week, beside=Beside.YEAR, before=None)
    assert "cannot be told: less than 24 h were measured in both." in beside_sentence(nothing, "")
    assert beside_sentence(week, "") == ""


def test_outdoors_is_compared_by_dew_point(week: RoomWeek) -> None:
    drier = moved(week, Beside.OUTDOORS, -4.0, 0.0)
    assert "was 4.0 °C above that outdoors on average, and below it in 0 % of" in beside_sentence(
        drier, ""
    )
    damper = beside_sentence(moved(week, Beside.OUTDOORS, 2.0, 0.0), "")
    assert "was 2.0 °C below that outdoors on average, and above it in 0 % of" in damper
    assert key_words(drier).endswith("Faint line below: the dew point outdoors.")
    assert key_words(moved(week, Beside.YEAR, 1.0, 0.0)).endswith(
        "Faint line: the same week of last year."
    )


def test_what_a_week_stands_beside_is_drawn(week: RoomWeek) -> None:
    plain = svg(week_chart(replace(week, before=None)))
    for beside in Beside:
        assert svg(week_chart(moved(week, beside, -2.0, 0.0))) != plain


def test_each_hour_counts_once_however_often_it_was_read() -> None:
    at = pd.date_range("2026-03-16", periods=30, freq="h", tz="UTC")
    slow = pd.Series(range(30), at, dtype=float)
    often = pd.Series(10.0, pd.date_range(at[0], periods=30 * 12, freq="5min", tz="UTC"))
    found = mean_difference(slow, often)
    assert found is not None
    assert found.difference == pytest.approx(14.5 - 10.0)
    assert found.below == pytest.approx(10 / 30)
    assert found.hours == 30
    assert mean_difference(slow[:23], often) is None
    assert mean_difference(slow, often.set_axis(often.index + timedelta(days=9))) is None
