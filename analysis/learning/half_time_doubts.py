"""Which demands on a record a fit of a half-time does not meet, and what a known offset says."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from analysis.chain.enclosure import saturation_pressure_pa
from analysis.learning.output_error import OutputErrorFit
from analysis.learning.paired_loggers import SAMPLES_A_HALF_TIME, Pair, gap_that_counts_h

SWING_OVER_NOISE = 10.0
FOLLOWING = 0.9
WORTH_SAYING_PCT = 1.0


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
