"""Above the week chart: planned events as brackets with names, events as numbered bars."""

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes

from analysis.results import Event, Planned
from dashboards.charts.layout import Layout
from dashboards.charts.style import text_width_mm
from dashboards.charts.time_axis import Days
from dashboards.inks import INK, PAPER, SOFT

LANE_MM = 4.6


TICK_MM = 1.6


APART_MM = 1.2  # between a bracket and its name


LEAST_MM = 1.0  # so that an instant is seen


@dataclass(frozen=True)
class Bracket:
    """One planned event's place: lane from above, its ends, where its name begins [h]."""

    words: str
    lane: int
    first: float
    last: float
    named_at: float


def brackets(planned: Sequence[Planned], days: Days, layout: Layout) -> list[Bracket]:
    """Return the brackets of the events, in lanes so that none covers another's name."""
    h_per_mm = days.length_h / layout.plot
    free: list[float] = []
    found = []
    for event in sorted(planned, key=lambda one: one.from_utc):
        first = min(max(days.at(event.from_utc), 0.0), days.length_h - LEAST_MM * h_per_mm)
        last = min(days.at(event.to_utc or event.from_utc), days.length_h)
        last = max(last, first + LEAST_MM * h_per_mm)
        width = text_width_mm(event.title, layout.small) * h_per_mm
        beside = last + APART_MM * h_per_mm
        fits = beside + width <= days.length_h
        named_at = beside if fits else max(first - APART_MM * h_per_mm - width, 0.0)
        begin, end = min(first, named_at), max(last, named_at + width)
        lane = next((n for n, until in enumerate(free) if until <= begin), len(free))
        free[lane:] = [end + APART_MM * h_per_mm, *free[lane + 1 :]]
        found.append(Bracket(event.title, lane, first, last, named_at))
    return found


def planned_mm(found: Sequence[Bracket]) -> float:
    """Return the height the brackets need [mm]."""
    return LANE_MM * (1 + max((one.lane for one in found), default=-1))


def draw_planned(axes: Axes, found: Sequence[Bracket], days: Days, layout: Layout) -> None:
    """Draw brackets and names in axes whose height is counted in millimetres."""
    height = _in_millimetres(axes, days, planned_mm(found))
    for one in found:
        middle = height - (one.lane + 0.5) * LANE_MM
        ends = [one.first, one.first, one.last, one.last]
        foot, top = middle - TICK_MM / 2, middle + TICK_MM / 2
        axes.plot(ends, [foot, top, top, foot], color=SOFT, linewidth=0.9, clip_on=False)
        axes.text(one.named_at, middle, one.words, size=layout.small, color=SOFT,
                  va="center_baseline", style="italic")  # fmt: skip


# Events above the week chart: a bar from beginning to end each, numbered for the notes beneath.

BAR_LANE_MM_PER_PT = 0.53  # of the numbers’ letters: so that a disc is clear of the one beneath it


DISC_MM_PER_PT = 0.45


MOST_LANES = 3


DISC = {"boxstyle": "circle,pad=0.16", "fc": PAPER, "ec": INK, "lw": 0.6}


@dataclass(frozen=True)
class Bar:
    """One event's place: its number, its lane from above, its ends [h since the week's start]."""

    number: int
    lane: int
    first: float
    last: float


def lanes(events: Sequence[Event], days: Days, layout: Layout) -> list[Bar]:
    """Return the bars of the events, in lanes so that none covers another's number."""
    disc_h = (DISC_MM_PER_PT * layout.small + 0.6) * days.length_h / layout.plot
    free = [-disc_h] * MOST_LANES
    bars = []
    for number, event in enumerate(events, start=1):
        first = min(max(days.at(event.start_utc), 0.0), days.length_h - disc_h)
        last = min(max(days.at(event.end_utc), first), days.length_h)
        lane = next((i for i, until in enumerate(free) if until <= first), free.index(min(free)))
        first = max(first, min(free[lane], days.length_h - disc_h)) if free[lane] > first else first
        free[lane] = max(last, first + disc_h)
        bars.append(Bar(number, lane, first, max(last, first)))
    return bars


def track_mm(bars: Sequence[Bar], layout: Layout) -> float:
    """Return the height the bars need [mm]."""
    return BAR_LANE_MM_PER_PT * layout.small * (1 + max((bar.lane for bar in bars), default=-1))


def draw_track(axes: Axes, bars: Sequence[Bar], days: Days, layout: Layout) -> None:
    """Draw bars and numbers in axes whose height is counted in millimetres."""
    height = _in_millimetres(axes, days, track_mm(bars, layout))
    lane = BAR_LANE_MM_PER_PT * layout.small
    for bar in bars:
        middle = height - (bar.lane + 0.5) * lane
        axes.plot([bar.first, bar.last], [middle, middle], color=INK, linewidth=1.5,
                  solid_capstyle="butt", clip_on=False)  # fmt: skip
        disc = DISC_MM_PER_PT * layout.small / 2 * days.length_h / layout.plot
        axes.text(bar.first + disc, middle, str(bar.number), size=layout.small, weight="bold",
                  ha="center", va="center_baseline",
                  bbox=DISC)  # fmt: skip


def _in_millimetres(axes: Axes, days: Days, height: float) -> float:
    """Let axes count hours along and millimetres up, and return their height."""
    axes.set_axis_off()
    axes.set_xlim(0.0, days.length_h)
    axes.set_ylim(0.0, height)
    return height
