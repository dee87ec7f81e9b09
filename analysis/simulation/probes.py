"""What a work's draws show one by one at an instant: what learning and explaining look at."""

from collections.abc import Mapping, Sequence

import numpy as np

from analysis.chain.headroom import headroom_up
from analysis.results import Floats
from analysis.simulation import layout
from analysis.simulation.chain_state import AXES, CHAIN, chain_state
from analysis.simulation.discrepancy import delta_psi, play_lag

PROBES = (
    "slack",
    "slope_mrad",
    "print_rh_pct",
    "tension_n_m",
    "headroom_up_pct",
    "overload",
    "play_lag_pct",
    "reserve_md",
    "reserve_cd",
    "beta_md",
    "beta_cd",
    "buckle",
    *CHAIN,
)


def probe_state(state: Floats, fixed: Floats, angle: float) -> dict[str, Floats]:
    """Return what one work's draws show at an hour: names in `PROBES`, each of shape (n,).

    ``overload`` is the greatest hinge load since mounting over the short-term capacity: above 1 the
    draw would already have lost its hinges. ``reserve`` is the strain above that of zero tension
    before what the chain may be off by; ``beta`` is strain per %RH.

    Parameters
    ----------
    state : ndarray, shape (len(layout.STATE), n)
    fixed : ndarray, shape (len(layout.FIXED), n)
    angle : float
        Angle of the year at that hour [rad].
    """
    at = {name: fixed[i] for i, name in enumerate(layout.FIXED)}
    row = {name: state[i] for i, name in enumerate(layout.STATE)}
    share = at["image_share"]
    psi = share * row["psi_image"] + (1.0 - share) * row["psi_core"]
    soft = np.exp(-at["soften"] * (psi - 0.5))
    delta = delta_psi(at, row, angle)
    md, cd = (row[f"above_{axis}"] + at[f"beta_{axis}"] * delta for axis in AXES)
    slack = np.maximum(np.maximum(-md, -cd) - at["buckle"], 0.0)
    tension = np.minimum(
        at["ea_md"] * at["gain_md"] * np.maximum(md, 0.0),
        at["ea_cd"] * at["gain_cd"] * np.maximum(cd, 0.0),
    )
    up = [headroom_up(*axes) for axes in zip(md, cd, at["per_rh_md"], at["per_rh_cd"], strict=True)]
    return {
        "slack": slack,
        "slope_mrad": 2000.0 * np.sqrt(slack),
        "print_rh_pct": 100.0 * psi * row["shift"],
        "tension_n_m": tension * soft,
        "headroom_up_pct": np.array(up),
        "overload": row["overload"].copy(),
        "play_lag_pct": 100.0 * play_lag(at, row),
        **{f"reserve_{axis}": row[f"above_{axis}"].copy() for axis in AXES},
        **{f"beta_{axis}": at[f"beta_{axis}"] / 100.0 for axis in AXES},
        "buckle": at["buckle"],
        **chain_state(at, row, {"md": md, "cd": cd}, slack, soft),
    }


def stacked_probes(
    at: Sequence[int], found: Mapping[int, Mapping[str, Floats]], n: int
) -> dict[str, Floats]:
    """Return the probes of several hours, shape (hours, n); NaN before mounting."""
    if not at:
        return dict.fromkeys(PROBES, np.empty((0, n)))
    nothing = np.full(n, np.nan)
    return {
        name: np.array([found[i][name] if i in found else nothing for i in at]).reshape(len(at), n)
        for name in PROBES
    }
