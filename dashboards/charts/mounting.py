"""Months slack, months overtight and peak load against the humidity at mounting."""

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from analysis.planning.mounting import MountingCurve
from analysis.results import Range
from dashboards.charts.style import PHONE_MM, TALL_A4_MM, Sheet, drawn
from dashboards.inks import INDIGO, INK, MADDER, SOFT, WASH
from dashboards.text.messages import _

LEAST_MONTHS_APART = 1.2  # below it, two labels at the end of the curves would overlap
MARK_LINE_PT = 10.0
EDGE = 0.2  # share of the width at either end where words do not stand centred
TICKS_PCT = 5.0


@drawn
def mounting_figure(curve: MountingCurve, *, narrow: bool = False) -> Figure:
    """Return months slack and months overtight above, the peak load below, by mounting RH."""
    width = PHONE_MM * 1.06 if narrow else TALL_A4_MM
    page = Sheet.new(width, 132.0)
    plot = width - (15.0 if narrow else 20.0)
    months = page.axes(13.0, 24.0, plot, 54.0)
    load = page.axes(13.0, 88.0, plot, 30.0, sharex=months)
    at = [point.rh_pct for point in curve.points]
    slack = [point.year.months_slack for point in curve.points]
    tight = [point.year.months_overtight for point in curve.points]
    apart = _apart(slack[-1].mid, tight[-1].mid)
    _ribbon(months, at, slack, MADDER, _("slack"), lift=apart)
    _ribbon(months, at, tight, INDIGO, _("overtight"), dashed=True, lift=-apart)
    _ribbon(load, at, [point.year.peak_load_n_m for point in curve.points], INK, "")
    damp = [point.damp.months_slack.mid for point in curve.points]
    months.plot(at, damp, color=MADDER, lw=0.9, ls=":")
    months.annotate(_("slack if mounted damp"), (at[0], damp[0]), xytext=(4, 3),
                    textcoords="offset points", size=8, color=MADDER)  # fmt: skip
    months.set_xlim(min(at), max(at) + (0.24 if narrow else 0.1) * (max(at) - min(at) or 1.0))
    months.set_xticks(np.arange(min(at), max(at) + 0.1, TICKS_PCT))
    months.set_ylim(0.0, None)
    load.set_ylim(0.0, None)
    for axes in (months, load):
        _best(axes, curve)
    _marks(months, curve)
    months.set_title(_("months of the year"), loc="left", size=8.5, color=SOFT, pad=44)
    load.set_title(_("peak load on the hinges, N/m"), loc="left", size=8.5, color=SOFT, pad=4)
    load.set_xlabel(_("humidity at mounting, %RH"))
    months.tick_params(labelbottom=False)
    return page.figure


def _ribbon(
    axes: Axes,
    at: Sequence[float],
    ranges: Sequence[Range],
    ink: str,
    word: str,
    *,
    dashed: bool = False,
    lift: float = 0.0,
) -> None:
    axes.fill_between(
        at, [r.low for r in ranges], [r.high for r in ranges], color=ink, alpha=0.10, lw=0
    )
    middle = [r.mid for r in ranges]
    axes.plot(at, middle, color=ink, lw=1.4, ls=(0, (4, 2)) if dashed else "-")
    axes.annotate(
        word,
        (at[-1], middle[-1]),
        xytext=(4, lift),
        textcoords="offset points",
        color=ink,
        va="center",
    )


def _apart(first: float, second: float) -> float:
    """Return by how many points the first label is lifted so that two do not overlap."""
    if abs(first - second) > LEAST_MONTHS_APART:
        return 0.0
    return 5.5 if first >= second else -5.5


def _best(axes: Axes, curve: MountingCurve) -> None:
    """Wash the humidities that may be the best."""
    low, high = curve.best_rh_pct
    axes.axvspan(low - 0.3, high + 0.3, color=WASH, alpha=0.6, lw=0, zorder=0.2)


def _marks(axes: Axes, curve: MountingCurve) -> None:
    """Mark the humidities to read the curve against, one line of words each."""
    marks = [
        (_("may be the best"), sum(curve.best_rh_pct) / 2.0, ""),
        (_("the room's mean"), curve.room_mean_rh_pct, ":"),
        (_("the room now"), curve.room_now_rh_pct, ":"),
    ]
    if curve.mounted_rh_pct is not None:
        marks.append((_("mounted now"), curve.mounted_rh_pct, "-"))
    left, right = axes.get_xlim()
    for line, (words, rh, style) in enumerate(marks):
        if not left <= rh <= right:
            continue
        if style:
            axes.axvline(rh, color=SOFT, lw=0.8, ls=style)
        share = (rh - left) / (right - left)
        axes.annotate(
            words,
            (rh, 1.0),
            xycoords=axes.get_xaxis_transform(),
            xytext=(0, 2 + MARK_LINE_PT * line),
            textcoords="offset points",
            ha="left" if share < EDGE else "right" if share > 1.0 - EDGE else "center",
            size=8,
            color=SOFT,
        )
