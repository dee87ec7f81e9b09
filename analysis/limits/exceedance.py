"""How far each reading lies beyond a limit: positive outside, zero or less inside, NaN unknown."""

import numpy as np
import pandas as pd

from analysis.air import swings
from analysis.air.time_weights import HOUR_S, cells
from analysis.errors import UnknownNameError
from analysis.limits.published_limits import Definition
from analysis.parameters import parameter


def outer_excess(values: pd.Series, low: float | None, high: float | None) -> pd.Series:
    """Return the excess over a closed range: readings at its very ends are inside.

    Examples
    --------
    >>> outer_excess(pd.Series([39.5, 40.0, 60.0, 60.5]), 40.0, 60.0).tolist()
    [0.5, 0.0, 0.0, 0.5]
    """
    below = -np.inf if low is None else low - values
    above = -np.inf if high is None else values - high
    return pd.Series(np.maximum(below, above), index=values.index).where(values.notna())


def short_term_excess(
    values: pd.Series, limit: float, definition: Definition, zone: str = "UTC"
) -> pd.Series:
    """Return how far the 24-hour change at each reading passes a limit, by one definition.

    Parameters
    ----------
    values : pandas.Series, shape (n,)
        Readings without missing ones, indexed by sorted UTC times.
    limit : float
        Greatest change that is still inside.
    definition : Definition
        ``range24``, ``lag24``, ``dev24`` or ``dayspan`` of `analysis.air.swings`.
    zone : str
        IANA zone of the site, for calendar days.

    Returns
    -------
    pandas.Series, shape (n,)
        NaN in the first 24 hours and where less than 75 % of the 24 hours was measured, unless
        what was measured already passes the limit.

    Raises
    ------
    UnknownNameError
        If the definition is none of these four.
    """
    if definition is Definition.DAYSPAN:
        return _dayspan(values, zone) - limit
    if definition is Definition.RANGE24:
        excess = swings.range24(values) - limit
        return excess.where((excess > 0) | swings.dev24(values).notna())
    if definition is Definition.LAG24:
        return swings.lag24(values) - limit
    if definition is Definition.DEV24:
        return swings.dev24(values) - limit
    known = ("range24", "lag24", "dev24", "dayspan")
    raise UnknownNameError(read="definition of 24 hours", name=definition, known=known)


def _dayspan(values: pd.Series, zone: str) -> pd.Series:
    """Daily span at each reading; NaN on days of which less than 75 % was measured."""
    index = pd.DatetimeIndex(values.index)
    days = swings.local_days(index, zone)
    span = swings.dayspan(values, zone).reindex(days).to_numpy()
    width_s = pd.Series(cells(index).width_s, index=days)
    measured_h = width_s.groupby(level=0).sum().reindex(days).to_numpy() / HOUR_S
    least_h = 24.0 * parameter("record_rules", "coverage", "day").value / 100.0
    return pd.Series(np.where(measured_h >= least_h, span, np.nan), index=index)
