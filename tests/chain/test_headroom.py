"""Spare before the hinges bear what they sustain: a drying sheet shortens and stiffens."""

import pytest
from hypothesis import given, settings, strategies as st
from scipy.optimize import brentq

from analysis.chain.headroom import MOST_PCT, fall_to_load, headroom_down, headroom_up
from analysis.chain.sheet import softening

PER_RH = st.floats(5e-6, 1.5e-4).map(lambda beta: 1.0 / beta)
STIFFER = st.floats(0.0, 0.02)  # ln of stiffness per %RH: 0.15 per % of moisture, 0.14 % per %RH


@given(st.floats(-2e-3, 2e-3), st.floats(1e-6, 5e-3), PER_RH, STIFFER)
@settings(max_examples=300, deadline=None)
def test_fall_ends_where_hinges_bear_what_they_sustain(
    above: float, held: float, per_rh: float, stiffer: float
) -> None:
    def too_much(fall: float) -> float:
        # load over that sustained, in strain at today's stiffness; softening takes % of moisture
        return (above + fall / per_rh) * float(softening(-fall, stiffer)) - held

    if too_much(0.0) >= 0.0:
        exact = 0.0
    elif too_much(MOST_PCT) <= 0.0:
        exact = MOST_PCT
    else:
        exact = brentq(too_much, 0.0, MOST_PCT)
    found = fall_to_load(above, held, per_rh, stiffer)
    assert found == pytest.approx(exact, abs=0.02)


def test_drying_paper_reaches_the_load_sooner_than_its_shrinking_alone_would() -> None:
    # GUPTA2003: 7.5 % of stiffness a % of moisture, 0.105 % of moisture per %RH (materials, 9)
    stiffer, per_rh = 0.075 * 0.105, 1.0 / 55e-6
    held = (1.1e-3, 1.1e-3)
    plain = headroom_down((0.0, 0.0), held, (per_rh, per_rh), 0.0)
    assert plain == pytest.approx(20.0, abs=1e-6)
    stiffening = headroom_down((0.0, 0.0), held, (per_rh, per_rh), stiffer)
    assert stiffening == pytest.approx(17.43, abs=0.02)
    assert 55e-6 * stiffening * float(softening(-0.105 * stiffening, 0.075)) == pytest.approx(
        1.1e-3, rel=2e-3
    )


def test_the_axis_that_is_reached_first_decides() -> None:
    one = fall_to_load(2e-4, 1e-3, 1.0 / 40e-6, 0.008)
    other = fall_to_load(2e-4, 1e-3, 1.0 / 90e-6, 0.008)
    both = headroom_down((2e-4, 2e-4), (1e-3, 1e-3), (1.0 / 40e-6, 1.0 / 90e-6), 0.008)
    assert other < one
    assert both == other
    # an axis that a fall loosens sets no limit; one that is over the load already leaves nothing
    assert headroom_down((0.0, 0.0), (1e-3, 1e-3), (0.0, 0.0), 0.008) == MOST_PCT
    assert headroom_down((2e-3, 0.0), (1e-3, 1e-3), (2e4, 2e4), 0.008) == 0.0


def test_slack_rises_by_shrinking_alone() -> None:
    # a taut sheet goes slack where its reserve of strain is spent, however stiff it is
    assert headroom_up(1e-3, 2e-3, 1.0 / 50e-6, 1.0 / 80e-6) == pytest.approx(20.0)
