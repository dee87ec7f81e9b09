"""Runs outside a limit, by hand."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from hypothesis import given, strategies as st

from analysis.events.excursions import Run, RunRule, runs

HOUR = 3600.0
RULE = RunRule(merge_s=HOUR, break_s=6 * HOUR)


def found(x: Sequence[float], rule: RunRule = RULE, step_s: float = 900.0) -> list[Run]:
    values = np.array(x)
    at_s = np.arange(len(x), dtype=np.float64) * step_s
    return runs(at_s, values > 60.0, values > 59.0, rule)


def test_a_run_begins_and_ends_beyond() -> None:
    assert found([50, 61, 62, 59.5, 50]) == [Run(1, 2)]


def test_one_reading_is_too_short() -> None:
    assert found([50, 61, 50]) == []


def test_a_short_return_does_not_part_and_a_long_one_does() -> None:
    assert found([61, 61, 50, 50, 61, 61]) == [Run(0, 5)]
    assert found([61, 61, *[50] * 6, 61, 61]) == [Run(0, 1), Run(8, 9)]


def test_a_return_within_the_hysteresis_does_not_part() -> None:
    assert found([61, 61, *[59.5] * 20, 61, 61]) == [Run(0, 23)]


def test_silence_parts() -> None:
    at_s = np.array([0.0, 900.0, 1800.0, 1800.0 + 7 * HOUR, 2700.0 + 7 * HOUR])
    beyond = np.ones(5, dtype=bool)
    assert runs(at_s, beyond, beyond, RULE) == [Run(0, 2), Run(3, 4)]


def test_a_least_length() -> None:
    rule = RunRule(merge_s=0.0, break_s=6 * HOUR, least_s=HOUR)
    assert found([61] * 4 + [50] + [61] * 5, rule) == [Run(5, 9)]


@given(st.lists(st.sampled_from([50.0, 59.5, 61.0]), max_size=80))
def test_runs_are_apart_in_order_and_bounded_by_readings_beyond(x: list[float]) -> None:
    pieces = found(x)
    for run in pieces:
        assert x[run.first] > 60.0
        assert x[run.last] > 60.0
    for one, next_one in pairwise(pieces):
        assert one.last < next_one.first
