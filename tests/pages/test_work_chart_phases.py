"""A work's picture through its phases: each mounting has its own line, changes are marked."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure

from analysis.results import RoomWeek
from analysis.simulation.phases import Phase
from analysis.works import FrameBuild
from dashboards.charts.work import work_chart, work_words


def texts(figure: Figure) -> list[str]:
    return [text.get_text() for axes in figure.axes for text in axes.texts]


def mounting_lines(figure: Figure) -> list[tuple[float, float, float]]:
    """Return (from, until, RH) of the lines of the mountings."""
    found = []
    for axes in figure.axes:
        for lines in axes.collections:
            if isinstance(lines, LineCollection):
                for (x0, y0), (x1, y1) in lines.get_segments():
                    if y0 == y1 and y0 > 20.0:
                        found.append((float(x0), float(x1), float(y0)))
    return found


def test_each_mounting_has_its_own_line(week: RoomWeek) -> None:
    work, history = week.works["W02"], week.histories["W02"]
    when = week.start_utc + timedelta(hours=60)
    anew = replace(work, mounted_utc=when, mounted_rh_pct=50.0, mounting_no=1)
    figure = work_chart(anew, history, week.zone, earlier=[Phase(work, when)])
    (first, second) = mounting_lines(figure)
    assert (first[2], second[2]) == (43.0, 50.0)
    assert first[1] == second[0]
    assert "mounted anew" in texts(figure)
    said = work_words(anew, history, [Phase(work, when)])
    assert said.endswith("of the time above 43 %RH, then 50 %RH, its RH at mounting.")
    unknown = Phase(replace(work, mounted_rh_pct=None), when)
    assert "its RH at mounting is not known" in work_words(anew, history, [unknown])


def test_the_share_of_the_time_is_against_the_mounting_of_each_hour(week: RoomWeek) -> None:
    work, history = week.works["W02"], week.histories["W02"]
    when = week.start_utc + timedelta(hours=84)
    level = np.full_like(history.print_rh_pct, 46.0)
    half = replace(history, print_rh_pct=level)
    anew = replace(work, mounted_utc=when, mounted_rh_pct=50.0, mounting_no=1)
    hours = half.time_utc <= np.datetime64(when.replace(tzinfo=None), "s")
    percent = round(100 * float(hours.mean()))
    assert f"{percent} % of the time above" in work_words(anew, half, [Phase(work, when)])


def test_a_frame_closed_anew_is_marked_and_older_phases_are_not(week: RoomWeek) -> None:
    work, history = week.works["W02"], week.histories["W02"]
    when, long_ago = week.start_utc + timedelta(hours=60), week.start_utc - timedelta(days=90)
    taped = replace(work, frame=FrameBuild.E, closed_utc=when, framing_no=1)
    assert "framed anew" in texts(work_chart(taped, history, week.zone, (), [Phase(work, when)]))
    old = texts(work_chart(taped, history, week.zone, (), [Phase(work, long_ago)]))
    assert "framed anew" not in old
    assert len(mounting_lines(work_chart(taped, history, week.zone))) == 1


def test_the_name_of_the_mounting_stands_on_the_side_away_from_the_print(week: RoomWeek) -> None:
    work, history = week.works["W02"], week.histories["W02"]
    for beside in (-1.0, 1.0):
        near = np.full_like(history.print_rh_pct, 43.0 + beside)
        axes = work_chart(work, replace(history, print_rh_pct=near), week.zone).axes[0]
        (name,) = [text for text in axes.texts if text.get_text().startswith("mounted at")]
        height = float(name.get_position()[1])
        assert (height - 43.0) * beside < 0.0
        low, high = axes.get_ylim()
        assert low < height < high
