"""Planning drawn: months slack and overtight against the humidity at mounting; works by rooms."""

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from analysis.planning.hanging import HangingTable
from analysis.planning.mounting import MountingCurve
from analysis.results import Range
from dashboards.charts.style import SERIF, TALL_A4_MM, Sheet, drawn
from dashboards.inks import HAIR, INDIGO, INK, MADDER, PAPER, SOFT
from dashboards.wording import number

LEAST_MONTHS_APART = 1.2  # below it, two labels at the end of the curves would overlap


@drawn
def mounting_figure(curve: MountingCurve) -> Figure:
    """Return months slack and months overtight above, the peak load below, by mounting RH."""
    page = Sheet.new(TALL_A4_MM, 112.0)
    page.write(4.0, 3.0, "At which humidity to mount?", family=SERIF, size=12)
    months = page.axes(16.0, 14.0, 168.0, 50.0)
    load = page.axes(16.0, 74.0, 168.0, 26.0, sharex=months)
    at = [point.rh_pct for point in curve.points]
    slack = [point.year.months_slack for point in curve.points]
    tight = [point.year.months_overtight for point in curve.points]
    if at:
        apart = _apart(slack[-1].mid, tight[-1].mid)
        _ribbon(months, at, slack, MADDER, "slack", lift=apart)
        _ribbon(months, at, tight, INDIGO, "overtight", dashed=True, lift=-apart)
        _ribbon(load, at, [point.year.peak_load_n_m for point in curve.points], INK, "")
        _tick_now(months, curve)
        months.set_xlim(min(at), max(at) + 0.12 * (max(at) - min(at)))
    months.set_ylim(0.0, None)
    load.set_ylim(0.0, None)
    months.set_ylabel("months of the year")
    load.set_ylabel("peak load, N/m")
    load.set_xlabel("humidity at mounting, %RH")
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


def _tick_now(axes: Axes, curve: MountingCurve) -> None:
    if curve.mounted_rh_pct is not None:
        axes.axvline(curve.mounted_rh_pct, color=SOFT, lw=0.6, ls=":")
        axes.annotate(
            "mounted now",
            (curve.mounted_rh_pct, 1.0),
            xycoords=("data", "axes fraction"),
            xytext=(3, -8),
            textcoords="offset points",
            size=7,
            color=SOFT,
        )


@drawn
def hanging_figure(table: HangingTable) -> Figure:
    """Return works by rooms: each cell the share of the year in which to look first, in words."""
    rows, columns = len(table.works), len(table.room_names)
    page = Sheet.new(TALL_A4_MM, 24.0 + 7.0 * rows)
    page.write(4.0, 3.0, "Where to hang?", family=SERIF, size=12)
    axes = page.axes(58.0, 18.0, 128.0, 7.0 * rows)
    axes.set_xlim(0, columns)
    axes.set_ylim(rows, 0)
    for i, row in enumerate(table.cells):
        for j, cell in enumerate(row):
            _cell(axes, j, i, None if cell is None else cell.look_first_share)
    axes.set_xticks(np.arange(columns) + 0.5, table.room_names)
    axes.set_yticks(np.arange(rows) + 0.5, [work.title for work in table.works])
    axes.xaxis.tick_top()
    axes.tick_params(length=0.0)
    for side in axes.spines.values():
        side.set_visible(False)
    return page.figure


def _cell(axes: Axes, x: int, y: int, share: float | None) -> None:
    ink = MADDER if share else PAPER
    axes.fill_between(
        [x + 0.02, x + 0.98], y + 0.06, y + 0.94, color=ink, alpha=min(share or 0.0, 1.0), lw=0
    )
    axes.plot([x + 0.02, x + 0.98], [y + 0.97, y + 0.97], color=HAIR, lw=0.5)
    words = "cannot tell" if share is None else f"{number(100 * share)} %"
    dark = share is not None and share > 0.5
    axes.text(x + 0.5, y + 0.5, words, ha="center", va="center", color=PAPER if dark else INK)
