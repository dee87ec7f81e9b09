"""Where events are looked for, and what counts as one: a sensor's record, a site's limits."""

from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cached_property

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.moist_air import vapour_pressure_pa
from analysis.air.sampling import measured_steps_s
from analysis.air.swings import rate_per_h
from analysis.air.time_weights import cells, gap_s, seconds
from analysis.parameters import parameter
from analysis.series import Flag

Floats = npt.NDArray[np.float64]
# Events are looked for in these too: a real spike may last one sample, or come faster than the air
# of a whole room can change.
SUDDEN = Flag.ONE_SAMPLE_SPIKE | Flag.IMPOSSIBLE_RATE
USELESS = Flag.OUT_OF_RANGE | Flag.STUCK | Flag.WARM_UP | Flag.DISAGREES


def _default(group: str, name: str) -> float:
    return field(default_factory=lambda: parameter("events", group, name).value)


@dataclass(frozen=True)
class EventSettings:
    """Limits of events. Each default, its range and its origin is a row of ``events.toml``."""

    spike_rh_pct: float = _default("spike", "rh_pct")
    spike_rise_h: float = _default("spike", "rise_h")
    spike_slow_rise_h: float = _default("spike", "slow_rise_h")
    spike_slow_record_h: float = _default("spike", "slow_record_h")
    spike_trailing_h: float = _default("spike", "trailing_h")
    spike_least_trailing_h: float = _default("spike", "least_trailing_h")
    spike_longest_h: float = _default("spike", "longest_h")
    spike_calm_rh_pct: float = _default("spike", "calm_rh_pct")
    spike_calm_share: float = _default("spike", "calm_share")
    spike_settle_min: float = _default("spike", "settle_min")
    unseen_longest_h: float = _default("unseen", "longest_h")
    unseen_least_h: float = _default("unseen", "least_h")
    merge_gap_h: float = _default("band", "merge_gap_h")
    hysteresis_rh_pct: float = _default("band", "hysteresis_rh_pct")
    hysteresis_temp_c: float = _default("band", "hysteresis_temp_c")
    least_readings: float = _default("band", "least_readings")
    damp_rh_pct: float = _default("damp", "rh_pct")
    damp_h: float = _default("damp", "hours")
    dry_rh_pct: float = _default("dry", "rh_pct")
    dry_h: float = _default("dry", "hours")
    lasting_merge_gap_h: float = _default("lasting", "merge_gap_h")
    swing_rh_pct: float = _default("swing", "rh_pct")
    swing_merge_gap_h: float = _default("swing", "merge_gap_h")
    swing_least_pct: float = _default("swing", "least_pct")
    cycling_rh_pct: float = _default("cycling", "rh_pct")
    cycling_likeness: float = _default("cycling", "likeness")
    cycling_days: float = _default("cycling", "days")
    cycling_least_hours: float = _default("cycling", "least_hours")
    cause_share: float = _default("cause", "share")
    cause_outdoor_margin: float = _default("cause", "outdoor_margin")
    confirm_share: float = _default("confirm", "share")


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


def instant(at_s: float) -> datetime:
    """Return a time from seconds since 1970, to the second."""
    return datetime.fromtimestamp(round(at_s), tz=UTC)


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
