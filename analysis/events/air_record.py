"""One sensor's record prepared for looking at events: arrays, the time each reading stands for."""

from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.moist_air import vapour_pressure_pa
from analysis.air.sampling import measured_steps_s
from analysis.air.swings import rate_per_h
from analysis.air.time_weights import cells, gap_s, seconds
from analysis.series import Flag

Floats = npt.NDArray[np.float64]

# Events are looked for in these too: a real spike may last one sample, or come faster than the air
# of a whole room can change.
SUDDEN = Flag.ONE_SAMPLE_SPIKE | Flag.IMPOSSIBLE_RATE
USELESS = Flag.OUT_OF_RANGE | Flag.STUCK | Flag.WARM_UP | Flag.DISAGREES


@dataclass(frozen=True)
class AirRecord:
    """Readings of humidity that can be used, shape (n,) each, in order of time.

    Parameters
    ----------
    index : pandas.DatetimeIndex
        Times, UTC.
    at_s : numpy.ndarray
        The same as seconds since 1970.
    rh_pct, temp_c : numpy.ndarray
        Humidity, never NaN; temperature, NaN where it is missing.
    flags : numpy.ndarray of int
        Flags of these readings.
    """

    index: pd.DatetimeIndex
    at_s: Floats
    rh_pct: Floats
    temp_c: Floats
    flags: npt.NDArray[np.int32]

    def __len__(self) -> int:
        """Return the number of readings."""
        return len(self.at_s)

    @cached_property
    def interval_s(self) -> float:
        """Median step [s]."""
        return float(np.median(np.diff(self.at_s))) if len(self) > 1 else 0.0

    @cached_property
    def gap_s(self) -> float:
        """Silence across which nothing is read [s]."""
        return gap_s(self.interval_s)

    @cached_property
    def vapour_pa(self) -> Floats:
        """Vapour pressure [Pa]."""
        return vapour_pressure_pa(self.temp_c, self.rh_pct)

    @cached_property
    def width_s(self) -> Floats:
        """Time each reading stands for [s]."""
        return cells(self.index).width_s

    @cached_property
    def rate_rh_per_h(self) -> Floats:
        """Change of smoothed humidity within the last hour [%RH/h]."""
        return rate_per_h(self.humidity).to_numpy()

    @cached_property
    def measured_s(self) -> Floats:
        """Measured time from the first reading to each [s]; gaps are left out."""
        return np.concatenate([[0.0], np.cumsum(measured_steps_s(self.index))])

    @property
    def humidity(self) -> pd.Series:
        """Humidity as a series."""
        return pd.Series(self.rh_pct, index=self.index)

    def when(self, place: int) -> datetime:
        """Return the time of a reading."""
        moment: datetime = self.index[place].to_pydatetime(warn=False)
        return moment

    def place(self, at_s: float) -> int:
        """Return the place of the first reading at or after a time [s since 1970]."""
        return int(np.searchsorted(self.at_s, at_s - 1e-6))

    def coverage_pct(self, first: int, last: int) -> float:
        """Return the share of the time between two readings that was measured [%]."""
        span = self.at_s[last] - self.at_s[first]
        if span <= 0:
            return 100.0
        return float(100.0 * (self.measured_s[last] - self.measured_s[first]) / span)

    def without(self, left_out: npt.NDArray[np.bool_]) -> "AirRecord":
        """Return the record without some readings."""
        keep = ~left_out
        return AirRecord(
            self.index[keep],
            self.at_s[keep],
            self.rh_pct[keep],
            self.temp_c[keep],
            self.flags[keep],
        )


def air_record(frame: pd.DataFrame, useless: Flag = USELESS) -> AirRecord:
    """Return the readings of humidity that carry none of the flags ``useless``."""
    flags = frame["flags"].to_numpy()
    keep = frame["rh_pct"].notna().to_numpy() & ((flags & int(useless)) == 0)
    index = pd.DatetimeIndex(frame.index[keep])
    return AirRecord(
        index=index,
        at_s=seconds(index),
        rh_pct=frame["rh_pct"].to_numpy()[keep],
        temp_c=frame["temp_c"].to_numpy()[keep],
        flags=flags[keep].astype("int32"),
    )
