"""Rank correlations of draws with an outcome."""

import numpy as np
import pytest
from scipy.stats import spearmanr

from analysis.sensitivity import Influence, influences, matters_most

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


def test_draws_without_weight_do_not_count() -> None:
    half = np.repeat([1.0, 0.0], 200) / 200.0
    outcome = np.where(half > 0, A, -A)
    assert influences({"a": A}, outcome, half)[0].correlation > 0.6


def test_words() -> None:
    assert "no parameter decides" in matters_most([], "the slope", {})
    assert "No single parameter" in matters_most([Influence("a", 0.1)], "the slope", {})
    sentence = matters_most([Influence("a", 0.7)], "the slope", {"a": "movement across the grain"})
    assert sentence.startswith("What decides the slope most is movement across the grain")
    assert "the more" in sentence
