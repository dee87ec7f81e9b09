"""A frame beside its room: what the loggers showed, the fitted course, what it leaves over."""

import math

import numpy as np
import numpy.typing as npt
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from analysis.learning.half_time import HalfTimeFit
from analysis.learning.output_error import Bound
from analysis.results import Range
from dashboards.charts.style import PHONE_MM, Sheet, drawn
from dashboards.inks import FELT, HAIR, INK, SEA, SOFT, WASH
from dashboards.text import wording
from dashboards.text.messages import N_, _, translated

Floats = npt.NDArray[np.float64]
WIDTH_MM, LEFT_MM, RIGHT_MM = 1.1 * PHONE_MM, 10.0, 3.0
PLOT_MM = WIDTH_MM - LEFT_MM - RIGHT_MM
AIR_MM, REST_MM, PROFILE_MM = 42.0, 15.0, 40.0
SIZE = 8.0
# The picture shows so many half-times before the record's end, and never less than these days.
HALF_TIMES_SHOWN, LEAST_DAYS = 12.0, 14.0
LEAST_REST_PCT = 0.5
TICKS_H = (1.0, 3.0, 10.0, 24.0, 72.0, 240.0, 720.0)
TICK_WORDS = ("1 h", "3 h", "10 h", N_("1 day"), N_("3 days"), N_("10 days"), N_("30 days"))


OPEN_SIDES = {
    Bound.AT_LEAST: N_(
        "What would be left over if the half-time were another: as little for longer "
        "ones as for the best, so the record gives no bound there."
    ),
    Bound.AT_MOST: N_(
        "What would be left over if the half-time were another: as little for shorter "
        "ones as for the best, so the record gives no bound there."
    ),
    Bound.NONE: N_(
        "What would be left over if the half-time were another: as little for all ones as "
        "for the best, so the record gives no bound there."
    ),
}


@drawn
def half_time_figure(found: HalfTimeFit, zone: str) -> Figure:
    """Return room, logger in the frame and fitted course; below them, what is left over.

    Parameters
    ----------
    found : HalfTimeFit
        The fit with its record.
    zone : str
        IANA zone of the site, in which days begin.
    """
    sheet = Sheet.new(WIDTH_MM, 32.0 + AIR_MM + REST_MM)
    air = sheet.axes(LEFT_MM, 11.0, PLOT_MM, AIR_MM)
    rest = sheet.axes(LEFT_MM, 24.0 + AIR_MM, PLOT_MM, REST_MM, sharex=air)
    begin_h = float(found.pair.hours[-1]) - shown_h(found)
    _air(air, found, begin_h)
    _rest(rest, found, begin_h)
    air.set_xlim(begin_h, found.pair.hours[-1])
    air.tick_params(labelbottom=False, labelsize=SIZE)
    rest.tick_params(labelsize=SIZE)
    _name_time((air, rest), found, begin_h, zone)
    _key(sheet)
    sheet.write(LEFT_MM, 18.0 + AIR_MM, _("Left over, %RH"), size=SIZE, color=SOFT)
    return sheet.figure


def shown_h(found: HalfTimeFit) -> float:
    """Return how much of the record the picture shows, up to its end [h]."""
    wanted = max(HALF_TIMES_SHOWN * found.half_time_h, 24.0 * LEAST_DAYS)
    return min(wanted, found.record_h)


def half_time_words(found: HalfTimeFit) -> str:
    """Return what the picture shows."""
    shown, whole = shown_h(found), found.record_h
    rest = wording.with_unit(found.fit.residual_rms, "%RH", 1)
    if shown >= whole:
        return _(
            "The whole record: the room, the logger in the frame, and a frame of the fitted "
            "half-time. Below, what the logger showed less that frame, {rest} rms.",
            rest=rest,
        )
    return _(
        "The last {shown} of {whole}: the room, the logger in the frame, and a frame of the fitted "
        "half-time. Below, what the logger showed less that frame, {rest} rms.",
        shown=wording.duration(shown),
        whole=wording.duration(whole),
        rest=rest,
    )


def _key(sheet: Sheet) -> None:
    """Write what each line is, each with a piece of itself."""
    at = LEFT_MM
    strokes = ((_("room"), SEA, 0.7, 10.0), (_("logger in the frame"), FELT, 2.6, 30.0))
    for words, ink, width, step in (*strokes, (_("fitted course"), INK, 0.9, 0.0)):
        axes = sheet.margin(at, 4.0, 6.0, 3.0)
        axes.plot([0.0, 5.0], [1.5, 1.5], color=ink, linewidth=width)
        sheet.write(at + 6.0, 3.6, words, size=SIZE, color=SOFT)
        at += step + 6.0
    sheet.write(WIDTH_MM - RIGHT_MM, 3.6, "%RH", size=SIZE, color=SOFT, ha="right")


def _air(axes: Axes, found: HalfTimeFit, begin_h: float) -> None:
    pair = found.pair
    shown = pair.hours >= begin_h
    at = pair.hours[shown]
    for values, ink, width in (
        (100.0 * pair.room_phi, SEA, 0.7),
        (pair.inside_pct, FELT, 2.6),
        (found.course_pct, INK, 0.9),
    ):
        axes.plot(*_broken(at, values[shown], pair.interval_h), color=ink, linewidth=width)


def _rest(axes: Axes, found: HalfTimeFit, begin_h: float) -> None:
    pair = found.pair
    shown = pair.hours >= begin_h
    left = (pair.inside_pct - found.course_pct)[shown]
    axes.axhline(0.0, color=HAIR, linewidth=0.6)
    axes.plot(*_broken(pair.hours[shown], left, pair.interval_h), color=INK, linewidth=0.6)
    reach = max(LEAST_REST_PCT, 1.1 * float(np.nanmax(np.abs(left), initial=0.0)))
    axes.set_ylim(-reach, reach)
    step = one_digit(0.75 * reach)
    axes.set_yticks([-step, 0.0, step], [wording.signed(-step, 1), "0", wording.signed(step, 1)])


def one_digit(value: float) -> float:
    """Return a positive number to one digit that counts.

    Examples
    --------
    >>> one_digit(0.375), one_digit(12.0)
    (0.4, 10.0)
    """
    return float(round(value, -math.floor(math.log10(value))))


def _broken(at: Floats, values: Floats, interval_h: float) -> tuple[Floats, Floats]:
    """Return a line that is broken where readings are missing."""
    gaps = np.flatnonzero(np.diff(at) > 2.5 * interval_h) + 1
    return np.insert(at, gaps, at[gaps] - interval_h), np.insert(values, gaps, np.nan)


def _name_time(axes: tuple[Axes, Axes], found: HalfTimeFit, begin_h: float, zone: str) -> None:
    """Rule and name days, Mondays or months, whichever fit."""
    start = found.pair.time_utc[0]
    first, last = (start + pd.Timedelta(hours=h) for h in (begin_h, float(found.pair.hours[-1])))
    days = (last - first) / pd.Timedelta(days=1)
    every = "D" if days <= 16 else "W-MON" if days <= 70 else "MS"
    local = pd.date_range(first.tz_convert(zone).normalize(), last.tz_convert(zone), freq=every)
    marks = local[(local >= first) & (local <= last)]
    for ruled in axes:
        for mark in marks:
            ruled.axvline(_hours(mark, start), color=HAIR, linewidth=0.5, zorder=0.5)
    step = max(1, round(len(marks) * 14.0 / PLOT_MM + 0.49))
    named = marks[::step]
    axes[1].set_xticks([_hours(mark, start) for mark in named], [_date(m) for m in named])
    for label in axes[1].get_xticklabels():
        label.set_horizontalalignment("left")


def _hours(mark: pd.Timestamp, start: pd.Timestamp) -> float:
    return float((mark - start) / pd.Timedelta(hours=1))


def _date(mark: pd.Timestamp) -> str:
    return wording.month_day_short(mark)


@drawn
def profile_figure(found: HalfTimeFit, default_h: Range) -> Figure:
    """Return what is left over against the half-time, with the range usual for the build."""
    sheet = Sheet.new(WIDTH_MM, 24.0 + PROFILE_MM)
    axes = sheet.axes(LEFT_MM, 10.0, PLOT_MM, PROFILE_MM)
    fit = found.fit
    axes.set_xscale("log")
    axes.set_xlim(fit.profile_h[0], fit.profile_h[-1])
    axes.axvspan(default_h.low, default_h.high, color=WASH, linewidth=0.0)
    axes.plot(*_profile(found), color=INK, linewidth=1.1)
    axes.set_ylim(0.0, 1.08 * float(fit.profile_rms.max()))
    axes.set_xticks(TICKS_H, [translated(words) for words in TICK_WORDS])
    axes.xaxis.set_tick_params(which="minor", bottom=False)
    axes.minorticks_off()
    axes.tick_params(labelsize=SIZE)
    _fitted(axes, found)
    sheet.write(
        LEFT_MM, 3.6, _("Left over, %RH rms, if the half-time were:"), size=SIZE, color=SOFT
    )
    words = _("Shaded: the range that is usual for this build.")
    sheet.write(LEFT_MM, 17.0 + PROFILE_MM, words, size=SIZE, color=SOFT)
    return sheet.figure


def profile_words(found: HalfTimeFit) -> str:
    """Return what the profile shows."""
    fit = found.fit
    if fit.bound is Bound.BOTH:
        return _(
            "What would be left over if the half-time were another: least near {half}, and more on "
            "both sides.",
            half=wording.duration(fit.half_time_h),
        )
    return _(OPEN_SIDES[fit.bound])


def _profile(found: HalfTimeFit) -> tuple[Floats, Floats]:
    """Return the profile with the fit itself among its points."""
    fit = found.fit
    at = int(np.searchsorted(fit.profile_h, fit.half_time_h))
    return (
        np.insert(fit.profile_h, at, fit.half_time_h),
        np.insert(fit.profile_rms, at, fit.residual_rms),
    )


def _fitted(axes: Axes, found: HalfTimeFit) -> None:
    """Mark the fitted half-time, where it is one."""
    fit = found.fit
    if fit.bound is not Bound.BOTH:
        return
    axes.axvline(fit.half_time_h, color=INK, linewidth=0.7, linestyle=(0, (3, 2)))
    top = axes.get_ylim()[1]
    right = fit.half_time_h < 30.0
    axes.annotate(
        f"fitted: {wording.duration(fit.half_time_h)}",
        (fit.half_time_h, top),
        xytext=(3 if right else -3, -9),
        textcoords="offset points",
        ha="left" if right else "right",
        size=SIZE,
    )
