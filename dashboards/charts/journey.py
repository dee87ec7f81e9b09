"""A work's journey on one line: the air it had, what the print was at, and where it was."""

from collections.abc import Sequence
from datetime import datetime

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from analysis.results import Floats, History
from dashboards.charts.strips import draw_history
from dashboards.charts.style import SERIF, Sheet, drawn, text_width_mm
from dashboards.charts.time_axis import Days, broken_line, fit_values, hatch_gaps
from dashboards.inks import FELT, GREY, HAIR, INK, SEA, SOFT, WASH
from dashboards.text import wording
from dashboards.text.messages import _
from dashboards.text.reports.journey_text import KINDS, StayWords

WIDTH_MM, LEFT_MM, PLOT_MM = 186.0, 14.0, 170.0
NAMES_MM, HUMIDITY_MM, STRIP_MM = 9.0, 46.0, 6.0
SIZE = 8.0


@drawn
def journey_chart(
    stays: Sequence[StayWords],
    ticks: Sequence[datetime],
    readings: pd.DataFrame,
    history: History | None,
    span: tuple[datetime, datetime, str],
) -> Figure:
    """Return a journey: its stays named above, air and print, and the chance of waves beneath.

    Parameters
    ----------
    stays : sequence of StayWords
        In order.
    ticks : sequence of datetime
        When crates arrived and were opened.
    readings : pandas.DataFrame
        The air the work had, as in `analysis.series`.
    history : History or None
        Of the work; hours that nobody measured are refused.
    span : tuple
        Beginning, end, and the zone in which days are named.
    """
    days = Days(*span)
    sheet = Sheet.new(WIDTH_MM, NAMES_MM + 14.0 + HUMIDITY_MM + STRIP_MM + 2.0)
    names = sheet.axes(LEFT_MM, 1.0, PLOT_MM, NAMES_MM)
    humidity = sheet.axes(LEFT_MM, NAMES_MM + 6.0, PLOT_MM, HUMIDITY_MM)
    strip = sheet.axes(LEFT_MM, NAMES_MM + 14.0 + HUMIDITY_MM, PLOT_MM, STRIP_MM)
    sheet.write(0.0, NAMES_MM + 1.0, _("RH, %"), size=SIZE, color=SOFT)
    _humidity(humidity, readings, history, days, stays)
    _stays(names, humidity, stays, days)
    for at in ticks:
        humidity.axvline(days.at(at), color=SOFT, linewidth=0.6, linestyle=(0, (2, 2)))
    _name_days(humidity, days)
    strip.set_axis_off()
    strip.set_xlim(0.0, days.length_h)
    strip.set_ylim(0.0, STRIP_MM)
    draw_history(strip, history, days, 0.0, STRIP_MM)
    return sheet.figure


def _stays(names: Axes, humidity: Axes, stays: Sequence[StayWords], days: Days) -> None:
    """Name each stay over its hours, by a bracket; away from home the paper is tinted."""
    names.set_axis_off()
    names.set_xlim(0.0, days.length_h)
    names.set_ylim(0.0, NAMES_MM)
    for place, one in enumerate(stays):
        first = days.at(one.from_utc)
        last = days.length_h if one.to_utc is None else min(days.at(one.to_utc), days.length_h)
        names.plot([first, last], [1.0, 1.0], color=GREY, linewidth=1.6, solid_capstyle="butt")
        for end in (first, last):
            names.plot([end, end], [0.2, 1.8], color=GREY, linewidth=0.8)
        if one.kind != "home":
            humidity.axvspan(first, last, facecolor=WASH, alpha=0.6, linewidth=0.0, zorder=0)
        words = _("{name}, {kind}", name=one.name, kind=KINDS[one.kind])
        _name(names, words, (first, last), 2.6 if place % 2 else 5.8, days)


def _name(axes: Axes, words: str, ends: tuple[float, float], high: float, days: Days) -> None:
    """Write a name over its bracket, kept within the paper."""
    half = text_width_mm(words, SIZE, SERIF) / PLOT_MM * days.length_h / 2.0
    middle = min(max(sum(ends) / 2.0, half), days.length_h - half)
    axes.text(middle, high, words, size=SIZE, family=SERIF, ha="center", va="bottom", color=INK)


def _humidity(
    axes: Axes, readings: pd.DataFrame, history: History | None, days: Days,
    stays: Sequence[StayWords],
) -> None:  # fmt: skip
    breaks = [(days.at(a), days.at(b)) for one in stays for a, b in one.gaps]
    hatch_gaps(axes, breaks)
    places = days.along(readings.index)
    air = fit_values(readings, "rh_pct")
    axes.plot(*broken_line(places, air, breaks), color=SEA, linewidth=0.8)
    seen = [air[np.isfinite(air)]]
    if history is not None:
        told = history.refused == ""
        at = days.along(history.time_utc)
        frame = np.where(told[:, None], history.frame_rh_pct, np.nan)
        middle = np.where(told, history.print_rh_pct[:, 1], np.nan)
        axes.fill_between(at, frame[:, 0], frame[:, 2], color=FELT, alpha=0.75, linewidth=0.0)
        axes.plot(at, middle, color=INK, linewidth=1.3)
        seen += [frame[np.isfinite(frame)]]
    _scale(axes, np.concatenate(seen))


def _scale(axes: Axes, values: Floats) -> None:
    low, high = (float(values.min()), float(values.max())) if len(values) else (40.0, 60.0)
    bottom, top = 5.0 * np.floor(low / 5.0 - 0.2), 5.0 * np.ceil(high / 5.0 + 0.2)
    axes.set_ylim(bottom, top)
    step = 5.0 if top - bottom <= 35.0 else 10.0
    ticks = np.arange(step * np.ceil(bottom / step), top + 0.1, step)
    axes.set_yticks(ticks, [wording.number(tick) for tick in ticks])
    axes.tick_params(labelsize=SIZE)


def _name_days(axes: Axes, days: Days) -> None:
    """Rule some midnights and name them beneath, as many as there is room for."""
    axes.set_xlim(0.0, days.length_h)
    every = [(day, first) for day, first, _last in days.midnights() if first > 0.0]
    step = max(1, round(len(every) * 14.0 / PLOT_MM + 0.49))
    shown = every[::step]
    for _day, at in shown:
        axes.axvline(at, color=HAIR, linewidth=0.5, zorder=0.5)
    labels = [wording.month_day_short(day) for day, _at in shown]
    axes.set_xticks([at for _day, at in shown], labels)
    axes.tick_params(axis="x", labelsize=SIZE, length=0)


def journey_words(stays: Sequence[StayWords]) -> str:
    """Return what the picture shows."""
    known = [one for one in stays if one.air_rh_pct[0] == one.air_rh_pct[0]]
    said = [
        _("{name} {range}", name=one.name, range=wording.span(*one.air_rh_pct, "%RH"))
        for one in known
    ]
    if not said:
        return _("Nothing was measured.")
    return _(
        "Air for nine tenths of the time: {stays}. Thin line: air; ribbon: the frame; thick line: "
        "the print; hatched: nobody measured; dashed: a crate arrived or was opened.",
        stays="; ".join(said),
    )
