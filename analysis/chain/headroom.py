"""Headroom: how far the humidity may rise before slack, or fall before the hinges are at capacity.

Both are changes of the print's own humidity, slow enough for the panel to follow. Two more are
`headroom_up` with other expansions: in a spike the print alone moves, so the same reserve is spent
over its own expansion (*quick* spare); and where a panel moves more than the print, a fall slackens
it (*dry* spare), over (panel - print).
"""

import numpy as np

from analysis.chain.compiled import compiled
from analysis.results import Floats

MOST_PCT = 50.0


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
def headroom_down(above_md: float, above_cd: float, per_rh_md: float, per_rh_cd: float) -> float:
    """Return how far humidity may fall before hinges are at capacity [%RH].

    ``above`` is here the strain still free below the sustained capacity.
    """
    md = above_md * per_rh_md if per_rh_md > 0.0 else MOST_PCT
    cd = above_cd * per_rh_cd if per_rh_cd > 0.0 else MOST_PCT
    return min(max(min(md, cd), 0.0), MOST_PCT)
