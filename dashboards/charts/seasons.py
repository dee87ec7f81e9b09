"""A schedule of set points drawn: room and frame through the year, as it was and with it."""

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from analysis.planning.seasonal import ScheduleYear
from dashboards.charts.style import PHONE_MM, TALL_A4_MM, Sheet, drawn, wrapped
from dashboards.charts.time_axis import DailyHumidity, daily, humidity_ticks, name_months
from dashboards.inks import FELT, INK, SEA, SOFT
from dashboards.text.messages import _
from dashboards.text.plan_text import schedule_words

PANEL_MM, NAME_MM, LEFT_MM = 34.0, 7.5, 9.0


@drawn
def seasons_figure(was: ScheduleYear, new: ScheduleYear, *, narrow: bool = False) -> Figure:
    """Return the humidity of the room above and in the frame below, before and under a schedule."""
    width = PHONE_MM * 1.06 if narrow else TALL_A4_MM
    words = _(
        "Relative humidity, %. Ribbon and line: {schedule}, each day's span and middle; thin line: "
        "as it was.",
        schedule=schedule_words(new.schedule),
    )
    key = wrapped(words, width - 2.0, 8.5)
    top = 4.0 * len(key) + 2.0
    page = Sheet.new(width, top + 2 * (PANEL_MM + NAME_MM) + 6.0)
    for i, line in enumerate(key):
        page.write(0.0, 4.0 * i, line, size=8.5, color=SOFT)
    pairs = {
        _("In the room"): (_room(was), _room(new)),
        _("In the frame"): (_frame(was), _frame(new)),
    }
    for name, (before, after) in pairs.items():
        page.write(0.0, top + 2.4, name, size=9.0)
        axes = page.axes(LEFT_MM, top + NAME_MM, width - LEFT_MM - 1.0, PANEL_MM)
        _panel(axes, before, after)
        humidity_ticks(axes, *axes.get_ylim())
        name_months(axes, after.days, every=3 if narrow else 1, named=name != _("In the room"))
        top += PANEL_MM + NAME_MM
    return page.figure


def _room(year: ScheduleYear) -> DailyHumidity:
    air = year.air
    return daily(air.time_utc, (air.rh_low_pct + air.rh_high_pct) / 2.0)


def _frame(year: ScheduleYear) -> DailyHumidity:
    return daily(year.history.time_utc, year.history.frame_rh_pct[:, 1])


def _panel(axes: Axes, before: DailyHumidity, after: DailyHumidity) -> None:
    axes.fill_between(after.days, after.low_pct, after.high_pct, color=FELT, alpha=0.8, lw=0)
    axes.plot(after.days, after.mid_pct, color=INK, lw=1.3)
    axes.plot(before.days, before.mid_pct, color=SEA, lw=0.8)
