"""Moist air: dew point, vapour pressure, humidity ratio and what follows from them.

Relative humidity and dew point are over liquid water at every temperature, as humidity sensors
report them and weather services publish them; below 0 °C the frost point is a second field.
Inputs are numbers, arrays or Series; results are arrays of their shape. What cannot be worked out
is NaN, never zero: NaN in, NaN out; no dew point at 0 %RH. Readings above 100 %RH are worked out
as saturated air up to the sensor slack of ``published/moist_air.toml``; beyond it, and below
0 %RH, there is no answer.

psychrolib is scalar and takes 10 s for a million dew points. Its saturation curve is therefore
sampled once at half-degree knots, over water and over ice apart, and interpolated by cubic splines
in both directions, which stays within 1e-8 K of it.
"""

import importlib
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from types import ModuleType
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.interpolate import CubicSpline

from analysis.errors import OutOfRangeError
from analysis.parameters import parameter, table
from analysis.series import Flag, require_readings

Numbers = float | npt.NDArray[np.float64] | pd.Series
Floats = npt.NDArray[np.float64]

KELVIN = 273.15
TRIPLE_POINT_C = 0.01
COLDEST_C, WARMEST_C, KNOT_STEP_C = -100.0, 120.0, 0.5

AIR_COLUMNS = (
    "temp_c",
    "rh_pct",
    "dew_point_c",
    "frost_point_c",
    "vapour_pressure_pa",
    "humidity_ratio_kg_kg",
    "absolute_humidity_g_m3",
    "flags",
)
HALVINGS = 48
LOWEST_C = -100.0


def _plain_psychrolib() -> ModuleType:
    """Import psychrolib as plain Python, whether or not numba is installed.

    With numba present psychrolib compiles itself at the first call (over a second) and answers
    0.0 °C for NaN and for 0 %RH instead of raising. A None in ``sys.modules`` makes its
    ``import numba`` fail as if numba were absent; the entry is put back at once.
    """
    absent = object()
    numba: Any = sys.modules.get("numba", absent)
    sys.modules["numba"] = None  # type: ignore[assignment]
    try:
        library = importlib.import_module("psychrolib")
    finally:
        if numba is absent:
            del sys.modules["numba"]
        else:
            sys.modules["numba"] = numba
    library.SetUnitSystem(library.SI)
    return library


psychrolib = _plain_psychrolib()


@dataclass(frozen=True)
class SaturationCurve:
    """Saturation pressure over one phase: ln Pa from °C, and °C from ln Pa."""

    log_pressure: Callable[[Floats], Floats]
    temperature: Callable[[Floats], Floats]


def _curve(knots_c: Floats, log_pressures: list[float]) -> SaturationCurve:
    log_pressure = np.array(log_pressures)
    return SaturationCurve(
        CubicSpline(knots_c, log_pressure, extrapolate=False),
        CubicSpline(log_pressure, knots_c, extrapolate=False),
    )


@cache
def over_water() -> SaturationCurve:
    """Return the curve over liquid water, supercooled below the triple point."""
    knots_c = np.arange(COLDEST_C, WARMEST_C + KNOT_STEP_C, KNOT_STEP_C)
    return _curve(
        knots_c,
        [
            np.log(psychrolib.GetSatVapPres(float(t)))
            if t > TRIPLE_POINT_C
            else _log_pressure_over_water(float(t))
            for t in knots_c
        ],
    )


@cache
def over_ice() -> SaturationCurve:
    """Return the curve over ice, up to the triple point."""
    knots_c = np.append(np.arange(COLDEST_C, 0.0, KNOT_STEP_C), [0.0, TRIPLE_POINT_C])
    # psychrolib changes to water above the triple point; at it, the ice branch still answers.
    return _curve(knots_c, [np.log(psychrolib.GetSatVapPres(float(t))) for t in knots_c])


def _log_pressure_over_water(temp_c: float) -> float:
    c = {name: row.value for name, row in table("moist_air")["water"].items()}
    t = temp_c + KELVIN
    # ASHRAE2017, ch. 1, eq. 6
    return float(
        c["c1"] / t + c["c2"] + c["c3"] * t + c["c4"] * t**2 + c["c5"] * t**3 + c["c6"] * np.log(t)
    )


def saturation_pressure_pa(temp_c: Numbers) -> Floats:
    """Return the saturation pressure over liquid water [Pa], below 0 °C too.

    Examples
    --------
    >>> saturation_pressure_pa([5.0, 25.0]).round(1)
    array([ 872.5, 3169.2])
    """
    return np.asarray(np.exp(over_water().log_pressure(_floats(temp_c))))


def saturation_pressure_over_ice_pa(temp_c: Numbers) -> Floats:
    """Return the saturation pressure over ice [Pa]; NaN above the triple point."""
    return np.asarray(np.exp(over_ice().log_pressure(_floats(temp_c))))


def vapour_pressure_pa(temp_c: Numbers, rh_pct: Numbers) -> Floats:
    """Return the partial pressure of water vapour [Pa].

    Parameters
    ----------
    temp_c : number, array or Series
        Air temperature [°C], between −100 and 120.
    rh_pct : number, array or Series
        Relative humidity over water [%].
    """
    return np.asarray(saturation_pressure_pa(temp_c) * _clamped(rh_pct) / 100.0)


def dew_point_c(temp_c: Numbers, rh_pct: Numbers) -> Floats:
    """Return the dew point over water [°C], also below 0 °C (see `frost_point_c`).

    Examples
    --------
    >>> dew_point_c([20.0, 20.0, 20.0], [50.0, 0.0, float("nan")]).round(3)
    array([9.272,   nan,   nan])
    """
    with np.errstate(divide="ignore"):
        log_pressure = np.log(_clamped(rh_pct) / 100.0)
    return np.asarray(
        over_water().temperature(over_water().log_pressure(_floats(temp_c)) + log_pressure)
    )


def dew_point_from_vapour_pressure_c(vapour_pressure_pa: Numbers) -> Floats:
    """Return the dew point over water [°C] of a vapour pressure [Pa]; NaN where it is not > 0."""
    return np.asarray(over_water().temperature(_log(vapour_pressure_pa)))


def frost_point_c(temp_c: Numbers, rh_pct: Numbers) -> Floats:
    """Return the frost point [°C] where it lies below the triple point, NaN elsewhere.

    Examples
    --------
    >>> frost_point_c([10.0, 20.0], [30.0, 50.0]).round(2)
    array([-6.01,   nan])
    """
    return np.asarray(over_ice().temperature(_log(vapour_pressure_pa(temp_c, rh_pct))))


def rh_from_vapour_pressure(temp_c: Numbers, vapour_pressure_pa: Numbers) -> Floats:
    """Return the relative humidity over water [%] of air holding a vapour pressure [Pa]."""
    return np.asarray(_floats(vapour_pressure_pa) / saturation_pressure_pa(temp_c) * 100.0)


def surface_rh_pct(temp_c: Numbers, rh_pct: Numbers, surface_temp_c: Numbers) -> Floats:
    """Return the relative humidity [%] of the room's air at a surface's temperature.

    Above 100 the surface is below the dew point.

    Examples
    --------
    >>> float(surface_rh_pct(20.0, 50.0, 15.0).round(2))
    68.57
    """
    return rh_from_vapour_pressure(surface_temp_c, vapour_pressure_pa(temp_c, rh_pct))


def air_pressure_pa(altitude_m: float) -> float:
    """Return the pressure of the standard atmosphere [Pa] at an altitude [m].

    Raises
    ------
    OutOfRangeError
        Outside −500 to 9000 m.
    """
    if not -500.0 <= altitude_m <= 9000.0:
        raise OutOfRangeError(
            read="altitude",
            where="",
            found=f"{altitude_m} m",
            expected="−500 to 9000 m",
            action="Give the altitude of the building above the sea, in metres.",
        )
    return float(psychrolib.GetStandardAtmPressure(float(altitude_m)))


def pressure_of(pressure_pa: float | None, altitude_m: float | None) -> float:
    """Return the pressure given, or that of the altitude, or that of sea level [Pa].

    Raises
    ------
    OutOfRangeError
        If the pressure is none that weather and altitude can make.
    """
    if pressure_pa is None:
        return air_pressure_pa(altitude_m or 0.0)
    if not 30_000.0 <= pressure_pa <= 110_000.0:
        raise OutOfRangeError(
            read="air pressure",
            where="",
            found=f"{pressure_pa} Pa",
            expected="30000 to 110000 Pa",
            action="Give the pressure in pascals (1013 hPa = 101300 Pa), or the altitude.",
        )
    return pressure_pa


def humidity_ratio_kg_kg(
    temp_c: Numbers,
    rh_pct: Numbers,
    *,
    pressure_pa: float | None = None,
    altitude_m: float | None = None,
) -> Floats:
    """Return water per dry air [kg/kg] at a pressure, or at an altitude (sea level if neither)."""
    return ratio_of_pressures(
        vapour_pressure_pa(temp_c, rh_pct), pressure_of(pressure_pa, altitude_m)
    )


def ratio_of_pressures(vapour_pressure_pa: Numbers, pressure_pa: float) -> Floats:
    """Return the humidity ratio [kg/kg] of a vapour pressure in an air pressure, both in Pa."""
    vapour = _floats(vapour_pressure_pa)
    dry = np.where(vapour < pressure_pa, pressure_pa - vapour, np.nan)
    # ASHRAE2017, ch. 1, eq. 20
    return np.asarray(parameter("moist_air", "air", "mass_ratio").value * vapour / dry)


def absolute_humidity_g_m3(temp_c: Numbers, rh_pct: Numbers) -> Floats:
    """Return water per volume of moist air [g/m³]."""
    return _density_g_m3(temp_c, vapour_pressure_pa(temp_c, rh_pct))


def _density_g_m3(temp_c: Numbers, vapour: Floats) -> Floats:
    gas_constant = parameter("moist_air", "air", "vapour_gas_constant").value
    return np.asarray(1000.0 * vapour / (gas_constant * (_floats(temp_c) + KELVIN)))


def derived_air(
    frame: pd.DataFrame, *, pressure_pa: float | None = None, altitude_m: float | None = None
) -> pd.DataFrame:
    """Return the readings with everything that follows from temperature and humidity.

    Parameters
    ----------
    frame : pandas.DataFrame, n readings
        As `analysis.series.readings_frame` makes it.
    pressure_pa, altitude_m : float, optional
        Air pressure [Pa], or altitude [m] of a standard atmosphere; sea level if neither.

    Returns
    -------
    pandas.DataFrame, n readings
        The columns `AIR_COLUMNS`; ``flags`` gains `Flag.OUT_OF_RANGE` where a humidity is none
        that air can have. Readings themselves are passed on unchanged.
    """
    require_readings(frame, read="readings for derived air")
    temp_c, rh_pct = frame["temp_c"].to_numpy(), frame["rh_pct"].to_numpy()
    pressure = pressure_of(pressure_pa, altitude_m)
    vapour = vapour_pressure_pa(temp_c, rh_pct)
    odd = ~np.isnan(rh_pct) & (np.isnan(_clamped(rh_pct)) | (rh_pct <= 0.0))
    columns = {
        "temp_c": temp_c,
        "rh_pct": rh_pct,
        "dew_point_c": dew_point_from_vapour_pressure_c(vapour),
        "frost_point_c": over_ice().temperature(_log(vapour)),
        "vapour_pressure_pa": vapour,
        "humidity_ratio_kg_kg": ratio_of_pressures(vapour, pressure),
        "absolute_humidity_g_m3": _density_g_m3(temp_c, vapour),
        "flags": frame["flags"].to_numpy() | np.where(odd, int(Flag.OUT_OF_RANGE), 0),
    }
    return pd.DataFrame(columns, index=frame.index).astype({"flags": "int32"})


def _floats(values: Numbers) -> Floats:
    return np.asarray(values, dtype=np.float64)


def _log(values: Numbers) -> Floats:
    positive = _floats(values)
    return np.asarray(np.log(np.where(positive > 0.0, positive, np.nan)))


@cache
def _highest_rh_pct() -> float:
    return 100.0 + parameter("moist_air", "sensor", "slack_rh_pct").value


def _clamped(rh_pct: Numbers) -> Floats:
    """Return RH with the sensor slack above 100 taken as 100, and NaN where air cannot be so."""
    rh = _floats(rh_pct)
    possible = (rh >= 0.0) & (rh <= _highest_rh_pct())
    return np.where(possible, np.minimum(rh, 100.0), np.nan)


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
