"""A room's week in the height of a few lines, for the page of all rooms."""

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from analysis.results import RoomWeek
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
from dashboards.charts.planned_track import brackets, draw_planned, planned_mm
from dashboards.charts.room_air import (
    draw_band,
    draw_felt,
    draw_week_before,
    felt_range,
    humidity_limits,
)
from dashboards.charts.style import Sheet, drawn
from dashboards.inks import INK
from dashboards.text import wording

WIDTH_MM, LEFT_MM, RIGHT_MM = 110.0, 9.5, 2.0
AIR_MM = 24.0
GLANCE = Layout(
    width=WIDTH_MM,
    left=LEFT_MM,
    right=RIGHT_MM,
    edge=0.0,
    air=AIR_MM,
    temperature=0.0,
    strip=0.0,
    strip_pitch=0.0,
    heading=0.0,
    text=PHONE.text,
    small=PHONE.small,
    line=PHONE.line,
    narrow=True,
)


@drawn
def room_glance(week: RoomWeek) -> Figure:
    """Return the room's humidity; the strips of its works stand beneath it on the page."""
    days = Days.of(week)
    planned = brackets(week.planned, days, GLANCE)
    above = planned_mm(planned) if planned else 0.0
    sheet = Sheet.new(WIDTH_MM, AIR_MM + 6.5 + above)
    names = sheet.axes(LEFT_MM, 5.0, GLANCE.plot, 0.01)
    names.set_axis_off()
    names.set_xlim(0.0, days.length_h)
    name_days(names, days, short=True, size=GLANCE.small)
    if planned:
        draw_planned(sheet.axes(LEFT_MM, 5.0, GLANCE.plot, above), planned, days, GLANCE)
    _humidity(sheet.axes(LEFT_MM, 5.0 + above, GLANCE.plot, AIR_MM), week)
    return sheet.figure


def _humidity(axes: Axes, week: RoomWeek) -> None:
    days = Days.of(week)
    values, felt = fit_values(week.readings, "rh_pct"), felt_range(week)
    low, high = humidity_limits(week, values, felt)
    axes.set_ylim(low, high)
    rule_days(axes, days)
    places = days.along(week.readings.index)
    breaks = gaps(week.readings, days)
    hatch_gaps(axes, breaks)
    draw_band(axes, week.band, None, (places, values))
    draw_felt(axes, felt)
    draw_week_before(axes, week)
    axes.plot(*broken_line(places, values, breaks), color=INK, linewidth=1.1, zorder=4)
    edges = [week.band.low_rh_pct, week.band.high_rh_pct] if week.band else [low, high]
    axes.set_yticks(edges, [wording.number(edge) for edge in edges], size=GLANCE.small)
