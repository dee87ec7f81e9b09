"""Where a label may stand so that it covers nothing, and labels that keep clear of each other."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


def place_along(
    edge: tuple[Floats, Floats],
    line: tuple[Floats, Floats],
    *,
    width: float,
    above: float,
    limits: tuple[float, float],
) -> tuple[float, float] | None:
    """Return where a label lies just above an edge and as far as may be from a line.

    Parameters
    ----------
    edge, line : (x, y)
        What is named, and what must not be covered.
    width : float
        Width of the label, in units of x.
    above : float
        Distance of the label's middle from the edge, in units of y.
    limits : (float, float)
        Smallest and largest x.

    Returns
    -------
    (float, float) or None
        Left end and middle height of the label; None where nothing fits.

    Examples
    --------
    >>> x = np.linspace(0, 10, 101)
    >>> place_along((x, 0 * x), (x, np.where(x < 5, 1.0, 9.0)), width=3, above=1, limits=(0, 10))
    (5.0, 1.0)
    """
    best: tuple[float, float] | None = None
    furthest = 0.0
    for left in np.arange(limits[0], limits[1] - width, max(width / 6, 0.25)):
        over = np.interp([left, left + width / 2, left + width], *edge)
        height = float(np.nanmax(np.append(over, _within(edge, left, width)))) + above
        distance = distance_along(line, (float(left), height), width)
        if distance > furthest + 1e-9:
            best, furthest = (float(left), height), distance
    return best


def distance_along(line: tuple[Floats, Floats], spot: tuple[float, float], width: float) -> float:
    """Return how far a label keeps from a line in height; 0 where the line is unknown."""
    beside = _within(line, spot[0], width)
    return float(np.abs(beside - spot[1]).min()) if beside.size else 0.0


def _within(line: tuple[Floats, Floats], left: float, width: float) -> Floats:
    x, y = line
    inside: Floats = y[(x >= left) & (x <= left + width)]
    return inside[np.isfinite(inside)]


def spread(wanted: Sequence[float], least: float) -> list[float]:
    """Return heights moved apart by at least ``least``, as near to the wanted ones as may be.

    Examples
    --------
    >>> spread([1.0, 1.0, 5.0], 1.0)
    [0.5, 1.5, 5.0]
    """
    order = np.argsort(wanted, kind="stable")
    groups: list[list[float]] = []  # each: sum of wanted offsets, count
    for place, index in enumerate(order):
        groups.append([wanted[index] - place * least, 1.0])
        while len(groups) > 1 and _mean(groups[-2]) > _mean(groups[-1]):
            total, many = groups.pop()
            groups[-1][0] += total
            groups[-1][1] += many
    flat = [_mean(group) for group in groups for _ in range(int(group[1]))]
    moved = [0.0] * len(wanted)
    for place, index in enumerate(order):
        moved[index] = flat[place] + place * least
    return moved


def _mean(group: Sequence[float]) -> float:
    return group[0] / group[1]
