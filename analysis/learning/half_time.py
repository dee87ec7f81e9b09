"""The half-time of a frame from a logger left inside it, by output error.

The frame is carried through the room's readings by the estimator's own link; half-time, offset and
start are those under which it comes nearest to what the inner logger showed.
"""

from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum

import numpy as np
import numpy.typing as npt
import pandas as pd
from numba import njit

from analysis.chain.compiled import ALLOWED
from analysis.chain.enclosure import pressure_ratio, saturation_pressure_pa, slope_at_half
from analysis.chain.isotherm import gab_of, psi_of, shift_factor, shift_per_k, slope_ratio
from analysis.learning.output_error import (
    STARTS_H,
    Bound,
    OutputErrorFit,
    Simulate,
    output_error_fit,
)
from analysis.learning.paired_loggers import (
    SAMPLES_A_HALF_TIME,
    Pair,
    gap_that_counts_h,
    paired,
    without_wakes,
)
from analysis.parameters import parameter
from analysis.results import Floats, Range
from analysis.simulation import step
from analysis.simulation.layout import BLOCK, Row, Shared
from analysis.simulation.packing import constants
from analysis.works import Override, Wall, Work

START_REACH_PCT = (2.0, 97.0)


NOISE_PCT = 0.3  # of a usual sensor; see `swing`


TEMP_REACH_K, RH_REACH_PCT = 5.0, 15.0


Span = tuple[float, float]


class Doubt(StrEnum):
    """A demand on the record that is not met."""

    TOO_COARSE = "readings too far apart"
    GAP = "a gap taken as a straight line"
    TOO_SHORT = "shorter than one half-time"
    TOO_STILL = "the frame hardly moved"
    OTHER_SHAPE = "one half-time does not describe it"


@dataclass(frozen=True)
class KnownOffset:
    """How much more the inner logger reads than the room's: fitted freely, and side by side [%RH].

    ``warmer_k`` is how much warmer the print would have to be than the logger in the frame for the
    two to agree [K].
    """

    free_pct: float
    known_pct: float
    warmer_k: float

    @property
    def agrees(self) -> bool:
        """Whether the offset fitted freely is the one known from days side by side."""
        return abs(self.free_pct - self.known_pct) < WORTH_SAYING_PCT


@dataclass(frozen=True)
class HalfTimeFit:
    """A frame's half-time at 20 °C and 50 %RH, with what must be said along with it.

    ``pair`` is the record that was used, ``whole`` the same with what follows its gaps. ``doubts``
    are the demands on the record (interval, length, swing, residuals) that are not met; ``offset``
    is None where no days side by side are known. ``temp_c`` and ``rh_pct`` are the 5 % and 95 %
    points inside the frame over which it was fitted; ``here_h`` is the half-time at their middle.
    ``course_pct`` is what the inner logger would have read had the frame followed the fit.
    """

    fit: OutputErrorFit
    pair: Pair
    course_pct: Floats
    interval_h: float
    record_h: float
    temp_c: Span
    rh_pct: Span
    here_h: float
    doubts: tuple[Doubt, ...]
    whole: Pair
    noise_pct: float
    offset: KnownOffset | None

    @property
    def sound(self) -> bool:
        """Whether all demands on the record are met."""
        return not self.doubts

    @property
    def half_time_h(self) -> float:
        """The half-time that fits best [h]."""
        return self.fit.half_time_h


def fit_half_time(
    room: pd.DataFrame,
    inside: pd.DataFrame,
    *,
    noise_pct: float = NOISE_PCT,
    starts_h: Floats = STARTS_H,
    offset_pct: float | None = None,
) -> HalfTimeFit:
    """Return the half-time of a frame from paired loggers.

    Parameters
    ----------
    room, inside : pandas.DataFrame
        Readings as `analysis.series.readings_frame`. Doubtful ones are left out, never filled; so
        is what follows a gap, until the frame has forgotten the gap.
    noise_pct : float
        Noise of the sensors [%RH].
    starts_h : array
        Half-times at which the search starts [h].
    offset_pct : float, optional
        How much more the inner logger reads than the room's in the same air, from days side by
        side [%RH]. It is kept where the one fitted freely agrees; where not, the print is colder
        than its logger or a sensor has drifted, and the free one stands. None: it is fitted.

    Raises
    ------
    NotEnoughError
        With fewer than ten times at which both measured.
    """
    pair = paired(room, inside)
    found = _fitted(pair, starts_h, None)
    settled = without_wakes(pair, found.half_time_h, noise_pct)
    if settled is not pair:
        found = _fitted(settled, starts_h, None)
    if offset_pct is None:
        return described(pair, settled, found, noise_pct, None)
    offset = known_offset(found.offset, offset_pct, *middle_of(settled))
    if offset.agrees:
        found = _fitted(settled, starts_h, offset_pct)
    return described(pair, settled, found, noise_pct, offset)


def _fitted(pair: Pair, starts_h: Floats, offset_pct: float | None) -> OutputErrorFit:
    return output_error_fit(
        simulator(pair), pair.inside_pct, starts_h, START_REACH_PCT, offset=offset_pct
    )


def simulator(pair: Pair) -> Simulate:
    """Return the frame's humidity [%] as a function of half-times [h] and starts [%]."""
    k = constants()
    scale = parameter("frames", "glazed", "shift_per_k").value / shift_per_k()
    inputs = np.column_stack([pair.hours, pair.room_ratio, pair.room_phi, pair.temp_c])

    def simulate(half_times_h: Floats, starts: Floats) -> Floats:
        n = len(half_times_h)
        block = np.zeros(len(Row) * BLOCK)
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
        Row.HEAT_SCALE: scale,
        Row.TEMP_C: temp,
        Row.RATIO: ratio,
        Row.SHIFT: shift,
        Row.DRIVE: float(np.clip(drive, 0.01, 0.98)),
        Row.PSI_FRAME: psi,
    }
    for row, value in begin.items():
        block[row + j] = value


# Compiled anew in each process (0.3 s): a copy on disk would not notice a change of `frame_link`.
@njit(error_model="numpy", fastmath=ALLOWED)  # type: ignore[untyped-decorator,unused-ignore]
def _frame_through(b: Floats, k: Floats, inputs: Floats, rates: Floats, out: Floats) -> None:
    """Carry frames through hours, room ratio, room humidity and print temperature."""
    n, magnus_a, magnus_b = len(rates), k[Shared.MAGNUS_A], k[Shared.MAGNUS_B]
    for j in range(n):
        out[0, j] = 100.0 * b[Row.PSI_FRAME + j] * b[Row.SHIFT + j]
    for h in range(1, inputs.shape[0]):
        temp = inputs[h, 3]
        for j in range(n):
            b[Row.FRAME_RATE + j] = rates[j] * (inputs[h, 0] - inputs[h - 1, 0])
            b[Row.RATIO_BEFORE + j] = b[Row.RATIO + j]
            middle = 0.5 * (b[Row.TEMP_C + j] + temp)
            b[Row.RATIO_MIDDLE + j] = pressure_ratio(middle, magnus_a, magnus_b)
            b[Row.RATIO + j] = pressure_ratio(temp, magnus_a, magnus_b)
            b[Row.TEMP_C + j] = temp
        step.frame_link(b, n, k, inputs[h, 2], inputs[h, 2], inputs[h, 1], 0.0)
        for j in range(n):
            out[h, j] = 100.0 * b[Row.PSI_FRAME + j] * b[Row.SHIFT + j]


def half_time_at(half_time_h: float, temp_c: float, rh_pct: float) -> float:
    """Return a half-time given at 20 °C and 50 %RH at other conditions in the frame [h].

    It goes as the slope of the isotherm over the saturation pressure (Enclosure notes, 10.1); how
    the shift itself changes on the way is left out, which is 3 % between 10 and 24 °C.

    Examples
    --------
    >>> round(half_time_at(24.0, 10.0, 48.9), 0), round(half_time_at(24.0, 20.0, 50.0), 3)
    (51.0, 24.0)
    """
    scale = parameter("frames", "glazed", "shift_per_k").value / shift_per_k()
    psi, gab = psi_of(rh_pct, temp_c, scale), gab_of("frame_board")
    pressure = float(saturation_pressure_pa(temp_c) / saturation_pressure_pa(20.0))
    faster = pressure * shift_factor(psi, temp_c, scale)
    return half_time_h / (faster * float(slope_ratio(psi, gab.c, gab.k, slope_at_half())))


def described(
    whole: Pair, used: Pair, fit: OutputErrorFit, noise_pct: float, offset: KnownOffset | None
) -> HalfTimeFit:
    """Return a fit with its doubts; ``used`` is ``whole`` without what follows its gaps."""
    middle = middle_of(used)
    here_h = half_time_at(fit.half_time_h, *middle)
    output = simulator(used)(np.array([fit.half_time_h]), np.array([fit.start]))[:, 0]
    return HalfTimeFit(
        fit=fit,
        pair=used,
        course_pct=output + fit.offset,
        interval_h=used.interval_h,
        record_h=used.record_h,
        temp_c=reach_of(used.temp_c),
        rh_pct=reach_of(used.inside_pct),
        here_h=here_h,
        doubts=doubts(whole, used, fit, noise_pct),
        whole=whole,
        noise_pct=noise_pct,
        offset=offset,
    )


def middle_of(pair: Pair) -> Span:
    """Return the median temperature [°C] and humidity [%] in the frame."""
    return float(np.median(pair.temp_c)), float(np.nanmedian(pair.inside_pct))


def reach_of(values: npt.ArrayLike) -> Span:
    """Return the 5 % and 95 % points of what is known of some values."""
    low, high = np.nanquantile(np.asarray(values, dtype=np.float64), [0.05, 0.95])
    return float(low), float(high)


def override_of(fitted: HalfTimeFit) -> Override | None:
    """Return the fit as a work's ``half_time_h``, or None where it has one bound only or none."""
    fit = fitted.fit
    if fit.bound is not Bound.BOTH:
        return None
    days = round(fitted.record_h / 24.0)
    return Override(
        value=fit.half_time_h,
        low=fit.low_h,
        high=fit.high_h,
        origin=f"fitted from {days} days of paired loggers",
    )


@dataclass(frozen=True)
class OutsideTheFit:
    """A quantity that lies beyond the conditions a half-time was fitted in: here, and there."""

    quantity: str
    here: Span
    fitted: Span


def outside_the_fit(fitted: HalfTimeFit, temp_c: Span, rh_pct: Span) -> tuple[OutsideTheFit, ...]:
    """Return `outside_conditions` for the conditions of a fit."""
    return outside_conditions((fitted.temp_c, fitted.rh_pct), temp_c, rh_pct)


def outside_conditions(
    fitted: tuple[Span, Span], temp_c: Span, rh_pct: Span
) -> tuple[OutsideTheFit, ...]:
    """Return why a fitted half-time should not be trusted in other conditions, or nothing.

    A half-time holds within 5 K and 15 %RH of the conditions it was fitted in.

    Parameters
    ----------
    fitted : tuple
        Lowest and highest temperature, and humidity, in the frame over the fit; the 5 % and 95 %
        points do.
    temp_c, rh_pct : tuple of float
        The same where the half-time is to be used.
    """
    return tuple(
        OutsideTheFit(quantity, here, there)
        for quantity, here, there, reach in (
            ("temp_c", temp_c, fitted[0], TEMP_REACH_K),
            ("rh_pct", rh_pct, fitted[1], RH_REACH_PCT),
        )
        if here[0] < there[0] - reach or here[1] > there[1] + reach
    )


# Which demands on a record a fit of a half-time does not meet, and what a known offset says.

SWING_OVER_NOISE = 10.0


FOLLOWING = 0.9


WORTH_SAYING_PCT = 1.0


def known_offset(free_pct: float, known_pct: float, temp_c: float, rh_pct: float) -> KnownOffset:
    """Return what the offset of days side by side says beside the one fitted freely.

    Parameters
    ----------
    temp_c, rh_pct : float
        Middle of the record in the frame.
    """
    colder = saturation_pressure_pa(temp_c - 1.0) / saturation_pressure_pa(temp_c)
    per_k = rh_pct * (1.0 - float(colder))
    return KnownOffset(free_pct, known_pct, (known_pct - free_pct) / per_k)


def doubts(whole: Pair, used: Pair, fit: OutputErrorFit, noise_pct: float) -> tuple[Doubt, ...]:
    """Return which demands on the record are not met."""
    half = fit.half_time_h
    hole = used is whole and longest_gap_h(whole) > gap_that_counts_h(half, whole.interval_h)
    unmet = {
        Doubt.TOO_COARSE: used.interval_h > longest_interval_h(half),
        Doubt.GAP: hole and used.interval_h <= longest_interval_h(half),
        Doubt.TOO_SHORT: used.record_h < half,
        Doubt.TOO_STILL: fit.swing < SWING_OVER_NOISE * noise_pct,
        Doubt.OTHER_SHAPE: fit.lag_one > FOLLOWING and fit.residual_rms > 2.0 * noise_pct,
    }
    return tuple(one for one, is_so in unmet.items() if is_so)


def longest_interval_h(half_time_h: float) -> float:
    """Return how far apart readings may lie for a half-time [h]."""
    return half_time_h / SAMPLES_A_HALF_TIME


def longest_gap_h(whole: Pair) -> float:
    """Return the longest time between two readings [h]."""
    return float(np.diff(whole.hours).max())


def left_out(whole: Pair, used: Pair) -> float:
    """Return the share of the readings that was left out after gaps."""
    before, after = (int(np.isfinite(pair.inside_pct).sum()) for pair in (whole, used))
    return (before - after) / before


# How much warmer a frame is than its room's logger, from a logger left in it.

LEAST = timedelta(days=3)


def frame_warmth(pair: Pair, beside_k: float | None) -> Range | None:
    """Return how much warmer a frame was than its room's logger, as ``frame_minus_logger_k`` [K].

    Parameters
    ----------
    pair : Pair
        The room and the logger in the frame at the same times.
    beside_k : float, optional
        How much more the inner logger showed than the room's in the same air, from days side by
        side [K]; None where they never hung so: then the two sensors' own doubt stays.

    Returns
    -------
    Range or None
        The mean difference; its range holds the doubt between the sensors and two deviations of
        the days' means, since lamps are not lit alike on all of them. None for less than three
        days: the lag of the frame behind the room is still in the mean of one.
    """
    if timedelta(hours=pair.record_h) < LEAST:
        return None
    known = "temp_apart_k" if beside_k is None else "temp_beside_k"
    sensors = parameter("instruments", "pair", known).value
    warmer = pd.Series(pair.temp_c - pair.room_c, pair.time_utc) - (beside_k or 0.0)
    days = warmer.resample("D").mean().dropna()
    reach = float(np.hypot(sensors, 2.0 * days.std(ddof=1)))
    mean = float(days.mean())
    return Range(mean - reach, mean, mean + reach)


def warmth_is_of_the_frame(work: Work) -> bool:
    """Whether the difference is the frame's own: an outside wall's cold would be in it too."""
    return work.wall is Wall.INSIDE and "wall" not in work.unknown
