"""A room's week in the height of a few lines, for the page of all rooms."""

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from analysis.results import RoomWeek
from dashboards.charts import strips
from dashboards.charts.days import (
    Days,
    broken_line,
    fit_values,
    gaps,
    hatch_gaps,
    name_days,
    rule_days,
)
from dashboards.charts.layout import PHONE, Layout
from dashboards.charts.room_air import draw_band, draw_felt, felt_range, humidity_limits
from dashboards.charts.style import Sheet, drawn
from dashboards.inks import INK
from dashboards.marks import draw_mark

WIDTH_MM, LEFT_MM, RIGHT_MM = 120.0, 9.5, 41.0
AIR_MM, STRIP_MM, PITCH_MM = 22.0, 2.4, 4.0
GLANCE = Layout(
    width=WIDTH_MM,
    left=LEFT_MM,
    right=RIGHT_MM,
    edge=0.0,
    air=AIR_MM,
    temperature=0.0,
    strip=STRIP_MM,
    strip_pitch=PITCH_MM,
    heading=0.0,
    text=PHONE.text,
    small=PHONE.small,
    line=PHONE.line,
    narrow=True,
)


@drawn
def room_glance(week: RoomWeek) -> Figure:
    """Return the room's humidity and one strip a work, each ending in its mark and word."""
    rows = strips.rows(week)
    height = AIR_MM + 8.0 + len(rows) * PITCH_MM
    sheet = Sheet.new(WIDTH_MM, height)
    air = sheet.axes(LEFT_MM, 5.0, GLANCE.plot, AIR_MM)
    _humidity(air, week)
    if rows:
        _strips(sheet, week, rows, AIR_MM + 7.0)
    return sheet.figure


def _humidity(axes: Axes, week: RoomWeek) -> None:
    days = Days.of(week)
    values, felt = fit_values(week.readings, "rh_pct"), felt_range(week)
    low, high = humidity_limits(week, values, felt)
    axes.set_ylim(low, high)
    rule_days(axes, days)
    name_days(axes, days, short=True, size=GLANCE.small)
    places = days.along(week.readings.index)
    breaks = gaps(week.readings, days)
    hatch_gaps(axes, breaks)
    draw_band(axes, week.band, GLANCE, (places, values))
    draw_felt(axes, felt)
    axes.plot(*broken_line(places, values, breaks), color=INK, linewidth=1.1, zorder=4)
    edges = [week.band.low_rh_pct, week.band.high_rh_pct] if week.band else [low, high]
    axes.set_yticks(edges, [f"{edge:.0f}" for edge in edges], size=GLANCE.small)


def _strips(sheet: Sheet, week: RoomWeek, rows: list[strips.Row], top: float) -> None:
    height = len(rows) * PITCH_MM
    axes = sheet.axes(LEFT_MM, top, GLANCE.plot, height)
    axes.set_axis_off()
    axes.set_xlim(0.0, Days.of(week).length_h)
    axes.set_ylim(0.0, height)
    margin = sheet.margin(0.0, top, WIDTH_MM, height)
    for number, row in enumerate(rows):
        bottom = height - (number + 1) * PITCH_MM + (PITCH_MM - STRIP_MM) / 2
        strips.draw_strip(axes, row, Days.of(week), bottom, STRIP_MM)
        draw_mark(margin, row.judgement.state, LEFT_MM + GLANCE.plot + 2.0, bottom,
                  height_mm=STRIP_MM, fontsize=GLANCE.small)  # fmt: skip
