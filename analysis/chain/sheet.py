"""The sheet: free expansion with humidity and temperature, stiffness, layers, weight."""

import numpy as np

from analysis.chain.compiled import compiled
from analysis.results import Floats

GRAVITY = 9.80665  # m/s², standard
YIELD_STRAIN = 0.004  # RICHARD1998, p. 545
FAILURE_STRAIN = 0.009  # RICHARD1998, p. 545


@compiled
def humidity_path(psi: float, linear_from: float, linear_to: float, outside: float) -> float:
    """Return psi stretched where expansion is steeper: 1 per unit inside, ``outside`` beyond.

    Expansion is linear between 25 and 70 %RH. Beyond, the paper's share of it goes on as before and
    the gelatin's is 1.5 to 2.5 times as large, so ``outside`` = 1 + share (factor - 1).
    """
    inside = min(max(psi, linear_from), linear_to)
    return inside + outside * (psi - inside)


@compiled
def free_strain(
    path_change: float, beta_per_psi: float, temp_change_k: float, alpha: float
) -> float:
    """Return the strain of an unheld sheet since a reference state."""
    return beta_per_psi * path_change + alpha * temp_change_k


def layered_beta(stiffness: Floats, beta: Floats) -> float:
    """Return the expansion of layers bonded together: sum(E t beta) / sum(E t) [as beta].

    Examples
    --------
    >>> round(layered_beta(np.array([4e9 * 0.26e-3, 3e9 * 10e-6]), np.array([80.0, 370.0])), 1)
    88.1
    """
    return float(np.sum(stiffness * beta) / np.sum(stiffness))


def softening(dmc_pct: Floats | float, k: Floats | float) -> Floats:
    """Return E(MC)/E at the reference: exp(-k dMC). GUPTA2003.

    Examples
    --------
    >>> round(float(softening(2.2, 0.075)), 3)
    0.848
    """
    return np.asarray(np.exp(-np.asarray(k) * np.asarray(dmc_pct)))


def self_weight_n_m(grammage_g_m2: float, height_m: float) -> float:
    """Return the tension a hanging sheet's own weight needs at its upper edge [N/m].

    Examples
    --------
    >>> round(self_weight_n_m(255.0, 1.0), 2)
    2.5
    """
    return grammage_g_m2 / 1000.0 * GRAVITY * height_m


def allowable_change_pct(beta_per_pct: float, strain: float = YIELD_STRAIN) -> float:
    """Return the change of humidity that strains a fully held sheet to yield [%RH]."""
    return strain / beta_per_pct


def drying_time_s(thickness_m: float, diffusivity_m2_s: float) -> float:
    """Return the time constant of diffusion through a sheet open on both faces, t²/(pi² D) [s]."""
    return thickness_m**2 / (np.pi**2 * diffusivity_m2_s)
