"""Relaxation and the no-compression rule: fits, exact solutions, properties."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from analysis.air.room_air import RoomAir
from analysis.chain.enclosure import hold_weights
from analysis.chain.relaxation import HOUR_S, YEAR_S, log_law, power_law, prony, prony_left
from analysis.chain.tension import bled_off, moved_play, relaxed
from analysis.results import Floats
from analysis.simulation import estimator
from analysis.simulation.priors import Draws
from analysis.works import Work

Knowing = Callable[..., tuple[Work, Draws]]
AirOf = Callable[..., RoomAir]

SIX = tuple[float, float, float, float, float, float]


def six(values: object) -> SIX:
    a, b, c, d, e, f = (float(x) for x in np.asarray(values))
    return a, b, c, d, e, f


def follow(imposed: Floats, m: float, f: float = 1.0, step_s: float = HOUR_S) -> Floats:
    """Return (reserve, slack) by the hour for an imposed strain that starts at a relaxed 0."""
    fit = prony()
    weights = [hold_weights(float(step_s / tau)) for tau in fit.times_s]
    begin, end = six([w[0] for w in weights]), six([w[1] for w in weights])
    decay, k = six(np.exp(-step_s / fit.times_s)), six(fit.weights)
    share = m * float(fit.weights @ np.array(end))
    zero_gain, mat_gain = 1 / (1 - share), f / (1 - (1 - f) * share)
    v, mat, out = six(np.zeros(6)), 0.0, []
    for e in imposed:
        above, mat, v = relaxed(float(e), mat, m, zero_gain, mat_gain, v, k, decay, begin, end)
        zero = m * float(fit.weights @ np.array(v))
        out.append((mat - zero, max(-above, 0.0)))
    return np.array(out)


def test_log_law() -> None:
    # A21
    at = [3600.0, 86400.0, 7 * 86400.0, 30 * 86400.0, YEAR_S]
    assert log_law(np.array(at), 0.07) == pytest.approx(
        [0.875, 0.779, 0.720, 0.676, 0.600], abs=1e-3
    )


def test_power_law() -> None:
    # A22
    at = np.array([3600.0, 86400.0, 7 * 86400.0, 30 * 86400.0])
    assert power_law(at, 0.03) == pytest.approx([0.782, 0.711, 0.671, 0.642], abs=1e-3)


def test_fit_of_the_log_law() -> None:
    # within 0.01 of the law from 1 h to 30 years, also at the steepest draw
    at = np.geomspace(3600.0, 30.0 * YEAR_S, 400)
    for m in (0.04, 0.07, 0.12):
        assert prony_left(at, m) == pytest.approx(log_law(at, m), abs=0.01)
    assert np.all(prony().weights >= 0.0)
    assert prony().largest_m > 0.12


def test_step_of_strain_is_exact() -> None:
    # a Prony solid stretched at once: N/EA = e (1 - m sum k (1 - exp(-t/tau))), to rounding
    e, m = 1e-3, 0.07
    imposed = np.full(2000, e)
    fit = prony()
    # the first step ramps from 0 to e within its hour: exact for a ramp, then relaxation at hold
    reserve = follow(imposed, m)[:, 0]
    t = np.arange(1, 2001) * HOUR_S
    r = HOUR_S / fit.times_s
    ramp = (np.exp(r) - 1) / r  # answer to a ramp over the first hour, at the time since its end
    lost = 1 - np.exp(-t[:, None] / fit.times_s) * ramp
    assert reserve == pytest.approx(e * (1 - m * lost @ fit.weights), abs=1e-12)


def test_ramp_of_strain_is_exact() -> None:
    # N/EA = c t - m sum k c (t - tau (1 - exp(-t/tau)))
    rate, m = 1e-6 / HOUR_S, 0.09
    t = np.arange(1, 1500) * HOUR_S
    fit = prony()
    inner = t[:, None] - fit.times_s * (1 - np.exp(-t[:, None] / fit.times_s))
    exact = rate * t - m * rate * inner @ fit.weights
    assert follow(np.asarray(rate * t), m)[:, 0] == pytest.approx(exact, abs=1e-12)


def test_hinge_takes_its_share() -> None:
    # without relaxation the reserve is f e, and slack is not reduced by the hinge
    found = follow(np.array([1e-3, 5e-4, -2e-4]), 1e-12, f=0.6)
    assert found[:, 0] == pytest.approx([6e-4, 3e-4, 0.0], abs=1e-9)
    assert found[:, 1] == pytest.approx([0.0, 0.0, 2e-4], abs=1e-9)


def test_ratchet() -> None:
    # A28: held for a week after -10 %RH at 90e-6, m = 0.07, then back: 0.28 × 9e-4 too long,
    # 31.7 mrad of slope; the way back takes a second here, an hour in the loop
    fit, m, e = prony(), 0.07, 9e-4
    weights = [hold_weights(float(1.0 / tau)) for tau in fit.times_s]
    begin, end = six([w[0] for w in weights]), six([w[1] for w in weights])
    v = six(e * (1 - np.exp(-7 * 86400.0 / fit.times_s)))
    share = m * float(fit.weights @ np.array(end))
    gain = 1 / (1 - share)
    above, _, _ = relaxed(
        0.0, e, m, gain, 1.0, v, six(fit.weights), six(np.exp(-1 / fit.times_s)), begin, end
    )
    assert -above == pytest.approx(2.5e-4, rel=0.02)
    assert 2000 * np.sqrt(-above) == pytest.approx(31.7, rel=0.02)
    hourly = follow(np.concatenate([np.full(168, e), [0.0]]), m)[-1, 1]
    assert 0.7 * -above < hourly < -above


strains = st.lists(st.floats(-2e-3, 2e-3), min_size=5, max_size=60)


@given(strains, st.floats(0.01, 0.12), st.floats(0.3, 1.0))
@settings(max_examples=60, deadline=None)
def test_no_compression(history: list[float], m: float, f: float) -> None:
    # A29: zero compression carried, and never tension with slack
    found = follow(np.array(history), m, f)
    assert np.all(found[:, 0] >= -1e-12)
    assert np.all((found[:, 0] <= 1e-12) | (found[:, 1] == 0.0))


@given(strains, st.floats(0.01, 0.12), st.floats(1e-6, 1e-3))
@settings(max_examples=60, deadline=None)
def test_now_tighter_is_never_slacker(history: list[float], m: float, more: float) -> None:
    # A29: with the same past, a larger imposed strain now gives no less tension, no more slack
    base, tighter = np.array(history), np.array(history)
    tighter[-1] += more
    a, b = follow(base, m)[-1], follow(tighter, m)[-1]
    assert b[0] >= a[0] - 1e-15
    assert b[1] <= a[1] + 1e-15


@given(st.floats(0, 1e-3), st.floats(0, 1e-3), st.floats(0, 1))
@settings(deadline=None)
def test_bleeding_off(reserve: float, sustained: float, share: float) -> None:
    lost = bled_off(reserve, sustained, share)
    assert 0.0 <= lost <= max(reserve - sustained, 0.0)


@given(st.lists(st.floats(0.2, 0.8), min_size=2, max_size=50))
@settings(deadline=None)
def test_small_swings_do_not_move_the_play(path: list[float]) -> None:
    play = path[0]
    for psi in path:
        play = moved_play(play, psi, 0.055)
        assert abs(play - psi) <= 0.055 + 1e-12
    quiet = 0.5
    for psi in (0.54, 0.46, 0.52):
        quiet = moved_play(quiet, psi, 0.055)
    assert quiet == 0.5


def test_creeping_hinges_lose_tension_for_good(knowing: Knowing, air_of: AirOf) -> None:
    # a dry winter on pressure-sensitive hinges ends with less tension, and slack sooner in spring
    dry = np.concatenate([np.full(90 * 24, 35.0), np.full(24 * 5, 50.0)])
    air = air_of(20.0, dry, first=(50.0, 50.0))
    common = {"half_time_h": 0.5, "relax_per_decade": 1e-9, "hinge_capacity_n_m": 5000.0}
    work, firm = knowing(**common, hinge_sustained_n_m=5000.0)
    _, creeping = knowing(**common, hinge_sustained_n_m=75.0, hinge_creep_days=14.0)
    held = estimator.run([work], {"W1": firm}, air).histories["W1"]
    crept = estimator.run([work], {"W1": creeping}, air).histories["W1"]
    assert crept.tension_n_m[-60, 1] < held.tension_n_m[-60, 1]
    assert held.p_slack[-1] == 0.0
    assert crept.p_slack[-1] == 1.0
    # the load comes down to the sustained capacity, and the bond is giving way only early on
    assert crept.tension_n_m[90 * 24 - 2, 1] == pytest.approx(75.0, rel=0.15)
    assert crept.p_hinges[24 * 7] == 1.0
    assert crept.p_hinges[90 * 24 - 2] == 0.0
