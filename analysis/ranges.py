"""Weighted 5, 50 and 95 % points of the draws, for the loop."""

import numpy as np
import numpy.typing as npt

from analysis.compiled import compiled

# A hair below, so that the rounding of equal weights does not tip a level to the next draw.
LEVELS = (0.05 - 1e-6, 0.50 - 1e-6, 0.95 - 1e-6)
BISECTIONS = 11


@compiled
def weighted_ranges(
    x: npt.NDArray[np.float32], weight: npt.NDArray[np.float32], out: npt.NDArray[np.float32]
) -> None:
    """Write the 5, 50 and 95 % points: the least values whose share of weight reaches them.

    By bisection of all three at once, resolved to the span of the values over 2^10.
    """
    least, most = x[0], x[0]
    for j in range(len(x)):
        least = min(least, x[j])
        most = max(most, x[j])
    low_0, low_1, low_2 = least, least, least
    high_0, high_1, high_2 = most, most, most
    half = np.float32(0.5)
    for turn in range(BISECTIONS):
        at_0, at_1, at_2 = half * (low_0 + high_0), half * (low_1 + high_1), half * (low_2 + high_2)
        if turn == 0:
            at_0, at_1, at_2 = least, least, least
        share_0, share_1, share_2 = np.float32(0.0), np.float32(0.0), np.float32(0.0)
        for j in range(len(x)):
            share_0 += weight[j] if x[j] <= at_0 else np.float32(0.0)
            share_1 += weight[j] if x[j] <= at_1 else np.float32(0.0)
            share_2 += weight[j] if x[j] <= at_2 else np.float32(0.0)
        low_0, high_0 = (low_0, at_0) if share_0 >= LEVELS[0] else (at_0, high_0)
        low_1, high_1 = (low_1, at_1) if share_1 >= LEVELS[1] else (at_1, high_1)
        low_2, high_2 = (low_2, at_2) if share_2 >= LEVELS[2] else (at_2, high_2)
    out[0], out[1], out[2] = high_0, high_1, high_2
