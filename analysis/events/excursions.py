"""Runs outside a limit: merged over short returns, short ones left out, broken by silence."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Marks = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Run:
    """First and last reading of a run, as places in the record."""

    first: int
    last: int


@dataclass(frozen=True)
class RunRule:
    """When runs are one, and when they are too short to count."""

    merge_s: float
    break_s: float
    least_readings: int = 2
    least_s: float = 0.0


def runs(at_s: Floats, beyond: Marks, near: Marks, rule: RunRule) -> list[Run]:
    """Return the runs of readings beyond a limit.

    Parameters
    ----------
    at_s : numpy.ndarray, shape (n,)
        Times [s].
    beyond : numpy.ndarray of bool, shape (n,)
        Readings beyond the limit.
    near : numpy.ndarray of bool, shape (n,)
        Readings beyond the limit less its hysteresis: between two runs they do not part them.
    rule : RunRule
        Runs closer than ``merge_s`` are one, unless ``break_s`` passed without any reading.

    Returns
    -------
    list of Run
        Each begins and ends with a reading beyond the limit.
    """
    out = np.flatnonzero(beyond)
    if len(out) == 0:
        return []
    silent = np.append(0, np.cumsum(np.diff(at_s) > rule.break_s))
    returned = np.cumsum(~near & ~beyond)
    apart = np.diff(at_s[out]) > rule.merge_s
    parted = (apart & (np.diff(returned[out]) > 0)) | (np.diff(silent[out]) > 0)
    starts = out[np.append(True, parted)]
    ends = out[np.append(parted, True)]
    counts = np.searchsorted(out, ends) - np.searchsorted(out, starts) + 1
    long = (counts >= rule.least_readings) & (at_s[ends] - at_s[starts] >= rule.least_s)
    return [Run(int(a), int(b)) for a, b in zip(starts[long], ends[long], strict=True)]
