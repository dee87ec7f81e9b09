"""What was so at any hour of the last week, draw by draw.

The largest hourly probability of a week understates the chance that something was so at some hour
of it: different draws may have had their turn at different hours. Each draw therefore carries how
many hours ago it was last so, and the week's probability is the weight of the draws for which that
is less than a week. Hours whose numbers are refused count as hours in which nothing was shown.
"""

import numpy as np
import numpy.typing as npt

from analysis.chain.compiled import compiled, part
from analysis.results import Floats
from analysis.simulation.layout import Sum

WEEK_H = 168.0
SEEN, NEAR, GIVING = 1, 2, 4  # what a draw shows in an hour, as bits
Signs = npt.NDArray[np.uint8]


@part
def is_known(hour: Floats, widest_pct: float, most: float) -> bool:
    """Whether an hour's numbers are given, by the limits of `refusals.hourly_refusals`.

    Parameters
    ----------
    hour : ndarray, shape (8 or more,)
        Rows of `analysis.simulation.layout.SUMS`; compared in the precision in which they are kept.
    widest_pct, most : float
        `analysis.simulation.refusals.RefusalLimits`: widest band [%RH], largest probability.
    """
    band = np.float32(100.0) * np.float32(hour[Sum.BAND])
    doubted = max(max(hour[Sum.ABOVE_85], hour[Sum.CONDENSING]), hour[Sum.TEMPERATURE])
    return bool(band <= np.float32(widest_pct) and np.float32(doubted) <= np.float32(most))


@compiled
def carry_week(since_h: tuple[Floats, Floats, Floats], signs: Signs, known: bool) -> None:
    """Carry the hours since each draw last showed each sign through an hour, arrays of shape (n,).

    In hours that are not ``known`` no sign counts.
    """
    seen_h, near_h, giving_h = since_h
    shown = np.uint8(SEEN | NEAR | GIVING) if known else np.uint8(0)
    for j in range(len(signs)):
        sign = signs[j] & shown
        seen_h[j] = 0.0 if sign & np.uint8(SEEN) else seen_h[j] + 1.0
        near_h[j] = 0.0 if sign & np.uint8(NEAR) else near_h[j] + 1.0
        giving_h[j] = 0.0 if sign & np.uint8(GIVING) else giving_h[j] + 1.0


@compiled
def share_within_week(since_h: Floats, weight: Floats) -> float:
    """Return the weight of the draws that showed a sign less than a week ago."""
    share = 0.0
    for j in range(len(weight)):
        share += weight[j] if since_h[j] < WEEK_H else 0.0
    return share
