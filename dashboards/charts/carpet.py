"""A year of humidity as a carpet: days along, hours of the local day up, dry pale and damp dark."""

from itertools import pairwise

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import BoundaryNorm, ListedColormap, to_rgb
from matplotlib.figure import Figure

from analysis.air.psychrometric_picture import Carpet
from analysis.results import Band
from dashboards.charts.air_values import mark_rows
from dashboards.charts.style import Sheet, drawn, text_width_mm
from dashboards.inks import FELT, SOFT
from dashboards.text import wording
from dashboards.text.messages import _

WIDTH_MM, HEIGHT_MM, LEFT_MM, TOP_MM = 200.0, 74.0, 15.0, 14.0
PLOT_MM = (WIDTH_MM - LEFT_MM - 3.0, 48.0)
STEPS_PCT = np.arange(20.0, 81.0, 5.0)
# From dry to damp, each darker than the one before, so that a grey print keeps the order.
INKS = ("#fbeecb", "#e6d29c", "#b9bf95", "#7fa59b", "#437f8b", "#2a5274", "#1c2350")
HOURS = (0, 6, 12, 18, 24)


def carpet_inks() -> ListedColormap:
    """Return one ink for each step of 5 %RH, with one more at either end."""
    places = np.linspace(0.0, 1.0, len(INKS))
    wanted = np.linspace(0.0, 1.0, STEPS_PCT.size + 1)
    parts = np.array([to_rgb(ink) for ink in INKS])
    return ListedColormap([[np.interp(w, places, parts[:, i]) for i in range(3)] for w in wanted])


@drawn
def carpet_chart(carpet: Carpet, band: Band | None = None) -> Figure:
    """Return the carpet with a scale of its inks; hours nobody measured are hatched paper."""
    sheet = Sheet.new(WIDTH_MM, HEIGHT_MM)
    axes = sheet.axes(LEFT_MM, TOP_MM, *PLOT_MM)
    axes.patch.set(hatch="////", edgecolor=FELT, facecolor="none", linewidth=0.0)
    inks, steps = carpet_inks(), BoundaryNorm(STEPS_PCT, STEPS_PCT.size + 1, extend="both")
    if carpet.days.size:
        axes.imshow(carpet.values, cmap=inks, norm=steps, aspect="auto", origin="lower",
                    interpolation="nearest", extent=(0.0, carpet.days.size, 0.0, 24.0))  # fmt: skip
        _name_months(axes, carpet)
    axes.set_ylim(0.0, 24.0)
    if carpet.days.size:
        mark_rows(axes, "hour", np.arange(25.0))
    axes.set_yticks(HOURS, [f"{hour}:00" for hour in HOURS])
    _scale(sheet, inks, band)
    return sheet.figure


def _name_months(axes: Axes, carpet: Carpet) -> None:
    months = carpet.days.astype("datetime64[M]")
    starts = np.flatnonzero(np.append(True, months[1:] != months[:-1]))
    axes.set_xticks([])
    for first, last in pairwise([*starts, carpet.days.size]):
        if first:
            axes.axvline(first, color="white", linewidth=0.4)
        month = months[first].astype(object)
        name = wording.month_short(month.month)
        words = f"{name} {month.year}" if first == 0 or month.month == 1 else name
        room_mm = (last - first) / carpet.days.size * PLOT_MM[0]
        if text_width_mm(words, 8.0) + 1.5 < room_mm:
            axes.annotate(words, (first, 0.0), xytext=(2, -3), textcoords="offset points",
                          va="top", color=SOFT, size=8)  # fmt: skip


def _scale(sheet: Sheet, inks: ListedColormap, band: Band | None) -> None:
    """Draw the key above: one field a step, its limits between, the agreed band underlined."""
    width = 5.0
    left, fields = LEFT_MM + 14.0, STEPS_PCT.size + 1
    margin = sheet.margin(0.0, 0.0, WIDTH_MM, TOP_MM)
    for field in range(fields):
        margin.fill_between([left + field * width, left + (field + 1) * width], 6.2, 9.2,
                            color=inks(field), linewidth=0.0)  # fmt: skip
    for number, limit in enumerate(STEPS_PCT[::2]):
        margin.text(left + (2 * number + 1) * width, 9.8, wording.number(limit), size=7.5,
                    ha="center", color=SOFT)  # fmt: skip
    margin.text(left - 2.0, 7.7, _("dry"), ha="right", va="center", size=8)
    margin.text(left + fields * width + 2.0, 7.7, _("damp, %RH"), va="center", size=8)
    if band is not None:
        limits = np.clip([band.low_rh_pct, band.high_rh_pct], STEPS_PCT[0], STEPS_PCT[-1])
        ends = left + (1.0 + (limits - STEPS_PCT[0]) / 5.0) * width
        margin.plot(ends, [5.2, 5.2], color="black", linewidth=1.2, solid_capstyle="butt")
        margin.text(ends.mean(), 4.2, band.name, ha="center", va="top", size=7.5, style="italic")


def carpet_words(carpet: Carpet) -> str:
    """Return what a carpet shows, from its numbers: the dampest and driest months, the gaps."""
    if not np.isfinite(carpet.values).any():
        return _("Nothing was measured in this period.")
    months = carpet.days.astype("datetime64[M]")
    means = {m: float(np.nanmean(part)) for m in np.unique(months)
             if np.isfinite(part := carpet.values[:, months == m]).mean() > 0.5}  # fmt: skip
    said = _("Each column is a day, each field an hour.")
    missing = float(np.isnan(carpet.values).mean())
    gaps = (
        _("{share} of the hours were not measured.", share=wording.share(missing))
        if missing >= 0.005
        else ""
    )
    if len(means) < 2:
        return " ".join(filter(None, (said, gaps)))
    damp, dry = max(means, key=means.__getitem__), min(means, key=means.__getitem__)
    months_words = _(
        "{damp} was dampest ({damp_rh} on average), {dry} driest ({dry_rh}).",
        damp=_month(damp),
        damp_rh=wording.rh(means[damp]),
        dry=_month(dry),
        dry_rh=wording.rh(means[dry]),
    )
    return " ".join(filter(None, (said, months_words, gaps)))


def _month(month: np.datetime64) -> str:
    day = month.astype(object)
    return wording.month_year(day)
