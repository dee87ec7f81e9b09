"""What a fit of a half-time says, in sentences for people: result, doubts, what is left over."""

import numpy as np

from analysis.chain.enclosure import saturation_pressure_pa
from analysis.duration_words import hours_words
from analysis.learning.output_error import Bound, OutputErrorFit
from analysis.learning.paired_loggers import SAMPLES_A_HALF_TIME, Pair, gap_that_counts_h

SWING_OVER_NOISE = 10.0
FOLLOWING = 0.9
WORTH_SAYING_PCT = 1.0
CO_LOCATION = (
    "An offset between the two sensors cannot be told from a colder wall: leave both loggers side "
    "by side for 24 to 48 hours first, and let the inner one record temperature too."
)


def result_words(fit: OutputErrorFit) -> str:
    """Return what the fit says of the half-time, with its range or its one bound."""
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


def doubts(whole: Pair, used: Pair, fit: OutputErrorFit, noise_pct: float) -> list[str]:
    """Return which demands on the record are not met."""
    half = fit.half_time_h
    return [
        *_spacing_doubts(whole, used, half),
        *_length_doubts(used, half),
        *_shape_doubts(fit, noise_pct),
    ]


def _spacing_doubts(whole: Pair, used: Pair, half_time_h: float) -> list[str]:
    most = half_time_h / SAMPLES_A_HALF_TIME
    if used.interval_h > most:
        return [
            f"Readings every {hours_words(used.interval_h)} are too far apart for a half-time of "
            f"{hours_words(half_time_h)}: at most {hours_words(most)}."
        ]
    hole_h = float(np.diff(whole.hours).max())
    if used is whole and hole_h > gap_that_counts_h(half_time_h, whole.interval_h):
        return [f"There is a gap of {hours_words(hole_h)}, taken as a straight line."]
    return []


def _length_doubts(pair: Pair, half_time_h: float) -> list[str]:
    if pair.record_h >= half_time_h:
        return []
    return [
        f"The record of {hours_words(pair.record_h)} is shorter than one half-time "
        f"({hours_words(half_time_h)}); three would be better."
    ]


def _shape_doubts(fit: OutputErrorFit, noise_pct: float) -> list[str]:
    found = []
    if fit.swing < SWING_OVER_NOISE * noise_pct:
        found.append(
            f"The frame moved by {fit.swing:.1f} %RH only, less than ten times the sensors' noise "
            f"({noise_pct:g} %RH)."
        )
    if fit.lag_one > FOLLOWING and fit.residual_rms > 2.0 * noise_pct:
        found.append(
            f"What is left over ({fit.residual_rms:.1f} %RH) is larger than noise and runs in long "
            "waves: one half-time does not describe this frame over this record."
        )
    return found


def here_words(fit: OutputErrorFit, here_h: float, middle: tuple[float, float]) -> list[str]:
    """Return the half-time at the middle of the record's own conditions, where it is told."""
    if fit.bound is not Bound.BOTH:
        return []
    return [
        f"At the {middle[0]:.0f} °C and {middle[1]:.0f} %RH of this record it is "
        f"{hours_words(here_h)}."
    ]


def gap_words(whole: Pair, used: Pair) -> list[str]:
    """Return how much was left out after gaps, where anything was."""
    before, after = (int(np.isfinite(pair.inside_pct).sum()) for pair in (whole, used))
    if before == after:
        return []
    hole_h = float(np.diff(whole.hours).max())
    return [
        f"The longest gap is {hours_words(hole_h)}; until the frame had forgotten its gaps, "
        f"{100.0 * (before - after) / before:.0f} % of the readings were left out."
    ]


def residual_words(fit: OutputErrorFit) -> str:
    """Return how much the fit leaves over, and the offset."""
    return (
        f"Left over: {fit.residual_rms:.2f} %RH rms, each residual {fit.lag_one:.2f} like the one "
        f"before; offset of the inner sensor {_signed(fit.offset)} %RH."
    )


def agrees(free_pct: float, known_pct: float) -> bool:
    """Whether an offset fitted freely is the one known from days side by side."""
    return abs(free_pct - known_pct) < WORTH_SAYING_PCT


def known_offset_words(free_pct: float, known_pct: float, temp_c: float, rh_pct: float) -> str:
    """Return what the offset known from days side by side says beside the one fitted freely."""
    said = f"The offset was {_signed(known_pct)} %RH on the days side by side"
    if agrees(free_pct, known_pct):
        return f"{said}, and is kept; fitted freely it would be {_signed(free_pct)} %RH."
    per_k = rh_pct * (1.0 - saturation_pressure_pa(temp_c - 1.0) / saturation_pressure_pa(temp_c))
    rest = free_pct - known_pct
    return (
        f"{said}, and fitted freely it is {_signed(free_pct)} %RH: as if the print were about "
        f"{abs(rest) / float(per_k):.1f} K {'colder' if rest > 0 else 'warmer'} than the logger in "
        "the frame, or a sensor had drifted. The free one is used."
    )


def _signed(value: float) -> str:
    return f"{value:+.1f}".replace("-", "\N{MINUS SIGN}")
