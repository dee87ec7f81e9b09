"""How uncertain a dew point is, given the uncertainty of the two sensors behind it."""

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.parameters import parameter

Floats = npt.NDArray[np.float64]


def magnus_dew_point_c(temp_c: Floats | float, rh_pct: Floats | float) -> Floats:
    """Return the dew point by the Magnus form, whose derivatives are simple [°C].

    References
    ----------
    WMO8, annex 4.B.
    """
    b, c = _constants()
    temp, rh = np.asarray(temp_c, dtype=np.float64), np.asarray(rh_pct, dtype=np.float64)
    x = np.log(np.where(rh > 0, rh, np.nan) / 100.0) + b * temp / (c + temp)
    return np.asarray(c * x / (b - x))


def dew_point_uncertainty_k(
    temp_c: Floats | float,
    rh_pct: Floats | float,
    uncertainty_temp_c: float,
    uncertainty_rh_pct: float,
) -> Floats:
    """Return the standard uncertainty of the dew point, the two sensors' errors unrelated [K].

    Parameters
    ----------
    temp_c, rh_pct : float or numpy.ndarray
        Readings [°C], [%RH]. At 0 %RH there is no dew point (NaN).
    uncertainty_temp_c, uncertainty_rh_pct : float
        Standard uncertainty of each [K], [%RH].

    Examples
    --------
    >>> float(dew_point_uncertainty_k(20.0, 50.0, 0.25, 1.5).round(3))
    0.502
    """
    by_temp, by_rh = dew_point_slopes(temp_c, rh_pct)
    return np.asarray(np.hypot(by_temp * uncertainty_temp_c, by_rh * uncertainty_rh_pct))


def with_dew_point_uncertainty(
    air: pd.DataFrame,
    uncertainty_temp_c: float | None = None,
    uncertainty_rh_pct: float | None = None,
) -> pd.DataFrame:
    """Return derived air with a column ``dew_point_uncertainty_k``.

    Parameters
    ----------
    air : pandas.DataFrame
        With columns ``temp_c`` and ``rh_pct``, as from `analysis.air.moist_air.derived_air`.
    uncertainty_temp_c, uncertainty_rh_pct : float, optional
        From the calibration [K], [%RH]; left out, those of a good logger when new. The result is
        of the same level of confidence.
    """
    u_temp, u_rh = (
        parameter("record_rules", "sensor", name).value if given is None else given
        for name, given in (("temp_c", uncertainty_temp_c), ("rh_pct", uncertainty_rh_pct))
    )
    temp, rh = (air[name].to_numpy(dtype=np.float64) for name in ("temp_c", "rh_pct"))
    return air.assign(dew_point_uncertainty_k=dew_point_uncertainty_k(temp, rh, u_temp, u_rh))


def dew_point_slopes(temp_c: Floats | float, rh_pct: Floats | float) -> tuple[Floats, Floats]:
    """Return the change of the dew point per kelvin and per %RH [K/K], [K/%]."""
    # from the Magnus form: dTd/dT = ((c+Td)/(c+T))², dTd/dRH = (c+Td)²/(b c RH)
    b, c = _constants()
    dew = magnus_dew_point_c(temp_c, rh_pct)
    by_temp = ((c + dew) / (c + np.asarray(temp_c, dtype=np.float64))) ** 2
    rh = np.asarray(rh_pct, dtype=np.float64)
    by_rh = (c + dew) ** 2 / (b * c * np.where(rh > 0, rh, np.nan))
    return np.asarray(by_temp), np.asarray(by_rh)


def _constants() -> tuple[float, float]:
    return parameter("instruments", "magnus", "b").value, parameter(
        "instruments", "magnus", "c"
    ).value
