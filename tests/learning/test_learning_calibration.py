"""Simulation-based calibration, reduced: forty invented works, a year of looks at each.

The whole, two hundred works with two hundred draws, is `bench.calibration`.
"""

import numpy as np
import pytest
from bench.calibration import (
    PARAMETERS,
    Checked,
    calibrate,
    invented_works,
    observed,
    room_year,
    truths,
)
from scipy.stats import binom

pytestmark = [pytest.mark.slow, pytest.mark.long]

WORKS, DRAWS = 40, 80
# One count in a thousand lies beyond these, if the ranges hold the truth in 85 to 95 % of works.
LEAST = binom.ppf(0.001, WORKS, 0.85) / WORKS
MOST = binom.ppf(0.999, WORKS, 0.95) / WORKS


@pytest.fixture(scope="module")
def checked() -> list[Checked]:
    return calibrate(WORKS, DRAWS)[0]


def test_ranges_hold_the_truth_before_and_after_learning(checked: list[Checked]) -> None:
    for one in checked:
        assert LEAST <= one.held_before <= MOST, one
        assert LEAST <= one.held_after <= MOST, one


def test_taken_together_they_hold_it_in_85_to_95_per_cent(checked: list[Checked]) -> None:
    # two standard errors, the nine quantities of a work counted as half as many, since they hang
    # together
    spread = 2.0 * np.sqrt(0.9 * 0.1 / (WORKS * len(checked) / 2.0))
    for held in ("held_before", "held_after"):
        share = np.mean([getattr(one, held) for one in checked])
        assert 0.85 - spread <= share <= 0.95 + spread


def test_learning_narrows_what_looks_can_show(checked: list[Checked]) -> None:
    width = {one.name: one.narrower for one in checked}
    assert width["headroom_up_pct"] < 0.6
    assert width["wavelength_m"] < 0.8
    assert width["visible_slope_mrad"] < 0.8
    assert width["hinge_capacity_n_m"] < 1.0
    assert all(narrower < 1.1 for narrower in width.values())


def test_the_observer_does_what_the_likelihood_says() -> None:
    """Waves are measured at every third look, and a release is noticed once at most."""
    works, air = invented_works(6), room_year()
    seen, later = observed(works, truths(works), air)
    for work in works:
        looks = seen[work.work_id]
        assert [one.wave_mm is not None for one in looks] == [i % 3 == 0 for i in range(11)]
        assert sum(one.released is True for one in looks) <= 1
        assert all(np.isfinite(list(later[work.work_id].values())))
    assert set(PARAMETERS) >= {"hinge_capacity_n_m", "wavelength_m"}
