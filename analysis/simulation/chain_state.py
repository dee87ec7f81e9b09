"""The whole chain of a work's draws at one hour, read out of the state of the loop."""

from collections.abc import Mapping, Sequence

import numpy as np

from analysis.chain.cockle import wave_height_m
from analysis.chain.headroom import headroom_down, headroom_up
from analysis.chain.relaxation import prony
from analysis.results import Floats
from analysis.simulation import layout
from analysis.simulation.discrepancy import delta_psi, play_lag

AXES = ("md", "cd")


OF_AN_AXIS = ("tension", "relaxed", "cycled", "crept", "left")


CHAIN = (
    "temp_c",
    "frame_rh_pct",
    "core_rh_pct",
    "image_rh_pct",
    "panel_psi",
    *(f"{name}_{axis}" for name in OF_AN_AXIS for axis in AXES),
    "wave_mm",
    "headroom_down_pct",
)


def chain_state(
    at: Mapping[str, Floats],
    row: Mapping[str, Floats],
    seen: Mapping[str, Floats],
    slack: Floats,
    soft: Floats,
) -> dict[str, Floats]:
    """Return the links of the chain, names in `CHAIN`, each of shape (n,).

    Parameters
    ----------
    at, row : mapping of str to ndarray, shape (n,)
        What stays constant through a run, and the state, by the names of
        `analysis.simulation.layout`.
    seen : mapping of str to ndarray, shape (n,)
        Reserve of each axis as it is read: with what the chain may be off by.
    slack, soft : ndarray, shape (n,)
        Slack of the less taut axis [strain]; stiffness over that at 50 %RH.

    Notes
    -----
    ``relaxed``, ``cycled`` and ``crept`` are what relaxation, swings of moisture and creeping
    hinges have taken of the stretch; ``left`` is what remains of it, shared by print and hinges,
    below zero the surplus length [strain].
    """
    waves = [wave_height_m(*draw) for draw in zip(slack, at["wavelength"], strict=True)]
    links = {
        "temp_c": row["temp_c"].copy(),
        "frame_rh_pct": 100.0 * row["psi_frame"] * row["shift"],
        "core_rh_pct": 100.0 * row["psi_core"] * row["shift"],
        "image_rh_pct": 100.0 * row["psi_image"] * row["shift"],
        "panel_psi": row["psi_panel"].copy(),
        "wave_mm": 1000.0 * np.array(waves),
        "headroom_down_pct": _headroom_down(at, seen, soft),
    }
    for axis in AXES:
        found = _axis(at, row, axis, seen[axis], soft)
        links |= {f"{name}_{axis}": values for name, values in found.items()}
    return links


def _axis(
    at: Mapping[str, Floats], row: Mapping[str, Floats], axis: str, above: Floats, soft: Floats
) -> dict[str, Floats]:
    """Return the tension of an axis and where its stretch went."""
    weights = prony().weights
    taut = np.maximum(above, 0.0)
    held = [weight * row[f"v_{axis}_{i}"] for i, weight in enumerate(weights)]
    return {
        "tension": at[f"ea_{axis}"] * at[f"gain_{axis}"] * taut * soft,
        "relaxed": at["relax_m"] * np.sum(held, axis=0),
        "cycled": row[f"loss_{axis}"].copy(),
        "crept": row[f"creep_lost_{axis}"].copy(),
        "left": above,
    }


def _headroom_down(at: Mapping[str, Floats], seen: Mapping[str, Floats], soft: Floats) -> Floats:
    held = [at[f"sustain_{a}"] / (at[f"gain_{a}"] * soft) for a in AXES]
    pairs = (
        zip(*axes, strict=True)
        for axes in ([seen[a] for a in AXES], held, [at[f"per_rh_{a}"] for a in AXES])
    )
    draws = zip(*pairs, at["soften"] / 100.0, strict=True)
    return np.array([headroom_down(*draw) for draw in draws])


# What a work's draws show one by one at an instant: what learning and explaining look at.

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
