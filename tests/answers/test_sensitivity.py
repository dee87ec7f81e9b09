"""What goes along with an outcome: rank correlations, shares of variance, lowest and highest."""

import numpy as np
import pytest
from hypothesis import given, strategies as st
from scipy.stats import kruskal, rankdata, spearmanr

from analysis.answers.sensitivity import (
    Influence,
    ends,
    influences,
    variance_share,
)
from dashboards.text.reasons import decides_sentence, way_words

RNG = np.random.default_rng(4)
A, B = RNG.normal(size=400), RNG.normal(size=400)


def test_agrees_with_scipy() -> None:
    outcome = np.exp(2.0 * A) - 0.3 * B
    found = {one.name: one.correlation for one in influences({"a": A, "b": B}, outcome)}
    assert found["a"] == pytest.approx(spearmanr(A, outcome).statistic)
    assert found["b"] == pytest.approx(spearmanr(B, outcome).statistic)


def test_order_is_by_size_whatever_the_sign() -> None:
    found = influences({"a": A, "b": B}, A - 3.0 * B)
    assert [one.name for one in found] == ["b", "a"]
    assert found[0].correlation < -0.8


def test_fixed_parameters_and_fixed_outcomes_say_nothing() -> None:
    assert [one.name for one in influences({"a": A, "k": np.ones(400)}, A)] == ["a"]
    assert influences({"a": A}, np.zeros(400)) == []
    # sixty equal ranks do not cancel to the last bit, nor do values that differ by rounding alone
    assert influences({"k": np.full(60, 0.3)}, A[:60]) == []
    assert influences({"a": A}, 20.0 + 1e-14 * B) == []


def test_draws_without_weight_do_not_count() -> None:
    half = np.repeat([1.0, 0.0], 200) / 200.0
    outcome = np.where(half > 0, A + B, 1e6 * RNG.normal(size=400))
    found = influences({"a": A}, outcome, half)[0].correlation
    assert found == pytest.approx(spearmanr(A[:200], (A + B)[:200]).statistic)


@given(st.integers(0, 2**32 - 1))
def test_a_weight_is_as_good_as_that_many_draws(seed: int) -> None:
    many = np.random.default_rng(seed).integers(0, 5, 400)
    outcome = np.maximum(A + 0.5 * B, 0.0)
    found = influences({"a": A}, outcome, many.astype(np.float64))
    told = spearmanr(np.repeat(A, many), np.repeat(outcome, many)).statistic
    assert found[0].correlation == pytest.approx(told)


def test_words() -> None:
    assert "no parameter decides" in decides_sentence([], "slope")
    assert "No single parameter" in decides_sentence([Influence("a", 0.1)], "slope")
    sentence = decides_sentence([Influence("beta_cd", 0.7)], "slope")
    assert sentence.startswith("What decides the slope most is the movement across the grain")
    assert "the more" in sentence
    assert way_words(Influence("half_time_h", 0.7)) == "the longer, the more"


# ISHIGAMI1990, f = sin x1 + 7 sin² x2 + 0.1 x3⁴ sin x1, x in ±pi. Its variance is known in closed
# form, and with it the first-order indices of SOBOL1993: 0.3139, 0.4424, 0 (values from memory,
# worked out again below).
SIZE = 40_000
X = RNG.uniform(-np.pi, np.pi, (3, SIZE))
ISHIGAMI = np.sin(X[0]) + 7.0 * np.sin(X[1]) ** 2 + 0.1 * X[2] ** 4 * np.sin(X[0])


def test_many_parts_give_the_published_first_order_indices() -> None:
    first = 0.5 * (1.0 + 0.1 * np.pi**4 / 5.0) ** 2
    second = 7.0**2 / 8.0
    total = second + 0.1 * np.pi**4 / 5.0 + 0.1**2 * np.pi**8 / 18.0 + 0.5
    assert (first / total, second / total) == pytest.approx((0.3139, 0.4424), abs=5e-5)
    found = [variance_share(x, ISHIGAMI, parts=60) for x in X]
    assert found == pytest.approx([0.3139, 0.4424, 0.0], abs=0.015)


def test_what_acts_both_ways_is_found_although_its_rank_correlation_is_nil() -> None:
    few = X[:, :400]
    found = influences({f"x{i + 1}": x for i, x in enumerate(few)}, ISHIGAMI[:400])
    second = next(one for one in found if one.name == "x2")
    assert abs(second.correlation) < 0.15
    assert second.both_ways
    assert "acts both ways" in decides_sentence([second], "height")
    assert not next(one for one in found if one.name == "x1").both_ways


def test_the_share_of_ranks_is_the_statistic_of_kruskal_and_wallis() -> None:
    outcome = A**2 + 0.2 * B
    ranks = rankdata(outcome)
    found = variance_share(A, ranks - ranks.mean())
    order = np.argsort(A)
    statistic = kruskal(*np.split(outcome[order], 5)).statistic
    # H/(n - 1) is the share between groups; less what chance gives: 1 - (1 - share)(n - 1)/(n - k)
    assert found == pytest.approx(1.0 - (1.0 - statistic / 399.0) * 399.0 / 395.0)


@given(st.integers(0, 2**32 - 1), st.integers(40, 300))
def test_unrelated_draws_are_rarely_called_a_cause(seed: int, size: int) -> None:
    rng = np.random.default_rng(seed)
    found = influences({f"p{i}": rng.normal(size=size) for i in range(20)}, rng.normal(size=size))
    assert sum(one.clear for one in found) <= 4


def test_few_effective_draws_ask_for_more_than_many() -> None:
    weights = np.full(400, 1e-9)
    weights[:25] = 1.0
    many, few = (influences({"b": B}, 0.5 * B + A, w)[0] for w in (None, weights / weights.sum()))
    assert many.chance == pytest.approx(3.0 / np.sqrt(400.0))
    assert few.chance == pytest.approx(3.0 / 5.0, rel=1e-3)
    assert many.clear
    assert not Influence("b", 0.5, 0.2, few.chance).clear


def test_draws_that_were_taken_twice_count_once() -> None:
    twice = np.repeat(np.arange(200), 2)
    found = influences({"a": A[twice], "b": B[twice]}, (A + B)[twice])
    assert found[0].chance == pytest.approx(3.0 / np.sqrt(200.0))


def test_an_outcome_that_is_mostly_nothing_is_told_by_how_often_it_is_something() -> None:
    outcome = np.maximum(-A - 1.5, 0.0)  # above zero in 7 draws of 100, all of them low in a
    found = ends(A, outcome)
    assert (found.low, found.high) == (0.0, 0.0)
    assert found.low_some == pytest.approx(np.mean(outcome[np.sort(A)[79] >= A] > 0.0))
    assert found.high_some == 0.0
    assert influences({"a": A}, outcome)[0].correlation < -0.3


def test_ends_of_a_straight_line_and_of_a_choice_of_two() -> None:
    line = ends(np.arange(100.0), 2.0 * np.arange(100.0))
    assert (line.below, line.above) == (19.0, 80.0)
    assert (line.low, line.middle, line.high) == pytest.approx((19.0, 99.0, 179.0), abs=1.0)
    upright = np.repeat([0.0, 1.0], 50)
    choice = ends(upright, np.where(upright > 0.5, 8.0, 3.0))
    assert (choice.low, choice.high) == (3.0, 8.0)


def test_ends_count_only_draws_with_weight() -> None:
    weights = np.where(np.arange(100) < 50, 1.0, 0.0)
    assert ends(np.arange(100.0), np.arange(100.0), weights).high == pytest.approx(44.5, abs=1.0)
