"""Rainflow counts: how many swings of which size a record holds, small nested in large."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
import rainflow

Floats = npt.NDArray[np.float64]
SMALLEST = 1.0
CLASS_EDGES = (1.0, 5.0, 10.0, 15.0, 20.0, 30.0, 50.0, 100.0)


@dataclass(frozen=True)
class CycleClass:
    """Number of cycles (a half cycle counts one half) with a range in ``[low, high)``."""

    low: float
    high: float
    cycles: float


def cycle_counts(values: pd.Series, smallest: float = SMALLEST) -> list[tuple[float, float]]:
    """Return (range, number of cycles), by range (ASTM-E1049, section 5.4.4).

    Parameters
    ----------
    values : pandas.Series, shape (n,)
        In order of time; missing readings are left out, so that a swing across a gap counts.
    smallest : float
        Swings with a smaller range are not counted; the larger ones around them are not changed.
    """
    points = turning_points(values.dropna().to_numpy(dtype=np.float64))
    points = without_small_swings(points, smallest)
    if len(points) == 2:  # the package sees nothing where nothing turns
        return [(abs(float(points[1] - points[0])), 0.5)]
    return [(float(size), float(number)) for size, number in rainflow.count_cycles(points)]


def cycle_classes(
    values: pd.Series, edges: tuple[float, ...] = CLASS_EDGES
) -> tuple[CycleClass, ...]:
    """Return the counts in classes of range; what lies below the first edge is left out."""
    counts = cycle_counts(values, edges[0])
    ranges = np.array([size for size, _ in counts])
    cycles = np.array([count for _, count in counts])
    gathered, _ = np.histogram(ranges, bins=np.array(edges), weights=cycles)
    classes = zip(edges[:-1], edges[1:], gathered, strict=True)
    return tuple(CycleClass(low, high, float(number)) for low, high, number in classes)


def turning_points(x: Floats) -> Floats:
    """Return the first value, every reversal, and the last value.

    Examples
    --------
    >>> turning_points(np.array([0.0, 1.0, 1.0, 2.0, 1.0, 3.0]))
    array([0., 2., 1., 3.])
    """
    x = x[np.append(True, np.diff(x) != 0.0)] if len(x) else x
    if len(x) < 3:
        return x
    up = np.diff(x) > 0.0
    return np.asarray(x[np.concatenate([[True], up[1:] != up[:-1], [True]])])


def without_small_swings(points: Floats, smallest: float) -> Floats:
    """Return turning points without the nested swings smaller than ``smallest``.

    A small swing between two larger ones is a closed cycle of its own: taking it out leaves the
    counting of all others as it was. Many are taken out at once, until none is left.
    """
    while len(points) > 3:
        swing = np.abs(np.diff(points))
        inner = swing[1:-1]
        closed = (inner < smallest) & (inner <= swing[:-2]) & (inner <= swing[2:])
        # Of two neighbouring closed swings only the first is taken in one pass.
        closed &= _rank_in_run(closed) % 2 == 1
        if not closed.any():
            return points
        keep = np.ones(len(points), dtype=bool)
        at = np.flatnonzero(closed) + 1
        keep[at] = False
        keep[at + 1] = False
        points = points[keep]
    return points


def _rank_in_run(marked: npt.NDArray[np.bool_]) -> npt.NDArray[np.int64]:
    """Return 1 for the first mark of each run of marks, 2 for the second…, 0 where unmarked."""
    place = np.arange(1, len(marked) + 1)
    return np.asarray(place - np.maximum.accumulate(np.where(marked, 0, place)))
