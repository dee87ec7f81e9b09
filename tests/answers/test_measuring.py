"""What to measure next: what an act is expected to settle, against closed forms and good sense."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtr
from scipy.stats import multivariate_normal

from analysis.answers.measuring import (
    LOOK,
    OpenAnswer,
    leading,
    next_measurements,
    openness,
    settled_by_look,
    settled_by_numbers,
)
from analysis.parameters import parameter
from analysis.simulation.priors import draw
from analysis.works import Finish, FrameBuild, Grain, Paper, Work

N = 4000
WORK = Work("W1", "Quay", 1500, 1000, Paper.FIBRE_BASE, Finish.GLOSSY, grain=Grain.VERTICAL)
RISE = parameter("measuring", "question", "rise_pct").value


def answer(headroom: np.ndarray, slope: np.ndarray | None = None, work: Work = WORK) -> OpenAnswer:
    n = len(headroom)
    shown = np.zeros(n) if slope is None else slope
    return OpenAnswer(work, "north", draw(work, n), headroom, shown, np.full(n, 1.0 / n))


def expected(share: float, middle: float, spread: float) -> float:
    """Settled where headroom and what is measured are jointly normal, worked out exactly.

    E[p'²] is the chance that two copies, alike in what was measured, both lie below the rise: a
    bivariate normal of correlation ``share``.
    """
    parts = []
    for rise in (0.0, RISE):
        z = (rise - middle) / spread
        p = float(ndtr(z))
        both = multivariate_normal.cdf([z, z], cov=[[1.0, share], [share, 1.0]])
        parts.append(4.0 * (float(both) - p * p))
    return float(np.mean(parts))


@pytest.mark.parametrize(("share", "left"), [(0.6, 0.0), (0.3, 0.0), (0.6, 0.5)])
def test_a_measured_number_settles_what_the_closed_form_says(share: float, left: float) -> None:
    rng = np.random.default_rng(1)
    one = answer(np.zeros(N))
    order = np.argsort(np.argsort(one.draws["sensor_offset_pct"]))
    score = np.sort(rng.standard_normal(N))[order]
    rest = rng.standard_normal(N)
    headroom = 2.0 + 4.0 * (np.sqrt(share) * score + np.sqrt(1.0 - share) * rest)
    found = settled_by_numbers(answer(headroom), ["sensor_offset_pct"], left)
    assert found == pytest.approx(expected(share * (1.0 - left**2), 2.0, 4.0), abs=0.03)


def test_a_number_that_decides_nothing_settles_nothing() -> None:
    headroom = np.random.default_rng(2).normal(1.0, 4.0, 200)
    assert settled_by_numbers(answer(headroom), ["sensor_offset_pct", "half_time_h"], 0.0) < 0.08


def test_a_look_settles_much_where_draws_show_different_things_and_little_where_not() -> None:
    headroom = np.where(np.arange(200) % 2 == 0, -8.0, 12.0)
    told_apart = np.where(headroom < 0.0, 60.0, 0.0)
    # a look is believed to a power below 1, so it settles less than all
    assert 0.5 < settled_by_look(answer(headroom, told_apart)) < 1.0
    assert settled_by_look(answer(headroom, np.zeros(200))) == pytest.approx(0.0, abs=1e-9)


def test_an_answer_that_is_settled_has_nothing_to_settle() -> None:
    sure = answer(np.full(200, 30.0))
    assert openness(sure.headroom_pct) == 0.0
    assert next_measurements([sure]) == []


def test_a_salt_counts_for_all_works_of_a_room_and_comes_once() -> None:
    works = [replace(WORK, work_id=f"W{i}") for i in range(3)]
    answers = []
    for work in works:
        offset = draw(work, 400)["sensor_offset_pct"]
        score = (offset - offset.mean()) / offset.std()
        answers.append(answer(1.0 - 4.0 * score, work=work))
    found = [one for one in next_measurements(answers) if one.act == "salt"]
    assert len(found) == 1
    assert found[0].works == tuple(works)
    alone = [one for one in next_measurements(answers[:1]) if one.act == "salt"]
    assert found[0].settles > 2.0 * alone[0].settles


def test_what_is_known_is_not_asked_for_again() -> None:
    headroom = np.random.default_rng(4).normal(1.0, 4.0, 200)
    known = replace(WORK, frame=FrameBuild.A, mounted_rh_pct=48.0, hinge_free_length_mm=10.0)
    acts = {one.act for one in next_measurements([answer(headroom, work=known)])}
    assert acts.isdisjoint({"grain", "wall", "frame_logger", "mounting", "hinges"})


def test_the_list_goes_by_what_is_settled_for_the_time() -> None:
    headroom = np.where(np.arange(200) % 2 == 0, -8.0, 12.0)
    slope = np.where(headroom < 0.0, 60.0, 0.0)
    found = next_measurements([answer(headroom, slope)])
    assert found[0].act == LOOK
    rates = [one.per_quarter_hour for one in found]
    assert rates == sorted(rates, reverse=True)
    # the best of every kind stands among the first, however many looks come before it
    assert {one.act for one in leading(found, 1)} == {one.act for one in found}
    low, high = found[0].per_quarter_hour_range
    assert low < found[0].per_quarter_hour < high
