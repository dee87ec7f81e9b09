"""The upper part of the week chart: the room's humidity with its band, what frames felt, events."""

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes

from analysis.results import Band, Beside, RoomWeek
from dashboards.charts.layout import Layout
from dashboards.charts.places import distance_along, place_along, spread
from dashboards.charts.style import SERIF, text_width_mm
from dashboards.charts.time_axis import Days, broken_line, fit_values, gaps, hatch_gaps, rule_days
from dashboards.inks import FELT, GREY, INK, PAPER, SEA, SOFT, WASH
from dashboards.text import wording
from dashboards.text.beside_text import BESIDE_WORDS
from dashboards.text.messages import _
from dashboards.text.sentences import glazed_histories

Floats = npt.NDArray[np.float64]
Curve = tuple[Floats, Floats]
HOLLOW_STEP_H = 0.75  # flagged readings closer than this share one hollow mark
LEAST_SPAN_RH = 14.0
MM_PER_POINT = 25.4 / 72.0


def felt_range(week: RoomWeek) -> tuple[Floats, Floats, Floats] | None:
    """Return hours, lowest 5 % and highest 95 % of the humidity in glazed frames, or None."""
    histories = [h for h in glazed_histories(week) if np.isfinite(h.frame_rh_pct).any()]
    if not histories:
        return None
    days = Days.of(week)
    hours = np.arange(0.0, days.length_h + 0.01)
    low, high = np.full(hours.size, np.inf), np.full(hours.size, -np.inf)
    for history in histories:
        places = days.along(history.time_utc)
        known = np.isfinite(history.frame_rh_pct[:, 1])
        inside = (hours >= places[known].min()) & (hours <= places[known].max())
        for edge, into, choose in ((0, low, np.minimum), (2, high, np.maximum)):
            curve = np.interp(hours, places[known], history.frame_rh_pct[known, edge])
            into[inside] = choose(into, curve)[inside]
    empty = ~np.isfinite(low)
    low[empty], high[empty] = np.nan, np.nan
    return hours, low, high


def draw_humidity(axes: Axes, week: RoomWeek, layout: Layout, letters: Mapping[str, str]) -> None:
    """Draw the room's humidity and everything that is read against it."""
    days = Days.of(week)
    values = fit_values(week.readings, "rh_pct")
    places = days.along(week.readings.index)
    felt = felt_range(week)
    low, high = humidity_limits(week, values, felt)
    axes.set_ylim(low, high)
    rule_days(axes, days)
    ticks = np.arange(np.ceil(low / 10) * 10, high, 10)
    axes.set_yticks(ticks, _tick_words(ticks, "%", layout), size=layout.small)
    breaks = gaps(week.readings, days)
    hatch_gaps(axes, breaks)
    named = draw_band(axes, week.band, layout, (places, values))
    draw_felt(axes, felt)
    draw_week_before(axes, week)
    axes.plot(*broken_line(places, values, breaks), color=INK, linewidth=1.2, zorder=4)
    _hollow(axes, week, places, (low, high))
    _name_lines(axes, layout, days, (places, values), felt, named)
    _mounting_ticks(axes, week, layout, letters)


def key_words(week: RoomWeek) -> str:
    """Return what the picture of the air does not name in itself."""
    said = _(
        "Ticks with letters at the right: RH at mounting. Rings: readings in doubt. Hatched paper: "
        "not measured."
    )
    if week.before is None:
        return said
    if week.beside is Beside.OUTDOORS:
        return said + " " + _("Faint line below: the dew point outdoors.")
    return said + " " + _("Faint line: {beside}.", beside=BESIDE_WORDS[week.beside])


def draw_week_before(axes: Axes, week: RoomWeek) -> None:
    """Draw the room's humidity of the week it stands beside, faint behind the line."""
    if week.before is None or week.beside is Beside.OUTDOORS:
        return
    days = Days.of(week)
    places, values = days.along(week.before.index), fit_values(week.before, "rh_pct")
    breaks = gaps(week.before, days)
    axes.plot(*broken_line(places, values, breaks), color=SOFT, alpha=0.4, linewidth=0.8, zorder=2)


def _tick_words(ticks: Floats, unit: str, layout: Layout) -> list[str]:
    """Return the numbers of a scale; on a phone the topmost carries the unit."""
    words = [wording.number(tick) for tick in ticks]
    return [*words[:-1], f"{words[-1]}{unit}"] if layout.narrow and words else words


def humidity_limits(
    week: RoomWeek, values: Floats, felt: tuple[Floats, Floats, Floats] | None
) -> tuple[float, float]:
    """Return the ends of the scale: everything measured, felt, agreed and mounted at is on it."""
    seen = [values, *(felt[1:] if felt else ())]
    if week.before is not None and week.beside is not Beside.OUTDOORS:
        seen.append(fit_values(week.before, "rh_pct"))
    if week.band:
        seen.append(np.array([week.band.low_rh_pct, week.band.high_rh_pct]))
    mounted = [w.mounted_rh_pct for w in week.works.values() if w.mounted_rh_pct is not None]
    seen.append(np.array(mounted, dtype=float))
    everything = np.concatenate(seen)
    everything = everything[np.isfinite(everything)]
    if not everything.size:
        return 0.0, 100.0
    low, high = float(everything.min()) - 2.0, float(everything.max()) + 5.0
    middle, half = (low + high) / 2, max(high - low, LEAST_SPAN_RH) / 2
    return max(0.0, middle - half), min(104.0, middle + half)


def draw_band(axes: Axes, band: Band | None, layout: Layout | None, room: Curve) -> Curve:
    """Draw the agreed band as a pale wash, its name in it where the room's line keeps away.

    Without a layout there is no room for the name: the scale tells the band's ends. Returns where
    the name lies, for labels that keep clear of it.
    """
    nothing = np.array([])
    if band is None:
        return nothing, nothing
    axes.axhspan(band.low_rh_pct, band.high_rh_pct, color=WASH, linewidth=0.0, zorder=0)
    if layout is None:
        return nothing, nothing
    words = f"{band.name}, {wording.span(band.low_rh_pct, band.high_rh_pct, '%RH')}"
    if band.since and not layout.narrow:
        words += _(", since {day}", day=wording.written_day(band.since))
    spot = _band_spot(axes, band, layout, room, words)
    axes.text(*spot, words, va="center", size=layout.small, color=SOFT, style="italic",
              family=SERIF, zorder=3)  # fmt: skip
    left, right = axes.get_xlim()
    width = text_width_mm(words, layout.small, SERIF) * (right - left) / layout.plot
    along = np.linspace(spot[0], spot[0] + width, 50)
    return along, np.full(along.size, spot[1])


def _band_spot(
    axes: Axes, band: Band, layout: Layout, room: Curve, words: str
) -> tuple[float, float]:
    """Return where the band's name stands: along its upper or its lower edge."""
    left, right = axes.get_xlim()
    low, high = axes.get_ylim()
    h_per_mm, rh_per_mm = (right - left) / layout.plot, (high - low) / layout.air
    inward = layout.small * MM_PER_POINT * 0.8 * rh_per_mm
    width = text_width_mm(words, layout.small, SERIF) * h_per_mm
    ends, limits = np.array([left, right]), (left + h_per_mm, right)
    spots = [
        place_along((ends, np.full(2, edge)), room, width=width, above=above, limits=limits)
        for edge, above in ((band.high_rh_pct, -inward), (band.low_rh_pct, inward))
    ]
    found = [spot for spot in spots if spot is not None]
    if not found:
        return left + h_per_mm, band.low_rh_pct + inward
    return max(found, key=lambda spot: distance_along(room, spot, width))


def draw_felt(axes: Axes, felt: tuple[Floats, Floats, Floats] | None) -> None:
    """Draw what the frames felt as a ribbon."""
    if felt:
        axes.fill_between(*felt, color=FELT, linewidth=0.0, alpha=0.75)


def _hollow(axes: Axes, week: RoomWeek, places: Floats, limits: tuple[float, float]) -> None:
    """Draw readings that carry a doubt as hollow rings, one in three quarters of an hour."""
    doubted = np.isnan(fit_values(week.readings, "rh_pct")) & week.readings["rh_pct"].notna()
    last = -np.inf
    chosen = []
    for index in np.flatnonzero(np.asarray(doubted)):
        if places[index] - last >= HOLLOW_STEP_H:
            chosen.append(index)
            last = places[index]
    shown = np.clip(week.readings["rh_pct"].to_numpy(float)[chosen], limits[0] + 1, limits[1] - 1)
    axes.plot(
        places[chosen],
        shown,
        linestyle="none",
        marker="o",
        markersize=3.0,
        markerfacecolor=PAPER,
        markeredgecolor=GREY,
        markeredgewidth=0.7,
        zorder=4,
    )


def _name_lines(
    axes: Axes,
    layout: Layout,
    days: Days,
    room: tuple[Floats, Floats],
    felt: tuple[Floats, Floats, Floats] | None,
    named: Curve,
) -> None:
    """Write "room air" beside its highest point and "felt in the frames" along the ribbon."""
    places, values = room
    if np.isfinite(values).any():
        top = int(np.nanargmax(values))
        late = places[top] > 0.8 * days.length_h
        axes.annotate(_("room air"), (places[top], values[top]), xytext=(-4 if late else 4, 2),
                      textcoords="offset points", ha="right" if late else "left",
                      va="bottom", size=layout.small, zorder=5)  # fmt: skip
    if felt is None:
        return
    words = _("felt in the frames") if layout.narrow else _("what the frames felt, 5–95 %")
    low, high = axes.get_ylim()
    spot = place_along(
        (felt[0], felt[2]),
        (np.append(room[0], named[0]), np.append(room[1], named[1])),
        width=text_width_mm(words, layout.small) * days.length_h / layout.plot,
        above=layout.small * MM_PER_POINT * 0.75 * (high - low) / layout.air,
        limits=(0.0, days.length_h),
    )
    if spot:
        axes.text(*spot, words, size=layout.small, va="center", color=GREY, zorder=5)


def _mounting_ticks(axes: Axes, week: RoomWeek, layout: Layout, letters: Mapping[str, str]) -> None:
    """Draw a tick at the right for each RH at mounting, with the letters of its works."""
    by_rh: dict[float, list[str]] = {}
    for work_id, letter in letters.items():
        mounted = week.works[work_id].mounted_rh_pct if work_id in week.works else None
        if mounted is not None:
            by_rh.setdefault(float(round(mounted)), []).append(letter)
    low, high = axes.get_ylim()
    rh_per_mm = (high - low) / layout.air
    places = spread(list(by_rh), layout.small * MM_PER_POINT * 1.15 * rh_per_mm)
    reach = 2.2 / layout.plot
    for (mounted, works), place in zip(by_rh.items(), places, strict=True):
        axes.plot([1.0, 1.0 + reach], [mounted, mounted], color=INK, linewidth=0.9,
                  transform=axes.get_yaxis_transform(), clip_on=False)  # fmt: skip
        axes.plot([1.0 + reach, 1.0 + 2 * reach], [mounted, place], color=SOFT, linewidth=0.4,
                  transform=axes.get_yaxis_transform(), clip_on=False)  # fmt: skip
        words = " ".join(works) + ("" if layout.narrow else f" · {wording.rh(mounted)}")
        axes.text(1.0 + 2.3 * reach, place, words, size=layout.small, va="center",
                  transform=axes.get_yaxis_transform(), clip_on=False)  # fmt: skip
    if by_rh and not layout.narrow:
        axes.annotate(_("mounted at"), (1.0 + 2.3 * reach, max(places)), va="bottom",
                      xycoords=axes.get_yaxis_transform(), xytext=(0, 6), color=SOFT,
                      textcoords="offset points", size=layout.small)  # fmt: skip


def draw_temperature(axes: Axes, week: RoomWeek, layout: Layout) -> None:
    """Draw temperature and dew point, each named at its right end."""
    days = Days.of(week)
    rule_days(axes, days)
    places = days.along(week.readings.index)
    breaks = gaps(week.readings, days, "temp_c")
    hatch_gaps(axes, breaks)
    _dew_point_outdoors(axes, week, days)
    ends: list[tuple[str, float, str]] = []
    for column, name, ink in (("temp_c", _("air"), INK), ("dew_point_c", _("dew point"), SEA)):
        values = fit_values(week.readings, column)
        axes.plot(*broken_line(places, values, breaks), color=ink, linewidth=0.9)
        known = values[np.isfinite(values)]
        if known.size:
            ends.append((name, float(known[-1]), ink))
    _name_ends(axes, ends, layout)
    low, high = axes.get_ylim()
    ticks = np.arange(np.ceil(low / 5) * 5, high, 5)
    axes.set_ylim(low, high)
    axes.set_yticks(ticks, _tick_words(ticks, "°C", layout), size=layout.small)


def _dew_point_outdoors(axes: Axes, week: RoomWeek, days: Days) -> None:
    """Draw the dew point outdoors, faint, where the week stands beside it."""
    if week.before is None or week.beside is not Beside.OUTDOORS:
        return
    line = broken_line(
        days.along(week.before.index),
        week.before["dew_point_c"].to_numpy(float),
        gaps(week.before, days),
    )
    axes.plot(*line, color=SEA, alpha=0.45, linewidth=0.8, zorder=2)


def _name_ends(axes: Axes, ends: Sequence[tuple[str, float, str]], layout: Layout) -> None:
    low, high = axes.get_ylim()
    step = layout.line * 0.8 * (high - low) / layout.temperature
    for (name, value, ink), place in zip(ends, spread([end[1] for end in ends], step), strict=True):
        short = name.replace(_("dew point"), _("dew pt"))
        words = short if layout.narrow else f"{name} {wording.temp(value)}"
        axes.text(1.0 + 1.5 / layout.plot, place, words, size=layout.small, color=ink,
                  va="center", transform=axes.get_yaxis_transform())  # fmt: skip
