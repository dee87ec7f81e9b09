"""Hinges round a sheet: plain geometry, checked against counting by hand."""

import itertools

import pytest
from hypothesis import given, strategies as st

from analysis.errors import OutOfRangeError
from analysis.planning.hinges import hinge_plan, positions_mm, taping_order


def test_one_and_a_half_by_one_metre_side_by_side_is_a_hundred() -> None:
    # 2 (1500 + 1000) / 50, common practice: 50 mm square, side by side, all four edges
    plan = hinge_plan(1500.0, 1000.0)
    assert (len(plan.along_width_mm), len(plan.along_height_mm), plan.count) == (30, 20, 100)
    assert plan.coverage == pytest.approx(1.0)


def test_at_the_pitch_of_the_rule_the_count_is_the_rule() -> None:
    # Common practice, no source, from memory: 200 to 300 hinges for 1.5 × 1.0 m. Plain geometry
    # gives 100; the rule would need hinges of 50 mm that overlap by half to two thirds.
    plan = hinge_plan(1500.0, 1000.0, pitch_mm=25.0)
    assert plan.count == pytest.approx(200, abs=5)
    assert plan.overlap_mm == (25.0, 25.0)
    assert hinge_plan(1500.0, 1000.0, pitch_mm=17.0).count == pytest.approx(300, rel=0.05)


def test_gaps_are_a_negative_overlap() -> None:
    assert hinge_plan(1050.0, 1050.0, pitch_mm=100.0).overlap_mm == (-50.0, -50.0)


def test_half_overlap_nearly_doubles_the_count() -> None:
    # starts every 25 mm: 1 + 1450/25 = 59 and 1 + 950/25 = 39 a side
    assert hinge_plan(1500.0, 1000.0, pitch_mm=25.0).count == 2 * (59 + 39)


def test_gaps_lower_the_coverage() -> None:
    plan = hinge_plan(1050.0, 1050.0, pitch_mm=100.0)
    assert plan.along_width_mm == tuple(100.0 * i for i in range(11))
    assert plan.coverage == pytest.approx(11 * 50 / 1050)


@given(
    side=st.floats(60.0, 4000.0),
    hinge=st.floats(10.0, 60.0),
    pitch=st.floats(10.0, 200.0),
)
def test_hinges_fill_a_side_from_corner_to_corner(side: float, hinge: float, pitch: float) -> None:
    at = positions_mm(side, hinge, pitch)
    assert at[0] == 0.0
    if len(at) > 1:
        assert at[-1] == pytest.approx(side - hinge)
    steps = [b - a for a, b in itertools.pairwise(at)]
    assert all(0.0 < step <= pitch * (1.0 + 1e-9) for step in steps)
    if len(at) > 2:  # one hinge fewer would leave a step longer than the pitch
        assert (side - hinge) / (len(at) - 2) > pitch * (1.0 - 1e-9)


@given(count=st.integers(1, 60))
def test_taping_runs_from_the_middle_to_the_corners(count: int) -> None:
    order = taping_order(count)
    assert sorted(order) == list(range(count))
    away = [abs(i - (count - 1) / 2) for i in order]
    assert away == sorted(away)


@pytest.mark.parametrize(
    ("width", "height", "hinge", "pitch", "word"),
    [
        (-1.0, 1000.0, None, None, "width"),
        (1000.0, 0.0, None, None, "height"),
        (1000.0, float("nan"), None, None, "height"),
        (1000.0, 1000.0, None, -5.0, "pitch"),
        (1000.0, 1000.0, None, 1e-320, "pitch"),
        (1000.0, 1000.0, None, 1e-3, "pitch"),
        (1000.0, 40.0, None, None, "hinge"),
    ],
)
def test_bad_lengths_are_refused(
    width: float, height: float, hinge: float | None, pitch: float | None, word: str
) -> None:
    with pytest.raises(OutOfRangeError) as caught:
        hinge_plan(width, height, hinge_mm=hinge, pitch_mm=pitch)
    assert word in str(caught.value)
    assert all((caught.value.found, caught.value.expected, caught.value.action))
