"""Where a print's stretch went since mounting: an account of strain that closes for every draw.

stretch at mounting + panel - print - swings - hinges - relaxation = what is left
"""

from collections.abc import Mapping

import numpy as np

from analysis.results import Floats
from analysis.simulation.chain_state import AXES
from analysis.simulation.packing import heat_scale, psi_from, stack
from analysis.simulation.priors import Draws
from analysis.works import Work


def free_movements(work: Work, draws: Draws, probes: Mapping[str, Floats]) -> dict[str, Floats]:
    """Return how print and panel have moved since mounting, left to themselves.

    Parameters
    ----------
    work : Work
        Held by tension.
    draws : Draws
        Those the probes were run with.
    probes : mapping of str to ndarray, shape (n,)
        At one hour, as `analysis.simulation.probes.probe_state`.

    Returns
    -------
    dict of str to ndarray, shape (n,)
        ``panel_strain_md``, ``print_strain_md``, the same for ``cd``; growth is positive [strain].

    Notes
    -----
    The panel's movement is its expansion times its change of humidity and temperature. The print's
    is what closes the account, so that the path of its humidity, its shrinkage after a damp spell
    and its history of damp and dry stand where the loop put them.
    """
    drawn = stack([work], {work.work_id: draws}, None)
    mounted = psi_from(drawn["mounted_rh_pct"], drawn["mounted_temp_c"], heat_scale(drawn))[0]
    wetter, warmer = probes["panel_psi"] - mounted, probes["temp_c"] - draws["mounted_temp_c"]
    found = {}
    for axis in AXES:
        panel = 100.0 * draws[f"panel_beta_along_{axis}"] * wetter
        panel = panel + draws[f"panel_alpha_along_{axis}"] * warmer
        taken = sum(probes[f"{name}_{axis}"] for name in ("relaxed", "cycled", "crept"))
        found[f"panel_strain_{axis}"] = panel
        found[f"print_strain_{axis}"] = np.asarray(
            draws["prestrain"] + panel - taken - probes[f"left_{axis}"]
        )
    return found
