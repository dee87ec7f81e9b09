"""Numbers that were learned have no more digits than are known of them."""

import re

import pytest
from hypothesis import given, strategies as st

from analysis.results import Range
from dashboards.text.parameters import FINEST, learned_words
from dashboards.text.reasons import _share as share_words


@pytest.mark.parametrize(
    ("value", "unit", "said"),
    [
        (Range(517.0, 1000.0, 1943.0), "N/m", "1000 N/m (520 to 1900)"),
        (Range(1040.0, 1055.0, 1065.0), "N/m", "1055 N/m (1040 to 1065)"),
        (Range(12.2, 47.3, 190.0), "h", "47 h (12 to 190)"),
        (Range(42.1, 44.0, 45.8), "%RH", "44 %RH (42 to 46)"),
        (Range(11_200.0, 31_400.0, 52_000.0), "N/m", "31,000 N/m (11,000 to 52,000)"),
        (Range(19.981, 20.004, 20.031), "°C", "20.0 °C"),
        (Range(-120.0, -3.0, 99.0), "%RH", "−3 %RH (−120 to 99)"),
    ],
)
def test_digits_that_are_known(value: Range, unit: str, said: str) -> None:
    assert learned_words(value, unit) == said


@given(st.floats(1.0, 1e6), st.floats(0.6, 100.0))
def test_wide_ranges_have_two_digits_that_count(low: float, spread: float) -> None:
    high = low * (1.0 + spread) + 30.0
    words = learned_words(Range(low, (low + high) / 2.0, high), "")
    for number in re.findall(r"[\d,]+", words):
        assert len(number.replace(",", "").rstrip("0")) <= 2


@given(st.floats(0.1, 1e4), st.floats(1e-3, 1e4))
def test_ends_that_differ_are_told_apart(low: float, width: float) -> None:
    words = learned_words(Range(low, low + width / 2.0, low + width), "mm")
    assert " to " in words


@given(st.sampled_from(sorted(FINEST)), st.floats(0.1, 1e3), st.floats(1e-6, 1e2))
def test_no_step_finer_than_the_unit(unit: str, low: float, width: float) -> None:
    words = learned_words(Range(low, low, low + width), unit)
    decimals = [len(tail) for tail in re.findall(r"\.(\d+)", words)]
    assert max(decimals, default=0) <= FINEST[unit]


def test_a_range_that_would_all_but_go_is_not_said_in_per_cent() -> None:
    assert share_words(0.89) == "89 % narrower"
    assert share_words(0.9) == share_words(1.0) == "hardly any range left"
