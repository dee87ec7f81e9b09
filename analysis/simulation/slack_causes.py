"""Why a print is slack: which of the things that took its stretch took most, draw by draw."""

from collections.abc import Mapping

import numpy as np

from analysis.chain.relaxation import prony
from analysis.parameters import parameter
from analysis.results import Floats, SlackCause
from analysis.simulation import layout
from analysis.simulation.discrepancy import delta_psi
from analysis.simulation.packing import (
    Stacked,
    heat_scale,
    humidity_path,
    outside_factor,
    psi_from,
)


def slack_causes(
    state: Floats, fixed: Floats, draws: Stacked, angle: float
) -> dict[SlackCause, float]:
    """Return, for each cause, the probability that a work is slack and that it took most.

    Parameters
    ----------
    state, fixed : ndarray, shapes (len(layout.STATE), n) and (len(layout.FIXED), n)
        One work at an hour.
    draws : Stacked
        Its draws, one work.
    angle : float
        Angle of the year at that hour [rad].

    Returns
    -------
    dict of SlackCause to float
        They sum to the probability of slack.

    Notes
    -----
    Of the less taut axis, in strain: what the print grew in damp less what the panel grew with it
    (too damp) or what the panel shrank less what the print shrank (panel), whichever of the two is
    behind it; what relaxation and swings took; what hinges gave; and how far the stretch at
    mounting fell short of the usual one.
    """
    at = {name: fixed[i] for i, name in enumerate(layout.FIXED)}
    row = {name: state[i] for i, name in enumerate(layout.STATE)}
    delta = delta_psi(at, row, angle)
    reserve = np.stack([row[f"above_{a}"] + at[f"beta_{a}"] * delta for a in ("md", "cd")])
    mounted = psi_from(draws["mounted_rh_pct"], draws["mounted_temp_c"], heat_scale(draws))[0]
    lost = np.stack([_lost(at, row, draws, mounted, axis) for axis in ("md", "cd")])
    slacker = np.argmin(reserve, axis=0)
    n = np.arange(reserve.shape[1])
    slack = -reserve[slacker, n] > at["buckle"]
    most = np.argmax(lost[slacker, :, n], axis=1)
    weight = at["weight"] * slack
    return {cause: float(weight[most == i].sum()) for i, cause in enumerate(SlackCause)}


def _lost(
    at: Mapping[str, Floats], row: Mapping[str, Floats], draws: Stacked, mounted: Floats, axis: str
) -> Floats:
    """Return what each cause took of an axis's stretch, in the order of `SlackCause`."""
    outside = outside_factor(draws)[0]
    psi = at["image_share"] * row["psi_image"] + (1.0 - at["image_share"]) * row["psi_core"]
    path = humidity_path(psi, outside) - humidity_path(mounted, outside)
    grown = at[f"beta_{axis}"] * path
    shrunk = at[f"panel_{axis}"] * (mounted - row["psi_panel"])
    together = np.maximum(grown + shrunk, 0.0)
    held = [k * row[f"v_{axis}_{i}"] for i, k in enumerate(prony().weights)]
    relaxed = at["relax_m"] * np.sum(held, axis=0) + row[f"loss_{axis}"]
    usual = parameter("hinges", "mounting", "prestrain").value
    by = {
        SlackCause.TOO_DAMP: np.where(grown >= shrunk, together, 0.0),
        SlackCause.PANEL: np.where(grown >= shrunk, 0.0, together),
        SlackCause.RELAXED: relaxed,
        SlackCause.HINGES: row[f"creep_lost_{axis}"],
        SlackCause.MOUNTED_SLACK: np.maximum(usual - draws["prestrain"][0], 0.0),
    }
    return np.stack([by[cause] for cause in SlackCause])
