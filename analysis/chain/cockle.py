"""From excess length to the shape of the surface: slope, height of the waves, clearance."""

import math

import numpy as np

from analysis.chain.compiled import compiled
from analysis.results import Floats


@compiled
def largest_slope_mrad(slack: float) -> float:
    """Return the largest slope of a sheet with excess length, whatever its wavelength [mrad].

    2 sqrt(slack)

    Examples
    --------
    >>> round(largest_slope_mrad(1e-4), 6)
    20.0
    """
    return 2000.0 * math.sqrt(slack)


@compiled
def wave_height_m(slack: float, wavelength_m: float) -> float:
    """Return the height of the waves from valley to peak, 2 lambda sqrt(slack)/pi [m].

    Examples
    --------
    >>> round(1000 * wave_height_m(1e-4, 0.2), 3)
    1.273
    """
    return 2.0 * wavelength_m * math.sqrt(slack) / math.pi


def slack_of_slope(slope_mrad: Floats | float) -> Floats:
    """Return the slack at which the largest slope is reached [strain]."""
    return np.asarray((np.asarray(slope_mrad) / 2000.0) ** 2)


def slack_of_height(height_m: Floats | float, wavelength_m: Floats | float) -> Floats:
    """Return the slack at which waves are that high: (pi h / (2 lambda))² [strain].

    Examples
    --------
    >>> f"{float(slack_of_height(0.006, 1.0)):.3g}"
    '8.88e-05'
    """
    return np.asarray((np.pi * np.asarray(height_m) / (2.0 * np.asarray(wavelength_m))) ** 2)


def bending_stiffness_n_m(modulus_pa: float, thickness_m: float, poisson: float) -> float:
    """Return the plate stiffness D = E t³ / (12 (1 - nu²)) [N·m]."""
    return modulus_pa * thickness_m**3 / (12.0 * (1.0 - poisson**2))


def buckling_strain(
    thickness_m: Floats | float, width_m: float, height_m: float, poisson: Floats | float
) -> Floats:
    """Return the equal biaxial strain at which a simply supported plate buckles. TIMOSHENKO.

    pi² t² / (12 (1 + nu)) (1/a² + 1/b²)

    Examples
    --------
    >>> f"{float(buckling_strain(0.0003, 1.0, 1.0, 0.3)):.4g}"
    '1.139e-07'
    """
    size = 1.0 / width_m**2 + 1.0 / height_m**2
    return np.asarray(np.pi**2 * np.asarray(thickness_m) ** 2 / (12.0 * (1.0 + poisson)) * size)


def clamped_buckling_strain(thickness_m: float, width_m: float, poisson: float) -> float:
    """Return the same for a clamped square plate, N = 5.30 pi² D / a². TIMOSHENKO."""
    stiffness = bending_stiffness_n_m(1.0, thickness_m, poisson)
    return 5.30 * np.pi**2 * stiffness / width_m**2 * (1.0 - poisson) / thickness_m


def wrinkle_wavelength_m(stiffness_n_m: float, tension_n_m: float, length_m: float) -> float:
    """Return the wavelength of wrinkles along a tension, 2 sqrt(pi) (D/T)^¼ L^½. CERDA2002 [m]."""
    ratio = (stiffness_n_m / tension_n_m) ** 0.25
    return float(2.0 * np.sqrt(np.pi) * ratio * np.sqrt(length_m))


def wrinkle_amplitude_m(wavelength_m: float, excess: float) -> float:
    """Return the amplitude of wrinkles, (sqrt(2)/pi) lambda sqrt(excess). CERDA2002 [m]."""
    return float(np.sqrt(2.0) / np.pi * wavelength_m * np.sqrt(excess))
