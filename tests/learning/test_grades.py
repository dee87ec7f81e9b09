"""Grades as likelihoods over slope."""

import numpy as np
import pytest
from hypothesis import given, strategies as st

from analysis.errors import OutOfRangeError
from analysis.learning.grades import grade_log_likelihood, grade_probabilities, thresholds_mrad
from analysis.works import Finish


def test_half_of_the_observers_move_on_at_each_threshold() -> None:
    # by the definition of the thresholds; the slip of 2 % is shared by the four grades
    for finish in Finish:
        for number, threshold in enumerate(thresholds_mrad(finish), start=1):
            p = grade_probabilities(np.array(threshold), finish)
            assert p[number:].sum() == pytest.approx(0.5, abs=0.02)


def test_spread_of_one_point_six_puts_84_per_cent_above_at_one_spread() -> None:
    # log-normal: Phi(1) = 0.8413, less the slip
    p = grade_probabilities(np.array(1.6 * 8.0), Finish.GLOSSY)
    assert p[2:].sum() == pytest.approx(0.98 * 0.8413 + 0.01, abs=1e-3)


@given(slope=st.floats(0.0, 500.0), finish=st.sampled_from(list(Finish)))
def test_probabilities_sum_to_one(slope: float, finish: Finish) -> None:
    p = grade_probabilities(np.array([slope]), finish)
    assert p.sum() == pytest.approx(1.0)
    assert (p > 0.0).all()


@given(a=st.floats(0.0, 500.0), b=st.floats(0.0, 500.0), finish=st.sampled_from(list(Finish)))
def test_more_slope_never_lowers_the_expected_grade(a: float, b: float, finish: Finish) -> None:
    low, high = sorted((a, b))
    p = grade_probabilities(np.array([low, high]), finish)
    mean = p @ np.arange(4)
    assert mean[1] >= mean[0] - 1e-12


@given(
    slopes=st.lists(st.floats(0.0, 500.0), min_size=3, max_size=3).map(sorted),
    grade=st.integers(0, 3),
    finish=st.sampled_from(list(Finish)),
)
def test_the_likelihood_of_a_grade_rises_then_falls_with_slope(
    slopes: list[float], grade: int, finish: Finish
) -> None:
    low, middle, high = grade_log_likelihood(grade, np.array(slopes), finish)
    assert middle >= min(low, high) - 1e-12
    if grade == 0:
        assert low >= high - 1e-12
    if grade == 3:
        assert high >= low - 1e-12


def test_matt_hides_what_glossy_shows() -> None:
    slope = np.array(12.0)
    glossy = grade_probabilities(slope, Finish.GLOSSY)
    matt = grade_probabilities(slope, Finish.MATT)
    assert glossy[2:].sum() > 0.7 > 0.1 > matt[2:].sum()


def test_a_call_says_nothing_about_slope() -> None:
    assert (grade_log_likelihood(4, np.array([0.0, 50.0]), Finish.GLOSSY) == 0.0).all()


def test_a_draw_with_keener_eyes_sees_the_same_slope_sooner() -> None:
    p = grade_probabilities(np.array([8.0, 8.0]), Finish.GLOSSY, np.array([4.0, 16.0]))
    assert p[0, 2:].sum() > 0.9 > 0.1 > p[1, 2:].sum()


def test_unknown_grade_is_refused() -> None:
    with pytest.raises(OutOfRangeError) as caught:
        grade_log_likelihood(5, np.array([1.0]), Finish.GLOSSY)
    assert "raking light" in str(caught.value)
