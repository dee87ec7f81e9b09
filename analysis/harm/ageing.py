"""Chemical ageing relative to 20 °C and 50 %RH: lifetime multiplier and isoperm.

Rates are averaged over time, never lifetimes and never the climate itself: a warm half year is not
made good by a cold one of the same mean.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.time_weights import DAY_S, cells
from analysis.parameters import parameter
from analysis.results import Range
from analysis.series import require_readings, usable

Floats = npt.NDArray[np.float64]
KELVIN = 273.15

HUMIDITY_NOTE = (
    "How ageing depends on humidity is poorly known; the range comes from its exponent, 1.0 to 1.6."
)


class Reaction(StrEnum):
    """Kind of ageing, by its activation energy."""

    HYDROLYSIS = "hydrolysis"
    YELLOWING = "yellowing"

    @property
    def activation_kj_mol(self) -> float:
        """Activation energy [kJ/mol]."""
        return parameter("ageing", "activation", self.value).value


REACTION_WORDS: Mapping[Reaction, str] = {
    Reaction.HYDROLYSIS: "hydrolysis of cellulose",
    Reaction.YELLOWING: "yellowing",
}


def lifetime_multiplier(
    temp_c: Floats | float,
    rh_pct: Floats | float,
    activation_kj_mol: float = 100.0,
    exponent: float | None = None,
) -> Floats:
    """Return how many times longer than at 20 °C, 50 %RH the same ageing takes.

    Parameters
    ----------
    temp_c, rh_pct : float or numpy.ndarray
        Climate [°C], [%RH]. Air drier than 5 %RH counts as 5 %RH; below 0 and above 100 %RH there
        is no answer (NaN).
    activation_kj_mol : float
        100 for hydrolysis of cellulose, 70 for yellowing [kJ/mol].
    exponent : float, optional
        Exponent of humidity, 1.3 if left out; fitted to middle humidities.

    References
    ----------
    Michalski2002.

    Examples
    --------
    >>> float(lifetime_multiplier(10.0, 50.0).round(3))
    4.259
    """
    power = parameter("ageing", "humidity", "exponent").value if exponent is None else exponent
    rh = _reckoned_rh(rh_pct)
    # Michalski2002: LM = (50/RH)^1.3 exp[(Ea/R)(1/T − 1/293.15)]
    humid = (parameter("ageing", "reference", "rh_pct").value / rh) ** power
    return np.asarray(humid * _arrhenius(temp_c, activation_kj_mol))


def _arrhenius(temp_c: Floats | float, activation_kj_mol: float) -> Floats:
    gas = parameter("ageing", "constant", "gas").value
    reference = parameter("ageing", "reference", "temp_c").value + KELVIN
    inverse = 1.0 / (np.asarray(temp_c, dtype=np.float64) + KELVIN) - 1.0 / reference
    return np.asarray(np.exp(activation_kj_mol * 1000.0 / gas * inverse))


def _reckoned_rh(rh_pct: Floats | float) -> Floats:
    rh = np.asarray(rh_pct, dtype=np.float64)
    least = parameter("ageing", "humidity", "least").value
    return np.where((rh >= 0.0) & (rh <= 100.0), np.maximum(rh, least), np.nan)


def isoperm_permanence(
    temp_c: float,
    rh_pct: float,
    to_temp_c: float,
    to_rh_pct: float,
    activation_kj_mol: float = 100.0,
) -> float:
    """Return how many times more permanent paper is in the second climate than in the first.

    Ageing goes in proportion to humidity here, which holds between about 30 and 65 %RH.

    References
    ----------
    Sebera1994, in the Arrhenius form.

    Examples
    --------
    >>> isoperm_permanence(20.0, 50.0, 20.0, 25.0)
    2.0
    """
    first = lifetime_multiplier(temp_c, rh_pct, activation_kj_mol, exponent=1.0)
    second = lifetime_multiplier(to_temp_c, to_rh_pct, activation_kj_mol, exponent=1.0)
    return float(second / first)


@dataclass(frozen=True)
class Ageing:
    """Ageing through a record.

    ``rate`` is the mean rate relative to 20 °C, 50 %RH and ``lifetime`` its inverse, each with the
    range that the exponent of humidity leaves. ``too_dry_pct`` is the share of the measured time
    below 5 %RH, where the form does not hold.
    """

    reaction: Reaction
    rate: Range
    lifetime: Range
    coverage_pct: float
    record_days: float
    too_dry_pct: float


def ageing(readings: pd.DataFrame, reaction: Reaction = Reaction.HYDROLYSIS) -> Ageing:
    """Return the mean rate of ageing over a record, weighted by time.

    Gaps are left out of the mean; where they all fall in summer the rate comes out too low.

    Examples
    --------
    >>> from analysis.series import readings_frame
    >>> hours = pd.date_range("2030-01-01", periods=4, freq="h", tz="UTC")
    >>> air = readings_frame(hours, temp_c=[15.0, 15.0, 25.0, 25.0], rh_pct=50.0)
    >>> round(ageing(air).lifetime.mid, 4)
    0.8063
    """
    require_readings(readings, read="readings for ageing")
    rh, temp = usable(readings, "rh_pct"), usable(readings, "temp_c")
    known = (rh.notna() & temp.notna()).to_numpy()
    grid = cells(pd.DatetimeIndex(readings.index[known]))
    rates = _mean_rates(temp.to_numpy()[known], rh.to_numpy()[known], grid.width_s, reaction)
    least = parameter("ageing", "humidity", "least").value
    width = float(grid.width_s.sum())
    dry = float(grid.width_s[rh.to_numpy()[known] < least].sum())
    return Ageing(
        reaction=reaction,
        rate=rates,
        lifetime=Range(1.0 / rates.high, 1.0 / rates.mid, 1.0 / rates.low),
        coverage_pct=grid.coverage_pct,
        record_days=grid.span_s / DAY_S,
        too_dry_pct=100.0 * dry / width if width > 0 else float("nan"),
    )


def _mean_rates(temp_c: Floats, rh_pct: Floats, width_s: Floats, reaction: Reaction) -> Range:
    """Mean rate for the exponent's value and for both ends of its range."""
    row = parameter("ageing", "humidity", "exponent")
    reference = parameter("ageing", "reference", "rh_pct").value
    heat = width_s / _arrhenius(temp_c, reaction.activation_kj_mol)
    log_rh = np.log(_reckoned_rh(rh_pct) / reference)
    valid = np.isfinite(heat) & np.isfinite(log_rh)
    time = float(width_s[valid].sum())
    if time <= 0:
        return Range(float("nan"), float("nan"), float("nan"))
    middle, *ends = (
        float((heat * np.exp(power * log_rh))[valid].sum()) / time
        for power in (row.value, row.low, row.high)
    )
    return Range(min(middle, *ends), middle, max(middle, *ends))
