"""Mould: the index after Hukka and Viitanen by the hour, and a second opinion by daily doses.

The doses are those of Thelandersson and Isaksson.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.swings import local_days
from analysis.air.time_weights import hourly_grid
from analysis.parameters import Parameter, table
from analysis.series import require_readings, usable

Floats = npt.NDArray[np.float64]

NEARLY_NOUGHT = 1e-9

HEALTH_CAUTION = (
    "Mould: protect people first. Those with asthma or an allergy keep away; whoever must come "
    "near wears a fitted respirator and gloves. Do not sniff, brush or fan. Isolate what is "
    "affected, but do not bag it while it is damp: mould goes on growing in the bag. Under 0.3 m² "
    "is small, 0.3 to 3 m² is medium (classes recalled from guidance on buildings, no source "
    "read); beyond that call outside expertise."
)
ORDINAL_NOTE = (
    "The index is a rank from 0 (nothing) over 1 (begins, seen under a microscope) and 3 (just "
    "visible) to 6 (covered), made for building materials. Read its order, not its decimals."
)
HOURS_OF_A_DAY = 18


class Sensitivity(StrEnum):
    """How readily a surface grows mould; paper and gelatin were never classified."""

    VERY_SENSITIVE = "very sensitive"
    SENSITIVE = "sensitive"
    MEDIUM_RESISTANT = "medium resistant"
    RESISTANT = "resistant"

    @property
    def group(self) -> str:
        """Name of the class in ``published/mould.toml``."""
        return self.value.replace(" ", "_")


@dataclass(frozen=True)
class MouldHistory:
    """The index through a record. ``index`` has shape (n,), hourly.

    ``unknown_h`` hours were not measured: the index was held through them, which is neither growth
    nor decline.
    """

    time_utc: pd.DatetimeIndex
    index: Floats
    sensitivity: Sensitivity
    highest: float
    at_end: float
    first_at_1_utc: datetime | None
    growing_h: int
    unknown_h: int
    coverage_pct: float


def onset_rh_pct(temp_c: Floats | float, sensitivity: Sensitivity) -> Floats:
    """Return the humidity from which mould grows on a surface [%RH].

    The class's own least humidity holds at every temperature, below 20 °C too.

    Examples
    --------
    >>> float(onset_rh_pct(5.0, Sensitivity.VERY_SENSITIVE).round(3))
    88.016
    """
    # HukkaViitanen1999: humidity of onset, a cubic up to 20 °C
    g, temp = _growth(), np.asarray(temp_c, dtype=np.float64)
    cubic = g["onset_rh_cubic"] * temp**3 + g["onset_rh_square"] * temp**2
    cubic = cubic + g["onset_rh_linear"] * temp + g["onset_rh_constant"]
    least = _class(sensitivity)["rh_min"]
    return np.where(temp <= g["onset_rh_until"], np.maximum(cubic, least), least)


def weeks_to_begin(temp_c: Floats | float, rh_pct: Floats | float, *, wood: float = 0.0) -> Floats:
    """Return the weeks until the index reaches 1 under a constant climate.

    Parameters
    ----------
    temp_c, rh_pct : float or numpy.ndarray
        Climate at the surface, above 0 °C [°C], [%RH].
    wood : float
        0 for pine, 1 for spruce. The surface term is that of resawn wood, nought.

    Examples
    --------
    >>> float(weeks_to_begin(20.0, 97.0).round(3))
    1.484
    """
    # HukkaViitanen1999: time to the first stage
    g = _growth()
    exponent = g["time_temp"] * np.log(temp_c) + g["time_rh"] * np.log(rh_pct)
    return np.asarray(np.exp(exponent + g["time_wood"] * wood + g["time_constant"]))


def largest_index(
    temp_c: Floats | float, rh_pct: Floats | float, sensitivity: Sensitivity
) -> Floats:
    """Return the index that growth approaches under a constant climate.

    Examples
    --------
    >>> float(largest_index(20.0, 90.0, Sensitivity.VERY_SENSITIVE).round(3))
    3.995
    """
    # OjanenEtAl2010: largest index by class
    c, onset_rh = _class(sensitivity), onset_rh_pct(temp_c, sensitivity)
    share = (onset_rh - rh_pct) / np.minimum(onset_rh - 100.0, -NEARLY_NOUGHT)
    return np.asarray(c["max_a"] + c["max_b"] * share - c["max_c"] * share**2)


def hourly_mould_index(
    temp_c: Floats,
    rh_pct: Floats,
    sensitivity: Sensitivity,
    *,
    start: float = 0.0,
    step_h: float = 1.0,
    restart: npt.NDArray[np.bool_] | None = None,
) -> Floats:
    """Return the index after each step.

    Parameters
    ----------
    temp_c, rh_pct : numpy.ndarray, shape (n,)
        Climate at the surface over each step [°C], [%RH]; NaN where unknown.
    sensitivity : Sensitivity
        Class of the surface.
    start : float
        Index before the first step.
    step_h : float
        Length of a step [h]. Rates are per day and are divided by 24 for an hour.
    restart : numpy.ndarray of bool, shape (n,), optional
        Steps at which the index goes back to ``start``.

    Returns
    -------
    numpy.ndarray, shape (n,)
        Never below 0. An unknown step holds the index and the clock of the decline.

    References
    ----------
    HukkaViitanen1999; classes of OjanenEtAl2010.
    """
    again = np.zeros(len(rh_pct), dtype=bool) if restart is None else restart
    rate, ceiling, known = _growth_rates(temp_c, rh_pct, sensitivity, step_h)
    if start == 0.0 and not (rate > 0).any():
        return np.zeros(len(rh_pct))
    return _march(rate, ceiling, known, again, start, step_h, sensitivity)


def can_grow(temp_c: Floats, rh_pct: Floats, sensitivity: Sensitivity) -> npt.NDArray[np.bool_]:
    """Return where mould grows on a surface; False where something is unknown.

    Examples
    --------
    >>> can_grow(np.array([20.0, 20.0, -1.0]), np.array([90.0, 70.0, 90.0]), Sensitivity.SENSITIVE)
    array([ True, False, False])
    """
    g = _growth()
    warm = (temp_c > g["temp_low"]) & (temp_c < g["temp_high"])
    return np.asarray(warm & (rh_pct >= onset_rh_pct(temp_c, sensitivity)))


def _growth_rates(
    temp_c: Floats, rh_pct: Floats, sensitivity: Sensitivity, step_h: float
) -> tuple[Floats, Floats, npt.NDArray[np.bool_]]:
    """Growth per step before k1 and k2 (0: no growth), the ceiling, and what is known."""
    g = _growth()
    known = np.isfinite(temp_c) & np.isfinite(rh_pct)
    grows = can_grow(temp_c, rh_pct, sensitivity)
    rh = np.where(grows, np.minimum(rh_pct, 100.0), 100.0)
    temp = np.where(grows, temp_c, g["onset_rh_until"])
    weeks = weeks_to_begin(temp, rh)
    rate = np.where(grows, step_h / 24.0 / (7.0 * weeks), 0.0)
    ceiling = np.where(grows, largest_index(temp, rh, sensitivity), 0.0)
    return rate, ceiling, known


def _march(
    rate: Floats,
    ceiling: Floats,
    known: npt.NDArray[np.bool_],
    again: npt.NDArray[np.bool_],
    start: float,
    step_h: float,
    sensitivity: Sensitivity,
) -> Floats:
    c, g = _class(sensitivity), _growth()
    k1_before, k1_after, steepness = c["k1_before"], c["k1_after"], g["steepness"]
    index, since_h, out = start, 0.0, np.empty(len(rate))
    steps = zip(rate.tolist(), ceiling.tolist(), known.tolist(), again.tolist(), strict=True)
    for i, (growth, top, is_known, anew) in enumerate(steps):
        if anew:
            index, since_h = start, 0.0
        if growth > 0.0:
            k2 = max(1.0 - math.exp(steepness * (index - top)), 0.0)
            index += growth * (k1_before if index < 1.0 else k1_after) * k2
            since_h = 0.0
        elif is_known:
            since_h += step_h
            if index > 0.0:
                index = max(index + _decline(g, since_h, step_h) * c["decline_factor"], 0.0)
        out[i] = index
    return out


def _decline(g: Mapping[str, float], since_h: float, step_h: float) -> float:
    """Change of the index over the step that ends ``since_h`` after growth stopped, for pine."""
    begin = since_h - step_h
    first = max(min(since_h, g["decline_first_until"]) - begin, 0.0)
    later = max(since_h - max(begin, g["decline_pause_until"]), 0.0)
    return (first * g["decline_first"] + later * g["decline_later"]) / 24.0


def mould_history(
    readings: pd.DataFrame,
    sensitivity: Sensitivity = Sensitivity.VERY_SENSITIVE,
    *,
    start: float = 0.0,
) -> MouldHistory:
    """Return the index of a surface in the climate of a record, by hourly means.

    Parameters
    ----------
    readings : pandas.DataFrame
        Climate at the surface, as in `analysis.series`. For a cold wall or the back of a frame
        take `analysis.harm.condensation.at_surface` first: surface humidity counts, not the room's.
    sensitivity : Sensitivity
        Gelatin was never classified; the most sensitive class is the cautious choice.
    start : float
        Index at the beginning of the record.

    Examples
    --------
    >>> from analysis.series import readings_frame
    >>> hours = pd.date_range("2030-01-01", periods=672, freq="h", tz="UTC")
    >>> damp = readings_frame(hours, temp_c=20.0, rh_pct=97.0)
    >>> round(mould_history(damp).at_end, 2)
    4.36
    """
    require_readings(readings, read="readings for the mould index")
    rh, temp = hourly_grid(usable(readings, "rh_pct")), hourly_grid(usable(readings, "temp_c"))
    temp = temp.reindex(rh.index)
    known = (rh.notna() & temp.notna()).to_numpy()
    index = hourly_mould_index(temp.to_numpy(), rh.to_numpy(), sensitivity, start=start)
    at_1 = np.flatnonzero(index >= 1.0)
    hours = pd.DatetimeIndex(rh.index)
    return MouldHistory(
        time_utc=hours,
        index=index,
        sensitivity=sensitivity,
        highest=float(index.max(initial=start)),
        at_end=float(index[-1]) if len(index) else start,
        first_at_1_utc=hours[at_1[0]].to_pydatetime() if len(at_1) else None,
        growing_h=int(can_grow(temp.to_numpy(), rh.to_numpy(), sensitivity).sum()),
        unknown_h=int((~known).sum()),
        coverage_pct=100.0 * float(known.mean()) if len(known) else 0.0,
    )


def _values(rows: Mapping[str, Parameter]) -> dict[str, float]:
    return {name: row.value for name, row in rows.items()}


def _growth() -> dict[str, float]:
    return _values(table("mould")["growth"])


def _class(sensitivity: Sensitivity) -> dict[str, float]:
    return _values(table("mould")[sensitivity.group])


@dataclass(frozen=True)
class MouldDose:
    """Dose through a record, by days of the site. ``dose_days`` has shape (n,).

    One dose day is a day at 20 °C and 90 %RH. ``share_of_onset`` is the highest dose over the
    dose at which growth was seen on planed spruce. Days that were measured for less than 18 hours
    hold the dose.
    """

    days: list[date]
    dose_days: Floats
    highest: float
    share_of_onset: float
    share_of_onset_low: float
    share_of_onset_high: float
    unknown_days: int


def daily_dose(temp_c: Floats | float, rh_pct: Floats | float) -> Floats:
    """Return the dose of a day with these means [days at 20 °C, 90 %RH]; NaN where unknown.

    References
    ----------
    ThelanderssonIsaksson2013. The temperature acts on growth alone, not on drying back.

    Examples
    --------
    >>> daily_dose(np.array([20.0, 25.0, 20.0]), np.array([90.0, 80.0, 60.0])).round(4)
    array([ 1.    ,  0.1894, -0.5   ])
    """
    c = {name: row.value for name, row in table("mould")["dose"].items()}
    temp, rh = np.asarray(temp_c, dtype=np.float64), np.asarray(rh_pct, dtype=np.float64)
    wet = np.exp(c["humid_factor"] * np.log(np.maximum(rh, 1.0) / c["humid_reference"]))
    middle = c["middle_constant"] + c["middle_slope"] * rh / 30.0
    of_rh = np.where(
        rh > c["humid_above"], wet, np.where(rh > c["dry_below"], middle, c["dry_dose"])
    )
    warm = np.clip(temp, c["temp_low"], c["temp_high"])
    of_temp = np.exp(c["temp_factor"] * np.log(warm / c["temp_reference"]))
    dose = np.where(of_rh > 0, of_rh * of_temp, of_rh)
    dose = np.where(temp < c["temp_low"], c["dry_dose"], dose)
    return np.where(np.isfinite(temp) & np.isfinite(rh), dose, np.nan)


def mould_dose(readings: pd.DataFrame, zone: str = "UTC") -> MouldDose:
    """Return the dose through a record: daily doses summed, never below nought.

    Parameters
    ----------
    readings : pandas.DataFrame
        Climate at the surface, as in `analysis.series`.
    zone : str
        IANA zone of the site, for calendar days.
    """
    require_readings(readings, read="readings for the mould dose")
    rh, temp = hourly_grid(usable(readings, "rh_pct")), hourly_grid(usable(readings, "temp_c"))
    hours = pd.DataFrame({"rh": rh, "temp": temp.reindex(rh.index)}).dropna()
    days = hours.groupby(local_days(pd.DatetimeIndex(hours.index), zone))
    means = days.mean().where(days.size() >= HOURS_OF_A_DAY, np.nan).asfreq("D")
    doses = daily_dose(means["temp"].to_numpy(), means["rh"].to_numpy())
    total = _summed(doses)
    onset = table("mould")["dose"]["onset"]
    highest = float(total.max(initial=0.0))
    return MouldDose(
        days=[day.date() for day in means.index],
        dose_days=total,
        highest=highest,
        share_of_onset=highest / onset.value,
        share_of_onset_low=highest / onset.high,
        share_of_onset_high=highest / onset.low,
        unknown_days=int(np.isnan(doses).sum()),
    )


def _summed(doses: Floats) -> Floats:
    total, out = 0.0, np.empty(len(doses))
    for i, dose in enumerate(np.nan_to_num(doses).tolist()):
        total = max(total + dose, 0.0)
        out[i] = total
    return out
