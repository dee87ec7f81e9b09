"""Tension of a held print, one axis: hinge in series, relaxation, never compression.

With weights k_i, times tau_i and internal strains v_i of the relaxation, and the imposed strain e:

    e_zero = m sum(k_i v_i)           the strain at which tension vanishes
    e_mat  = e_zero + f max(e - e_zero, 0)
    N/EA   = e_mat - e_zero           the reserve
    slack  = max(e_zero - e, 0)
    v_i   <- exact step towards e_mat, taken as linear in time over the step

f is the share of a stretch that the print takes when print and free hinge share the load: the hinge
is unloaded when the print is slack, so slack is not reduced by it. e_zero at the end of a step is
itself linear in e_mat at the end of the step, so both are solved together and no time is lost
however short the fastest tau_i.
"""

import numpy as np

from analysis.chain.compiled import compiled
from analysis.results import Floats


def series_factor(
    length_m: Floats,
    ea_n_m: Floats,
    free_length_m: Floats,
    coverage: Floats,
    hinge_ea_n_m: Floats,
) -> Floats:
    """Return the share of a stretch that the print takes, its free hinges taking the rest [1].

    f = (L/EA) / (L/EA + 2 l_free/(c EA_h))

    Examples
    --------
    >>> one = np.ones(1)
    >>> f = series_factor(one, 1.2e6 * one, 0.02 * one, one, 0.12e6 * one)
    >>> round(float(f[0]), 3)
    0.714
    """
    sheet = length_m / ea_n_m
    return np.asarray(sheet / (sheet + 2.0 * free_length_m / (coverage * hinge_ea_n_m)))


@compiled
def relaxed(
    imposed: float,
    mat: float,
    m: float,
    zero_gain: float,
    mat_gain: float,
    v: tuple[float, float, float, float, float, float],
    k: tuple[float, float, float, float, float, float],
    decay: tuple[float, float, float, float, float, float],
    begin: tuple[float, float, float, float, float, float],
    end: tuple[float, float, float, float, float, float],
) -> tuple[float, float, tuple[float, float, float, float, float, float]]:
    """Return (imposed strain over that of zero tension, e_mat, v) after a step.

    Parameters
    ----------
    imposed : float
        e at the end of the step.
    mat : float
        e_mat at its start.
    m : float
        Relaxation per decade.
    zero_gain, mat_gain : float
        1/(1 - S) and f/(1 - (1 - f) S), with S = m sum(k_i end_i).
    v, k, decay, begin, end : tuple of float
        Internal strains, unit weights and the exact weights of a step.
    """
    v0 = decay[0] * v[0] + begin[0] * mat
    v1 = decay[1] * v[1] + begin[1] * mat
    v2 = decay[2] * v[2] + begin[2] * mat
    v3 = decay[3] * v[3] + begin[3] * mat
    v4 = decay[4] * v[4] + begin[4] * mat
    v5 = decay[5] * v[5] + begin[5] * mat
    known = k[0] * v0 + k[1] * v1 + k[2] * v2 + k[3] * v3 + k[4] * v4 + k[5] * v5
    zero = m * known * zero_gain
    above = imposed - zero
    new = zero + mat_gain * max(above, 0.0)
    out = (
        v0 + end[0] * new,
        v1 + end[1] * new,
        v2 + end[2] * new,
        v3 + end[3] * new,
        v4 + end[4] * new,
        v5 + end[5] * new,
    )
    return above, new, out


@compiled
def bled_off(reserve: float, sustained: float, share: float) -> float:
    """Return the strain a creeping bond loses in a step: a share of what exceeds the sustained."""
    return share * max(reserve - sustained, 0.0)


@compiled
def moved_play(play: float, psi: float, half_width: float) -> float:
    """Return the humidity as seen through a deadband: it moves only when pushed by its edge."""
    return min(max(play, psi - half_width), psi + half_width)


def uniaxial_tension_n_m(ea_n_m: float, strain: float) -> float:
    """Return the tension of a sheet held along one axis, N = EA e [N/m]."""
    return ea_n_m * strain


def equibiaxial_tension_n_m(ea_n_m: float, strain: float, poisson: float) -> float:
    """Return the tension of an isotropic sheet held along both axes, N = EA e/(1 - nu) [N/m].

    The loop leaves this coupling out: a taut axis adds nu times its reserve to the other's. What is
    left out is up to about 1 %RH of headroom, on the cautious side, within the spread of the
    draws.

    Examples
    --------
    >>> round(equibiaxial_tension_n_m(1.2e6, 6e-4, 0.3), 1)
    1028.6
    """
    return ea_n_m * strain / (1.0 - poisson)
