"""What the psychrometric picture and the carpet of a room are drawn from, as plain arrays."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.moist_air import humidity_ratio_kg_kg, pressure_of
from analysis.air.swings import local_days
from analysis.air.time_weights import cells
from analysis.results import Band, Event
from analysis.series import require_readings, usable

Floats = npt.NDArray[np.float64]
RH_LINES_PCT = (10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0)
LINE_POINTS = 60
TEMP_CELLS, RATIO_CELLS = 60, 50


@dataclass(frozen=True)
class Trail:
    """The way of the air through one event. Arrays of shape (k,)."""

    event: Event
    temp_c: Floats
    humidity_ratio_kg_kg: Floats


@dataclass(frozen=True)
class PsychrometricPicture:
    """Temperature against humidity ratio: where a room's air spent its time.

    Parameters
    ----------
    temp_edges_c : numpy.ndarray, shape (i + 1,)
        Edges of the cells in temperature [°C].
    ratio_edges_kg_kg : numpy.ndarray, shape (j + 1,)
        Edges of the cells in humidity ratio [kg/kg].
    hours : numpy.ndarray, shape (j, i)
        Hours spent in each cell.
    rh_lines : mapping of %RH to (temp_c, humidity_ratio_kg_kg)
        Curves of equal relative humidity across the picture.
    band_outline : tuple of numpy.ndarray, or None
        Temperature and humidity ratio of the agreed band's outline, closed, shape (m,).
    trails : sequence of Trail
        One for each event that was asked for and has readings.
    pressure_pa : float
        The air pressure used [Pa].
    """

    temp_edges_c: Floats
    ratio_edges_kg_kg: Floats
    hours: Floats
    rh_lines: dict[float, tuple[Floats, Floats]]
    band_outline: tuple[Floats, Floats] | None
    trails: Sequence[Trail]
    pressure_pa: float


@dataclass(frozen=True)
class Carpet:
    """A record as a carpet: hours of the local day up, days along.

    ``values`` has the shape (24, days), NaN where nothing was measured: a whole day without
    readings, or the hour that does not exist in spring. The doubled hour of autumn is one mean.
    """

    days: npt.NDArray[np.datetime64]
    values: Floats
    zone: str


def psychrometric_picture(
    frame: pd.DataFrame,
    *,
    band: Band | None = None,
    events: Sequence[Event] = (),
    pressure_pa: float | None = None,
    altitude_m: float | None = None,
) -> PsychrometricPicture:
    """Return the density of a room's air over temperature and humidity ratio, by time.

    Readings with a flag of `analysis.series.UNFIT` are left out of the density; trails show all
    readings of their event.
    """
    require_readings(frame, read="readings for the psychrometric picture")
    pressure = pressure_of(pressure_pa, altitude_m)
    rh, temp = usable(frame, "rh_pct"), usable(frame, "temp_c")
    fit = (rh.notna() & temp.notna()).to_numpy()
    ratio = humidity_ratio_kg_kg(temp[fit], rh[fit], pressure_pa=pressure)
    air = temp[fit].to_numpy()
    temp_edges, ratio_edges = _edges(air, 0.5, TEMP_CELLS), _edges(ratio, 5e-4, RATIO_CELLS)
    width_h = cells(pd.DatetimeIndex(frame.index[fit])).width_s / 3600.0
    known = np.isfinite(ratio)
    hours, _, _ = np.histogram2d(
        ratio[known], air[known], bins=(ratio_edges, temp_edges), weights=width_h[known]
    )
    return PsychrometricPicture(
        temp_edges_c=temp_edges,
        ratio_edges_kg_kg=ratio_edges,
        hours=hours,
        rh_lines=_rh_lines(temp_edges, pressure),
        band_outline=_outline(band, temp_edges, pressure) if band else None,
        trails=_trails(frame, events, pressure),
        pressure_pa=pressure,
    )


def carpet(frame: pd.DataFrame, zone: str, column: str = "rh_pct") -> Carpet:
    """Return hourly means as an array of local hours × local days.

    Examples
    --------
    >>> from analysis.series import readings_frame
    >>> hours = pd.date_range("2030-01-01", periods=48, freq="h", tz="UTC")
    >>> carpet(readings_frame(hours, rh_pct=range(48)), "UTC").values[5].tolist()
    [5.0, 29.0]
    """
    require_readings(frame, read="readings for the carpet")
    values = usable(frame, column).dropna()
    index = pd.DatetimeIndex(values.index)
    day = local_days(index, zone)
    if values.empty:
        return Carpet(np.empty(0, dtype="datetime64[D]"), np.empty((24, 0)), zone)
    days = pd.date_range(day.min(), day.max(), freq="D")
    column_of = ((day - days[0]) // pd.Timedelta(days=1)).to_numpy()
    place = index.tz_convert(zone).hour.to_numpy() * len(days) + column_of
    sums = np.bincount(place, weights=values.to_numpy(), minlength=24 * len(days))
    counts = np.bincount(place, minlength=24 * len(days))
    means = np.where(counts > 0, sums / np.maximum(counts, 1), np.nan)
    return Carpet(days.to_numpy().astype("datetime64[D]"), means.reshape(24, len(days)), zone)


def _edges(values: Floats, step: float, most: int) -> Floats:
    """Return edges on round numbers around the values, in at most so many cells."""
    known = values[np.isfinite(values)]
    if len(known) == 0:
        return np.array([0.0, step])
    low, high = np.floor(known.min() / step) * step, (np.floor(known.max() / step) + 1) * step
    while (high - low) / step > most:
        step *= 2.0
        low, high = np.floor(low / step) * step, np.ceil(high / step) * step
    return np.asarray(low + step * np.arange(round((high - low) / step) + 1))


def _rh_lines(temp_edges: Floats, pressure: float) -> dict[float, tuple[Floats, Floats]]:
    temp = np.linspace(temp_edges[0], temp_edges[-1], LINE_POINTS)
    return {rh: (temp, humidity_ratio_kg_kg(temp, rh, pressure_pa=pressure)) for rh in RH_LINES_PCT}


def _outline(band: Band, temp_edges: Floats, pressure: float) -> tuple[Floats, Floats]:
    """Return the closed outline of a band; without limits of temperature it spans the picture."""
    low = temp_edges[0] if band.low_temp_c is None else band.low_temp_c
    high = temp_edges[-1] if band.high_temp_c is None else band.high_temp_c
    there = np.linspace(low, high, LINE_POINTS)
    lower = humidity_ratio_kg_kg(there, band.low_rh_pct, pressure_pa=pressure)
    upper = humidity_ratio_kg_kg(there, band.high_rh_pct, pressure_pa=pressure)
    temp = np.concatenate([there, there[::-1], there[:1]])
    return temp, np.concatenate([lower, upper[::-1], lower[:1]])


def _trails(frame: pd.DataFrame, events: Sequence[Event], pressure: float) -> list[Trail]:
    trails = []
    for event in events:
        part = frame[(frame.index >= event.start_utc) & (frame.index <= event.end_utc)]
        part = part.dropna(subset=["temp_c", "rh_pct"])
        if len(part) >= 2:
            ratio = humidity_ratio_kg_kg(part["temp_c"], part["rh_pct"], pressure_pa=pressure)
            trails.append(Trail(event, part["temp_c"].to_numpy(), ratio))
    return trails
