"""The week chart: what stands on it, where, and that it is the same every time."""

import math
import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
import pytest
from matplotlib.figure import Figure

from analysis.air.psychrometric_picture import carpet, psychrometric_picture
from analysis.results import Band, Event, Planned, RoomWeek
from analysis.series import readings_frame
from dashboards.charts import room_air, strips, style, time_axis, tracks
from dashboards.charts.carpet import INKS, carpet_chart, carpet_words
from dashboards.charts.layout import WIDE
from dashboards.charts.psychrometric import psychrometric_chart, psychrometric_words
from dashboards.charts.week import room_glance, week_chart, week_chart_narrow
from dashboards.charts.work import work_chart, work_words
from dashboards.look_lines import InspectionLine
from dashboards.text import sentences

CHARTS = (week_chart, week_chart_narrow, room_glance)


def texts(figure: Figure) -> str:
    """Return everything written on a figure."""
    found = [text.get_text() for text in figure.texts]
    for axes in figure.axes:
        found += [text.get_text() for text in axes.texts]
        found += [label.get_text() for label in axes.get_yticklabels()]
    return "\n".join(found)


@pytest.mark.parametrize("chart", CHARTS, ids=lambda chart: chart.__name__)
def test_a_chart_is_the_same_bytes_every_time(
    week: RoomWeek, chart: Callable[[RoomWeek], Figure]
) -> None:
    first, second = chart(week), chart(week)
    assert style.svg(first) == style.svg(second)
    assert style.inline_svg(first) == style.inline_svg(second)


def test_files_are_the_same_bytes_every_time(week: RoomWeek) -> None:
    first, second = week_chart(week), week_chart(week)
    assert style.png(first, 50) == style.png(second, 50)
    assert style.pdf(first) == style.pdf(second)


def test_threads_do_not_disturb_each_other(week: RoomWeek) -> None:
    alone = style.svg(room_glance(week))
    with ThreadPoolExecutor(4) as pool:
        together = list(pool.map(lambda _: style.svg(room_glance(week)), range(4)))
    assert together == [alone] * 4


def test_the_wall_sheet_is_an_a4_page_on_its_side(week: RoomWeek) -> None:
    width, height = week_chart(week).get_size_inches() * 25.4
    assert (width, height) == (pytest.approx(277.0), pytest.approx(190.0))


def test_everything_is_named_on_the_chart(week: RoomWeek) -> None:
    said = texts(week_chart(week))
    for words in (
        "North gallery", "Mon 16", "Sun 22", "Agreed band, 40 to 55 %RH, since 2025",
        "room air", "what the frames felt", "mounted at", "dew point", "Quay at low water",
    ):  # fmt: skip
        assert words in said
    for judgement in week.judgements:
        assert judgement.state.value in said
    assert "96 % of the week measured" in said
    assert "Look first at three prints" in said.replace("\n", " ")


def test_a_page_has_the_words_as_text_and_not_twice(week: RoomWeek) -> None:
    said = texts(week_chart(week, words=False))
    assert "Look first" not in said and "North gallery" not in said
    assert "near the glazing" in said


def test_an_inline_picture_carries_no_style_for_the_whole_page(week: RoomWeek) -> None:
    text = style.inline_svg(week_chart(week), 'what "it" shows')
    assert "<style" not in text and "<?xml" not in text and "width=" not in text.split(">")[0]
    assert 'aria-label="what &#34;it&#34; shows"' in text
    assert "var(--madder, #981f34)" in text
    ids = re.findall(r' id="([^"]+)"', text)
    used = set(re.findall(r'(?:url\(#|href="#)([^)"]+)', text))
    assert len(ids) == len(set(ids)) and set(ids) == used


def test_gaps_are_left_and_hatched(week: RoomWeek) -> None:
    scale = time_axis.Days.of(week)
    found = time_axis.gaps(week.readings, scale)
    assert [(round(a, 1), round(b, 1)) for a, b in found] == [(73.8, 81.0)]
    places = scale.along(week.readings.index)
    _, values = time_axis.broken_line(places, time_axis.fit_values(week.readings, "rh_pct"), found)
    assert (
        np.isnan(values).sum() == np.isnan(time_axis.fit_values(week.readings, "rh_pct")).sum() + 1
    )


def test_readings_in_doubt_are_hollow_and_not_on_the_line(week: RoomWeek) -> None:
    figure = week_chart(week)
    hollow = [line for axes in figure.axes for line in axes.lines if line.get_marker() == "o"]
    assert len(hollow) == 1
    assert np.size(hollow[0].get_xdata()) == 8  # one spike and five stuck hours at three quarters
    room = max((line for axes in figure.axes[:4] for line in axes.lines),
               key=lambda line: np.size(line.get_xdata()))  # fmt: skip
    assert np.nanmax(room.get_ydata()) < 60.0  # the spike to 61 is not part of it


def test_a_week_with_a_change_of_clocks_has_a_day_of_23_hours(week: RoomWeek) -> None:
    start = datetime(2026, 3, 22, 23, tzinfo=UTC)
    scale = time_axis.Days(start, start + timedelta(hours=167), "Europe/Amsterdam")
    lengths = [last - first for _, first, last in scale.midnights()]
    assert lengths == [24.0] * 6 + [23.0]


def test_strips_darken_with_probability_in_a_grey_print(week: RoomWeek) -> None:
    layers = [int((p >= strips.LEVELS).sum()) for p in np.linspace(0, 1, 11)]
    assert layers == sorted(layers) and layers[0] == 0 and layers[-1] == strips.LEVELS.size
    dark = [(1 - strips.WASH_ALPHA) ** n for n in layers]
    assert all(a - b > 0.02 for a, b in pairwise(dark))


def test_strips_are_ordered_by_need(week: RoomWeek) -> None:
    turned = replace(week, judgements=list(reversed(week.judgements)))
    listings = [row.judgement.listing.value for row in strips.rows(turned)]
    order = ["look first", "watch", "cannot tell", "leave be", "not covered"]
    assert listings == sorted(listings, key=order.index)


def event_at(hour: float, length: float, week: RoomWeek) -> Event:
    """Return a spike at an hour of the week."""
    start = week.start_utc + timedelta(hours=hour)
    end = start + timedelta(hours=length)
    return Event("spike", "N1", start, start, end, 40.0, 50.0, 10.0, 1.0, 1.0, "", 100.0)


def test_numbers_of_events_at_one_time_do_not_cover_each_other(week: RoomWeek) -> None:
    events = [event_at(40, 30, week), event_at(40, 2, week), event_at(41, 5, week)]
    bars = tracks.lanes(events, time_axis.Days.of(week), WIDE)
    assert [bar.lane for bar in bars] == [0, 1, 2]


def test_many_events_are_numbered_up_to_what_fits(week: RoomWeek) -> None:
    crowded = replace(week, events=[event_at(h, 3, week) for h in range(0, 160, 8)])
    said = texts(week_chart(crowded))
    assert "8" in said.split("\n") and "9" not in said.split("\n")


@pytest.mark.parametrize("chart", CHARTS, ids=lambda chart: chart.__name__)
def test_a_week_with_little_in_it_is_drawn_all_the_same(
    week: RoomWeek, chart: Callable[[RoomWeek], Figure]
) -> None:
    nothing = week.readings.iloc[:0]
    empty = replace(week, readings=nothing, band=None, events=[], works={}, histories={},
                    judgements=[], loggers=[], calibration="", clock="")  # fmt: skip
    assert len(style.svg(chart(empty))) > 1000
    no_humidity = week.readings.assign(rh_pct=math.nan, dew_point_c=math.nan)
    blank = {key: replace(h, p_slack=h.p_slack * math.nan, frame_rh_pct=h.frame_rh_pct * math.nan)
             for key, h in week.histories.items()}  # fmt: skip
    assert len(style.svg(chart(replace(week, readings=no_humidity, histories=blank)))) > 1000


def test_what_the_frames_felt_encloses_each_glazed_frame(week: RoomWeek) -> None:
    felt = room_air.felt_range(week)
    assert felt is not None
    _, low, high = felt
    glazed = week.histories["W02"].frame_rh_pct
    assert (low[:168] <= glazed[:, 0] + 1e-9).all() and (high[:168] >= glazed[:, 2] - 1e-9).all()


def a_year() -> pd.DataFrame:
    """Return an invented year of hours, damp in August, with four days missing."""
    times = pd.date_range("2025-01-01", "2026-01-01", freq="h", tz="UTC", inclusive="left")
    hours = np.arange(times.size)
    rh_pct = 47 + 9 * np.sin(2 * np.pi * (hours / 24 - 135) / 365)
    rh_pct[3000:3096] = np.nan
    return readings_frame(times.as_unit("ms"), rh_pct=rh_pct, temp_c=20 + rh_pct / 50)


def test_the_carpet_says_what_it_shows_and_darkens_with_damp() -> None:
    found = carpet(a_year(), "Europe/Amsterdam")
    band = Band("Agreed band", 40.0, 55.0)
    assert style.svg(carpet_chart(found, band)) == style.svg(carpet_chart(found, band))
    said = carpet_words(found)
    assert "August 2025 was dampest (56 %RH on average)" in said
    assert "February 2025 driest" in said and "1 % of the hours were not measured" in said
    grey = [sum(int(ink[i : i + 2], 16) * w for i, w in ((1, 0.299), (3, 0.587), (5, 0.114)))
            for ink in INKS]  # fmt: skip
    assert np.diff(grey).max() < -12


def test_the_psychrometric_picture_says_where_the_time_was_spent(week: RoomWeek) -> None:
    band = Band("Agreed band", 40.0, 55.0, low_temp_c=18.0, high_temp_c=24.0)
    picture = psychrometric_picture(week.readings, band=band, events=week.events[:1])
    figure = psychrometric_chart(picture, band)
    said = texts(figure)
    assert "50 %RH" in said and "Agreed band" in said and "\n1" in said
    assert "from 20 to 21 °C" in psychrometric_words(picture)
    assert style.svg(figure) == style.svg(psychrometric_chart(picture, band))


def test_nothing_measured_is_said() -> None:
    empty = readings_frame(pd.DatetimeIndex([], tz="UTC"))
    assert carpet_words(carpet(empty, "UTC")) == "Nothing was measured in this period."
    assert len(style.svg(carpet_chart(carpet(empty, "UTC")))) > 500


def test_time_to_come_is_no_gap(week: RoomWeek) -> None:
    noon = week.start_utc + timedelta(hours=60)
    so_far = week.readings[week.readings.index < noon]
    judged = [replace(j, at_utc=noon) for j in week.judgements]
    running = replace(week, readings=so_far, judgements=judged)
    assert time_axis.gaps(so_far, time_axis.Days.of(running)) == []
    silent = replace(running, readings=so_far[so_far.index < noon - timedelta(hours=9)])
    assert time_axis.gaps(silent.readings, time_axis.Days.of(silent)) == [(50.75, 60.0)]


def test_one_work_is_drawn_against_its_mounting_with_what_people_saw(week: RoomWeek) -> None:
    work, history = week.works["W02"], week.histories["W02"]
    seen = InspectionLine("1", week.start_utc + timedelta(hours=60), 2, "A. Person")
    withdrawn = replace(seen, grade=4, withdrawn=True)
    said = texts(work_chart(work, history, week.zone, [seen, withdrawn]))
    assert "mounted at 43 %RH" in said and "seen: 2" in said and "seen: 4" not in said
    assert work_words(work, history).endswith("% of the time above 43 %RH, its RH at mounting.")
    unknown = replace(work, mounted_rh_pct=None)
    assert "its RH at mounting is not known" in work_words(unknown, history)
    assert "mounted" not in texts(work_chart(unknown, history, week.zone))


def test_a_long_history_names_weeks_and_not_days(week: RoomWeek) -> None:
    history = week.histories["W02"]
    many = 60 * 24
    at = history.time_utc[0] + np.arange(many) * np.timedelta64(1, "h")
    names = ("frame_rh_pct", "print_rh_pct", "p_slack", "p_visible", "refused")
    shapes = {name: (many, *getattr(history, name).shape[1:]) for name in names}
    longer: Any = {name: np.resize(getattr(history, name), shapes[name]) for name in names}
    long = replace(history, time_utc=at, **longer)
    said = texts(work_chart(week.works["W02"], long, week.zone))
    assert "30 Mar" in said and "Mo 16" not in said


def opening(week: RoomWeek, hours: float = 3.0) -> Planned:
    """Return an opening on Tuesday evening, entered beforehand."""
    begin = week.start_utc + timedelta(hours=39.5)
    end = begin + timedelta(hours=hours)
    return Planned("Opening of the show", begin, end)


@pytest.mark.parametrize("chart", CHARTS, ids=lambda chart: chart.__name__)
def test_a_planned_event_is_a_bracket_with_its_name(
    week: RoomWeek, chart: Callable[[RoomWeek], Figure]
) -> None:
    planned = replace(week, planned=[opening(week)])
    assert "Opening of the show" not in texts(chart(week))
    assert "Opening of the show" in texts(chart(planned)).splitlines()
    found = tracks.brackets(planned.planned, time_axis.Days.of(week), WIDE)
    assert (found[0].first, found[0].last) == (39.5, 42.5)


def test_brackets_never_cover_a_name(week: RoomWeek) -> None:
    late = replace(opening(week), from_utc=week.end_utc - timedelta(hours=2), to_utc=week.end_utc)
    long = replace(opening(week), from_utc=week.start_utc, to_utc=week.end_utc)
    found = tracks.brackets(
        [opening(week), late, long, opening(week)], time_axis.Days.of(week), WIDE
    )
    assert max(one.lane for one in found) >= 2
    ends = dict.fromkeys(range(len(found)), -1.0)
    for one in found:
        assert min(one.first, one.named_at) >= ends[one.lane]
        ends[one.lane] = max(one.last, one.named_at)
    assert all(0.0 <= one.named_at <= time_axis.Days.of(week).length_h for one in found)


def test_a_planned_event_is_named_in_sentences(week: RoomWeek) -> None:
    said = sentences.week_sentence(replace(week, planned=[opening(week)]))
    assert "from Tuesday 16:10, during “Opening of the show”, probably moist air" in said
    other = replace(opening(week), from_utc=week.start_utc, to_utc=None, title="Floor washed")
    said = sentences.week_sentence(replace(week, planned=[other]))
    assert "Mon 00:00, in the calendar: Floor washed." in said
    assert "during" not in said


def test_the_week_before_lies_faint_behind_the_line(week: RoomWeek) -> None:
    before = week.readings.assign(rh_pct=week.readings["rh_pct"] - 20.0)
    axes = week_chart(replace(week, before=before)).axes
    air = next(one for one in axes if any(t.get_text() == "room air" for t in one.texts))
    faint = [line for line in air.lines if line.get_alpha() == 0.4]
    assert len(faint) == 1
    strong = next(line for line in air.lines if line.get_linewidth() == 1.2)
    assert faint[0].get_zorder() < strong.get_zorder()
    assert air.get_ylim()[0] <= float(np.nanmin(before["rh_pct"]))
    assert "the week before" in texts(week_chart(replace(week, before=before)))
    assert "the week before" not in texts(week_chart(week))
