"""One work through time: the humidity of frame and print against mounting, and its strip."""

from collections.abc import Sequence
from datetime import UTC, datetime
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from analysis.results import History
from analysis.simulation.phases import DrawnPhase, Phase, framed_anew, mounted_anew, mountings
from analysis.works import Work
from dashboards.charts.places import distance_along, place_along
from dashboards.charts.readout import AIR, reads
from dashboards.charts.strips import draw_history
from dashboards.charts.style import PHONE_MM, SERIF, Sheet, drawn, text_width_mm
from dashboards.charts.time_axis import Days, name_days, rule_days
from dashboards.inks import FELT, HAIR, INK, PAPER, SOFT
from dashboards.look_lines import InspectionLine
from dashboards.text import wording
from dashboards.text.messages import _

Floats = npt.NDArray[np.float64]
Mountings = Sequence[tuple[datetime, datetime, float | None]]
WIDTH_MM, LEFT_MM, RIGHT_MM = 1.3 * PHONE_MM, 9.5, 3.0
PLOT_MM = WIDTH_MM - LEFT_MM - RIGHT_MM
HUMIDITY_MM, STRIP_MM, SEEN_MM = 34.0, 4.0, 6.0
FEW_DAYS = 10
SIZE = 8.0


@drawn
def work_chart(
    work: Work,
    history: History,
    zone: str,
    inspections: Sequence[InspectionLine] = (),
    earlier: Sequence[Phase | DrawnPhase] = (),
) -> Figure:
    """Return the humidity of frame and print, the strip of the work, and what people saw.

    Parameters
    ----------
    work : Work
        Gives the RH at mounting, against which all is read.
    history : History
        Any length, hourly.
    zone : str
        IANA zone of the site.
    inspections : sequence of InspectionLine
        Those within the history are drawn as grades beneath the strip.
    earlier : sequence of Phase or DrawnPhase
        How the work was before; where it was mounted or framed anew is marked.
    """
    days = days_of(history, zone)
    sheet = Sheet.new(WIDTH_MM, 19.0 + HUMIDITY_MM + STRIP_MM + SEEN_MM)
    humidity = sheet.axes(LEFT_MM, 10.0, PLOT_MM, HUMIDITY_MM)
    _humidity(humidity, mountings_within(work, earlier, history), history, days)
    _changes(humidity, work, earlier, days)
    sheet.write(LEFT_MM, 1.0, _("Relative humidity, %: print (line) and frame (ribbon, 5–95 %)"),
                size=SIZE, color=SOFT)  # fmt: skip
    top = 14.0 + HUMIDITY_MM
    strip = sheet.axes(LEFT_MM, top, PLOT_MM, STRIP_MM)
    strip.set_axis_off()
    strip.set_xlim(0.0, days.length_h)
    strip.set_ylim(0.0, STRIP_MM)
    draw_history(strip, history, days, 0.0, STRIP_MM)
    reads(humidity, AIR)
    _seen(sheet, inspections, days, top + STRIP_MM)
    return sheet.figure


def days_of(history: History, zone: str) -> Days:
    """Return the time scale of a work's picture."""
    times = pd.DatetimeIndex(history.time_utc).tz_localize("UTC")
    hour = pd.Timedelta(hours=1)
    return Days(times[0].to_pydatetime(), (times[-1] + hour).to_pydatetime(), zone)


def mountings_within(
    work: Work, earlier: Sequence[Phase | DrawnPhase], history: History
) -> list[tuple[datetime, datetime, float | None]]:
    """Return the mountings of a history's hours: from when, until when, at which RH."""
    first, last = (history.time_utc[at].astype("datetime64[s]").astype(int) for at in (0, -1))
    start, end = (datetime.fromtimestamp(int(t), tz=UTC) for t in (first, last + 3600))
    found = mountings(work, earlier)
    begins = [since or start for since, _ in found]
    spans = zip(begins, [*begins[1:], end], found, strict=True)
    return [
        (max(begin, start), min(until, end), mounted.mounted_rh_pct)
        for begin, until, (_, mounted) in spans
        if max(begin, start) < min(until, end)
    ]


def _humidity(axes: Axes, mounted: Mountings, history: History, days: Days) -> None:
    places = days.along(history.time_utc)
    frame, sheet = history.frame_rh_pct, history.print_rh_pct
    axes.fill_between(places, frame[:, 0], frame[:, 2], color=FELT, alpha=0.75, linewidth=0.0)
    axes.plot(places, sheet[:, 1], color=INK, linewidth=1.2)
    for begin, until, rh_pct in mounted:
        if rh_pct is not None:
            ends = (days.at(begin), days.at(until))
            axes.hlines(rh_pct, *ends, color=SOFT, linewidth=0.8)
            _name_mounting(axes, rh_pct, (places, sheet[:, 1]), days, ends)
    _name_time(axes, days)
    axes.tick_params(labelsize=SIZE)
    low, high = axes.get_ylim()
    ticks = np.arange(np.ceil(low / 5) * 5, high, 5)
    axes.set_yticks(ticks, [wording.number(tick) for tick in ticks])


def _changes(axes: Axes, work: Work, earlier: Sequence[Phase | DrawnPhase], days: Days) -> None:
    """Rule the days on which the work was mounted or framed anew, and say which."""
    works = pairwise([*(one.work for one in earlier), work])
    for (before, after), one in zip(works, earlier, strict=True):
        at = days.at(one.until_utc)
        anew = mounted_anew(before, after)
        if not (anew or framed_anew(before, after)) or not 0.0 <= at <= days.length_h:
            continue
        axes.axvline(at, color=SOFT, linewidth=0.7, linestyle=(0, (2, 2)))
        left = at < 0.7 * days.length_h
        axes.annotate(_("mounted anew") if anew else _("framed anew"), (at, 0.0),
                      xycoords=axes.get_xaxis_transform(), xytext=(3 if left else -3, 3),
                      textcoords="offset points", ha="left" if left else "right", size=SIZE,
                      style="italic", family=SERIF, color=SOFT)  # fmt: skip


def _name_mounting(
    axes: Axes,
    mounted: float,
    print_rh: tuple[Floats, Floats],
    days: Days,
    ends: tuple[float, float],
) -> None:
    words = _("mounted at {mounted}", mounted=wording.rh(mounted))
    low, high = axes.get_ylim()
    width = text_width_mm(words, SIZE, SERIF) * days.length_h / PLOT_MM
    spots = [
        place_along(
            (np.array(ends), np.full(2, mounted)),
            print_rh,
            width=width,
            above=side * 1.9 * (high - low) / HUMIDITY_MM,
            limits=(max(ends[0], days.length_h / PLOT_MM), ends[1]),
        )
        for side in (-1.0, 1.0)
    ]
    inside = [spot for spot in spots if spot and spot[1] < high]
    if inside:
        spot = max(inside, key=lambda spot: distance_along(print_rh, spot, width))
        axes.text(*spot, words, va="center", size=SIZE, style="italic", family=SERIF, color=SOFT)


def _name_time(axes: Axes, days: Days) -> None:
    if days.length_h <= FEW_DAYS * 24:
        rule_days(axes, days)
        name_days(axes, days, short=True, size=SIZE)
        return
    axes.set_xlim(0.0, days.length_h)
    axes.set_xticks([])
    mondays = [(day, at) for day, at, _ in days.midnights() if day.weekday() == 0]
    step = max(1, round(len(mondays) * 14.0 / PLOT_MM + 0.49))
    for day, at in mondays[::step]:
        axes.axvline(at, color=HAIR, linewidth=0.5, zorder=0.5)
        axes.annotate(_short(day), (at, 1.0), xycoords=axes.get_xaxis_transform(), xytext=(0, 4),
                      textcoords="offset points", size=SIZE, color=SOFT)  # fmt: skip


def _short(day: datetime) -> str:
    return wording.month_day_short(day)


def _seen(sheet: Sheet, inspections: Sequence[InspectionLine], days: Days, top: float) -> None:
    """Write the grades people gave, each at its hour."""
    margin = sheet.axes(LEFT_MM, top, PLOT_MM, SEEN_MM)
    margin.set_axis_off()
    margin.set_xlim(0.0, days.length_h)
    margin.set_ylim(0.0, SEEN_MM)
    for seen in inspections:
        at = days.at(seen.at_utc)
        if seen.withdrawn or not 0.0 <= at <= days.length_h:
            continue
        margin.plot([at, at], [SEEN_MM, 4.4], color=INK, linewidth=0.7)
        margin.text(at, 2.2, f"seen: {seen.grade}", size=SIZE, ha="center", va="center",
                    bbox={"fc": PAPER, "ec": "none", "pad": 0.5})  # fmt: skip


def work_words(work: Work, history: History, earlier: Sequence[Phase | DrawnPhase] = ()) -> str:
    """Return what the picture shows: where the print has been against its mounting."""
    seen = np.isfinite(history.print_rh_pct[:, 1])
    known = history.print_rh_pct[seen, 1]
    if not known.size:
        return _("No state of the print can be told for this time.")
    reach = wording.span(known.min(), known.max(), "%RH")
    said = _("The print was probably at {reach}", reach=reach)
    mounted = mountings_within(work, earlier, history)
    if any(rh_pct is None for _, _, rh_pct in mounted):
        return _("{said}; its RH at mounting is not known.", said=said)
    begins = [np.datetime64(int(begin.timestamp()), "s") for begin, _, _ in mounted]
    at = np.searchsorted(begins, history.time_utc[seen], side="left").clip(1) - 1
    levels = np.array([rh_pct for _, _, rh_pct in mounted], dtype=np.float64)
    share = wording.percent(float((known > levels[at]).mean()))
    names = _(", then ").join(dict.fromkeys(wording.rh(level) for level in levels))
    return _(
        "{said}, and {share} of the time above {names}, its RH at mounting.",
        said=said,
        share=share,
        names=names,
    )
