"""Hinges that were seen to hold, or to have let go: likelihoods, and what they teach."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from bench.calibration import MOUNTED, START, room_year
from hypothesis import given, strategies as st

from analysis.air.room_air import RoomAir
from analysis.answers.judgement import JudgementLimits, judge
from analysis.learning.inspections import Inspection
from analysis.learning.likelihood import (
    hinges_log_likelihood,
    missed_probability,
    released_probability,
)
from analysis.learning.posterior import Learned, learn, until
from analysis.parameters import table
from analysis.results import History, Listing
from analysis.simulation.checkpoints import instant
from analysis.simulation.estimator import run
from analysis.simulation.pasts import pasts_of
from analysis.simulation.priors import draw
from analysis.works import Finish, Paper, Work
from dashboards.text.judgement_text import reason

LOADS = st.lists(st.floats(0.0, 20.0), min_size=1, max_size=8)


def looks(*said: bool | None, grade: int | None = 0) -> list[Inspection]:
    return [
        Inspection(START + timedelta(days=30 * i), grade, released=one)
        for i, one in enumerate(said)
    ]


def likelihoods(seen: list[Inspection], *loads: float) -> list[float]:
    """Likelihood of looks that all found the same greatest load, one draw a load."""
    overload = np.tile(np.array(loads), (len(seen), 1))
    return [float(x) for x in np.exp(hinges_log_likelihood(seen, overload))]


def test_half_of_the_lines_let_go_at_their_capacity_and_84_per_cent_a_spread_above() -> None:
    # by definition of the spread; normal distribution: Phi(1) = 0.8413
    spread = table("grades")["release"]["spread_factor"].value
    p = released_probability(np.array([0.0, 1.0, spread, np.nan]))
    assert p.tolist() == pytest.approx([0.0, 0.5, 0.8413, 0.0], abs=1e-4)


def test_one_look_misses_as_the_table_says_and_later_ones_miss_less_and_less() -> None:
    missed = table("grades")["release"]["missed"].value
    assert missed_probability(1) == pytest.approx(missed)
    chances = [missed_probability(looks) for looks in range(13)]
    assert chances[0] == 1.0
    assert sorted(chances, reverse=True) == chances


def test_looks_at_the_same_release_are_not_independent() -> None:
    # beta-binomial: two looks that correlate by r both miss with m (m + r (1 - m))
    rows = table("grades")["release"]
    m, r = rows["missed"].value, rows["alike"].value
    assert missed_probability(2) == pytest.approx(m * (m + r * (1.0 - m)))
    assert missed_probability(12) > 1e4 * m**12


def test_flat_speaks_against_draws_that_would_have_lost_their_hinges() -> None:
    held, edge, gone = likelihoods(looks(None), 0.5, 1.0, 4.0)
    assert held > 0.95 > edge > gone
    # a slip of 2 % says nothing: 0.98 x 0.3 + 0.01
    assert gone == pytest.approx(0.98 * 0.3 + 0.01, abs=1e-3)


def test_more_looks_say_more_but_never_everything() -> None:
    once, often, always = (likelihoods(looks(*[None] * n), 4.0)[0] for n in (1, 3, 40))
    assert once > 1.5 * often > 1.5 * always
    assert always > 0.01


def test_a_look_along_the_edges_says_more_than_one_from_the_front() -> None:
    assert likelihoods(looks(False), 4.0)[0] < 0.6 * likelihoods(looks(None), 4.0)[0]


def test_a_call_that_does_not_speak_of_hinges_says_nothing_of_them() -> None:
    held, gone = likelihoods(looks(None, grade=4), 0.1, 4.0)
    assert held == pytest.approx(gone)


def test_a_reported_release_speaks_for_draws_that_would_have_lost_their_hinges() -> None:
    held, gone = likelihoods(looks(True, grade=4), 0.1, 4.0)
    assert gone > 50.0 * held
    edges = likelihoods(looks(False, True), 0.1, 4.0)
    assert edges[1] < gone
    later = [*looks(None, True), *looks(None, None)]
    assert likelihoods(later, 0.1, 4.0) == pytest.approx(likelihoods(later[:2], 0.1, 4.0))


def test_only_looks_after_the_release_count() -> None:
    seen = looks(None, None, None)
    late = np.exp(hinges_log_likelihood(seen, np.array([[0.1], [0.1], [4.0]])))[0]
    assert late == pytest.approx(likelihoods(looks(None), 4.0)[0], rel=1e-3)


@given(loads=LOADS)
def test_reported_or_not_is_certain(loads: list[float]) -> None:
    """The probabilities of "never reported" and of "reported at look k" sum to one."""
    overload = np.maximum.accumulate(np.array(loads))[:, None]
    never = looks(*[None] * len(loads))
    slip = table("grades")["observer"]["slip"].value
    told = [np.exp(hinges_log_likelihood(never, overload))[0] - slip / 2.0]
    for k in range(len(loads)):
        seen = [replace(one, released=True) if i == k else one for i, one in enumerate(never)]
        told.append(np.exp(hinges_log_likelihood(seen, overload))[0] - slip / 2.0)
    assert sum(told) / (1.0 - slip) == pytest.approx(1.0)


@given(a=st.floats(0.0, 20.0), b=st.floats(0.0, 20.0), count=st.integers(1, 12))
def test_more_load_never_makes_an_unnoticed_year_likelier(a: float, b: float, count: int) -> None:
    low, high = likelihoods(looks(*[None] * count), min(a, b), max(a, b))
    assert high <= low + 1e-12


# Hung through a dry winter: the hinges are loaded.
WORK = Work(
    "H1",
    "Breakwater",
    1500.0,
    1000.0,
    Paper.FIBRE_BASE,
    Finish.GLOSSY,
    mounted_utc=MOUNTED,
    mounted_rh_pct=50.0,
)
END = START + timedelta(days=75)


@pytest.fixture(scope="module")
def winter() -> RoomAir:
    return until(room_year(), END)


def posterior_of(air: RoomAir, *days: int, released: bool | None = None) -> Learned:
    seen = [Inspection(START + timedelta(days=d, hours=9), 0, released=released) for d in days]
    return learn([WORK], {WORK.work_id: seen}, air)[WORK.work_id]


def history_of(air: RoomAir, learned: Learned | None = None) -> History:
    draws = {WORK.work_id: draw(WORK) if learned is None else learned.draws}
    weights = None if learned is None else {WORK.work_id: learned.weights}
    return run([WORK], draws, air, weights=weights, pasts=pasts_of(air)).histories[WORK.work_id]


def test_a_winter_of_looks_at_flat_takes_the_work_off_the_list(winter: RoomAir) -> None:
    unseen = history_of(winter)
    seen = history_of(winter, posterior_of(winter, 20, 35, 50, 65, 74))
    before, after = (float(np.nanmax(one.p_hinges)) for one in (unseen, seen))
    assert before > JudgementLimits().first_hinges > after
    assert after < 0.5 * before


def test_a_work_that_nobody_looked_at_stays_on_the_list_and_says_where_to_look(
    winter: RoomAir,
) -> None:
    history = history_of(winter)
    worst = instant(history.time_utc[int(np.nanargmax(history.p_hinges))])
    judged = judge(WORK, history, winter, at_utc=worst)
    assert judged.listing is Listing.LOOK_FIRST
    assert "look at its edges" in reason(judged, "UTC")


def test_looks_that_held_raise_the_capacity_and_a_release_lowers_it(winter: RoomAir) -> None:
    held, edges = posterior_of(winter, 35, 74), posterior_of(winter, 35, 74, released=False)
    gone = posterior_of(winter, 74, released=True)
    name = "hinge_capacity_n_m"
    assert gone.after[name].mid < gone.before[name].mid < held.after[name].mid
    assert held.p_released_before == edges.p_released_before
    assert held.p_released_before is not None
    assert held.p_released_after is not None
    assert edges.p_released_after is not None
    assert edges.p_released_after < held.p_released_after < held.p_released_before
