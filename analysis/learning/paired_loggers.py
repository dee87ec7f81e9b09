"""Two records on one time base: the room's air, and a logger inside a frame of that room."""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from analysis.chain.enclosure import band_after_gap_pct, saturation_pressure_pa
from analysis.learning.output_error import require_samples
from analysis.results import Floats
from analysis.series import require_readings, sample_interval_s, usable

SAMPLES_A_HALF_TIME = 5.0
USUAL_STEPS = 2.5
LEAST_KEPT = 0.5  # of the readings, below which what follows a gap is used all the same


@dataclass(frozen=True)
class Pair:
    """Room and frame at the times when the room and the frame's temperature were known.

    ``inside_pct`` is NaN where the inner logger's humidity is not used.
    """

    time_utc: pd.DatetimeIndex
    hours: Floats
    room_c: Floats
    room_ratio: Floats
    room_phi: Floats
    temp_c: Floats
    inside_pct: Floats

    @property
    def interval_h(self) -> float:
        """Median step between the times [h]."""
        return float(np.median(np.diff(self.hours)))

    @property
    def record_h(self) -> float:
        """From the first time to the last [h]."""
        return float(self.hours[-1] - self.hours[0])


def paired(room: pd.DataFrame, inside: pd.DataFrame) -> Pair:
    """Return the two records on the inner logger's times, the room's nearest reading to each."""
    require_readings(room, read="room logger")
    require_readings(inside, read="logger in the frame")
    slack = pd.Timedelta(seconds=0.6 * _coarser_s(room, inside))
    air, frame = _known(room).dropna(), _known(inside)
    both = pd.merge_asof(
        frame.dropna(subset=["temp_c"]),
        air.add_prefix("room_"),
        left_index=True,
        right_index=True,
        direction="nearest",
        tolerance=slack,
    ).dropna(subset=["room_rh_pct"])
    require_samples(len(both))
    times = pd.DatetimeIndex(both.index)
    hours = times.as_unit("ms").asi8 / 3.6e6
    room_c = both["room_temp_c"].to_numpy(np.float64)
    return Pair(
        time_utc=times,
        hours=hours - hours[0],
        room_c=room_c,
        room_ratio=saturation_pressure_pa(room_c) / saturation_pressure_pa(20.0),
        room_phi=both["room_rh_pct"].to_numpy(np.float64) / 100.0,
        temp_c=both["temp_c"].to_numpy(np.float64),
        inside_pct=both["rh_pct"].to_numpy(np.float64),
    )


def gap_that_counts_h(half_time_h: float, interval_h: float) -> float:
    """Return how long a gap may be before a straight line through it is not good enough [h]."""
    return max(half_time_h / SAMPLES_A_HALF_TIME, USUAL_STEPS * interval_h)


def without_wakes(pair: Pair, half_time_h: float, noise_pct: float) -> Pair:
    """Return the pair without what follows its gaps, until the frame has forgotten them.

    After a gap of g the humidity in the frame may be off by W (1 - 2^(-g/t)), W being the spread
    of the room's humidity; it is below the noise again t log2 of that over the noise later
    (Enclosure notes, section 10.5). Where too little would be left, the pair stays as it is.
    """
    steps = np.diff(pair.hours)
    low, high = np.quantile(100.0 * pair.room_phi, [0.01, 0.99])
    kept = pair.inside_pct.copy()
    for at in np.flatnonzero(steps > gap_that_counts_h(half_time_h, pair.interval_h)):
        off = band_after_gap_pct(float(high - low), float(steps[at]), 0.0, half_time_h)
        wake = half_time_h * np.log2(max(off / noise_pct, 1.0))
        since = pair.hours - pair.hours[at + 1]
        kept[(since >= 0.0) & (since < wake)] = np.nan
    many = int(np.isfinite(kept).sum())
    enough = many >= LEAST_KEPT * np.isfinite(pair.inside_pct).sum()
    if not enough or many * pair.interval_h < half_time_h:
        return pair
    return replace(pair, inside_pct=kept)


def _known(readings: pd.DataFrame) -> pd.DataFrame:
    """Return what may be used, on times of one resolution, so that two records can be joined."""
    found = pd.DataFrame({name: usable(readings, name) for name in ("temp_c", "rh_pct")})
    return found.set_index(pd.DatetimeIndex(found.index).as_unit("ms"))


def _coarser_s(room: pd.DataFrame, inside: pd.DataFrame) -> float:
    intervals = [sample_interval_s(pd.DatetimeIndex(f.index)) for f in (room, inside)]
    return float(np.nanmax([*intervals, 1.0]))
