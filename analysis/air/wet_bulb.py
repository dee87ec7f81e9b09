"""Wet-bulb temperature: what a wetted thermometer in moving air would show."""

import numpy as np
import numpy.typing as npt

from analysis.air.moist_air import (
    Numbers,
    humidity_ratio_kg_kg,
    pressure_of,
    ratio_of_pressures,
    saturation_pressure_over_ice_pa,
    saturation_pressure_pa,
)
from analysis.parameters import table

Floats = npt.NDArray[np.float64]
HALVINGS = 48
LOWEST_C = -100.0


def wet_bulb_c(
    temp_c: Numbers,
    rh_pct: Numbers,
    *,
    pressure_pa: float | None = None,
    altitude_m: float | None = None,
) -> Floats:
    """Return the wet-bulb temperature [°C].

    The wick is wet at and above 0 °C and iced below. Where both would do, the wet one is given.

    Examples
    --------
    >>> float(wet_bulb_c(20.0, 50.0).round(2))
    13.78
    """
    pressure = pressure_of(pressure_pa, altitude_m)
    ratio = humidity_ratio_kg_kg(temp_c, rh_pct, pressure_pa=pressure)
    temp, ratio = np.broadcast_arrays(np.asarray(temp_c, dtype=np.float64), ratio)
    zero = np.zeros_like(temp)
    wet = (temp >= 0.0) & (ratio >= ratio_from_wet_bulb(temp, zero, pressure))
    low = np.where(wet, 0.0, LOWEST_C)
    # An iced wick is at most at 0 °C, and never warmer than the air.
    high = np.where(wet, temp, np.minimum(temp, -1e-9))
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        too_warm = ratio_from_wet_bulb(temp, middle, pressure) > ratio
        low, high = np.where(too_warm, low, middle), np.where(too_warm, middle, high)
    return np.where(np.isfinite(ratio), (low + high) / 2.0, np.nan)


def ratio_from_wet_bulb(temp_c: Numbers, wet_bulb_c: Numbers, pressure_pa: float) -> Floats:
    """Return the humidity ratio [kg/kg] from dry and wet bulb [°C] and pressure [Pa]."""
    temp, bulb = np.asarray(temp_c, dtype=np.float64), np.asarray(wet_bulb_c, dtype=np.float64)
    c = {name: row.value for name, row in table("moist_air")["wet_bulb"].items()}
    ice = bulb < 0.0
    saturation = np.where(ice, saturation_pressure_over_ice_pa(bulb), saturation_pressure_pa(bulb))
    latent = np.where(ice, c["ice_latent"], c["water_latent"])
    slope = np.where(ice, c["ice_slope"], c["water_slope"])
    heat = np.where(ice, c["ice_heat"], c["water_heat"])
    # ASHRAE2017, ch. 1, eq. 33 (water) and 35 (ice)
    saturated = (latent - slope * bulb) * ratio_of_pressures(saturation, pressure_pa)
    return np.asarray(
        (saturated - c["dry_air_heat"] * (temp - bulb))
        / (latent + c["vapour_heat"] * temp - heat * bulb)
    )
