"""A second opinion on mould: daily doses after Thelandersson and Isaksson."""

from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.swings import local_days
from analysis.air.time_weights import hourly_grid
from analysis.parameters import table
from analysis.series import require_readings, usable

Floats = npt.NDArray[np.float64]
HOURS_OF_A_DAY = 18


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
