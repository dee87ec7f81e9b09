"""Planning with the room's year: mounting, hanging, sealing, schedules."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from analysis.errors import NotEnoughError, OutOfRangeError
from analysis.learning import Inspection, learn, until
from analysis.planning.hanging import HangingTable, hanging_table
from analysis.planning.mounting import MountingCurve, mounting_curve, mounting_grid_pct
from analysis.planning.sealing import sealing_comparison
from analysis.planning.seasonal import Schedule, schedule_years, scheduled
from analysis.planning.variants import years_of
from analysis.room_air import RoomAir
from analysis.works import Finish, FrameBuild, Mount, Panel, Paper, Wall, Work
from bench.calibration import MOUNTED, START, room_year
from dashboards.charts import style
from dashboards.charts.planning import hanging_figure, mounting_figure

N = 40
WORK = Work(
    "P1",
    "Ferry",
    1500.0,
    1000.0,
    Paper.FIBRE_BASE,
    Finish.GLOSSY,
    panel=Panel.METAL_FACED,
    mounted_utc=MOUNTED,
    mounted_rh_pct=48.0,
    spacer_mm=12.0,
)


@pytest.fixture(scope="module")
def air() -> RoomAir:
    return room_year()


@pytest.fixture(scope="module")
def curve(air: RoomAir) -> MountingCurve:
    return mounting_curve(WORK, air, n=N)


def damper(air: RoomAir, by_pct: float) -> RoomAir:
    return replace(air, rh_low_pct=air.rh_low_pct + by_pct, rh_high_pct=air.rh_high_pct + by_pct)


def test_curve_runs_from_35_to_60(curve: MountingCurve) -> None:
    assert [p.rh_pct for p in curve.points] == mounting_grid_pct()
    assert (mounting_grid_pct()[0], mounting_grid_pct()[-1]) == (35.0, 60.0)


def test_mounted_damper_is_slack_for_less_and_tight_for_more(curve: MountingCurve) -> None:
    slack = np.array([p.year.months_slack.mid for p in curve.points])
    load = np.array([p.year.peak_load_n_m.mid for p in curve.points])
    assert (np.diff(slack) <= 0.05).all()
    assert slack[0] > 9.0
    assert slack[-1] < 1.0
    assert (np.diff(load) >= -1e-6).all()
    tight = [p.year.months_overtight.mid for p in curve.points]
    assert tight[-1] >= tight[0]


def test_ranges_are_in_order_and_told_time_is_counted(curve: MountingCurve) -> None:
    for point in curve.points:
        year = point.year
        for span in (year.months_slack, year.months_overtight, year.peak_load_n_m):
            assert span.low <= span.mid <= span.high
        assert 10.0 < year.told_months <= 12.0
        assert year.refused_share == pytest.approx(1.0 - year.told_months / 11.99, abs=0.01)


def test_the_curve_picks_nothing(curve: MountingCurve) -> None:
    assert "The choice is the conservator's" in curve.answer
    assert len(curve.reasons) == len(curve.points)
    assert any("2025-01-01" in line for line in curve.assumed)


def test_figures_are_drawn_the_same_twice(curve: MountingCurve) -> None:
    first, second = (style.svg(mounting_figure(curve)) for _ in range(2))
    assert first == second
    assert len(mounting_figure(curve).axes) == 2


def test_bonded_works_and_bad_humidities_are_refused(air: RoomAir) -> None:
    with pytest.raises(OutOfRangeError) as mount:
        mounting_curve(replace(WORK, mount=Mount.BONDED), air, n=N)
    assert "held by tension" in mount.value.action
    with pytest.raises(OutOfRangeError):
        mounting_curve(WORK, air, n=N, rh_pct=[-5.0])
    with pytest.raises(OutOfRangeError):
        mounting_curve(replace(WORK, width_mm=-1.0), air, n=N, rh_pct=[45.0])


@pytest.fixture(scope="module")
def table(air: RoomAir) -> HangingTable:
    works = [
        WORK,
        replace(WORK, work_id="P2", title="Kiln", paper=Paper.RESIN_COATED),
        replace(WORK, work_id="P3", title="Well", mount=Mount.BONDED),
        replace(WORK, work_id="P4", title="Mill", mounted_rh_pct=None),
    ]
    return hanging_table(works, {"dry room": damper(air, -4.0), "damp room": damper(air, 6.0)}, n=N)


def test_the_damp_room_shows_more_waves_and_the_dry_one_pulls_harder(table: HangingTable) -> None:
    dry, damp = table.cells[0]
    assert dry is not None
    assert damp is not None
    assert damp.visible_share > dry.visible_share + 0.1
    assert damp.peak_load_n_m.mid < dry.peak_load_n_m.mid
    for cell in (dry, damp):
        most = max(cell.visible_share, cell.clearance_share, cell.hinges_share)
        assert most <= cell.look_first_share


def test_answer_names_the_rooms_or_says_that_they_hardly_differ(air: RoomAir) -> None:
    wet = {"dry room": damper(air, -2.0), "wet room": damper(air, 14.0)}
    resin = replace(WORK, paper=Paper.RESIN_COATED, panel=Panel.PAPER_HONEYCOMB)
    assert "wet room in" in hanging_table([resin], wet, n=N).answer
    same = {"one": air, "other": air}
    assert "hardly differ" in hanging_table([resin], same, n=N).answer


def test_bonded_is_left_out_and_unknown_mounting_cannot_be_told(table: HangingTable) -> None:
    assert [w.work_id for w in table.works] == ["P1", "P2", "P4"]
    assert table.left_out == ["Well: bonded overall"]
    assert table.cells[2] == [None, None]
    assert any("Mill" in note and "mounting RH unknown" in note for note in table.notes)


def test_hanging_is_drawn_with_words_in_every_cell(table: HangingTable) -> None:
    texts = [t.get_text() for t in hanging_figure(table).axes[0].texts]
    assert texts.count("cannot tell") == 2
    assert sum("%" in t for t in texts) == 4


def test_no_rooms_is_refused() -> None:
    with pytest.raises(NotEnoughError):
        hanging_table([WORK], {}, n=N)


def test_tighter_builds_move_less(air: RoomAir) -> None:
    found = sealing_comparison(WORK, air, n=N)
    spans = {b.build: b.year.frame_rh_pct.high - b.year.frame_rh_pct.low for b in found.builds}
    order = [spans[b] for b in (FrameBuild.C, FrameBuild.D, FrameBuild.E, FrameBuild.F)]
    assert order == sorted(order, reverse=True)
    assert [b.is_now for b in found.builds] == [True, False, False, False]
    assert "lock in about" in found.answer


@pytest.fixture(scope="module")
def spring(air: RoomAir) -> RoomAir:
    return until(air, START + timedelta(days=80))


def test_locked_in_humidity_is_that_of_the_package_now(spring: RoomAir) -> None:
    found = sealing_comparison(WORK, spring, n=N)
    now = years_of({"P1": WORK}, spring, N)["P1"].history.frame_rh_pct[-1]
    assert found.locked_in_rh_pct.mid == pytest.approx(now[1])


def test_closing_far_from_target_or_on_a_cold_or_sunlit_wall_is_warned_of(spring: RoomAir) -> None:
    plain = sealing_comparison(WORK, spring, n=N)
    near = plain.locked_in_rh_pct.mid
    assert sealing_comparison(WORK, spring, n=N, target_rh_pct=near).warnings == []
    far = sealing_comparison(WORK, spring, n=N, target_rh_pct=near + 9.0).warnings
    assert len(far) == 1
    assert "9 %RH below its target" in far[0]
    cold = replace(WORK, wall=Wall.OUTSIDE_MASONRY, sun_or_spot=True)
    words = " ".join(sealing_comparison(cold, spring, n=N, target_rh_pct=near).warnings)
    assert "cold wall" in words
    assert "sun" in words


def test_night_setback_reaches_the_room_and_hardly_a_taped_frame(air: RoomAir) -> None:
    taped = replace(WORK, frame=FrameBuild.E, closed_utc=MOUNTED, closing_rh_pct=48.0)
    was, cooled = schedule_years(taped, air, [Schedule("setback", 4.0, 20, 6)], n=N)
    assert cooled.room_swing_pct > was.room_swing_pct + 8.0
    assert cooled.frame_swing_pct < was.frame_swing_pct + 4.0


def test_setback_keeps_the_water_in_the_air() -> None:
    # at fixed vapour pressure 1 K colder than 20 °C, 50 % is 53.2 % (Enclosure notes, value 20)
    air = room_year()
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


@pytest.mark.parametrize(
    "schedule",
    [
        Schedule("a", setback_k=-2.0),
        Schedule("b", 2.0, 0, 30),
        Schedule("c", shift_rh_pct={13: 1.0}),
        Schedule("d", shift_rh_pct={1: 60.0}),
    ],
)
def test_impossible_schedules_are_refused(air: RoomAir, schedule: Schedule) -> None:
    with pytest.raises(OutOfRangeError):
        scheduled(air, schedule)


def test_what_was_learned_goes_into_the_plan(air: RoomAir) -> None:
    flat = [Inspection(START + timedelta(days=150 + 15 * i), 0) for i in range(6)]
    learned = learn([WORK], {"P1": flat}, air, N)["P1"]
    plain = mounting_curve(WORK, air, n=N, rh_pct=[45.0]).points[0].year
    taught = mounting_curve(WORK, air, n=N, rh_pct=[45.0], learned=learned).points[0].year
    assert taught.months_slack.mid < plain.months_slack.mid
