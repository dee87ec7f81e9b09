"""What works of one kind lend each other: pooled ranges on invented classes, and in the draws."""

from dataclasses import replace

import numpy as np
import pytest

from analysis.learning.class_knowledge import elsewhere, pooled
from analysis.parameters import parameter
from analysis.results import Range
from analysis.simulation.priors import draw
from analysis.works import Borrowed, Finish, FrameBuild, Override, Paper, Work

PRIOR = Range(4.0, 18.0, 81.0)  # half-times of a build [h]: a deviation of ln of 0.75
MEAN, SPREAD = np.log(18.0), np.log(81.0 / 4.0) / 4.0
ERROR = 0.1


def stated(value: float) -> Override:
    return Override(value, value * np.exp(-2 * ERROR), value * np.exp(2 * ERROR), "measured")


def test_a_class_of_which_nothing_was_measured_keeps_the_tables_range() -> None:
    assert pooled(PRIOR, []) == PRIOR


def test_alike_works_narrow_and_unlike_ones_do_not() -> None:
    alike = pooled(PRIOR, [stated(60.0 + i) for i in range(6)])
    assert alike.mid == pytest.approx(60.0, rel=0.1)
    assert np.log(alike.high / alike.low) < 0.7 * np.log(PRIOR.high / PRIOR.low)
    unlike = pooled(PRIOR, [stated(x) for x in (5.0, 9.0, 18.0, 40.0, 70.0)])
    assert np.log(unlike.high / unlike.low) > 0.8 * np.log(PRIOR.high / PRIOR.low)


def test_one_odd_work_does_not_spoil_its_class() -> None:
    five = [stated(60.0 + i) for i in range(5)]
    with_odd, without = pooled(PRIOR, [*five, stated(4.5)]), pooled(PRIOR, five)
    assert with_odd.mid == pytest.approx(without.mid, rel=0.05)
    assert with_odd.low == pytest.approx(without.low, rel=0.15)


def test_what_is_lent_holds_a_further_work_as_often_as_it_says_and_scores_better() -> None:
    # invented classes: how alike their works are differs from class to class
    rng = np.random.default_rng(3)
    held, score, score_before = [], [], []
    for _ in range(400):
        alike = rng.uniform(0.05, 1.0)
        centre = MEAN + SPREAD * np.sqrt(1.0 - alike) * rng.standard_normal()
        works = centre + SPREAD * np.sqrt(alike) * rng.standard_normal(7)
        seen = [stated(float(np.exp(x + ERROR * rng.standard_normal()))) for x in works[:6]]
        found = pooled(PRIOR, seen)
        held.append(found.low <= np.exp(works[6]) <= found.high)
        score.append(interval_score(found, works[6]))
        score_before.append(interval_score(PRIOR, works[6]))
    # two deviations: 95.4 in 100
    assert np.mean(held) == pytest.approx(0.954, abs=0.03)
    assert np.mean(score) < 0.9 * np.mean(score_before)


def interval_score(found: Range, true_log: float) -> float:
    low, high = np.log(found.low), np.log(found.high)
    miss = max(low - true_log, 0.0) + max(true_log - high, 0.0)
    return float(high - low + miss * 2.0 / 0.0455)


def test_another_museums_summary_is_taken_wider() -> None:
    one = elsewhere(PRIOR)
    wider = parameter("measuring", "pooling", "elsewhere").value
    assert np.log(one.high / one.low) == pytest.approx(wider * np.log(81.0 / 4.0))
    assert one.mid == pytest.approx(18.0)


WORK = Work("W1", "Quay", 1500, 1000, Paper.FIBRE_BASE, Finish.GLOSSY, frame=FrameBuild.D)
LENT = Borrowed(60.0, 40.0, 90.0, (("frame", "D"),), ("W2", "W3"), "version 1")


def test_draws_take_what_is_lent_in_place_of_the_table() -> None:
    drawn = draw(replace(WORK, borrowed={"half_time_h": LENT}), 2000)["half_time_h"]
    assert np.median(drawn) == pytest.approx(60.0, rel=0.02)
    assert np.std(np.log(drawn)) == pytest.approx(np.log(90.0 / 40.0) / 4.0, rel=0.03)


def test_a_number_of_its_own_another_class_or_an_unknown_kind_borrows_nothing() -> None:
    lent = replace(WORK, borrowed={"half_time_h": LENT})
    own = Override(20.0, 18.0, 22.0, "its own logger")
    assert lent.lent("half_time_h") == LENT
    assert replace(lent, overrides={"half_time_h": own}).lent("half_time_h") is None
    assert replace(lent, frame=FrameBuild.E).lent("half_time_h") is None
    assert replace(lent, unknown=frozenset({"frame"})).lent("half_time_h") is None
    plain = draw(replace(WORK, frame=FrameBuild.E), 50)["half_time_h"]
    assert np.array_equal(draw(replace(lent, frame=FrameBuild.E), 50)["half_time_h"], plain)
