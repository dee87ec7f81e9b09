"""What the times of some rows do, sensor by sensor: read, rising, regular, once each."""

import math

import numpy as np
import numpy.typing as npt

from service.ingest.evidence import limit
from service.ingest.sensorcolumns import Codes
from service.ingest.times.timebase import DAY_US, SECOND_US, Micros
from service.ingest.times.timestamps import Times

_EARLIEST_US, _LATEST_US = 5_479 * DAY_US, 47_482 * DAY_US  # 1985 and 2100


def measured(
    times: Times, filled: npt.NDArray[np.bool_], codes: Codes | None, keys: Micros
) -> dict[str, float]:
    """Return what the times of some rows do, sensor by sensor, by the names of the measures.

    Parameters
    ----------
    times : Times
        The rows' times, shape (n,).
    filled : numpy.ndarray of bool, shape (n,)
        Which rows hold anything.
    codes : numpy.ndarray of int or None, shape (n,)
        Each row's sensor.
    keys : numpy.ndarray of int, shape (n,)
        Equal for lines that say the very same.
    """
    read = times.read & filled
    found = {"readable": float(read.sum() / max(1, filled.sum()))}
    clock_us = times.clock_us - (times.offset_us if times.has_offset else 0)
    clock_us, keys = clock_us[read], keys[read]
    groups = np.zeros(len(clock_us), np.int64) if codes is None else codes[read]
    if len(clock_us) < limit("accept", "rows"):
        return found
    inside = (clock_us >= _EARLIEST_US) & (clock_us < _LATEST_US)
    found["dated"] = float(inside.mean())
    order = np.argsort(groups, kind="stable")
    clock_us, groups, keys = clock_us[order], groups[order], keys[order]
    found["single"] = _single(clock_us, _stretches(clock_us, groups), keys)
    steps = np.diff(clock_us)[groups[1:] == groups[:-1]]
    days = np.unique(np.stack([groups, clock_us // DAY_US]), axis=1).shape[1]
    found["within"] = float((len(clock_us) - days) / len(clock_us))
    same = groups[1:] == groups[:-1]
    nights = (np.diff(clock_us // DAY_US) != 0)[same]
    return found | _steps(steps) | _wraps(steps, nights)


def _stretches(clock_us: Micros, groups: Codes) -> Codes:
    """Return the groups, parted where the times of one turn back a few times.

    Times that come again behind such a place are a clock that was set, or two exports: whether
    they are is judged over the whole file.
    """
    steps = np.diff(clock_us)
    steps[groups[1:] != groups[:-1]] = 0
    forward = np.count_nonzero(steps > 0) >= np.count_nonzero(steps < 0)
    turns = steps < 0 if forward else steps > 0
    if np.count_nonzero(turns) > limit("clock", "most"):
        return groups
    part = np.cumsum(np.append(False, turns)).astype(np.int64)
    return np.asarray(groups + (int(groups.max(initial=0)) + 1) * part, np.int64)


def _wraps(steps: Micros, nights: npt.NDArray[np.bool_]) -> dict[str, float]:
    """Return the share of midnights across which times go on at the usual step."""
    usual = np.median(np.abs(steps[steps != 0])) if np.any(steps) else 0
    if np.count_nonzero(nights) < 2 or usual > DAY_US / 4:
        return {}
    return {"wraps": float(np.mean(np.abs(np.abs(steps[nights]) - usual) <= 0.5 * usual))}


def _single(clock_us: Micros, groups: Codes, keys: Micros) -> float:
    """Return the share of different lines whose time no other line of the sensor has."""
    lines = np.unique(np.stack([groups, clock_us, keys]), axis=1)
    times = np.unique(lines[:2], axis=1)
    return float(times.shape[1] / lines.shape[1])


def _steps(steps: Micros) -> dict[str, float]:
    """Return how far steps run one way and repeat."""
    forward, back = np.count_nonzero(steps > 0), np.count_nonzero(steps < 0)
    if forward + back == 0:
        return {"rising": math.nan if not len(steps) else 0.0}
    steps = steps if forward >= back else -steps
    running = steps[steps > 0]
    found = {"rising": float(max(forward, back) / (forward + back))}
    if len(running) >= limit("accept", "steps"):
        usual = np.median(running)
        near = np.abs(running - usual) <= max(0.02 * usual, 1.5 * SECOND_US)
        found["regular"] = float(near.mean())
    return found
