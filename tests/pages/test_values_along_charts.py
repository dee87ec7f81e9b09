"""What can be read along a chart is what it is drawn from, in the words of the house."""

import json
import re
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pandas as pd
import pytest
from fixtures.invented_week import ZONE
from hypothesis import given, strategies as st
from matplotlib.figure import Figure

from analysis.forecast.room_ahead import RoomAhead
from analysis.results import Floats, Range, RoomWeek, State
from dashboards.charts.days_ahead import days_figure
from dashboards.charts.readout import AIR, Line, boxes, coded_times, steps, values_script
from dashboards.charts.seen_points import COLUMNS_PER_MM, lighten, seen_points
from dashboards.charts.strips import known_runs, rows
from dashboards.charts.style import inline_svg
from dashboards.charts.time_axis import Days, fit_values
from dashboards.charts.week import room_glance, week_chart, week_chart_narrow
from dashboards.charts.week_values import MOST, ahead_line, week_lines
from dashboards.text import wording
from dashboards.text.dates import clock, day
from dashboards.text.messages import in_the_way_of
from dashboards.text.spare_text import spare_figure


def said(line: Line, at: int) -> str:
    """Return the sentence of a place, filled as the page's script does it."""
    words, places = line.say
    told = {name: found[places_[at]] for name, (found, places_) in line.words.items()}
    return words[places[at] if places else 0].format(name=line.name, **told)


def test_the_air_that_is_read_is_the_air_that_is_drawn(week: RoomWeek) -> None:
    line = week_lines(week)[AIR]
    frame = week.readings
    fit = fit_values(frame, "rh_pct")
    places = Days.of(week).along(frame.index)
    for number in range(0, len(frame), 37):
        at = int(np.flatnonzero(np.isclose(line.places_h, places[number]))[0])
        instant = frame.index[number].to_pydatetime()
        rh = wording.rh(round(float(frame["rh_pct"].iloc[number])))
        rh += " (in doubt)" if np.isnan(fit[number]) else ""
        temp = wording.temp(round(float(frame["temp_c"].iloc[number]), 1))
        assert said(line, at).startswith(
            f"{day(instant, ZONE)}, {clock(instant, ZONE)}: room air {rh}, {temp}, dew point "
        )


def test_hours_without_a_reading_say_so(week: RoomWeek) -> None:
    line = week_lines(week)[AIR]
    inside = (line.places_h > 74.5) & (line.places_h < 80.5)
    assert inside.sum() >= 5
    assert all(said(line, int(at)).endswith(": not measured.") for at in np.flatnonzero(inside))


def test_a_work_says_the_chances_and_the_spare_of_its_strip(week: RoomWeek) -> None:
    lines = week_lines(week)
    held = [row for row in rows(week) if row.judgement.state is not State.NOT_HELD_BY_TENSION]
    assert {row.judgement.work_id for row in held} == set(lines) - {AIR}
    for row in held:
        line, history = lines[row.judgement.work_id], row.history
        assert history is not None
        drawn = known_runs(history, Days.of(week))
        for at in (0, 60, 90, 130):
            if not any(first <= at < last for first, last in drawn):
                assert "nothing can be told" in said(line, at)
                continue
            chance = wording.likely_with_figure(round(float(history.p_slack[at]), 3))
            spare = spare_figure(Range(*np.round(history.headroom_up_pct[at])))
            assert f"{line.name}: slack: {chance}, waves: " in said(line, at)
            assert said(line, at).endswith(f"spare: {spare}.")


def test_a_picture_says_where_it_is_read(week: RoomWeek) -> None:
    for figure in (week_chart(week), week_chart_narrow(week), room_glance(week)):
        left, top, width, height = boxes(figure)[AIR]
        assert 0.0 < left < left + width <= 1.0
        assert 0.0 < top < top + height < 1.0
    found = boxes(week_chart(week))
    held = [row for row in rows(week) if row.judgement.state is not State.NOT_HELD_BY_TENSION]
    tops = [found[row.judgement.work_id][1] for row in held]
    assert tops == sorted(tops)
    drawn = inline_svg(week_chart(week), "A week.")
    read = json.loads(re.findall(r'data-boxes="([^"]*)"', drawn)[0].replace("&#34;", '"'))
    assert read.keys() == found.keys()
    assert boxes(Figure()) == {}


def unpacked(numbers: list[int]) -> list[int]:
    found: list[int] = np.cumsum(np.repeat(numbers[::2], numbers[1::2])).tolist()
    return found


@given(st.lists(st.integers(-10_000, 10_000), max_size=60))
def test_numbers_come_back_from_their_steps(numbers: list[int]) -> None:
    assert unpacked(steps(numbers)) == numbers


def test_the_data_beside_a_picture_hold_the_lines(week: RoomWeek) -> None:
    lines = week_lines(week)
    text = values_script(lines)
    assert text.count("<") == 2  # nothing in it can end it
    data: dict[str, Any] = json.loads(re.sub(r"<[^>]*>", "", text))
    assert data["lines"].keys() == lines.keys()
    assert len(data["times"]) == 2  # readings, and hours
    for key, line in lines.items():
        told = data["lines"][key]
        times = data["times"][told["times"]]
        assert unpacked(times["at"]) == np.rint(line.places_h * 60).astype(int).tolist()
        for name, (words, places) in line.words.items():
            found = times[name] if name in times else told["words"][name]
            assert found[0] == words
            assert unpacked(found[1]) == places


def test_a_title_can_be_anything() -> None:
    times = coded_times(pd.DatetimeIndex(["2026-03-20T10:00Z"]), ZONE)
    title = '</script><script>alert("{clock}")</script>'
    line = Line(([title], []), np.array([0.0]), 1.0, times, name=title)
    text = values_script({"w": line})
    assert text.count("<") == 2
    assert json.loads(re.sub(r"<[^>]*>", "", text))["lines"]["w"]["name"] == title


def test_of_very_many_readings_the_peaks_are_kept(week: RoomWeek) -> None:
    dense = week.readings.resample("1min").interpolate()
    dense["flags"] = dense["flags"].round().astype(int)
    peak = dense.index[3000]
    dense.loc[peak, "rh_pct"] = 88.0
    line = week_lines(replace(week, readings=dense))[AIR]
    assert line.places_h.size <= MOST
    assert any("room air 88 %RH" in said(line, at) for at in range(line.places_h.size))


def test_the_days_to_come_say_middle_reach_and_what_is_changed() -> None:
    hours = np.datetime64("2026-03-22T23:00", "s") + np.arange(48) * np.timedelta64(1, "h")
    rh = np.linspace(44.0, 56.0, 48)
    issued = datetime(2026, 3, 22, 22, tzinfo=UTC)
    ahead = RoomAhead(
        issued, hours, np.full(48, 20.0), np.full(48, 18.6), np.full(48, 21.4), rh, rh - 5, rh + 5,
        np.full(48, 8.0), True,
    )  # fmt: skip
    plain = ahead_line(ahead, ahead, ZONE)[AIR]
    assert said(plain, 0) == "Monday 23 March 2026, 00:00: about 44 %RH (39 to 49), 19 to 21 °C."
    usual = replace(ahead, rh_pct=rh + 3)
    changed = ahead_line(ahead, usual, ZONE)[AIR]
    assert said(changed, 47).endswith("19 to 21 °C; as it is run now 59 %RH.")
    assert AIR in boxes(days_figure(ahead, ahead, ZONE))


@pytest.mark.parametrize(("way", "words"), [("de_DE", "Raumluft"), ("en_US", "room air")])
def test_values_are_in_the_way_of_the_house(week: RoomWeek, way: str, words: str) -> None:
    with in_the_way_of(way):
        first = said(week_lines(week)[AIR], 3)
    assert words in first
    assert ("AM" in first) is (way == "en_US")


def test_what_is_drawn_of_very_many_readings_has_their_extremes() -> None:
    rng = np.random.default_rng(7)
    minutes = np.arange(10_080.0)
    rh = 45.0 + 3.0 * np.sin(minutes / 400.0) + rng.normal(0.0, 0.4, minutes.size)
    rh[5_003], rh[7_001] = 88.0, 12.0  # a minute each
    rh[2_000:2_090] = np.nan  # a gap
    figure = Figure(figsize=(4.0, 2.0))
    axes = figure.add_axes((0.1, 0.1, 0.8, 0.8))
    (line,) = axes.plot(minutes / 60.0, rh)
    axes.set_xlim(0.0, 168.0)
    lighten(figure)
    seen_h, seen = (np.asarray(one, dtype=float) for one in line.get_data())
    across = 3.2 * 25.4 * COLUMNS_PER_MM
    assert seen.size <= 2 * across + 8 < minutes.size
    assert set(seen[np.isfinite(seen)]) <= set(rh)

    def columns(hours: Floats) -> Floats:
        millimetres = 25.4 * axes.transData.transform(np.column_stack([hours, hours]))[:, 0]
        return np.floor(millimetres / figure.dpi * COLUMNS_PER_MM + 1e-6)

    for column in np.unique(columns(minutes / 60.0)):
        there = rh[columns(minutes / 60.0) == column]
        drawn = seen[columns(seen_h) == column]
        if np.isfinite(there).any():
            assert np.nanmin(drawn) == np.nanmin(there), column
            assert np.nanmax(drawn) == np.nanmax(there), column
    broken = np.flatnonzero(np.isnan(seen))
    assert broken.size >= 1
    assert seen_h[broken[0] - 1] == minutes[1_999] / 60.0
    assert seen_h[broken[-1] + 1] == minutes[2_090] / 60.0


@given(st.lists(st.one_of(st.just(np.nan), st.floats(-50.0, 150.0)), min_size=1, max_size=80))
def test_no_piece_of_a_line_and_no_break_is_lost(values: list[float]) -> None:
    every = np.array(values)
    kept = seen_points((np.arange(every.size) // 7).astype(np.float64), every)
    assert (np.diff(kept) > 0).all()
    assert np.nanmin(np.append(every, np.inf)) == np.nanmin(np.append(every[kept], np.inf))
    assert np.nanmax(np.append(every, -np.inf)) == np.nanmax(np.append(every[kept], -np.inf))

    def pieces(which: Any) -> list[bool]:
        known = np.isfinite(which)
        turns = np.append([True], known[1:] != known[:-1])
        found: list[bool] = known[turns].tolist()
        return found

    assert pieces(every) == pieces(every[kept])
