"""Events above the week chart: a bar from beginning to end each, numbered for the notes beneath."""

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes

from analysis.results import Event
from dashboards.charts.days import Days
from dashboards.charts.layout import Layout
from dashboards.inks import INK, PAPER

LANE_MM = 4.0
DISC_MM = 3.6
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
    disc_h = (DISC_MM + 0.6) * days.length_h / layout.plot
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


def track_mm(bars: Sequence[Bar]) -> float:
    """Return the height the bars need [mm]."""
    return LANE_MM * (1 + max((bar.lane for bar in bars), default=-1))


def draw_track(axes: Axes, bars: Sequence[Bar], days: Days, layout: Layout) -> None:
    """Draw bars and numbers in axes whose height is counted in millimetres."""
    height = track_mm(bars)
    axes.set_axis_off()
    axes.set_xlim(0.0, days.length_h)
    axes.set_ylim(0.0, height)
    for bar in bars:
        middle = height - (bar.lane + 0.5) * LANE_MM
        axes.plot([bar.first, bar.last], [middle, middle], color=INK, linewidth=1.5,
                  solid_capstyle="butt", clip_on=False)  # fmt: skip
        disc = DISC_MM / 2 * days.length_h / layout.plot
        axes.text(bar.first + disc, middle, str(bar.number), size=layout.small, weight="bold",
                  ha="center", va="center_baseline",
                  bbox=DISC)  # fmt: skip
