"""Cold surfaces: their temperature, the humidity at them, the margin to the dew point."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.moist_air import (
    dew_point_c,
    dew_point_from_vapour_pressure_c,
    rh_from_vapour_pressure,
    vapour_pressure_pa,
)
from analysis.air.time_weights import HOUR_S, cells, gap_s, seconds
from analysis.errors import OutOfRangeError
from analysis.parameters import Parameter, parameter
from analysis.series import require_readings, usable
from analysis.works import Wall

Floats = npt.NDArray[np.float64]
BARE_WALL, WALL_BEHIND_FRAME, BACK_OF_FRAME = "bare_wall", "wall_behind_frame", "back_of_frame"
WALL_ROWS = {
    Wall.INSIDE: "inside",
    Wall.OUTSIDE_INSULATED: "outside_insulated",
    Wall.OUTSIDE_MASONRY: "outside_masonry",
}


def surface_factor(wall: Wall, where: str = BARE_WALL) -> Parameter:
    """Return the surface factor of a wall: 1 follows the room, 0 follows the outdoors.

    Parameters
    ----------
    wall : Wall
        What the frame hangs on.
    where : str
        ``bare_wall``, ``wall_behind_frame`` or ``back_of_frame``.
    """
    return parameter("cold_surfaces", where, WALL_ROWS[wall])


def surface_temperature_c(
    temp_c: Floats | float, outdoor_temp_c: Floats | float, factor: Floats | float
) -> Floats:
    """Return the temperature of a surface between a room and the outdoors, at rest [°C].

    Parameters
    ----------
    temp_c, outdoor_temp_c : float or numpy.ndarray
        Air of the room and outdoors [°C].
    factor : float
        Surface factor, 0 to 1: (surface − outdoors) / (room − outdoors), ISO13788.

    Examples
    --------
    >>> float(surface_temperature_c(20.0, -5.0, 0.7))
    12.5
    """
    if not np.all((np.asarray(factor) >= 0.0) & (np.asarray(factor) <= 1.0)):
        raise OutOfRangeError(
            read="surface factor",
            where="",
            found=f"{factor}",
            expected="a number from 0 to 1",
            action="Give (surface − outdoors) divided by (room − outdoors).",
        )
    outdoor = np.asarray(outdoor_temp_c, dtype=np.float64)
    return np.asarray(outdoor + factor * (np.asarray(temp_c, dtype=np.float64) - outdoor))


def required_factor(
    temp_c: float, rh_pct: float, outdoor_temp_c: float, surface_limit_rh_pct: float = 100.0
) -> float:
    """Return the least surface factor that keeps the surface below a humidity.

    Examples
    --------
    >>> round(required_factor(20.0, 50.0, -5.0), 2)
    0.57
    """
    # air whose dew point is the surface's temperature when it holds that humidity
    coldest = float(dew_point_c(temp_c, 100.0 * rh_pct / surface_limit_rh_pct))
    return (coldest - outdoor_temp_c) / (temp_c - outdoor_temp_c)


def glazing_margin_k(package_temp_c: Floats | float, package_rh_pct: Floats | float) -> Floats:
    """Return how much colder than the package the glazing may be before water forms inside it [K].

    Use the air of the package for the inner face of the glazing, that of the room for outer faces.

    Examples
    --------
    >>> glazing_margin_k(np.full(3, 20.0), np.array([50.0, 70.0, 90.0])).round(1)
    array([10.7,  5.6,  1.7])
    """
    package = np.asarray(package_temp_c, dtype=np.float64)
    return np.asarray(package - dew_point_c(package, np.asarray(package_rh_pct, dtype=np.float64)))


@dataclass(frozen=True)
class Reckoned:
    """A surface whose temperature follows from a wall's surface factor."""

    where: str
    wall: Wall
    factor: float


@dataclass(frozen=True)
class ColdSurface:
    """A surface through a record. Arrays have shape (n,), NaN where something was not measured.

    Hours are by time. ``margin_k`` is surface less dew point: below nought water forms.
    ``reckoned`` says how the temperature of the surface was; None where it was logged.
    """

    time_utc: pd.DatetimeIndex
    surface_temp_c: Floats
    surface_rh_pct: Floats
    margin_k: Floats
    condensation_h: float
    look_h: float
    near_h: float
    humid_h: float
    least_margin_k: float
    least_margin_utc: datetime | None
    measured_h: float
    reckoned: Reckoned | None


def cold_surface(readings: pd.DataFrame, surface_temp_c: pd.Series) -> ColdSurface:
    """Return the state of a surface whose temperature is known.

    Parameters
    ----------
    readings : pandas.DataFrame
        Air of the room, as in `analysis.series`.
    surface_temp_c : pandas.Series
        Surface temperature at any UTC times; read between neighbours, never across a gap [°C].
    """
    air = _room_air(readings)
    return _surface(air, at_times(surface_temp_c, air.time_utc), None)


def wall_surface(
    readings: pd.DataFrame, outdoor_temp_c: pd.Series, wall: Wall, where: str = BARE_WALL
) -> tuple[ColdSurface, ColdSurface, ColdSurface]:
    """Return the surface for the table's factor and for both ends of its range (cold, mid, warm).

    At the back of a frame on an outside wall this gives the humidity there, if the air of the room
    reaches it: an upper bound for a frame that is sealed.
    """
    factor = surface_factor(wall, where)
    air = _room_air(readings)
    outdoor = at_times(outdoor_temp_c, air.time_utc)
    cold, mid, warm = (
        _surface(
            air,
            surface_temperature_c(air.temp_c, outdoor, f),
            Reckoned(where, wall, f),
        )
        for f in (factor.low, factor.value, factor.high)
    )
    return cold, mid, warm


@dataclass(frozen=True)
class _RoomAir:
    time_utc: pd.DatetimeIndex
    temp_c: Floats
    dew_point_c: Floats
    vapour_pressure_pa: Floats


def _room_air(readings: pd.DataFrame) -> _RoomAir:
    require_readings(readings, read="readings before a cold surface")
    temp, rh = (usable(readings, name).to_numpy(dtype=np.float64) for name in ("temp_c", "rh_pct"))
    vapour = vapour_pressure_pa(temp, rh)
    index = pd.DatetimeIndex(readings.index)
    return _RoomAir(index, temp, dew_point_from_vapour_pressure_c(vapour), vapour)


def _surface(air: _RoomAir, surface_temp_c: Floats, reckoned: Reckoned | None) -> ColdSurface:
    margin = surface_temp_c - air.dew_point_c
    humid = rh_from_vapour_pressure(surface_temp_c, air.vapour_pressure_pa)
    known = np.isfinite(margin)
    width_h = cells(air.time_utc[known]).width_s / HOUR_S
    look, near = (parameter("cold_surfaces", "margin", name).value for name in ("look", "near"))
    damp = parameter("cold_surfaces", "humid", "mould").value
    least = int(np.nanargmin(margin)) if known.any() else 0
    return ColdSurface(
        time_utc=air.time_utc,
        surface_temp_c=surface_temp_c,
        surface_rh_pct=humid,
        margin_k=margin,
        condensation_h=float(width_h[margin[known] <= 0.0].sum()),
        look_h=float(width_h[margin[known] < look].sum()),
        near_h=float(width_h[margin[known] < near].sum()),
        humid_h=float(width_h[humid[known] >= damp].sum()),
        least_margin_k=float(margin[least]) if known.any() else float("nan"),
        least_margin_utc=air.time_utc[least].to_pydatetime() if known.any() else None,
        measured_h=float(width_h.sum()),
        reckoned=reckoned,
    )


def at_surface(readings: pd.DataFrame, surface: ColdSurface) -> pd.DataFrame:
    """Return readings of the air at the surface, for the mould models of `analysis.harm`."""
    at = readings.copy()
    at["temp_c"], at["rh_pct"] = surface.surface_temp_c, np.minimum(surface.surface_rh_pct, 100.0)
    return at


def at_times(values: pd.Series, index: pd.DatetimeIndex) -> Floats:
    """Return a record at other times, between neighbours that touch; NaN in gaps and outside it."""
    valid = values.dropna()
    if valid.empty:
        return np.full(len(index), np.nan)
    own, wanted = seconds(pd.DatetimeIndex(valid.index)), seconds(index)
    steps = np.diff(own)
    longest = gap_s(float(np.median(steps))) if len(steps) else 0.0
    right = np.clip(np.searchsorted(own, wanted), 0, len(own) - 1)
    left = np.clip(np.searchsorted(own, wanted, side="right") - 1, 0, len(own) - 1)
    near = (own[right] - own[left] <= longest) & (wanted >= own[0]) & (wanted <= own[-1])
    return np.where(near, np.interp(wanted, own, valid.to_numpy()), np.nan)
