"""The humidity in a frame through the year, in each build: one small picture each, one scale."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from analysis.planning.sealing import BuildYear, SealingComparison
from dashboards.charts.style import PHONE_MM, TALL_A4_MM, Sheet, drawn, wrapped
from dashboards.charts.time_axis import DailyHumidity, daily, humidity_ticks, name_months
from dashboards.inks import FELT, INK, SEA, SOFT
from dashboards.text import wording
from dashboards.text.messages import N_, _
from dashboards.text.plan_text import build_words

PANEL_MM, NAME_MM, LEFT_MM = 24.0, 7.5, 9.0
KEY = N_(
    "Relative humidity, %; line and ribbon: in the frame, 5–95 %; thin line: the room's daily "
    "middle."
)


@drawn
def sealing_figure(found: SealingComparison, *, narrow: bool = False) -> Figure:
    """Return the frame's humidity through the year in each build, under one another."""
    width = PHONE_MM * 1.06 if narrow else TALL_A4_MM
    room = daily(found.air.time_utc, (found.air.rh_low_pct + found.air.rh_high_pct) / 2.0)
    years = [daily(b.history.time_utc, b.history.frame_rh_pct) for b in found.builds]
    key = wrapped(_(KEY), width - 2.0, 8.5)
    top, name_mm = 4.0 * len(key) + 2.0, NAME_MM * (1.5 if narrow else 1.0)
    page = Sheet.new(width, top + len(years) * (PANEL_MM + name_mm) + 6.0)
    for i, line in enumerate(key):
        page.write(0.0, 4.0 * i, line, size=8.5, color=SOFT)
    scale = _scale(years, room)
    for build, year in zip(found.builds, years, strict=True):
        for i, words in enumerate(wrapped(_name(build), width - 2.0, 9.0)):
            page.write(0.0, top + 2.4 + 3.9 * i, words, size=9.0)
        axes = page.axes(LEFT_MM, top + name_mm, width - LEFT_MM - 1.0, PANEL_MM)
        _panel(axes, year, room, found.target_rh_pct)
        humidity_ticks(axes, *scale)
        last = build is found.builds[-1]
        name_months(axes, room.days, every=3 if narrow else 1, named=last)
        top += PANEL_MM + name_mm
    return page.figure


def _name(build: BuildYear) -> str:
    return _(
        "{build}: {share} of the year look first",
        build=wording.capital(build_words(build)),
        share=wording.share(build.year.look_first.share),
    )


def _scale(years: list[DailyHumidity], room: DailyHumidity) -> tuple[float, float]:
    every = [room.mid_pct, *(y.low_pct for y in years), *(y.high_pct for y in years)]
    together = np.concatenate(every)
    return float(np.nanmin(together)), float(np.nanmax(together))


def _panel(axes: Axes, year: DailyHumidity, room: DailyHumidity, target: float | None) -> None:
    axes.plot(room.days, room.mid_pct, color=SEA, lw=0.6)
    axes.fill_between(year.days, year.low_pct, year.high_pct, color=FELT, alpha=0.8, lw=0)
    axes.plot(year.days, year.mid_pct, color=INK, lw=1.3)
    if target is not None:
        axes.axhline(target, color=SOFT, lw=0.8, ls=(0, (4, 2)))
        axes.annotate(_("target"), (1.0, target), xycoords=axes.get_yaxis_transform(),
                      xytext=(-2, 2), textcoords="offset points", ha="right", size=8,
                      color=SOFT)  # fmt: skip
    unknown = ~np.isfinite(year.mid_pct)
    if unknown.any():
        axes.fill_between(year.days, 0.0, 1.0, where=unknown, transform=axes.get_xaxis_transform(),
                          facecolor="none", hatch="////", lw=0)  # fmt: skip
        axes.annotate(_("cannot tell"), (year.days[unknown][0], 0.0),
                      xycoords=axes.get_xaxis_transform(), xytext=(3, 3),
                      textcoords="offset points", size=8, color=SOFT)  # fmt: skip
