"""Weighted 5, 50 and 95 % points of the draws, for the loop.

Most of the time of a week's update would go here. So values and weights are counted in whole
numbers short enough for the processor to handle many side by side: a range is resolved to half of
1/1023 of the span of the draws and half of 1/16,384 of the unit (%RH, N/m, mrad, mm), whichever is
more; a draw's weight to 1/131,000 of the whole.
"""

import numpy as np
import numpy.typing as npt

from analysis.chain.compiled import compiled
from analysis.results import Floats

# A hair below, so that the rounding of equal weights does not tip a level to the next draw.
LEVELS = (0.05 - 1e-6, 0.50 - 1e-6, 0.95 - 1e-6)
PER_UNIT = 16384.0
CELLS, TURNS = 1023, 10  # a span is cut in 2^10 - 1
LANES = 128  # draws that are handled side by side
MOST_COUNTED = 65535.0
Counts = npt.NDArray[np.int32]
Shares = npt.NDArray[np.uint16]
Three = tuple[np.uint16, np.uint16, np.uint16]


@compiled
def counted(value: float) -> int:
    """Return a value in whole 1/16,384ths of its unit."""
    return np.int32(np.floor(PER_UNIT * value + 0.5))  # type: ignore[return-value]


@compiled
def counted_weights(weight: Floats) -> Shares:
    """Return weights (sum 1) in whole numbers of sum 65,535 at most, zeros up to full lanes."""
    n = len(weight)
    out = np.zeros((n + LANES - 1) // LANES * LANES, dtype=np.uint16)
    for j in range(n):
        out[j] = np.uint16(weight[j] * (MOST_COUNTED - 0.5 * n) + 0.5)
    return out


@compiled
def shares_of_levels(shares: Shares) -> Shares:
    """Return the counted weight at which each level is reached."""
    total = 0
    for share in shares:
        total += share
    out = np.empty(len(LEVELS), dtype=np.uint16)
    for i in range(len(LEVELS)):
        out[i] = np.uint16(np.ceil(LEVELS[i] * total))
    return out


@compiled
def share_below(cells: Shares, shares: Shares, at: Three) -> Three:
    """Return the counted weight of the draws in cells below each of three."""
    none = np.uint16(0)
    low, mid, high = none, none, none
    for j in range(len(cells)):
        cell, share = cells[j], shares[j]
        low = np.uint16(low + (share if cell < at[0] else none))
        mid = np.uint16(mid + (share if cell < at[1] else none))
        high = np.uint16(high + (share if cell < at[2] else none))
    return low, mid, high


@compiled
def weighted_ranges(
    x: Counts, shares: Shares, levels: Shares, cells: Shares, out: npt.NDArray[np.float32]
) -> None:
    """Write the 5, 50 and 95 % points: the least values whose share of weight reaches them.

    Parameters
    ----------
    x : ndarray of int32, shape (n,)
        Values as `counted`.
    shares, levels : ndarray of uint16
        As `counted_weights` and `shares_of_levels`.
    cells : ndarray of uint16, shape of ``shares``
        Room to work in.
    out : ndarray of float32, shape (3,)
        Written, in the unit of the values.
    """
    least, most = x[0], x[0]
    for j in range(len(x)):
        least, most = min(least, x[j]), max(most, x[j])
    span = most - least
    out[:] = np.float32(least / PER_UNIT)
    if span == 0:
        return
    per, half = np.float32(CELLS / span), np.float32(0.5)
    for j in range(len(x)):
        cells[j] = np.uint16(np.int32(np.float32(x[j] - least) * per + half))
    low, mid, high = np.uint16(0), np.uint16(0), np.uint16(0)
    for turn in range(1, TURNS + 1):
        half_way = np.uint16(1 << (TURNS - turn))
        at = (np.uint16(low + half_way), np.uint16(mid + half_way), np.uint16(high + half_way))
        below = share_below(cells, shares, at)
        low = at[0] if below[0] < levels[0] else low
        mid = at[1] if below[1] < levels[1] else mid
        high = at[2] if below[2] < levels[2] else high
    cell = span / (CELLS * PER_UNIT)
    out[0] += np.float32(low * cell)
    out[1] += np.float32(mid * cell)
    out[2] += np.float32(high * cell)
