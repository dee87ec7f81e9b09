"""Means over windows that run along a record, by time, with one pass over it."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.sampling import steps_s
from analysis.air.time_weights import gap_s, seconds

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class RunningIntegral:
    """A record as straight lines between its readings, with its integral from the beginning.

    Times are seconds since 1970. Between readings further apart than
    `analysis.air.time_weights.gap_s` nothing is known and nothing is counted.
    """

    at_s: Floats
    value: Floats
    joined: npt.NDArray[np.bool_]
    area: Floats
    covered: Floats
    offset: float

    def means(self, from_s: Floats, to_s: Floats, least_share: float) -> Floats:
        """Return the means over windows; NaN where less than a share of one was measured."""
        if len(self.at_s) < 2:
            return np.full(len(from_s), np.nan)
        (first, first_s), (last, last_s) = self._until(from_s), self._until(to_s)
        covered = last_s - first_s
        enough = covered >= least_share * (to_s - from_s) - 1e-6
        with np.errstate(divide="ignore", invalid="ignore"):
            mean = (last - first) / covered + self.offset
        return np.where(enough & (covered > 0), mean, np.nan)

    def values(self, when_s: Floats) -> Floats:
        """Return the record at times between its readings; NaN outside it and within gaps."""
        if len(self.at_s) < 2:
            return np.full(len(when_s), np.nan)
        segment = self._segment(when_s)
        part = when_s - self.at_s[segment]
        inside = (part >= -1e-6) & (when_s <= self.at_s[-1] + 1e-6)
        exact = (np.abs(part) < 1e-6) | (np.abs(when_s - self.at_s[segment + 1]) < 1e-6)
        known = inside & (self.joined[segment] | exact)
        return np.where(known, np.interp(when_s, self.at_s, self.value) + self.offset, np.nan)

    def _segment(self, when_s: Floats) -> npt.NDArray[np.intp]:
        found = np.searchsorted(self.at_s, when_s, side="right") - 1
        return np.clip(found, 0, len(self.at_s) - 2)

    def _until(self, when_s: Floats) -> tuple[Floats, Floats]:
        clipped = np.clip(when_s, self.at_s[0], self.at_s[-1])
        segment = self._segment(clipped)
        part = np.where(self.joined[segment], clipped - self.at_s[segment], 0.0)
        step = self.at_s[segment + 1] - self.at_s[segment]
        slope = (self.value[segment + 1] - self.value[segment]) / step
        area = self.area[segment] + part * (self.value[segment] + slope * part / 2.0)
        return area, self.covered[segment] + part


def running_integral(values: pd.Series) -> RunningIntegral:
    """Return the running integral of a record; missing readings are left out.

    Parameters
    ----------
    values : pandas.Series, shape (n,)
        Indexed by sorted, unique times.
    """
    valid = values.dropna()
    at_s, x = seconds(pd.DatetimeIndex(valid.index)), valid.to_numpy(dtype=np.float64)
    steps = steps_s(valid.index)
    offset = float(x.mean()) if len(x) else 0.0
    x = x - offset
    joined = steps <= (gap_s(float(np.median(steps))) if len(steps) else 0.0)
    widths = np.where(joined, steps, 0.0)
    areas = widths * (x[1:] + x[:-1]) / 2.0
    return RunningIntegral(
        at_s=at_s,
        value=x,
        joined=np.asarray(joined, dtype=bool),
        area=np.concatenate([[0.0], np.cumsum(areas)]),
        covered=np.concatenate([[0.0], np.cumsum(widths)]),
        offset=offset,
    )
