"""A single work runs on one thread, and the numbers do not know on how many it ran."""

from contextlib import nullcontext
from datetime import timedelta

import numpy as np
import pytest
from bench.calibration import START, room_year
from bench.learning_speed import WORK
from numba import get_num_threads

from analysis.chain.compiled import threads_for
from analysis.simulation import estimator, loop
from analysis.simulation.priors import draw


def test_no_more_threads_than_works_and_all_again_afterwards() -> None:
    before = get_num_threads()
    with threads_for(1):
        assert get_num_threads() == 1
    with threads_for(10_000):
        assert get_num_threads() == before
    with threads_for(0):
        assert get_num_threads() == 1
    with pytest.raises(ZeroDivisionError), threads_for(1):
        _ = 1 / 0
    assert get_num_threads() == before


def test_one_work_is_the_same_to_the_bit_on_all_threads(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    air, end = room_year(days=24), START + timedelta(days=20)
    key, drawn = WORK.work_id, {WORK.work_id: draw(WORK, 20)}
    alone = estimator.run([WORK], drawn, air, detail_from=end)
    monkeypatch.setattr(loop, "threads_for", lambda _works: nullcontext())
    shared = estimator.run([WORK], drawn, air, detail_from=end)
    assert np.array_equal(alone.last.states[key], shared.last.states[key], equal_nan=True)
    one, other = alone.histories[key], shared.histories[key]
    assert np.array_equal(one.slope_mrad, other.slope_mrad, equal_nan=True)
    assert np.array_equal(one.p_visible, other.p_visible, equal_nan=True)
