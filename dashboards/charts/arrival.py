"""A file on its way in: the course of temperature and humidity, small, before it is stored."""

from itertools import pairwise

import numpy as np
import numpy.typing as npt
import pandas as pd
from matplotlib.figure import Figure

from dashboards.charts.style import PHONE_MM, Sheet, drawn
from dashboards.inks import INK, SEA, SOFT
from dashboards.text import wording
from dashboards.text.messages import N_, _

WIDTH_MM, LEFT_MM, RIGHT_MM = PHONE_MM, 9.0, 2.0
PLOT_MM = WIDTH_MM - LEFT_MM - RIGHT_MM
STRIP_MM, SIZE = 15.0, 8.0
# Longer records are drawn by the lowest and highest reading of each of so many stretches.
STRETCHES = 300
CHANNELS = (("rh_pct", N_("RH, %"), SEA), ("temp_c", N_("temperature, °C"), INK))


@drawn
def arrival_picture(frame: pd.DataFrame, zone: str) -> Figure:
    """Return a sensor's record as it was understood.

    Parameters
    ----------
    frame : pandas.DataFrame, n readings
        As `analysis.series.readings_frame`, at least one reading.
    zone : str
        IANA zone of the site, for the first and last time.
    """
    shown = [c for c in CHANNELS if bool(frame[c[0]].notna().any())]
    sheet = Sheet.new(WIDTH_MM, 10.0 + len(shown) * (STRIP_MM + 6.0))
    hours = np.asarray((frame.index - frame.index[0]).total_seconds()) / 3600.0
    top = 6.0
    for channel, words, ink in shown:
        axes = sheet.axes(LEFT_MM, top, PLOT_MM, STRIP_MM)
        at, values = _thinned(hours, frame[channel].to_numpy(dtype=np.float64))
        axes.plot(at, values, color=ink, linewidth=0.8)
        axes.set_xlim(0.0, max(float(hours[-1]), 1e-6))
        axes.set_xticks([])
        low, high = float(np.nanmin(values)), float(np.nanmax(values))
        room = max(0.1 * (high - low), 0.5)
        axes.set_ylim(low - room, high + room)
        axes.set_yticks([low, high], [wording.number(v, 1) for v in (low, high)], size=SIZE)
        sheet.write(LEFT_MM, top - 2.4, _(words), size=SIZE, color=ink)
        top += STRIP_MM + 6.0
    first, last = (wording.date_time(t.to_pydatetime(), zone) for t in frame.index[[0, -1]])
    sheet.write(LEFT_MM, top - 2.0, wording.joined(first, last), size=SIZE, color=SOFT)
    return sheet.figure


def _thinned(
    hours: npt.NDArray[np.float64], values: npt.NDArray[np.float64]
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Return a course with the lowest and the highest reading of each stretch of it."""
    held = ~np.isnan(values)
    hours, values = hours[held], values[held]
    if len(values) <= 2 * STRETCHES:
        return hours, values
    edges = np.linspace(0, len(values), STRETCHES + 1).astype(int)
    kept = sorted(
        {
            begin + int(find(values[begin:end]))
            for begin, end in pairwise(edges)
            for find in (np.argmin, np.argmax)
        }
    )
    return hours[kept], values[kept]
