"""From columns to the readings of each sensor: sorted, unique, flagged, nothing dropped unsaid."""

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.series import Flag, require_readings
from service.ingest.columns import READINGS
from service.ingest.plausibility import Judged
from service.ingest.quantities import POSSIBLE
from service.ingest.table import Floats
from service.ingest.times.timebase import Micros

Rows = npt.NDArray[np.intp]


@dataclass
class Sensor:
    """One sensor's readings.

    ``frame`` has the shape of `analysis.series.readings_frame`, ``extras`` the other quantities
    on the same index. ``rows`` are the file's rows of the readings, ``asked`` the number of rows
    with a readable time. ``repeated`` are the file's rows that repeat a time with the same values,
    ``conflicting`` those that give a time other values; both are kept apart by their row.
    ``joined`` are rows that give a time a quantity that its first row left blank.
    """

    frame: pd.DataFrame
    extras: pd.DataFrame
    rows: Rows
    repeated: Rows = field(default_factory=lambda: np.zeros(0, np.intp))
    conflicting: Rows = field(default_factory=lambda: np.zeros(0, np.intp))
    joined: Rows = field(default_factory=lambda: np.zeros(0, np.intp))
    asked: int = 0


def newest_first(clock_us: Micros) -> bool:
    """Return whether times were written from the newest to the oldest.

    Examples
    --------
    >>> newest_first(np.array([3, 2, 2, 1]))
    True
    """
    later, earlier = clock_us[1:], clock_us[:-1]
    return bool(np.count_nonzero(later < earlier) > np.count_nonzero(later > earlier))


def sensor_of(
    utc_us: Micros, flags: npt.NDArray[np.int32], values: Mapping[str, Floats], rows: Rows
) -> Sensor:
    """Return the readings of one sensor.

    Parameters
    ----------
    utc_us : numpy.ndarray of int64, shape (n,)
        Instants, in the order to prefer where a time is given twice.
    flags : numpy.ndarray of int32, shape (n,)
        What is already doubted of each row.
    values : mapping of str to numpy.ndarray, shape (n,)
        Quantities in the units of their names.
    rows : numpy.ndarray of int, shape (n,)
        The file's row of each.

    Returns
    -------
    Sensor
        Rows without any value are left out. Of rows with one time the first is kept and flagged.
    """
    filled = np.zeros(len(utc_us), np.bool_)
    for column in values.values():
        filled |= np.isfinite(column)
        if filled.all():
            break
    else:
        utc_us, flags, rows = utc_us[filled], flags[filled], rows[filled]
        values = {name: column[filled] for name, column in values.items()}
    if np.any(utc_us[1:] <= utc_us[:-1]):
        return _sorted(utc_us, flags, dict(values), rows)
    return _framed(utc_us, flags, values, rows)


def _sorted(
    utc_us: Micros, flags: npt.NDArray[np.int32], values: dict[str, Floats], rows: Rows
) -> Sensor:
    if np.any(utc_us[1:] < utc_us[:-1]):
        order = np.argsort(utc_us, kind="stable")
        utc_us, flags, rows = utc_us[order], flags[order], rows[order]
        values = {name: column[order] for name, column in values.items()}
    again = 1 + np.flatnonzero(utc_us[1:] == utc_us[:-1])
    starts = np.flatnonzero(np.append(True, utc_us[1:] != utc_us[:-1]))
    kept = np.searchsorted(starts, again, side="right") - 1
    firsts = {name: _first_known(column, starts) for name, column in values.items()}
    differs, adds = np.zeros(len(again), np.bool_), np.zeros(len(again), np.bool_)
    for name, column in values.items():
        here, first = column[again], firsts[name][1][kept]
        differs |= np.isfinite(here) & (here != firsts[name][0][kept])
        adds |= np.isfinite(here) & (first == again)
    flags = flags[starts].copy()
    flags[kept[~differs & ~adds]] |= int(Flag.DUPLICATE)
    flags[kept[differs]] |= int(Flag.CONFLICT)
    sensor = _framed(utc_us[starts], flags, {n: f[0] for n, f in firsts.items()}, rows[starts])
    sensor.repeated = rows[again[~differs & ~adds]]
    sensor.conflicting, sensor.joined = rows[again[differs]], rows[again[adds & ~differs]]
    return sensor


def _first_known(column: Floats, starts: Rows) -> tuple[Floats, Rows]:
    """Return the first number of each group of rows, NaN where there is none, and its row."""
    places = np.where(np.isfinite(column), np.arange(len(column)), len(column))
    first = np.minimum.reduceat(places, starts)
    return np.append(column, np.nan)[first], first


def _framed(
    utc_us: Micros, flags: npt.NDArray[np.int32], values: Mapping[str, Floats], rows: Rows
) -> Sensor:
    flags = flags.copy()
    for name in READINGS:
        if name in values:
            low, high = POSSIBLE[name]
            outside = np.flatnonzero((values[name] < low) | (values[name] > high))
            flags[outside] |= int(Flag.OUT_OF_RANGE)
    index = pd.DatetimeIndex(utc_us, dtype="datetime64[us, UTC]", name="time_utc")
    columns: dict[str, Any] = {
        name: values[name] if name in values else np.full(len(index), np.nan) for name in READINGS
    }
    frame = pd.DataFrame(columns | {"flags": flags}, index=index, copy=False)
    require_readings(frame, read="readings")
    others = {name: column for name, column in values.items() if name not in READINGS}
    return Sensor(frame, pd.DataFrame(others, index=frame.index), rows)


def split_rows(codes: npt.NDArray[np.int64], count: int) -> list[Rows]:
    """Return the rows of each sensor of a long file, in file order."""
    order = np.argsort(codes, kind="stable")
    bounds = np.searchsorted(codes[order], np.arange(count + 1))
    return [order[a:b] for a, b in itertools.pairwise(bounds)]


def converted(
    judged: Mapping[str, Judged], numbers: Mapping[int, Floats], rows: Rows | None
) -> dict[str, Floats]:
    """Return one sensor's quantities in the units of their names, for some rows (None: all)."""
    columns = {quantity: numbers[settled.column.index] for quantity, settled in judged.items()}
    return {
        quantity: judged[quantity].values(column if rows is None else column[rows])
        for quantity, column in columns.items()
    }
