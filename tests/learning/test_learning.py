"""Inspections reweight the draws; what they teach, and that a wrong grade leaves no trace."""

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest
from bench.calibration import MOUNTED, START, room_year

from analysis.air.room_air import RoomAir
from analysis.errors import OutOfRangeError
from analysis.learning import posterior as learning
from analysis.learning.inspections import Inspection, standing
from analysis.learning.posterior import Learned, learn
from analysis.learning.weighted import effective_sample_size, resampled, weighted_range, weights_of
from analysis.simulation import priors
from analysis.simulation.drawn_parameters import UNITS
from analysis.simulation.redraw import draws_from, generator, jittered, levels_of
from analysis.works import Adhesive, Finish, FrameBuild, Grain, Mount, Override, Paper, Work

N = 60
WORK = Work(
    "L1",
    "Pier",
    1500.0,
    1000.0,
    Paper.FIBRE_BASE,
    Finish.GLOSSY,
    mounted_utc=MOUNTED,
    mounted_rh_pct=48.0,
)


def seen(*grades: int | None) -> list[Inspection]:
    return [
        Inspection(START + timedelta(days=60 + 20 * i, hours=9), grade)
        for i, grade in enumerate(grades)
    ]


@pytest.fixture(scope="module")
def air() -> RoomAir:
    return learning.until(room_year(), START + timedelta(days=200))


def posterior_of(air: RoomAir, inspections: list[Inspection], work: Work = WORK) -> Learned:
    return learn([work], {work.work_id: inspections}, air, N)[work.work_id]


def same(a: Learned, b: Learned) -> bool:
    return all(
        np.array_equal(a.draws[name], b.draws[name], equal_nan=True) for name in UNITS
    ) and np.array_equal(a.weights, b.weights)


def test_without_inspections_nothing_is_learned(air: RoomAir) -> None:
    found = posterior_of(air, [])
    assert np.allclose(found.weights, 1.0 / N)
    assert found.before == found.after
    assert found.slope_after_mrad is None


def test_waves_raise_and_flat_lowers_the_predicted_slope(air: RoomAir) -> None:
    waves, flat = posterior_of(air, seen(2, 3, 3, 3)), posterior_of(air, seen(0, 0, 0, 0))
    assert waves.slope_after_mrad is not None
    assert flat.slope_after_mrad is not None
    assert waves.slope_before_mrad == flat.slope_before_mrad
    assert waves.slope_after_mrad.mid > 15.0
    assert flat.slope_after_mrad.mid < 1.0
    assert waves.after["prestrain"].mid < flat.after["prestrain"].mid


def test_few_draws_left_means_drawn_again_and_many_kept_means_only_weighed(air: RoomAir) -> None:
    weighed, redrawn = posterior_of(air, seen(0)), posterior_of(air, seen(3, 3, 3, 3))
    assert weighed.redrawn == 0
    assert weighed.effective >= 0.5 * N
    assert np.array_equal(weighed.draws["beta_cd"], priors.draw(WORK, N)["beta_cd"])
    assert redrawn.redrawn > 0
    assert redrawn.effective > 0.3 * N
    assert redrawn.weights.sum() == pytest.approx(1.0)
    assert not np.isin(redrawn.draws["beta_cd"], priors.draw(WORK, N)["beta_cd"]).all()


def test_no_change_is_an_observation_too(air: RoomAir) -> None:
    assert same(posterior_of(air, seen(2, None, None)), posterior_of(air, seen(2, 2, 2)))
    assert not same(posterior_of(air, seen(2, None, None)), posterior_of(air, seen(2)))


def test_no_change_since_nothing_says_nothing(air: RoomAir) -> None:
    assert standing(seen(None, 1)) == [seen(None, 1)[1]]
    assert same(posterior_of(air, seen(None)), posterior_of(air, []))


@pytest.mark.parametrize("wrong", [0, 3])
def test_a_withdrawn_grade_is_as_if_it_had_never_been_to_the_bit(air: RoomAir, wrong: int) -> None:
    right = seen(1, 2, 2)
    mistake = Inspection(START + timedelta(days=110, hours=9), wrong)
    assert not same(posterior_of(air, [*right, mistake]), posterior_of(air, right))
    assert same(
        posterior_of(air, [*right, replace(mistake, withdrawn=True)]), posterior_of(air, right)
    )


def test_a_call_is_not_taken_for_a_slope(air: RoomAir) -> None:
    assert np.allclose(posterior_of(air, seen(4, 4)).weights, 1.0 / N)


def test_the_order_in_which_inspections_come_in_does_not_matter(air: RoomAir) -> None:
    looks = seen(1, 2, 3)
    assert same(posterior_of(air, looks), posterior_of(air, looks[::-1]))


def test_draws_stay_within_the_tables_ranges_when_drawn_again(air: RoomAir) -> None:
    found = posterior_of(air, seen(3, 3, 3, 3))
    offset = found.draws["sensor_offset_pct"]
    assert (np.abs(offset) <= 2.0).all()  # frames.toml, sensor.offset_pct: triangular -2 to 2
    assert set(found.draws["grain_vertical"]) <= {0.0, 1.0}
    assert (found.draws["hinge_coverage"] <= 1.0).all()


def test_works_before_mounting_or_not_held_by_tension_learn_nothing(air: RoomAir) -> None:
    unmounted = replace(WORK, mounted_utc=START + timedelta(days=190))
    assert np.allclose(posterior_of(air, seen(0, 0), unmounted).weights, 1.0 / N)
    bonded = replace(WORK, mount=Mount.BONDED)
    assert np.allclose(posterior_of(air, seen(3, 3), bonded).weights, 1.0 / N)


def test_bad_inspections_are_refused() -> None:
    with pytest.raises(OutOfRangeError) as grade:
        standing([Inspection(START, 7)])
    with pytest.raises(OutOfRangeError) as zone:
        standing([Inspection(datetime(2025, 1, 1), 1)])  # noqa: DTZ001
    assert "raking light" in grade.value.expected
    assert "UTC" in zone.value.expected


def test_levels_give_the_draws_back_to_the_bit() -> None:
    for work in (
        WORK,
        replace(WORK, paper=Paper.POLYESTER, adhesive=Adhesive.PRESSURE_SENSITIVE),
        replace(WORK, grain=Grain.VERTICAL, frame=FrameBuild.E, closing_rh_pct=45.0),
        replace(WORK, overrides={"half_time_h": Override(9.0, 8.0, 10.0, "fitted")}),
    ):
        plain, again = priors.draw(work, 50), draws_from(work, levels_of(work, 50))
        for name in UNITS:
            assert np.array_equal(plain[name], again[name], equal_nan=True), name


def test_moves_leave_the_priors_as_they_are() -> None:
    levels = levels_of(WORK, 4000)
    rng = generator("L1", "test")
    moved = levels
    for _ in range(3):
        moved = jittered(moved, 0.5, rng)
    before, after = draws_from(WORK, levels), draws_from(WORK, moved)
    for name in ("beta_cd", "prestrain", "half_time_h", "sensor_offset_pct"):
        old, new = weighted_range(before[name]), weighted_range(after[name])
        width = old.high - old.low
        assert new.mid == pytest.approx(old.mid, abs=0.06 * width)
        assert new.high - new.low == pytest.approx(width, rel=0.12)


def test_weights_by_hand() -> None:
    weights = weights_of(np.log(np.array([1.0, 1.0, 2.0])))
    assert weights.tolist() == pytest.approx([0.25, 0.25, 0.5])
    assert effective_sample_size(weights) == pytest.approx(1.0 / (2 * 0.0625 + 0.25))
    assert resampled(np.array([0.0, 1.0, 0.0]), 0.5).tolist() == [1, 1, 1]
    heavy = weighted_range(np.array([1.0, 2.0, 3.0]), np.array([0.01, 0.01, 0.98]))
    assert heavy.mid > 2.5


def test_the_same_question_has_the_same_answer(air: RoomAir) -> None:
    assert same(posterior_of(air, seen(3, 3, 2)), posterior_of(air, seen(3, 3, 2)))
