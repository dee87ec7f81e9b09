"""A room's next days drawn: the band of its humidity, and as it would be without the change."""

import numpy as np
import pandas as pd
from matplotlib.figure import Figure

from analysis.forecast.room_ahead import RoomAhead
from dashboards.charts.readout import AIR, reads
from dashboards.charts.style import PHONE_MM, TALL_A4_MM, Sheet, drawn, wrapped
from dashboards.charts.time_axis import humidity_ticks
from dashboards.inks import FELT, HAIR, INK, SEA, SOFT
from dashboards.text.messages import _
from dashboards.text.wording import weekday_short

PANEL_MM, LEFT_MM = 48.0, 9.0


@drawn
def days_figure(ahead: RoomAhead, usual: RoomAhead, zone: str, *, narrow: bool = False) -> Figure:
    """Return the humidity of a room in the days to come: ribbon 5–95 %, line the middle."""
    width = PHONE_MM * 1.06 if narrow else TALL_A4_MM
    words = _("Relative humidity in the room, %. Ribbon: in nine cases of ten; line: the middle.")
    if ahead is not usual:
        words += _(" Thin line: as it is run now.")
    key = wrapped(words, width - 2.0, 8.5)
    top = 4.0 * len(key) + 2.0
    page = Sheet.new(width, top + PANEL_MM + 7.0)
    for i, line in enumerate(key):
        page.write(0.0, 4.0 * i, line, size=8.5, color=SOFT)
    axes = page.axes(LEFT_MM, top, width - LEFT_MM - 1.0, PANEL_MM)
    wall = pd.DatetimeIndex(ahead.time_utc).tz_localize("UTC").tz_convert(zone)
    at = np.arange(ahead.hours, dtype=float)
    axes.fill_between(at, ahead.rh_low_pct, ahead.rh_high_pct, color=FELT, alpha=0.8, lw=0)
    axes.plot(at, ahead.rh_pct, color=INK, lw=1.3)
    if ahead is not usual:
        axes.plot(at, usual.rh_pct, color=SEA, lw=0.8)
    humidity_ticks(axes, float(ahead.rh_low_pct.min()), float(ahead.rh_high_pct.max()))
    midnights = np.flatnonzero(np.asarray(wall.hour) == 0)
    for place in midnights.tolist():
        axes.axvline(place, color=HAIR, lw=0.4, zorder=0.4)
    named = midnights[midnights < ahead.hours - 12]
    names = [weekday_short(wall[int(i)].to_pydatetime(), zone) for i in named]
    axes.set_xlim(0.0, ahead.hours - 1.0)
    reads(axes, AIR)
    axes.set_xticks(named, names, ha="left", size=8)
    return page.figure
