"""From room air to the humidity in the frame: thermal lag, moisture balance, series stages.

One first-order store of moisture behind a permeance, driven by the room's vapour pressure over the
saturation pressure at the print's temperature. The state is psi (see `analysis.chain.isotherm`), so
that temperature alone does not move it; each step is the exact solution for coefficients held at
the middle of the step and an input that is linear in time.
"""

import numpy as np

from analysis.chain.compiled import compiled, part
from analysis.chain.isotherm import (
    PSI_HIGH,
    PSI_LOW,
    gab_of,
    gab_slope,
    slope_parts,
    small_exp,
)
from analysis.errors import OutOfRangeError
from analysis.parameters import parameter
from analysis.results import Floats

LN2 = float(np.log(2.0))
VAPOUR_GAS_CONSTANT = 461.5  # J/(kg K)
PERM_US = 5.71e-11  # kg/(m² s Pa) in one US perm
FASTEST = 32.0
FAINT = 1e-15  # far below any strain or width of humidity that is told; chosen by this program
# Coefficients of `hold_weights_and_bump`, fitted by this program: see there.
BUMP_ABOVE = (2.0 / 3.0, 0.08862296496606305, 0.014584289937033652, 0.0015290676312411152)
HOLD_ABOVE = (
    0.14946330686568451,
    0.030797773982883817,
    0.0038336217648718284,
    0.0003859327938137153,
)
HOLD_BELOW = (
    0.63229240756502,
    0.1888918516620947,
    0.03481434546677498,
    0.004224365925337881,
    0.0003858870221362215,
)


def saturation_pressure_pa(temp_c: Floats | float) -> Floats:
    """Return the saturation pressure of water vapour by the Magnus form [Pa].

    Within the enclosure only ratios of pressures matter; the air's own quantities come from
    `analysis.air.moist_air`.

    Examples
    --------
    >>> round(float(saturation_pressure_pa(20.0)), 1)
    2332.6
    """
    scale, a, b = (parameter("moisture", "magnus", name).value for name in ("scale", "a", "b"))
    temp = np.asarray(temp_c, dtype=np.float64)
    return np.asarray(scale * np.exp(a * temp / (b + temp)))


def dew_point_c(temp_c: float, rh_pct: float) -> float:
    """Return the dew point by the Magnus form [°C]."""
    a, b = parameter("moisture", "magnus", "a").value, parameter("moisture", "magnus", "b").value
    g = np.log(rh_pct / 100.0) + a * temp_c / (b + temp_c)
    return float(b * g / (a - g))


def saturation_density_kg_m3(temp_c: float) -> float:
    """Return the density of saturated water vapour [kg/m³]."""
    return float(saturation_pressure_pa(temp_c) / (VAPOUR_GAS_CONSTANT * (273.15 + temp_c)))


@part
def pressure_ratio(temp_c: float, a: float, b: float) -> float:
    """Return saturation pressure over that at 20 °C, between -10 and 60 °C, within 1e-7.

    ``a`` and ``b`` are the Magnus constants. The exponent is cut in eight for `small_exp`.
    """
    exponent = 0.125 * (a * temp_c / (b + temp_c) - a * 20.0 / (b + 20.0))
    root = small_exp(exponent)
    square = root * root
    fourth = square * square
    return fourth * fourth


@compiled
def hold_weights(r: float) -> tuple[float, float]:
    """Return the weights of the input at the step's start and end, for r = step / time constant.

    x1 = x0 + begin (d0 - x0) + end (d1 - x0) is exact for an input that runs linearly from d0 to
    d1: begin = m1 - a, end = 1 - m1, a = exp(-r), m1 = (1 - a)/r.
    """
    if r < 1e-3:
        return r / 2.0 - r * r / 3.0 + r**3 / 8.0, r / 2.0 - r * r / 6.0 + r**3 / 24.0
    mean = -np.expm1(-r) / r
    return mean - np.exp(-r), 1.0 - mean


@compiled
def hold_weights_fast(r: float) -> tuple[float, float]:
    """Return `hold_weights` within 3e-6 by a ratio of polynomials, for r up to 32.

    The ratio was fitted to (1 - m1)/r on 0 to 32 by weighted least squares; r above 32 is taken as
    32, where the old state has decayed to 1e-14.
    """
    begin, end, _ = hold_weights_and_bump(r)
    return begin, end


@compiled
def hold_weights_and_bump(r: float) -> tuple[float, float, float]:
    """Return `hold_weights_fast`, and the weight of how far the drive bends at mid-step.

    A drive that lies off the straight line by b at mid-step is taken as a parabola, whose answer is
    b times 4 (end - begin)/r; fitted over the same denominator within 2e-4.
    """
    x = r if r < FASTEST else FASTEST
    p, q, s = HOLD_ABOVE, HOLD_BELOW, BUMP_ABOVE
    above = 0.5 + x * (p[0] + x * (p[1] + x * (p[2] + x * p[3])))
    below = 1.0 + x * (q[0] + x * (q[1] + x * (q[2] + x * (q[3] + x * q[4]))))
    share = x / below
    end = share * above
    bump = share * (s[0] + x * (s[1] + x * (s[2] + x * s[3])))
    return x - end * (1.0 + x), end, bump


@compiled
def advance(state: float, drive_begin: float, drive_end: float, r: float) -> float:
    """Return a first-order store after a step: the exact answer to a linear drive."""
    begin, end = hold_weights(r)
    return state + begin * (drive_begin - state) + end * (drive_end - state)


@compiled
def within(psi: float) -> float:
    """Return psi kept where the isotherm can be used."""
    return min(max(psi, PSI_LOW), PSI_HIGH)


@compiled
def faded(left: float) -> float:
    """Return what is left of something that decays, 0 once nobody could tell it from nothing.

    Numbers near the smallest that a processor has would slow the loop a hundredfold.
    """
    return left if left > FAINT else 0.0


@part
def predicted_psi(
    psi: float, pressure: float, held: float, rate: float, c: float, k: float, slope_at_half: float
) -> float:
    """Return psi of a store after a step, by one implicit step with its coefficients at the start.

    Parameters
    ----------
    psi : float
        At the start.
    pressure : float
        Drive at the end: vapour pressure over saturation pressure at 20 °C.
    held : float
        Saturation pressure over that at 20 °C, times f: turns psi into a pressure like the drive.
    rate : float
        Step over time constant at 50 %RH.
    c, k, slope_at_half : float
        As for `analysis.chain.isotherm.slope_ratio`.
    """
    above, below = slope_parts(psi, c, k)
    speed = rate * slope_at_half * above
    return within((psi * below * held + speed * pressure) / ((below + speed) * held))


def slope_at_half() -> float:
    """Return the slope of the board's isotherm at 50 %RH for a capacity of 1 [1]."""
    gab = gab_of("frame_board")
    return float(gab_slope(0.5, 1.0, gab.c, gab.k))


def half_time_from_build_h(mass_kg_m2: Floats, capacity: Floats, permeance: Floats) -> Floats:
    """Return the half-time of a frame from its board and back, at 20 °C and 50 %RH.

    Parameters
    ----------
    mass_kg_m2 : ndarray, shape (n,)
        Absorbent board that exchanges with the print. [kg/m²]
    capacity : ndarray, shape (n,)
        Slope of its isotherm at 50 %RH. [kg/kg per unit of RH]
    permeance : ndarray, shape (n,)
        Of the back, films included. [kg/(m² s Pa)]

    Returns
    -------
    ndarray, shape (n,)
        ln 2 · M xi / (G p_sat(20 °C)). [h]

    Examples
    --------
    >>> round(float(half_time_from_build_h(np.array(2.0), np.array(0.1016), np.array(2.5e-9))), 1)
    6.7
    """
    seconds = LN2 * mass_kg_m2 * capacity / (permeance * saturation_pressure_pa(20.0))
    return np.asarray(seconds / 3600.0)


def thomson_coefficient(temp_c: float) -> float:
    """Return the 4 in Thomson's half-time = 4 M B / N days: ln 2 over the air's moisture per %RH.

    Examples
    --------
    >>> round(thomson_coefficient(20.0), 2)
    4.02
    """
    return LN2 / (1000.0 * saturation_density_kg_m3(temp_c) / 100.0)


def air_exchange_kg_s_pa(changes_per_day: float, volume_m3: float, temp_c: float = 20.0) -> float:
    """Return the conductance of an air exchange, n V / (Rv T) [kg/(s Pa)]."""
    return changes_per_day / 86400.0 * volume_m3 / (VAPOUR_GAS_CONSTANT * (273.15 + temp_c))


def gap_conductance_kg_s_pa(
    length_m: float, width_m: float, depth_m: float, air_permeability: float
) -> float:
    """Return the conductance of a still-air gap, delta L g / d [kg/(s Pa)]."""
    return air_permeability * length_m * width_m / depth_m


def permeance_from_transmission(g_m2_day: float, temp_c: float, rh_pct: float) -> float:
    """Return the permeance of a layer from its vapour transmission rate [kg/(m² s Pa)]."""
    drive = float(saturation_pressure_pa(temp_c)) * rh_pct / 100.0
    return g_m2_day / 1000.0 / 86400.0 / drive


def plane_sheet_uptake(time_s: float, thickness_m: float, diffusivity_m2_s: float) -> float:
    """Return the share of its final uptake that a sheet open on both faces has after a time.

    M_t/M_inf = 1 - (8/pi²) sum exp(-D (2n+1)² pi² t / L²) / (2n+1)². For one open face give twice
    the thickness. CRANK1975, p. 48.
    """
    n = 2.0 * np.arange(200) + 1.0
    decay = np.exp(-diffusivity_m2_s * n * n * np.pi**2 * time_s / thickness_m**2)
    return float(1.0 - 8.0 / np.pi**2 * np.sum(decay / (n * n)))


def film_half_time_h(mass_kg_m2: float, slope: float, transfer_kg_m2_s_pa: float) -> float:
    """Return the half-time of a sheet behind a film at 20 °C, without heat of sorption [h]."""
    rate = transfer_kg_m2_s_pa * float(saturation_pressure_pa(20.0)) / (mass_kg_m2 * slope)
    return LN2 / rate / 3600.0


def surface_factor_needed(target_c: float, room_c: float, outdoor_c: float) -> float:
    """Return fRsi = (T_si - T_out)/(T_in - T_out) that keeps a surface at a target temperature."""
    return (target_c - outdoor_c) / (room_c - outdoor_c)


def sealed_empty_rh_pct(rh_pct: float, temp_c: float, new_temp_c: float) -> float:
    """Return the humidity of a sealed volume of bare air after a change of temperature [%]."""
    ratio = saturation_density_kg_m3(temp_c) / saturation_density_kg_m3(new_temp_c)
    return rh_pct * ratio


def band_after_gap_pct(width_pct: float, gap_h: float, since_h: float, half_time_h: float) -> float:
    """Return the width between high and low copy, some time after the end of a gap [%RH].

    W (1 - 2^(-g/t½)) 2^(-s/t½)

    Examples
    --------
    >>> band_after_gap_pct(20.0, 24.0, 0.0, 24.0)
    10.0
    """
    if half_time_h <= 0.0:
        raise OutOfRangeError(
            read="band after a gap",
            where="half_time_h",
            found=str(half_time_h),
            expected="more than 0 h",
            action="Give the frame's half-time.",
        )
    grown = width_pct * (1.0 - 2.0 ** (-gap_h / half_time_h))
    return float(grown * 2.0 ** (-since_h / half_time_h))
