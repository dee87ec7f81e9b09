"""Rainflow counts against the worked example of ASTM E1049-85, and against the plain library."""

import numpy as np
import pandas as pd
import pytest
import rainflow
from hypothesis import given, strategies as st

from analysis.air.swings import (
    cycle_classes,
    cycle_counts,
    turning_points,
    without_small_swings,
)


def test_the_worked_example_of_the_standard() -> None:
    # ASTM E1049-85, section 5.4.4, figure 6 (recalled; the package rainflow prints them too).
    history = pd.Series([-2.0, 1.0, -3.0, 5.0, -1.0, 3.0, -4.0, 4.0, -2.0])
    assert cycle_counts(history, smallest=0.0) == [
        (3.0, 0.5),
        (4.0, 1.5),
        (6.0, 0.5),
        (8.0, 1.0),
        (9.0, 0.5),
    ]


def test_classes_gather_the_counts() -> None:
    history = pd.Series([50.0, 52.0, 50.0, 58.0, 50.0, 50.5, 50.0])
    classes = cycle_classes(history, edges=(1.0, 5.0, 10.0))
    assert [(c.low, c.high) for c in classes] == [(1.0, 5.0), (5.0, 10.0)]
    assert sum(c.cycles for c in classes) == pytest.approx(sum(n for r, n in cycle_counts(history)))


def test_empty_and_constant_records_hold_no_cycle() -> None:
    for values in ([], [50.0], [50.0] * 20):
        assert cycle_counts(pd.Series(values, dtype=float)) == []


@given(st.lists(st.integers(-40, 40), min_size=3, max_size=120))
def test_taking_out_small_swings_leaves_the_large_ones_as_they_were(steps: list[int]) -> None:
    history = np.cumsum(np.array(steps, dtype=float)) / 4.0
    plain = [(r, n) for r, n in rainflow.count_cycles(history) if r >= 3.0]
    ours = [(r, n) for r, n in cycle_counts(pd.Series(history), smallest=3.0) if r >= 3.0]
    if len(turning_points(history)) > 2:  # the package counts nothing in a record without a turn
        assert ours == plain


def test_a_record_without_a_turn_is_half_a_cycle() -> None:
    assert cycle_counts(pd.Series([40.0, 45.0, 52.0])) == [(12.0, 0.5)]
    assert without_small_swings(np.array([0.0, 0.25, 0.0, 3.0]), 1.0).tolist() == [0.0, 3.0]


@given(st.lists(st.integers(0, 9), max_size=60))
def test_turning_points_alternate(values: list[int]) -> None:
    rises = np.sign(np.diff(turning_points(np.array(values, dtype=float))))
    assert (rises != 0).all()
    assert (rises[1:] == -rises[:-1]).all()
