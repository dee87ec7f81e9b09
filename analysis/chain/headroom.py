"""Headroom: how far the humidity may rise before slack, or fall before the hinges are at capacity.

Both are changes of the print's own humidity, slow enough for the panel to follow. Two more are
`headroom_up` with other expansions: in a spike the print alone moves, so the same reserve is spent
over its own expansion (*quick* spare); and where a panel moves more than the print, a fall slackens
it (*dry* spare), over (panel - print).
"""

import numpy as np

from analysis.chain.compiled import compiled
from analysis.chain.isotherm import small_exp
from analysis.results import Floats

MOST_PCT = 50.0
NEWTON_STEPS = 3


def per_rh(beta_print: Floats, beta_panel: Floats) -> Floats:
    """Return %RH per strain of difference in expansion; 0 where the panel moves as much or more."""
    difference = beta_print - beta_panel
    return np.where(difference > 1e-6, 1.0 / np.maximum(difference, 1e-6), 0.0)


@compiled
def headroom_up(above_md: float, above_cd: float, per_rh_md: float, per_rh_cd: float) -> float:
    """Return how far humidity may rise before the first axis goes slack; < 0 is slack [%RH].

    Where a panel moves more than the print (``per_rh`` 0) a rise tightens it: no limit, or 0
    if it is slack already.
    """
    free_md = 0.0 if above_md < 0.0 else MOST_PCT
    free_cd = 0.0 if above_cd < 0.0 else MOST_PCT
    md = above_md * per_rh_md if per_rh_md > 0.0 else free_md
    cd = above_cd * per_rh_cd if per_rh_cd > 0.0 else free_cd
    return min(max(min(md, cd), -MOST_PCT), MOST_PCT)


@compiled
def headroom_down(
    above: tuple[float, float],
    held: tuple[float, float],
    per_rh: tuple[float, float],
    stiffer_per_pct: float,
) -> float:
    """Return how far humidity may fall before hinges are at the load that they sustain [%RH].

    The fall d of an axis solves above + d/per = held exp(-s d): as a sheet dries it shortens, and
    it grows stiffer by s per %RH (GUPTA2003), so that the same load is reached at less strain.
    Newton's steps from above end below the answer, by 0.02 %RH at most within the tables' ranges.

    Parameters
    ----------
    above : tuple of float
        Strain above that of zero tension, along and across the grain.
    held : tuple of float
        Such strain at the load that the hinges sustain, at today's stiffness.
    per_rh : tuple of float
        %RH per strain; 0 where a fall loosens the axis, which then sets no limit.
    stiffer_per_pct : float
        Loss of ln(stiffness) per %RH.
    """
    md = fall_to_load(above[0], held[0], per_rh[0], stiffer_per_pct)
    cd = fall_to_load(above[1], held[1], per_rh[1], stiffer_per_pct)
    return min(max(min(md, cd), 0.0), MOST_PCT)


@compiled
def fall_to_load(above: float, held: float, per_rh: float, stiffer_per_pct: float) -> float:
    """Return the fall of humidity at which one axis bears what its hinges sustain [%RH].

    Arguments as for `headroom_down`, of one axis.
    """
    if per_rh <= 0.0:
        return MOST_PCT
    fall = min(max((held - above) * per_rh, 0.0), MOST_PCT)
    for _ in range(NEWTON_STEPS):
        left = held * small_exp(-stiffer_per_pct * fall)
        fall -= (above + fall / per_rh - left) / (1.0 / per_rh + stiffer_per_pct * left)
        fall = min(max(fall, 0.0), MOST_PCT)
    return fall
