"""The week chart: a room's air, what its frames felt, and a strip a work, on one sheet."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from analysis.results import RoomWeek
from dashboards.charts import room_air, strips, tracks
from dashboards.charts.layout import PHONE, WIDE, Layout
from dashboards.charts.readout import AIR, reads
from dashboards.charts.room_air import (
    draw_band,
    draw_felt,
    draw_week_before,
    felt_range,
    humidity_limits,
)
from dashboards.charts.strips import Row
from dashboards.charts.style import SERIF, TALL_A4_MM, Sheet, drawn, wrapped
from dashboards.charts.time_axis import (
    Days,
    broken_line,
    fit_values,
    gaps,
    hatch_gaps,
    name_days,
    rule_days,
)
from dashboards.charts.tracks import brackets, draw_planned, planned_mm
from dashboards.inks import HAIR, INK, SOFT
from dashboards.text import event_words, sentences, wording
from dashboards.text.messages import _

BETWEEN_MM = 15.0  # days' names, and paper between the three pictures


GAPS_MM = 11.0  # paper between the words beneath


DAYS_MM = 5.0


FINDING_SIZE = {False: 15.0, True: 12.5}  # points, wide and narrow


HANGING_MM = 5.0


@dataclass(frozen=True)
class Parts:
    """What stands on one sheet, with the heights that follow from it [mm]."""

    layout: Layout
    words: bool
    rows: Sequence[Row]
    bars: Sequence[tracks.Bar]
    planned: Sequence[tracks.Bracket]
    notes: Sequence[Sequence[str]]
    sentence: Sequence[str]
    quality: Sequence[str]
    finding: Sequence[str]
    key: Sequence[str]
    key_mm: float

    @property
    def strips_mm(self) -> float:
        """Height of all strips."""
        return len(self.rows) * self.layout.strip_pitch

    @property
    def words_mm(self) -> float:
        """Height of everything written beneath."""
        if not self.words:
            return (len(self.key) + 0.5) * self.layout.line + self.key_mm
        small = sum(len(note) for note in self.notes) + len(self.quality) + len(self.key)
        return (1.3 * len(self.sentence) + small) * self.layout.line + GAPS_MM + self.key_mm

    @property
    def height_mm(self) -> float:
        """Height of the sheet: that of an A4 page laid wide, or more where works need it."""
        fills_page = self.words and not self.layout.narrow
        return max(TALL_A4_MM, self.least_mm) if fills_page else self.least_mm

    @property
    def heading_mm(self) -> float:
        """Height of the heading; without words the page has it."""
        more = max(len(self.finding) - 1, 0) * 1.6 * self.layout.line
        return self.layout.heading + more if self.words else 0.0

    @property
    def least_mm(self) -> float:
        """Height that everything needs."""
        layout = self.layout
        fixed = (
            self.heading_mm
            + tracks.track_mm(self.bars, self.layout)
            + tracks.planned_mm(self.planned)
            + layout.air
            + layout.temperature
            + BETWEEN_MM
        )
        return fixed + self.strips_mm + self.words_mm


def week_chart(week: RoomWeek, *, words: bool = True) -> Figure:
    """Return a room's week on one sheet, for a wall, a desk and a printer.

    Parameters
    ----------
    week : RoomWeek
        The week, as `analysis` left it.
    words : bool
        Whether heading, sentence, notes and data quality are written on the sheet. A page has
        them as text beside the picture and leaves them out here.

    Returns
    -------
    matplotlib.figure.Figure
        As wide as an A4 page laid on its side; taller only where many works need it.
    """
    return _sheet(week, WIDE, words)


def week_chart_narrow(week: RoomWeek, *, words: bool = True, strips: bool = True) -> Figure:
    """Return the same week for a phone; a page has the strips as text and links beneath it."""
    return _sheet(week, PHONE, words, strips)


@drawn
def _sheet(week: RoomWeek, layout: Layout, words: bool, with_strips: bool = True) -> Figure:
    parts = _parts(week, layout, words)
    if not with_strips:
        parts = replace(parts, rows=())
    sheet = Sheet.new(layout.width, parts.height_mm)
    spare = parts.height_mm - parts.least_mm
    if words:
        _heading(sheet, week, parts)
    top = _air(sheet, week, parts, parts.heading_mm + DAYS_MM, layout.air + spare)
    top = _strips(sheet, week, parts, top)
    _words(sheet, parts, top)
    return sheet.figure


def _parts(week: RoomWeek, layout: Layout, words: bool) -> Parts:
    width, small = layout.inside, layout.small
    events = event_words.worth_a_number(week.events)
    notes = event_words.event_notes(week)
    return Parts(
        layout=layout,
        words=words,
        rows=strips.rows(week),
        bars=tracks.lanes(events, Days.of(week), layout),
        planned=tracks.brackets(week.planned, Days.of(week), layout),
        notes=[wrapped(note, width - HANGING_MM, small) for note in notes],
        sentence=wrapped(sentences.week_sentence(week), width, layout.text + 1.5, SERIF),
        quality=wrapped(quality_line(week), width, small),
        finding=wrapped(sentences.week_finding(week), width, FINDING_SIZE[layout.narrow], SERIF),
        key=wrapped(room_air.key_words(week), width, small),
        key_mm=0.0 if layout.narrow else layout.line + 1.0,
    )


def quality_line(week: RoomWeek) -> str:
    """Return what the figures of a week stand on: coverage, loggers, calibration, clock."""
    loggers = wording.listed(list(week.loggers))
    parts = [
        wording.coverage_words(week.coverage).rstrip("."),
        f"{'logger' if len(week.loggers) == 1 else 'loggers'}: {loggers}" if loggers else "",
        week.calibration.rstrip("."),
        week.clock.rstrip("."),
    ]
    return "Readings: " + ". ".join(wording.capital(p) for p in parts if p) + "."


def _heading(sheet: Sheet, week: RoomWeek, parts: Parts) -> None:
    """Write what the week's finding is; the room and the week stand small above it."""
    layout = parts.layout
    number = week.iso_week.split("-W")[1].lstrip("0")
    dates = wording.week_dates(week.iso_week)
    small = _("{room} · week {number}, {dates}", room=week.room_name, number=number, dates=dates)
    sheet.write(layout.edge, 1.5, small, size=layout.text, color=SOFT)
    size = FINDING_SIZE[layout.narrow]
    _lines(sheet, parts.finding, layout.edge, 6.0, 1.6 * layout.line, size=size, family=SERIF,
           weight="bold")  # fmt: skip


def _air(sheet: Sheet, week: RoomWeek, parts: Parts, top: float, height: float) -> float:
    layout = parts.layout
    names = sheet.axes(layout.left, top, layout.plot, 0.01)
    names.set_axis_off()
    names.set_xlim(0.0, Days.of(week).length_h)
    name_days(names, Days.of(week), short=layout.narrow, size=layout.text)
    top = _above_the_air(sheet, week, parts, top)
    axes = sheet.axes(layout.left, top, layout.plot, height)
    letters = {row.judgement.work_id: row.letter for row in strips.rows(week)}
    room_air.draw_humidity(axes, week, layout, letters)
    reads(axes, AIR)
    _name_scale(sheet, layout, top, "% RH")
    top += height + 3.5
    below = sheet.axes(layout.left, top, layout.plot, layout.temperature)
    room_air.draw_temperature(below, week, layout)
    _name_scale(sheet, layout, top, "°C")
    return top + layout.temperature + 4.0


def _above_the_air(sheet: Sheet, week: RoomWeek, parts: Parts, top: float) -> float:
    """Draw what was planned and what happened; return where the air begins."""
    layout, days = parts.layout, Days.of(week)
    if parts.planned:
        height = tracks.planned_mm(parts.planned)
        axes = sheet.axes(layout.left, top, layout.plot, height)
        tracks.draw_planned(axes, parts.planned, days, layout)
        top += height
    if not parts.bars:
        return top
    height = tracks.track_mm(parts.bars, parts.layout)
    tracks.draw_track(sheet.axes(layout.left, top, layout.plot, height), parts.bars, days,
                           layout)  # fmt: skip
    return top + height


def _name_scale(sheet: Sheet, layout: Layout, top: float, unit: str) -> None:
    if layout.narrow:
        return
    air, warmth = _("Room air\nrelative humidity, %"), _("Temperature\nand dew point, °C")
    words = {"% RH": air, "°C": warmth}[unit]
    sheet.write(layout.edge, top, words, size=layout.small, color=SOFT, linespacing=1.35)


def _strips(sheet: Sheet, week: RoomWeek, parts: Parts, top: float) -> float:
    layout, days = parts.layout, Days.of(week)
    if not parts.rows:
        return top
    height = parts.strips_mm
    axes = sheet.axes(layout.left, top, layout.plot, height)
    for side in ("left", "bottom"):
        axes.spines[side].set_visible(False)
    axes.set_xlim(0.0, days.length_h)
    if not layout.narrow:
        rule_days(axes, days)
    axes.set_xticks([])
    axes.set_yticks([])
    axes.set_ylim(0.0, height)
    margin = sheet.margin(0.0, top, layout.width, height)
    for number, row in enumerate(parts.rows):
        bottom = height - (number + 1) * layout.strip_pitch + 1.0
        strips.draw_strip(axes, row, days, bottom, layout.strip)
        strips.label_strip(margin, row, layout, bottom, week.zone)
    return top + height


def _words(sheet: Sheet, parts: Parts, top: float) -> None:
    layout, line = parts.layout, parts.layout.line
    edge = layout.edge
    if parts.key_mm:
        strips.draw_key(sheet.margin(0.0, top, layout.width, parts.key_mm), edge, 2.0, layout)
        top += parts.key_mm
    top = _lines(sheet, parts.key, edge, top + 1.6, line, size=layout.small, color=SOFT) + 2.4
    if not parts.words:
        return
    large = {"size": layout.text + 1.5, "family": SERIF}
    top = _lines(sheet, parts.sentence, edge, top, 1.3 * line, **large) + 1.4
    for number, note in enumerate(parts.notes, start=1):
        sheet.write(edge, top, str(number), size=layout.small, weight="bold")
        top = _lines(sheet, note, edge + HANGING_MM, top, line, size=layout.small)
    rule = sheet.margin(edge, top + 0.9, layout.inside, 0.6)
    rule.plot([0, layout.inside], [0.3, 0.3], color=HAIR, linewidth=0.5)
    _lines(sheet, parts.quality, edge, top + 2.6, line, size=layout.small, color=SOFT)


def _lines(
    sheet: Sheet, lines: Sequence[str], left: float, top: float, step: float, **text: Any
) -> float:
    for words in lines:
        sheet.write(left, top, words, **text)
        top += step
    return top


# A room's week in the height of a few lines, for the page of all rooms.

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
    axes = sheet.axes(LEFT_MM, 5.0 + above, GLANCE.plot, AIR_MM)
    _humidity(axes, week)
    reads(axes, AIR)
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
