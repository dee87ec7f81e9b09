"""How much water a sheet holds at a given humidity, and how that shifts with temperature.

The state of moisture is psi: the relative humidity (0 to 1) that the same moisture content would
show at 20 °C. It does not move when only the temperature does.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np

from analysis.chain.compiled import compiled
from analysis.parameters import parameter

GAS_CONSTANT = 8.314462618  # J/(mol K), SI 2019, exact to the digits given
REFERENCE_K = 293.15
PSI_LOW, PSI_HIGH = 0.01, 0.98


@dataclass(frozen=True)
class Gab:
    """Parameters of the GAB isotherm: monolayer capacity [kg/kg], C and K [1]."""

    capacity: float
    c: float
    k: float


@cache
def gab_of(material: str) -> Gab:
    """Return the isotherm of "frame_board", "paper" or "gelatin" from the table ``moisture``."""
    row = [parameter("moisture", material, name).value for name in ("capacity", "c", "k")]
    return Gab(*row)


@compiled
def gab_content(phi: float, capacity: float, c: float, k: float) -> float:
    """Return the moisture content at a relative humidity phi (0 to 1) [kg/kg].

    u = W C K phi / ((1 - K phi)(1 - K phi + C K phi))
    """
    x = k * phi
    return capacity * c * x / ((1.0 - x) * (1.0 + (c - 1.0) * x))


@compiled
def gab_slope(phi: float, capacity: float, c: float, k: float) -> float:
    """Return the slope of the GAB isotherm, du/dphi [kg/kg per unit of RH]."""
    x = k * phi
    below = (1.0 - x) * (1.0 + (c - 1.0) * x)
    return capacity * c * k * (1.0 + (c - 1.0) * x * x) / (below * below)


@compiled
def slope_parts(psi: float, c: float, k: float) -> tuple[float, float]:
    """Return numerator and denominator of 1/slope for a capacity of 1."""
    x = k * psi
    below = (1.0 - x) * (1.0 + (c - 1.0) * x)
    return below * below, c * k * (1.0 + (c - 1.0) * x * x)


@compiled
def slope_ratio(psi: float, c: float, k: float, slope_at_half: float) -> float:
    """Return slope(0.5)/slope(psi): how much faster than at 50 %RH the humidity moves.

    ``slope_at_half`` is `gab_slope` at 0.5 for a capacity of 1.
    """
    above, below = slope_parts(psi, c, k)
    return slope_at_half * above / below


def gab_humidity(content: float, gab: Gab) -> float:
    """Return the relative humidity (0 to 1) at a moisture content: the inverse of `gab_content`."""
    # (1 - x)(1 + (C-1)x) u = W C x, a quadratic in x = K phi
    a = content * (gab.c - 1.0)
    b = gab.capacity * gab.c - content * (gab.c - 2.0)
    if abs(a) < 1e-15:
        return content / (b * gab.k)
    return float((-b + np.sqrt(b * b + 4.0 * a * content)) / (2.0 * a) / gab.k)


def oswin_content_pct(phi: float, scale: float, power: float) -> float:
    """Return the moisture content by Oswin's form [% of dry mass]."""
    return float(scale * (phi / (1.0 - phi)) ** power)


def net_heat_j_mol(psi: float) -> float:
    """Return the net heat of sorption at psi: q = q0 exp(-u/u0) [J/mol]."""
    gab = gab_of("frame_board")
    content = gab_content(psi, gab.capacity, gab.c, gab.k)
    heat = parameter("moisture", "frame_board", "heat_j_mol").value
    decay = parameter("moisture", "frame_board", "heat_decay").value
    return float(heat * np.exp(-content / decay))


@cache
def heat_polynomial() -> tuple[float, ...]:
    """Return the polynomial in psi that stands for `net_heat_j_mol` / R in the loop, degree 5 [K].

    Fitted between 5 and 95 %RH; within 1 % of the driest value there (tested).
    """
    psi = 0.5 - 0.45 * np.cos(np.linspace(0.0, np.pi, 200))
    heat = np.array([net_heat_j_mol(float(p)) for p in psi]) / GAS_CONSTANT
    fit = np.polynomial.Polynomial.fit(psi, heat, 5).convert().coef
    return tuple(float(c) for c in fit)


@compiled
def polynomial_5(
    x: float, c0: float, c1: float, c2: float, c3: float, c4: float, c5: float
) -> float:
    """Return c0 + c1 x + … + c5 x⁵ by Horner's rule."""
    return c0 + x * (c1 + x * (c2 + x * (c3 + x * (c4 + x * c5))))


@compiled
def small_exp(x: float) -> float:
    """Return exp(x) for abs(x) below one half, within 2e-7 (Taylor to the seventh power)."""
    return 1.0 + x * (
        1.0
        + x
        * (
            1.0 / 2.0
            + x
            * (
                1.0 / 6.0
                + x * (1.0 / 24.0 + x * (1.0 / 120.0 + x * (1.0 / 720.0 + x * (1.0 / 5040.0))))
            )
        )
    )


@compiled
def small_loss(x: float) -> float:
    """Return 1 - exp(-x) for x from 0 to one half, within 2e-7 of it however small it is.

    1 less `small_exp` would lose the digits of a small one.
    """
    return x * (
        1.0
        - x
        * (
            1.0 / 2.0
            - x
            * (
                1.0 / 6.0
                - x * (1.0 / 24.0 - x * (1.0 / 120.0 - x * (1.0 / 720.0 - x * (1.0 / 5040.0))))
            )
        )
    )


@compiled
def temperature_term(temp_c: float) -> float:
    """Return 1/293.15 - 1/(273.15 + T), over which the net heat acts, within 1e-5 of it [1/K].

    (T - 20)/293.15² times the series of 1/(1 + t), t = (T - 20)/293.15, to the fourth power.
    """
    t = (temp_c - 20.0) / 293.15
    return t * (1.0 - t * (1.0 - t * (1.0 - t * (1.0 - t)))) / 293.15


def shift_factor(psi: float, temp_c: float, scale: float = 1.0) -> float:
    """Return f with phi = psi f: humidity at a temperature over that at 20 °C, same moisture.

    Parameters
    ----------
    psi : float
        Humidity at 20 °C, 0 to 1.
    temp_c : float
        Temperature. [°C]
    scale : float
        Net heat over that of the table.

    Examples
    --------
    >>> round(100 * 0.5 * shift_factor(0.5, 10.0), 2)
    46.26
    """
    heat = scale * net_heat_j_mol(psi) / GAS_CONSTANT
    return float(np.exp(heat * temperature_term(temp_c)))


def psi_of(rh_pct: float, temp_c: float, scale: float = 1.0) -> float:
    """Return psi (0 to 1) of a sheet that is at rest with air of a given humidity and temperature.

    Examples
    --------
    >>> round(100 * psi_of(46.26, 10.0), 1)
    50.0
    """
    phi = rh_pct / 100.0
    psi = phi
    for _ in range(50):
        psi = min(phi / shift_factor(psi, temp_c, scale), 0.999)
    return psi


def shift_per_k(scale: float = 1.0) -> float:
    """Return the humidity change per kelvin at constant moisture, at 50 %RH and 20 °C [%RH/K].

    gamma = phi q / (R T²)

    Examples
    --------
    >>> round(shift_per_k(), 3)
    0.376
    """
    return float(100.0 * 0.5 * scale * net_heat_j_mol(0.5) / (GAS_CONSTANT * REFERENCE_K**2))
