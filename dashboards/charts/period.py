"""Some days, weeks or months of a room's air against a band, for a statement or a report."""

from datetime import UTC, datetime
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.dates import AutoDateLocator
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter

from analysis.results import Band
from analysis.series import usable
from dashboards.charts.style import Sheet, drawn
from dashboards.inks import HAIR, INK, SEA, SOFT, WASH
from dashboards.text import dates, wording
from dashboards.text.messages import _

WIDTH_MM, LEFT_MM, RH_MM, TEMP_MM, TOP_MM = 186.0, 26.0, 38.0, 20.0, 4.0
MONTHS_APART_DAYS = 200.0
DAY_S = 86400.0


@drawn
def period_chart(
    frame: pd.DataFrame, start_utc: datetime, end_utc: datetime, zone: str, band: Band | None
) -> Figure:
    """Return humidity and temperature over a period; what was not measured is left as paper.

    Parameters
    ----------
    frame : pandas.DataFrame
        Readings as in `analysis.series`.
    start_utc, end_utc : datetime
        The period.
    zone : str
        IANA zone of the site.
    band : Band or None
        What was agreed or asked for.
    """
    sheet = Sheet.new(WIDTH_MM, TOP_MM + RH_MM + TEMP_MM + 14.0)
    ends = (
        (None, None) if band is None else (band.low_rh_pct, band.high_rh_pct),
        (None, None) if band is None else (band.low_temp_c, band.high_temp_c),
    )
    plot = WIDTH_MM - LEFT_MM - 2.0
    upper = sheet.axes(LEFT_MM, TOP_MM, plot, RH_MM)
    _draw(upper, usable(frame, "rh_pct"), ends[0], INK)
    lower = sheet.axes(LEFT_MM, TOP_MM + RH_MM + 5.0, plot, TEMP_MM)
    _draw(lower, usable(frame, "temp_c"), ends[1], SEA)
    sheet.write(0.0, TOP_MM, _("Relative\nhumidity, %"), size=8, color=SOFT, linespacing=1.3)
    sheet.write(0.0, TOP_MM + RH_MM + 5.0, _("Temperature,\n°C"), size=8, color=SOFT,
                linespacing=1.3)  # fmt: skip
    for axes in (upper, lower):
        axes.set_xlim(start_utc.timestamp() / DAY_S, end_utc.timestamp() / DAY_S)
        _name_days(axes, zone, (end_utc - start_utc).days > MONTHS_APART_DAYS)
    upper.set_xticklabels([])
    return sheet.figure


def _draw(axes: Axes, values: pd.Series, ends: tuple[float | None, float | None], ink: str) -> None:
    low, high = ends
    if low is not None or high is not None:
        axes.axhspan(-50.0 if low is None else low, 150.0 if high is None else high, color=WASH,
                     linewidth=0.0, zorder=0)  # fmt: skip
    known = values.dropna()
    if len(known) < 2:
        return
    days = pd.DatetimeIndex(known.index).as_unit("ns").asi8 / (DAY_S * 1e9)
    values_known = known.to_numpy(float)
    waits = np.diff(days)
    breaks = np.flatnonzero(waits > max(2.5 * float(np.median(waits)), 1.0 / 24.0)) + 1
    axes.plot(np.insert(days, breaks, days[breaks - 1]), np.insert(values_known, breaks, np.nan),
              color=ink, linewidth=0.8)  # fmt: skip
    seen = [float(known.min()), float(known.max()), *(end for end in ends if end is not None)]
    margin = max(1.0, 0.06 * (max(seen) - min(seen)))
    axes.set_ylim(min(seen) - margin, max(seen) + margin)
    axes.tick_params(labelsize=8)


def _name_days(axes: Axes, zone: str, months: bool) -> None:
    def words(place: float, _position: int) -> str:
        here = dates.local(datetime.fromtimestamp(place * DAY_S, UTC), zone).date()
        return dates.month_year(here) if months else dates.month_day_short(here)

    locator: Any = AutoDateLocator  # untyped
    axes.xaxis_date(zone)
    axes.xaxis.set_major_locator(locator(minticks=3, maxticks=8, tz=zone))
    axes.xaxis.set_major_formatter(FuncFormatter(words))
    axes.tick_params(axis="x", labelsize=8)
    axes.grid(axis="x", color=HAIR, linewidth=0.4)


def period_words(frame: pd.DataFrame) -> str:
    """Return what the picture shows, for who does not see it."""
    known = usable(frame, "rh_pct").dropna()
    if known.empty:
        return _("Nothing was measured.")
    ends = wording.span(float(known.min()), float(known.max()), "%RH")
    return _("Humidity between {ends}.", ends=ends)
