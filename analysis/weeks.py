"""What was so at any hour of the last week, draw by draw.

The largest hourly probability of a week understates the chance that something was so at some hour
of it: different draws may have had their turn at different hours. Each draw therefore carries how
many hours ago it was last so, and the week's probability is the weight of the draws for which that
is less than a week. Hours whose numbers are refused count as hours in which nothing was shown.
"""

import numpy as np
import numpy.typing as npt

from analysis.compiled import compiled
from analysis.results import Floats

WEEK_H = 168.0
SEEN, NEAR, GIVING = 1, 2, 4  # what a draw shows in an hour, as bits
Signs = npt.NDArray[np.uint8]


@compiled
def is_told(hour: Floats, widest_pct: float, most: float) -> bool:
    """Whether an hour's numbers are given, by the limits of `analysis.refusals.hourly_refusals`.

    Parameters
    ----------
    hour : ndarray, shape (8 or more,)
        Rows of `analysis.layout.SUMS`; compared in the precision in which they are kept.
    widest_pct, most : float
        `analysis.refusals.RefusalLimits`: widest band [%RH], largest probability.
    """
    band = np.float32(100.0) * np.float32(hour[4])
    doubted = max(max(hour[5], hour[6]), hour[7])
    return bool(band <= np.float32(widest_pct) and np.float32(doubted) <= np.float32(most))


@compiled
def hours_since(past: Floats, signs: Signs, told: bool) -> None:
    """Carry the hours since each draw last showed each sign: ``past`` has shape (3, n)."""
    shown = SEEN | NEAR | GIVING if told else 0
    for j in range(len(signs)):
        sign = signs[j] & shown
        past[0, j] = 0.0 if sign & SEEN else past[0, j] + 1.0
        past[1, j] = 0.0 if sign & NEAR else past[1, j] + 1.0
        past[2, j] = 0.0 if sign & GIVING else past[2, j] + 1.0


@compiled
def week_shares(past: Floats, weight: Floats, out: Floats) -> None:
    """Write the weight of the draws that showed each sign less than a week ago."""
    seen, near, giving = 0.0, 0.0, 0.0
    for j in range(len(weight)):
        seen += weight[j] if past[0, j] < WEEK_H else 0.0
        near += weight[j] if past[1, j] < WEEK_H else 0.0
        giving += weight[j] if past[2, j] < WEEK_H else 0.0
    out[0], out[1], out[2] = seen, near, giving
