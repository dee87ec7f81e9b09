"""The half-time of a frame from a logger left inside it, by output error.

The frame is carried through the room's readings by the estimator's own link; half-time, offset and
start are those under which it comes nearest to what the inner logger showed.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numba import njit

from analysis import rows, step
from analysis.compiled import ALLOWED
from analysis.duration_words import hours_words
from analysis.enclosure import pressure_ratio, saturation_pressure_pa
from analysis.isotherm import psi_of, shift_factor, shift_per_k
from analysis.layout import BLOCK, ROWS
from analysis.output_error import (
    STARTS_H,
    Bound,
    OutputErrorFit,
    Simulate,
    output_error_fit,
    require_samples,
)
from analysis.packing import constants
from analysis.parameters import parameter
from analysis.results import Floats
from analysis.series import require_readings, sample_interval_s, usable
from analysis.works import Override

START_REACH_PCT = (2.0, 97.0)
NOISE_PCT = 0.3  # of a usual sensor; see `swing`
SAMPLES_A_HALF_TIME = 5.0
SWING_OVER_NOISE = 10.0
TEMP_REACH_K, RH_REACH_PCT = 5.0, 15.0
FOLLOWING = 0.9
CO_LOCATION = (
    "An offset between the two sensors cannot be told from a colder wall: leave both loggers side "
    "by side for 24 to 48 hours first, and let the inner one record temperature too."
)


@dataclass(frozen=True)
class HalfTimeFit:
    """A frame's half-time at 20 °C and 50 %RH, with what must be said along with it.

    ``statements`` are sentences for people; ``sound`` is False where one of the demands on the
    record (interval, length, swing, residuals) is not met. ``temp_c`` and ``rh_pct`` are the 5 %
    and 95 % points inside the frame over which it was fitted.
    """

    fit: OutputErrorFit
    interval_h: float
    record_h: float
    temp_c: tuple[float, float]
    rh_pct: tuple[float, float]
    sound: bool
    statements: Sequence[str]

    @property
    def half_time_h(self) -> float:
        """The half-time that fits best [h]."""
        return self.fit.half_time_h


@dataclass(frozen=True)
class Pair:
    """Room and frame at the times when the room and the frame's temperature were known."""

    hours: Floats
    room_ratio: Floats
    room_phi: Floats
    temp_c: Floats
    inside_pct: Floats


def fit_half_time(
    room: pd.DataFrame,
    inside: pd.DataFrame,
    *,
    noise_pct: float = NOISE_PCT,
    starts_h: Floats = STARTS_H,
) -> HalfTimeFit:
    """Return the half-time of a frame from paired loggers.

    Parameters
    ----------
    room, inside : pandas.DataFrame
        Readings as `analysis.series.readings_frame`. Doubtful ones are left out, never filled.
    noise_pct : float
        Noise of the sensors [%RH].
    starts_h : array
        Half-times at which the search starts [h].

    Raises
    ------
    NotEnoughError
        With fewer than ten times at which both measured.
    """
    pair = paired(room, inside)
    found = output_error_fit(simulator(pair), pair.inside_pct, starts_h, START_REACH_PCT)
    return described(pair, found, noise_pct)


def paired(room: pd.DataFrame, inside: pd.DataFrame) -> Pair:
    """Return the two records on the inner logger's times, the room's nearest reading to each."""
    require_readings(room, read="room logger")
    require_readings(inside, read="logger in the frame")
    slack = pd.Timedelta(seconds=0.6 * _coarser_s(room, inside))
    air = pd.DataFrame({name: usable(room, name) for name in ("temp_c", "rh_pct")}).dropna()
    frame = pd.DataFrame({name: usable(inside, name) for name in ("temp_c", "rh_pct")})
    both = pd.merge_asof(
        frame.dropna(subset=["temp_c"]),
        air.add_prefix("room_"),
        left_index=True,
        right_index=True,
        direction="nearest",
        tolerance=slack,
    ).dropna(subset=["room_rh_pct"])
    require_samples(len(both))
    hours = pd.DatetimeIndex(both.index).as_unit("ms").asi8 / 3.6e6
    room_c = both["room_temp_c"].to_numpy(np.float64)
    return Pair(
        hours=hours - hours[0],
        room_ratio=saturation_pressure_pa(room_c) / saturation_pressure_pa(20.0),
        room_phi=both["room_rh_pct"].to_numpy(np.float64) / 100.0,
        temp_c=both["temp_c"].to_numpy(np.float64),
        inside_pct=both["rh_pct"].to_numpy(np.float64),
    )


def _coarser_s(room: pd.DataFrame, inside: pd.DataFrame) -> float:
    intervals = [sample_interval_s(pd.DatetimeIndex(f.index)) for f in (room, inside)]
    return float(np.nanmax([*intervals, 1.0]))


def simulator(pair: Pair) -> Simulate:
    """Return the frame's humidity [%] as a function of half-times [h] and starts [%]."""
    k = constants()
    scale = parameter("frames", "glazed", "shift_per_k").value / shift_per_k()
    inputs = np.column_stack([pair.hours, pair.room_ratio, pair.room_phi, pair.temp_c])

    def simulate(half_times_h: Floats, starts: Floats) -> Floats:
        n = len(half_times_h)
        block = np.zeros(len(ROWS) * BLOCK)
        for j in range(n):
            _set_off(block, j, pair, float(starts[j]), scale)
        out = np.empty((len(inputs), n))
        _frame_through(block, k, inputs, np.log(2.0) / half_times_h, out)
        return out

    return simulate


def _set_off(block: Floats, j: int, pair: Pair, start_pct: float, scale: float) -> None:
    temp = float(pair.temp_c[0])
    psi = psi_of(float(np.clip(start_pct, 1.0, 98.0)), temp, scale)
    shift = shift_factor(psi, temp, scale)
    ratio = float(saturation_pressure_pa(temp) / saturation_pressure_pa(20.0))
    drive = pair.room_phi[0] * pair.room_ratio[0] / ratio / shift
    begin = {
        rows.HEAT_SCALE: scale,
        rows.TEMP_C: temp,
        rows.RATIO: ratio,
        rows.SHIFT: shift,
        rows.DRIVE: float(np.clip(drive, 0.01, 0.98)),
        rows.PSI_FRAME: psi,
    }
    for row, value in begin.items():
        block[row + j] = value


# Compiled anew in each process (0.3 s): a copy on disk would not notice a change of `frame_link`.
@njit(error_model="numpy", fastmath=ALLOWED)  # type: ignore[untyped-decorator,unused-ignore]
def _frame_through(b: Floats, k: Floats, inputs: Floats, rates: Floats, out: Floats) -> None:
    """Carry frames through hours, room ratio, room humidity and print temperature."""
    n, magnus_a, magnus_b = len(rates), k[rows.MAGNUS_A], k[rows.MAGNUS_B]
    for j in range(n):
        out[0, j] = 100.0 * b[rows.PSI_FRAME + j] * b[rows.SHIFT + j]
    for h in range(1, inputs.shape[0]):
        temp = inputs[h, 3]
        for j in range(n):
            b[rows.FRAME_RATE + j] = rates[j] * (inputs[h, 0] - inputs[h - 1, 0])
            b[rows.RATIO_BEFORE + j] = b[rows.RATIO + j]
            middle = 0.5 * (b[rows.TEMP_C + j] + temp)
            b[rows.RATIO_MIDDLE + j] = pressure_ratio(middle, magnus_a, magnus_b)
            b[rows.RATIO + j] = pressure_ratio(temp, magnus_a, magnus_b)
            b[rows.TEMP_C + j] = temp
        step.frame_link(b, n, k, inputs[h, 2], inputs[h, 2], inputs[h, 1])
        for j in range(n):
            out[h, j] = 100.0 * b[rows.PSI_FRAME + j] * b[rows.SHIFT + j]


def described(pair: Pair, fit: OutputErrorFit, noise_pct: float) -> HalfTimeFit:
    """Return a fit with its statements."""
    steps = np.diff(pair.hours)
    interval, record = float(np.median(steps)), float(pair.hours[-1] - pair.hours[0])
    doubts = _doubts(fit, interval, record, float(steps.max()), noise_pct)
    inside = pair.inside_pct[np.isfinite(pair.inside_pct)]
    return HalfTimeFit(
        fit=fit,
        interval_h=interval,
        record_h=record,
        temp_c=_reach(pair.temp_c),
        rh_pct=_reach(inside),
        sound=not doubts,
        statements=[_result_words(fit), *doubts, _residual_words(fit), CO_LOCATION],
    )


def _reach(values: Floats) -> tuple[float, float]:
    low, high = np.quantile(values, [0.05, 0.95])
    return float(low), float(high)


def _result_words(fit: OutputErrorFit) -> str:
    if fit.bound is Bound.NONE:
        return "This record does not tell the half-time at all."
    if fit.bound is Bound.AT_LEAST:
        return (
            f"The half-time is at least {hours_words(fit.low_h)}; the record gives no upper bound."
        )
    if fit.bound is Bound.AT_MOST:
        return (
            f"The half-time is at most {hours_words(fit.high_h)}; the record gives no lower bound."
        )
    return (
        f"The half-time is about {hours_words(fit.half_time_h)}, probably between "
        f"{hours_words(fit.low_h)} and {hours_words(fit.high_h)} at 20 °C and 50 %RH."
    )


def _doubts(
    fit: OutputErrorFit, interval_h: float, record_h: float, hole_h: float, noise_pct: float
) -> list[str]:
    doubts, half = [], fit.half_time_h
    if interval_h > half / SAMPLES_A_HALF_TIME:
        doubts.append(
            f"Readings every {hours_words(interval_h)} are too far apart for a half-time of "
            f"{hours_words(half)}: at most {hours_words(half / SAMPLES_A_HALF_TIME)}."
        )
    elif hole_h > max(half / SAMPLES_A_HALF_TIME, 2.5 * interval_h):
        doubts.append(f"There is a gap of {hours_words(hole_h)}, taken as a straight line.")
    if record_h < half:
        doubts.append(
            f"The record of {hours_words(record_h)} is shorter than one half-time "
            f"({hours_words(half)}); three would be better."
        )
    if fit.swing < SWING_OVER_NOISE * noise_pct:
        doubts.append(
            f"The frame moved by {fit.swing:.1f} %RH only, less than ten times the sensors' noise "
            f"({noise_pct:g} %RH)."
        )
    if fit.lag_one > FOLLOWING and fit.residual_rms > 2.0 * noise_pct:
        doubts.append(
            f"What is left over ({fit.residual_rms:.1f} %RH) is larger than noise and runs in long "
            "waves: one half-time does not describe this frame over this record."
        )
    return doubts


def _residual_words(fit: OutputErrorFit) -> str:
    return (
        f"Left over: {fit.residual_rms:.2f} %RH rms, each residual {fit.lag_one:.2f} like the one "
        f"before; offset of the inner sensor {fit.offset:+.1f} %RH."
    )


def override_of(fitted: HalfTimeFit) -> Override | None:
    """Return the fit as a work's ``half_time_h``, or None where it has one bound only or none."""
    fit = fitted.fit
    if fit.bound is not Bound.BOTH:
        return None
    return Override(
        value=fit.half_time_h,
        low=fit.low_h,
        high=fit.high_h,
        origin=f"fitted from {fitted.record_h / 24.0:.0f} days of paired loggers",
    )


def outside_the_fit(
    fitted: HalfTimeFit, temp_c: tuple[float, float], rh_pct: tuple[float, float]
) -> str:
    """Return why a fitted half-time should not be trusted in other conditions, or "".

    A half-time holds within 5 K and 15 %RH of the conditions it was fitted in.

    Parameters
    ----------
    fitted : HalfTimeFit
        The fit.
    temp_c, rh_pct : tuple of float
        Lowest and highest temperature and humidity in the frame where it is to be used; the 5 %
        and 95 % points do.
    """
    reasons = []
    for (cold, warm), (low, high), reach, unit in (
        (temp_c, fitted.temp_c, TEMP_REACH_K, "°C"),
        (rh_pct, fitted.rh_pct, RH_REACH_PCT, "%RH"),
    ):
        if cold < low - reach or warm > high + reach:
            reasons.append(
                f"{cold:.0f} to {warm:.0f} {unit}, fitted between {low:.0f} and {high:.0f} {unit}"
            )
    if not reasons:
        return ""
    return "The half-time was fitted in other conditions: " + "; ".join(reasons) + "."
