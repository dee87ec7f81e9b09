"""The humidity to mount at: signs of the curve, the range that may be best, season and damp."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from bench.calibration import START

from analysis.air.room_air import RoomAir
from analysis.errors import NotEnoughError, OutOfRangeError
from analysis.learning.posterior import Inspection, learn, until
from analysis.planning.mounting import (
    MountingCurve,
    MountingPoint,
    begun_at,
    best_range_pct,
    mounted_at,
    mounting_curve,
    mounting_grid_pct,
)
from analysis.planning.year import years_of
from analysis.works import FrameBuild, Mount, Override, Work
from dashboards.charts import style
from dashboards.charts.mounting import mounting_figure
from dashboards.pages.plan_pages import mounting_table, table_lines
from dashboards.text.plan_text import (
    OUR_MODEL,
    mounting_answer,
    mounting_assumed,
    mounting_reasons,
    season_words,
)

N = 40


@pytest.fixture(scope="module")
def curve(air: RoomAir, print_on_metal: Work) -> MountingCurve:
    return mounting_curve(print_on_metal, air, n=N)


def test_curve_runs_from_35_to_60(curve: MountingCurve) -> None:
    assert [p.rh_pct for p in curve.points] == mounting_grid_pct()
    assert (mounting_grid_pct()[0], mounting_grid_pct()[-1]) == (35.0, 60.0)


def test_mounted_damper_is_slack_for_less_and_tight_for_more(curve: MountingCurve) -> None:
    slack = np.array([p.year.months_slack.mid for p in curve.points])
    load = np.array([p.year.peak_load_n_m.mid for p in curve.points])
    assert (np.diff(slack) <= 0.05).all()
    assert slack[0] > 9.0
    assert slack[-1] < 2.5  # hinges that slip at once leave some draws slack however damp
    assert (np.diff(load) >= -1e-6).all()
    tight = [p.year.months_overtight.mid for p in curve.points]
    assert tight[-1] >= tight[0]


def test_ranges_are_in_order_and_told_time_is_counted(curve: MountingCurve) -> None:
    for point in curve.points:
        year = point.year
        for span in (year.months_slack, year.months_overtight, year.peak_load_n_m):
            assert span.low <= span.mid <= span.high
        judged = year.look_first.judged_months
        assert 10.0 < judged <= 12.0
        assert year.look_first.refused_share == pytest.approx(1.0 - judged / 11.99, abs=0.01)


def test_the_answer_is_a_range_and_not_one_number(curve: MountingCurve) -> None:
    low, high = curve.best_rh_pct
    assert low < high
    assert f"{low:g} to {high:g} %RH" in mounting_answer(curve)
    assert "The choice is the conservator's" in mounting_answer(curve)
    ends = [p.p_best for p in curve.points if p.rh_pct in (low, high)]
    outside = [p.p_best for p in curve.points if not low <= p.rh_pct <= high]
    assert min(ends) >= 0.3
    assert max(outside) < 0.3


def test_a_draw_is_at_its_best_somewhere(curve: MountingCurve) -> None:
    assert sum(p.p_best for p in curve.points) >= 1.0
    assert all(0.0 <= p.p_best <= 1.0 for p in curve.points)


def points(*chances: float) -> list[MountingPoint]:
    return [MountingPoint(40.0 + i, None, None, p) for i, p in enumerate(chances)]  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("chances", "best"),
    [
        ((0.1, 0.4, 0.9, 0.3, 0.2), (41.0, 43.0)),
        ((0.2, 0.25, 0.1), (41.0, 41.0)),  # none may be best: the likeliest alone
        ((1.0, 1.0, 1.0), (40.0, 42.0)),
    ],
)
def test_humidities_that_may_be_best_by_hand(
    chances: tuple[float, ...], best: tuple[float, float]
) -> None:
    assert best_range_pct(points(*chances)) == best


def test_a_best_at_the_end_of_the_curve_is_said_to_go_on(curve: MountingCurve) -> None:
    low, high = curve.best_rh_pct
    ends = mounting_grid_pct()
    assert (", the damp end of the curve" in mounting_answer(curve)) == (
        high == ends[-1] and low != ends[0]
    )
    # RAMP1988: gelatin begins to turn sticky from as low as 60 %RH
    assert any("sticky" in words for words in mounting_reasons(curve)) == (high >= 60.0)
    assert (", the dry end of the curve" in mounting_answer(curve)) == (
        low == ends[0] and high != ends[-1]
    )


def test_it_is_said_to_be_our_model_and_the_room_is_marked(
    curve: MountingCurve, air: RoomAir
) -> None:
    assert OUR_MODEL in mounting_assumed(curve)
    assert "not a published rule" in OUR_MODEL
    assert curve.room_mean_rh_pct == pytest.approx(air.rh_low_pct.mean())
    assert curve.room_now_rh_pct == pytest.approx(air.rh_low_pct[-1])
    words = [t.get_text() for t in mounting_figure(curve).axes[0].texts]
    assert {"may be the best", "the room's mean", "the room now", "mounted now"} <= set(words)


def test_mounted_damp_is_slack_for_less_and_pulls_harder(curve: MountingCurve) -> None:
    for point in curve.points:
        assert point.damp.months_slack.mid <= point.year.months_slack.mid + 0.05
        assert point.damp.peak_load_n_m.mid > point.year.peak_load_n_m.mid
        assert point.damp.peak_load_pct.mid > point.year.peak_load_pct.mid
        assert point.damp.p_overloaded >= point.year.p_overloaded
    assert "pulls its hinges harder" in mounting_reasons(curve)[1].replace("\n", " ")
    # Taut because overtight all year is no success: both counts, and the load against capacity.
    assert "overtight for" in mounting_reasons(curve)[1]
    assert "of what its hinges are taken to bear" in mounting_reasons(curve)[1]


def test_the_table_has_both_counts_for_both_ways_of_mounting(curve: MountingCurve) -> None:
    headings = mounting_table(curve).headings
    for words in ("Months slack", "Months overtight", "Of capacity",
                  "Damp: slack", "Damp: overtight", "Damp: of capacity"):  # fmt: skip
        assert words in headings


def test_the_season_is_told_for_each_quarter(
    curve: MountingCurve, air: RoomAir, print_on_metal: Work
) -> None:
    assert curve.beginnings[0].from_utc == START
    assert [b.from_utc.month for b in curve.beginnings] == [1, 4, 7, 10]
    assert "1 January 2025" in mounting_reasons(curve)[0]
    middle = min(curve.points, key=lambda p: abs(p.rh_pct - sum(curve.best_rh_pct) / 2.0))
    again = mounted_at(print_on_metal, middle.rh_pct, air)
    year = years_of({"again": again}, air, N)["again"]
    by_draw = (
        year.draws.judged(year.chances).slack
    ).mean() * year.summary().look_first.judged_months
    assert curve.beginnings[0].months_slack == pytest.approx(by_draw, abs=0.15)


def test_a_year_begun_later_has_the_same_hours_in_another_order(air: RoomAir) -> None:
    later = begun_at(air, 1000)
    assert later.rh_low_pct[0] == air.rh_low_pct[1000]
    assert later.rh_low_pct[-1] == air.rh_low_pct[999]
    assert sorted(later.rh_low_pct) == sorted(air.rh_low_pct)
    assert (later.time_utc == air.time_utc).all()


def test_half_a_year_says_nothing_of_the_season(air: RoomAir, print_on_metal: Work) -> None:
    short = until(air, START + timedelta(days=100))
    curve = mounting_curve(print_on_metal, short, n=N, rh_pct=[45.0])
    assert curve.beginnings == []
    assert "no whole year" in season_words(curve)


def test_a_sealed_package_is_closed_as_it_is_mounted(air: RoomAir, print_on_metal: Work) -> None:
    sealed = mounted_at(replace(print_on_metal, frame=FrameBuild.F), 47.0, air)
    assert (sealed.closing_rh_pct, sealed.closed_utc) == (47.0, START)
    open_frame = mounted_at(print_on_metal, 47.0, air)
    assert (open_frame.closing_rh_pct, open_frame.closed_utc) == (None, None)


def test_what_was_measured_of_the_old_mounting_is_left_behind(
    air: RoomAir, print_on_metal: Work
) -> None:
    stated = {name: Override(0.001, 0.001, 0.001, "measured") for name in ("prestrain", "beta_cd")}
    again = mounted_at(replace(print_on_metal, overrides=stated), 47.0, air)
    assert list(again.overrides) == ["beta_cd"]


def test_bonded_works_and_bad_humidities_are_refused(air: RoomAir, print_on_metal: Work) -> None:
    with pytest.raises(OutOfRangeError) as mount:
        mounting_curve(replace(print_on_metal, mount=Mount.BONDED), air, n=N)
    assert "held by tension" in mount.value.action
    with pytest.raises(OutOfRangeError):
        mounting_curve(print_on_metal, air, n=N, rh_pct=[-5.0])
    with pytest.raises(OutOfRangeError):
        mounting_curve(replace(print_on_metal, width_mm=-1.0), air, n=N, rh_pct=[45.0])


def test_a_day_of_air_is_not_enough(air: RoomAir, print_on_metal: Work) -> None:
    with pytest.raises(NotEnoughError):
        mounting_curve(print_on_metal, until(air, START + timedelta(days=1)), n=N, rh_pct=[45.0])


def test_what_was_learned_of_the_sheet_goes_into_the_plan(
    air: RoomAir, print_on_metal: Work
) -> None:
    flat = [Inspection(START + timedelta(days=150 + 15 * i), 0) for i in range(6)]
    learned = learn([print_on_metal], {"P1": flat}, air, N)["P1"]
    variants = {"again": mounted_at(print_on_metal, 45.0, air)}
    plain = years_of(variants, air, N)["again"].summary()
    taught = years_of(variants, air, N, learned)["again"].summary()
    assert taught.months_slack.mid < plain.months_slack.mid


def test_figures_are_drawn_the_same_twice(curve: MountingCurve) -> None:
    first, second = (style.svg(mounting_figure(curve)) for _ in range(2))
    assert first == second
    assert len(mounting_figure(curve, narrow=True).axes) == 2


def test_the_table_has_a_row_a_humidity(curve: MountingCurve) -> None:
    table = mounting_table(curve)
    assert len(table.rows) == len(curve.points)
    assert table_lines(table)[0].startswith("35.0 %RH: months slack ")
