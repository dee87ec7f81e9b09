"""The whole chain of a work's draws at one hour, read out of the state of the loop."""

from collections.abc import Mapping

import numpy as np

from analysis.chain.cockle import wave_height_m
from analysis.chain.headroom import headroom_down
from analysis.chain.relaxation import prony
from analysis.results import Floats

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
    free = [at[f"sustain_{a}"] / (at[f"gain_{a}"] * soft) - seen[a] for a in AXES]
    draws = zip(*free, at["per_rh_md"], at["per_rh_cd"], strict=True)
    return np.array([headroom_down(*draw) for draw in draws])
