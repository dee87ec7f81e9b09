"""Output-error fit of a one-pole lag, against what the enclosure notes state of it."""

import numpy as np
import numpy.typing as npt
import pytest
from scipy.signal import lfilter

from analysis.errors import NotEnoughError
from analysis.learning.output_error import Bound, Simulate, output_error_fit

Floats = npt.NDArray[np.float64]


def one_pole(room: Floats, half_time_h: float, start: float, interval_h: float = 1.0) -> Floats:
    """Linear lag with linearly interpolated input, by scipy: the independent reference."""
    r = np.log(2.0) * interval_h / half_time_h
    a = np.exp(-r)
    m1 = (1.0 - a) / r
    out, _ = lfilter([1.0 - m1, m1 - a], [1.0, -a], room, zi=[start - (1.0 - m1) * room[0]])
    return np.asarray(out, dtype=np.float64)


def simulator(room: Floats) -> Simulate:
    def simulate(half_times_h: Floats, starts: Floats) -> Floats:
        return np.column_stack(
            [one_pole(room, t, s) for t, s in zip(half_times_h, starts, strict=True)]
        )

    return simulate


def museum_room(hours: int, seed: int) -> Floats:
    rng = np.random.default_rng(seed)
    t = np.arange(hours)
    weather = lfilter([1.0], [1.0, -0.985], rng.normal(0.0, 0.9, hours))
    return np.asarray(50.0 + 3.0 * np.sin(2 * np.pi * t / 24) + weather, dtype=np.float64)


def pair(half_time_h: float, hours: int, seed: int) -> tuple[Floats, Floats]:
    """A room and what a logger in the frame reads: 0.3 %RH noise on both, offset 1.5."""
    rng = np.random.default_rng(seed + 100)
    room = museum_room(hours, seed)
    inside = one_pole(room, half_time_h, 50.0) + 1.5
    return room + rng.normal(0, 0.3, hours), np.round(inside + rng.normal(0, 0.3, hours), 1)


def one_step_regression(room: Floats, inside: Floats) -> float:
    """Half-time from y[k] = a y[k-1] + b u[k-1] + c u[k] + d: the method not to use [h]."""
    columns = np.column_stack([inside[:-1], room[:-1], room[1:], np.ones(len(room) - 1)])
    a = np.linalg.lstsq(columns, inside[1:], rcond=None)[0][0]
    return float(np.log(0.5) / np.log(np.clip(a, 1e-9, 1 - 1e-9)))


@pytest.mark.parametrize("seed", range(3))
def test_a_day_long_half_time_from_thirty_days(seed: int) -> None:
    # E 44: 24 h within 10 %, offset 1.5 within 0.2
    room, inside = pair(24.0, 720, seed)
    fit = output_error_fit(simulator(room), inside)
    assert fit.half_time_h == pytest.approx(24.0, rel=0.10)
    assert fit.offset == pytest.approx(1.5, abs=0.2)
    assert fit.bound is Bound.BOTH
    assert fit.low_h <= 24.0 <= fit.high_h
    assert fit.residual_rms == pytest.approx(0.3, rel=0.15)


@pytest.mark.parametrize("seed", range(3))
def test_one_step_regression_is_biased_low_where_output_error_is_not(seed: int) -> None:
    # E 45 and table of section 9: 7 d frame, 30 d hourly, ARX < 0.3 x
    room, inside = pair(168.0, 720, seed)
    assert one_step_regression(room, inside) < 0.3 * 168.0
    fit = output_error_fit(simulator(room), inside)
    assert fit.half_time_h == pytest.approx(168.0, rel=0.15)


def test_uncertainty_is_never_under_ten_per_cent() -> None:
    room = museum_room(2000, 1)
    fit = output_error_fit(simulator(room), one_pole(room, 24.0, 50.0))
    assert fit.half_time_h == pytest.approx(24.0, rel=1e-3)
    assert fit.low_h == pytest.approx(0.9 * fit.half_time_h)
    assert fit.high_h == pytest.approx(1.1 * fit.half_time_h)


def test_a_frame_that_hardly_moved_gives_one_side_only() -> None:
    rng = np.random.default_rng(5)
    room = museum_room(168, 2)
    inside = one_pole(room, 4000.0, 50.0) + rng.normal(0, 0.3, 168)
    fit = output_error_fit(simulator(room), inside)
    assert fit.bound is Bound.AT_LEAST
    assert fit.high_h == np.inf
    assert 10.0 < fit.low_h < 4000.0


def test_a_frame_as_quick_as_the_room_gives_one_side_only() -> None:
    room = museum_room(720, 3)
    rng = np.random.default_rng(6)
    inside = one_pole(room, 0.05, room[0]) + rng.normal(0, 0.3, 720)
    fit = output_error_fit(simulator(room), inside)
    assert fit.bound is Bound.AT_MOST
    assert fit.low_h == 0.0
    assert fit.high_h < 4.0


def test_a_constant_room_tells_nothing() -> None:
    rng = np.random.default_rng(7)
    fit = output_error_fit(simulator(np.full(500, 50.0)), 50.0 + rng.normal(0, 0.3, 500))
    assert fit.bound is Bound.NONE
    assert (fit.low_h, fit.high_h) == (0.0, np.inf)


def test_missing_samples_are_left_out_not_filled() -> None:
    room, inside = pair(24.0, 720, 0)
    holes = inside.copy()
    holes[100:160] = np.nan
    fit = output_error_fit(simulator(room), holes)
    assert fit.half_time_h == pytest.approx(24.0, rel=0.12)
    assert len(fit.residuals) == 660


def test_following_residuals_widen_the_error() -> None:
    room, inside = pair(24.0, 720, 0)
    slow = one_pole(np.random.default_rng(9).normal(0.0, 4.0, 720), 10.0, 0.0)
    plain = output_error_fit(simulator(room), inside)
    wandering = output_error_fit(simulator(room), inside + slow)
    assert wandering.lag_one > 0.5 > plain.lag_one
    naive = plain.standard_error_log * wandering.residual_rms / plain.residual_rms
    assert wandering.standard_error_log > 1.5 * naive


def test_too_few_samples_are_refused() -> None:
    room = museum_room(9, 0)
    with pytest.raises(NotEnoughError):
        output_error_fit(simulator(room), room)
