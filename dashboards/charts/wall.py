"""A room's week for a sheet on the wall: its air, and a strip a work with the peak written on it.

It is drawn as wide as an A4 page laid on its side; on A3 it is enlarged, with letters that are
larger from the start, so that they are read from two metres.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from analysis.results import Listing, RoomWeek, State
from dashboards.charts import room_air, strips, tracks
from dashboards.charts.layout import WIDE, Layout
from dashboards.charts.strips import Row
from dashboards.charts.style import WIDE_A4_MM, Sheet, drawn, text_width_mm
from dashboards.charts.time_axis import Days, name_days, rule_days
from dashboards.inks import INK, SOFT
from dashboards.text import event_words, wording
from dashboards.text.messages import _
from dashboards.text.strip_text import mounted_figure, peak_words

LETTER_PT = 9.0  # of the measures below; a sheet with larger letters has them larger too
LEFT_MM, RIGHT_MM, AIR_MM, MOST_AIR_MM, TEMPERATURE_MM = 47.0, 57.0, 30.0, 62.0, 15.0
STRIP_MM, PITCH_MM, LINE_MM = 4.2, 5.7, 4.0
APART_MM = 3.0
MARK_MM = 3.2
UNDER = {"boxstyle": "square,pad=0.12", "facecolor": "white", "alpha": 0.82, "linewidth": 0.0}


@dataclass(frozen=True)
class Wall:
    """How one size of paper is drawn on.

    Attributes
    ----------
    letter_pt : float
        Size of the letters on a drawing as wide as A4 [pt].
    temperature : bool
        Whether temperature and dew point have room.
    """

    letter_pt: float
    temperature: bool

    @property
    def scale(self) -> float:
        """Return how much larger than on A4 everything written is."""
        return self.letter_pt / LETTER_PT

    @property
    def layout(self) -> Layout:
        """Return the measures of the drawing."""
        scale = self.scale
        return replace(
            WIDE,
            width=WIDE_A4_MM,
            left=LEFT_MM * scale,
            right=RIGHT_MM * scale,
            edge=0.0,
            air=AIR_MM,
            temperature=TEMPERATURE_MM,
            strip=STRIP_MM * scale,
            strip_pitch=PITCH_MM * scale,
            narrow=not self.temperature,
            text=self.letter_pt,
            small=self.letter_pt,
            line=LINE_MM * scale,
        )


WALL_A4 = Wall(letter_pt=9.0, temperature=True)
WALL_A3 = Wall(letter_pt=18.0 / 2**0.5, temperature=False)


def height_mm(week: RoomWeek, wall: Wall, works: int) -> float:
    """Return the height of the drawing with so many strips [mm]."""
    layout = wall.layout
    bars, planned = _above(week, layout)
    below = layout.temperature + APART_MM if wall.temperature else 0.0
    return (
        _days_mm(layout)
        + tracks.track_mm(bars, layout)
        + tracks.planned_mm(planned)
        + layout.air
        + below
        + APART_MM
        + (works * layout.strip_pitch + 2.6 * layout.line if works else 0.0)
    )


@drawn
def wall_chart(week: RoomWeek, wall: Wall, rows: Sequence[Row], spare_mm: float = 0.0) -> Figure:
    """Return a room's week with the strips of some of its works.

    Parameters
    ----------
    week : RoomWeek
        The week, as `analysis` left it.
    wall : Wall
        For which paper.
    rows : Sequence[Row]
        The strips that have room, from `strips.rows`.
    spare_mm : float
        Height that the sheet has left; the air is drawn taller by it, within reason.
    """
    layout, days = wall.layout, Days.of(week)
    more = min(max(spare_mm, 0.0), MOST_AIR_MM - layout.air)
    sheet = Sheet.new(layout.width, height_mm(week, wall, len(rows)) + more)
    layout = replace(layout, air=layout.air + more)
    names = sheet.axes(layout.left, _days_mm(layout), layout.plot, 0.01)
    names.set_axis_off()
    names.set_xlim(0.0, days.length_h)
    name_days(names, days, short=False, size=layout.text)
    top = _draw_above(sheet, week, layout, _days_mm(layout))
    letters = {row.judgement.work_id: row.letter for row in rows}
    room_air.draw_humidity(
        sheet.axes(layout.left, top, layout.plot, layout.air), week, layout, letters
    )
    _name(sheet, layout, top, _("Room air\nrelative humidity, %"))
    top += layout.air + APART_MM
    if wall.temperature:
        below = sheet.axes(layout.left, top, layout.plot, layout.temperature)
        room_air.draw_temperature(below, week, layout)
        _name(sheet, layout, top, _("Temperature\nand dew point, °C"))
        top += layout.temperature + APART_MM
    if rows:
        top = _draw_strips(sheet, week, wall, rows, top)
        _draw_key(sheet, layout, top)
    return sheet.figure


def _days_mm(layout: Layout) -> float:
    return 1.25 * layout.line


def _above(week: RoomWeek, layout: Layout) -> tuple[Sequence[tracks.Bar], Sequence[tracks.Bracket]]:
    events, days = event_words.worth_a_number(week.events), Days.of(week)
    return (
        tracks.lanes(events, days, layout),
        tracks.brackets(week.planned, days, layout),
    )


def _draw_above(sheet: Sheet, week: RoomWeek, layout: Layout, top: float) -> float:
    """Draw what was planned and what happened; return where the air begins [mm]."""
    days = Days.of(week)
    bars, planned = _above(week, layout)
    if planned:
        height = tracks.planned_mm(planned)
        axes = sheet.axes(layout.left, top, layout.plot, height)
        tracks.draw_planned(axes, planned, days, layout)
        top += height
    if bars:
        height = tracks.track_mm(bars, layout)
        axes = sheet.axes(layout.left, top, layout.plot, height)
        tracks.draw_track(axes, bars, days, layout)
        top += height
    return top


def _name(sheet: Sheet, layout: Layout, top: float, words: str) -> None:
    sheet.write(layout.edge, top, words, size=layout.small, color=SOFT, linespacing=1.35)


def _draw_strips(
    sheet: Sheet, week: RoomWeek, wall: Wall, rows: Sequence[Row], top: float
) -> float:
    layout, days = wall.layout, Days.of(week)
    height = len(rows) * layout.strip_pitch
    heading = _("mounted at")
    sheet.write(layout.width, top, heading, size=layout.small, color=SOFT, ha="right")
    top += 1.1 * layout.line
    axes = sheet.axes(layout.left, top, layout.plot, height)
    axes.set_axis_off()
    rule_days(axes, days)
    axes.set_ylim(0.0, height)
    margin = sheet.margin(0.0, top, layout.width, height)
    for number, row in enumerate(rows):
        middle = height - (number + 0.5) * layout.strip_pitch
        strips.draw_strip(axes, row, days, middle - layout.strip / 2, layout.strip)
        _label_peak(axes, row, days, layout, middle, week.zone)
        _label_row(margin, row, wall, middle)
    return top + height


def _label_peak(axes: Axes, row: Row, days: Days, layout: Layout, middle: float, zone: str) -> None:
    """Write the highest chance and when on the strip, beside its hour, where it is palest."""
    held = row.judgement.state is not State.NOT_HELD_BY_TENSION
    words = peak_words(row.judgement, zone) if held else ""
    if not words:
        return
    at = None if row.judgement.now is None else row.judgement.now.likeliest_utc
    h_per_mm = days.length_h / layout.plot
    width = text_width_mm(words, layout.small) * h_per_mm
    place = 0.0 if at is None else min(max(days.at(at), 0.0), days.length_h)
    left = _palest(row, days, place, width, 2.0 * h_per_mm)
    axes.text(left, middle, words, size=layout.small, va="center_baseline", color=INK, zorder=8,
              bbox=UNDER)  # fmt: skip


def _palest(row: Row, days: Days, place: float, width: float, apart: float) -> float:
    """Return where a label left or right of an hour covers least of what is dark [h]."""
    places = [place + apart, place - apart - width]
    inside = [one for one in places if one >= 0.0 and one + width <= days.length_h]
    if not inside or row.history is None or not row.history.time_utc.size:
        return min(max(place + apart, 0.0), days.length_h - width)
    hours = days.along(row.history.time_utc)
    slack = np.nan_to_num(row.history.p_slack, nan=0.0)

    def darkness(left: float) -> float:
        under = slack[(hours >= left) & (hours <= left + width)]
        return float(under.mean()) if under.size else 0.0

    return min(inside, key=darkness)


def _label_row(axes: Axes, row: Row, wall: Wall, middle: float) -> None:
    """Write a strip's letter and title, its mark with its word, its RH at mounting."""
    layout, judged = wall.layout, row.judgement
    axes.text(0.0, middle, row.letter, size=layout.small, color=SOFT, va="center_baseline")
    left = 1.4 * layout.line
    title = strips.fitted(judged.title, layout.left - left - 2.5, layout.text)
    axes.text(layout.left - 2.5, middle, title, size=layout.text, ha="right",
              va="center_baseline")  # fmt: skip
    height = MARK_MM * wall.scale
    strips.draw_mark(axes, judged.state, layout.left + layout.plot + 2.5, middle - height / 2,
              height_mm=height, fontsize=layout.text)  # fmt: skip
    if judged.state is not State.NOT_HELD_BY_TENSION:
        axes.text(layout.width, middle, mounted_figure(judged.work), size=layout.small, color=SOFT,
                  va="center_baseline", ha="right")  # fmt: skip


def _draw_key(sheet: Sheet, layout: Layout, top: float) -> None:
    height = 1.5 * layout.line
    axes = sheet.margin(0.0, top, layout.width, height)
    strips.draw_key(axes, 0.0, height / 2, replace(layout, strip=3.4))


def words_of_others(rows: Sequence[Row]) -> str:
    """Return which works have no room on the sheet, those to look at first apart, or nothing."""
    if not rows:
        return ""
    first = [row.judgement.title for row in rows if row.judgement.listing is Listing.LOOK_FIRST]
    rest = [row.judgement.title for row in rows if row.judgement.listing is not Listing.LOOK_FIRST]
    parts = [
        _("Also to look at first: {titles}.", titles=wording.listed(first)) if first else "",
        _("Also in this room, on its page: {titles}.", titles=wording.listed(rest)) if rest else "",
    ]
    return " ".join(filter(None, parts))
