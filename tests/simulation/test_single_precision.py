"""The loop runs in single precision: shown to hold to more digits than are shown."""

import numpy as np
import pytest
from bench.estimator_speed import many, room
from fixtures.double_loop import run_in_double

from analysis.simulation import layout
from analysis.simulation.estimator import Run, run
from analysis.simulation.priors import draw

YEARS, DRAWS = 3, 20
# By draw, far below what moves a digit that is shown (whole %RH): psi [1], strains [1], warmth [K].
WITHIN = {"psi_": 2e-5, "above_": 1e-7, "loss_": 1e-7, "creep_": 1e-7, "v_": 5e-7, "temp_c": 1e-4}
CHANCES = ("p_slack", "p_visible", "p_clearance", "p_hinges", "p_visible_week", "p_hinges_week")


@pytest.fixture(scope="module")
def both() -> tuple[Run, Run]:
    works, _ = many(6)
    drawn = {work.work_id: draw(work, DRAWS) for work in works}
    air = room(366 * YEARS)
    return run(works, drawn, air), run_in_double(works, drawn, air)


@pytest.mark.long
def test_three_years_in_single_precision_end_as_in_double(both: tuple[Run, Run]) -> None:
    single, double = both
    for key, state in single.last.states.items():
        for row, name in enumerate(layout.STATE):
            most = next((most for part, most in WITHIN.items() if name.startswith(part)), None)
            if most is not None:
                other = double.last.states[key][row]
                assert np.abs(state[row] - other).max() < most, (key, name)


@pytest.mark.long
def test_chances_in_single_precision_are_the_same_but_for_a_draw(both: tuple[Run, Run]) -> None:
    single, double = both
    for key, history in single.histories.items():
        for name in CHANCES:
            one, other = getattr(history, name), getattr(double.histories[key], name)
            assert np.array_equal(np.isnan(one), np.isnan(other))
            assert np.nanmax(np.abs(one - other), initial=0.0) < 1.5 / DRAWS, (key, name)
            assert np.nanmean(np.abs(one - other)) < 0.01 / DRAWS, (key, name)


@pytest.mark.long
def test_single_precision_is_not_double(both: tuple[Run, Run]) -> None:
    single, double = (run.last.states["W0"] for run in both)
    assert not np.array_equal(single, double, equal_nan=True)
    assert np.array_equal(single, single.astype(np.float32), equal_nan=True)
