"""Seasonal set points and night setback: the air under a schedule, and the year in the frame."""

from dataclasses import replace

import numpy as np
import pytest
from bench.calibration import MOUNTED

from analysis.air.room_air import RoomAir
from analysis.errors import OutOfRangeError
from analysis.planning.seasonal import (
    Schedule,
    schedule_years,
    scheduled,
    set_points,
)
from analysis.works import FrameBuild, Work
from dashboards.charts.seasons import seasons_figure
from dashboards.pages.plan_pages import schedule_table
from dashboards.text.plan_text import SET_POINT_CAUTIONS, schedule_answer, schedule_words

N = 40


def test_night_setback_reaches_the_room_and_hardly_a_taped_frame(
    air: RoomAir, print_on_metal: Work
) -> None:
    taped = replace(print_on_metal, frame=FrameBuild.E, closed_utc=MOUNTED, closing_rh_pct=48.0)
    was, cooled = schedule_years(taped, air, [Schedule("setback", 4.0, 20, 6)], n=N)
    assert cooled.room_swing_pct > was.room_swing_pct + 8.0
    assert cooled.frame_swing_pct < was.frame_swing_pct + 4.0


def test_setback_keeps_the_water_in_the_air(air: RoomAir) -> None:
    # at fixed vapour pressure 1 K colder than 20 °C, 50 % is 53.2 % (Enclosure notes, value 20)
    flat = replace(
        air,
        temp_c=np.full(air.hours, 20.0),
        rh_low_pct=np.full(air.hours, 50.0),
        rh_high_pct=np.full(air.hours, 50.0),
    )
    found = scheduled(flat, Schedule("one kelvin", 1.0, 0, 6))
    night = np.arange(air.hours) % 24 < 6
    assert found.rh_low_pct[night] == pytest.approx(53.2, abs=0.1)
    assert found.rh_low_pct[~night] == pytest.approx(50.0)


def test_seasonal_shift_moves_the_months_named(air: RoomAir) -> None:
    found = scheduled(air, Schedule("drier July", shift_rh_pct={7: -5.0}))
    july = air.time_utc.astype("datetime64[M]") == np.datetime64("2025-07")
    assert (found.rh_low_pct - air.rh_low_pct)[july] == pytest.approx(-5.0)
    assert (found.rh_low_pct == air.rh_low_pct)[~july].all()


def test_a_set_point_that_glides_makes_no_step_and_comes_as_far(air: RoomAir) -> None:
    sudden = scheduled(air, Schedule("sudden", shift_rh_pct={6: -6.0, 7: -6.0, 8: -6.0}))
    glided = scheduled(
        air, Schedule("gliding", shift_rh_pct={6: -6.0, 7: -6.0, 8: -6.0}, glide_days=30)
    )
    steps = [np.abs(np.diff(a.rh_low_pct - air.rh_low_pct)).max() for a in (sudden, glided)]
    assert steps[0] == pytest.approx(6.0)
    assert steps[1] == pytest.approx(6.0 / (30 * 24), rel=0.01)
    assert (glided.rh_low_pct - air.rh_low_pct).min() == pytest.approx(-6.0)


def test_drier_summers_take_time_off_the_slack_months(air: RoomAir, print_on_metal: Work) -> None:
    drier = set_points(summer_pct=-8.0, glide_days=30)
    assert drier is not None
    was, new = schedule_years(print_on_metal, air, [drier], n=N)
    assert new.year.months_slack.mid < was.year.months_slack.mid
    assert new.year.look_first.visible <= was.year.look_first.visible
    answer = schedule_answer([was, new])
    assert "would have changed its months slack by about −" in answer
    assert len(schedule_table([was, new]).rows) == 2
    assert len(seasons_figure(was, new).axes) == len(seasons_figure(was, new, narrow=True).axes)


def test_nothing_changed_is_said_to_change_hardly_anything(
    air: RoomAir, print_on_metal: Work
) -> None:
    years = schedule_years(print_on_metal, air, [Schedule("the same")], n=N)
    assert "would hardly have changed" in schedule_answer(years)


def test_set_points_say_what_they_are() -> None:
    found = set_points(winter_pct=-3.0, summer_pct=4.0, glide_days=30, setback_k=2.5)
    assert found is not None
    assert schedule_words(found) == (
        "−3 %RH from December to February, +4 %RH from June to August, gliding over 30 days, "
        "2.5 K cooler from 20 to 6 h"
    )
    assert found.shift_rh_pct == {12: -3.0, 1: -3.0, 2: -3.0, 6: 4.0, 7: 4.0, 8: 4.0}
    assert set_points(glide_days=30) is None


def test_hours_are_those_of_the_site(air: RoomAir) -> None:
    found = scheduled(air, Schedule("night", 2.0, 0, 1, zone="Europe/Oslo"))
    cooler = np.flatnonzero(found.temp_c < air.temp_c - 1.0)
    hours = set((air.time_utc[cooler].astype("datetime64[h]").astype(int) % 24).tolist())
    assert hours == {22, 23}  # midnight in Oslo: 23 UTC in winter, 22 UTC in summer


@pytest.mark.parametrize(
    "schedule",
    [
        Schedule("a", setback_k=-2.0),
        Schedule("b", 2.0, 0, 30),
        Schedule("c", shift_rh_pct={13: 1.0}),
        Schedule("d", shift_rh_pct={1: 60.0}),
        Schedule("e", glide_days=-1),
    ],
)
def test_impossible_schedules_are_refused(air: RoomAir, schedule: Schedule) -> None:
    with pytest.raises(OutOfRangeError) as caught:
        scheduled(air, schedule)
    assert all((caught.value.found, caught.value.expected, caught.value.action))


def test_the_engineer_and_sudden_changes_are_named() -> None:
    words = " ".join(SET_POINT_CAUTIONS)
    assert "engineer" in words
    assert "Sudden changes" in words
