"""Works by walls of rooms: each cell the share of the year in which to look first, and why.

The cause is told three times: by a letter beside the figure, by the lane of its bar in the cell and
by the bar's stroke, a wave, a wave under a line, or leaning hinges; the ink comes last.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from analysis.planning.hanging import HangingRow, HangingTable, Place
from analysis.planning.year import LookFirst
from analysis.results import Floats
from analysis.works import Wall
from dashboards.charts.style import (
    PHONE_MM,
    SERIF,
    TALL_A4_MM,
    Sheet,
    drawn,
    text_width_mm,
    wrapped,
)
from dashboards.inks import FELT, HAIR, INDIGO, INK, MADDER, SOFT
from dashboards.text.messages import N_, _, translated
from dashboards.text.wording import number

Box = tuple[float, float, float, float]  # left, bottom, width, height [mm]
SHOWN_FROM = 0.005  # smaller shares have no letter and no bar
NAMES_MM, ROW_MM, HEAD_MM = 54.0, 8.4, 24.0
LANE_MM, WAVE_MM, LEAN_MM, POINTS_A_MM = 1.15, 2.2, 1.2, 5.0
LONGEST_LETTERS = 3
PHONE_CELL_MM, PHONE_ROW_MM, PHONE_ACROSS, PHONE_SIZE, KEY_MM = 16.8, 11.0, 6, 9.5, 96.0
INTRO = N_("Share of the last year in which to look first, in per cent, and why:")
PENS = {HAIR: 0.5, INK: 1.8}  # points; the strokes of causes are 0.9
NOW = N_("hangs there now")
HARDLY = N_("Where it hangs hardly matters")
UNTOLD = N_("Cannot be told everywhere")


@dataclass(frozen=True)
class Cause:
    """A reason to look first: its letter, its words, its ink."""

    letter: str
    words: str
    ink: str


WAVES = Cause("w", N_("waves seen"), MADDER)
GLAZING = Cause("g", N_("near the glazing"), MADDER)
HINGES = Cause("h", N_("hinges giving way"), INDIGO)
CAUSES = (WAVES, GLAZING, HINGES)


@dataclass(frozen=True)
class GridRow:
    """A row of cells, or a heading where there are none."""

    name: str
    cells: Sequence[LookFirst] = ()
    now: int | None = None  # the cell in which the work hangs now


@drawn
def hanging_figure(table: HangingTable) -> Figure:
    """Return works by rooms on a sheet as wide as paper; of one work, rooms by walls."""
    columns, rows = grid_of(table)
    width = min((TALL_A4_MM - NAMES_MM - 2.0) / len(columns), 45.0)
    page = Sheet.new(TALL_A4_MM, HEAD_MM + ROW_MM * len(rows) + 2.0)
    _legend(page, 1.0, 8.5, ((0.0, 0), (38.0, 0), (84.0, 0), (134.0, 0)))
    for j, name in enumerate(columns):
        lines = wrapped(name, width - 1.5, 8.5)
        for i, line in enumerate(reversed(lines[:2])):
            top = HEAD_MM - 4.6 - 3.6 * i
            page.write(NAMES_MM + j * width, top, line, size=8.5, color=SOFT)
    axes = page.margin(0.0, HEAD_MM, TALL_A4_MM, ROW_MM * len(rows))
    on = _Drawn(axes)
    for i, row in enumerate(rows):
        bottom = ROW_MM * (len(rows) - 1 - i)
        _name(axes, row, bottom + (4.9 if row.cells else 1.5), 9.0)
        for j, cell in enumerate(row.cells):
            box = (NAMES_MM + j * width, bottom + 0.6, width - 1.2, ROW_MM - 0.8)
            _cell(on, box, cell, 8.5, now=j == row.now)
    on.finish()
    return page.figure


@drawn
def hanging_narrow(table: HangingTable) -> Figure:
    """Return the same for a phone: each row's name above its cells, columns as letters."""
    columns, rows = grid_of(table)
    letters = column_letters(columns)
    key = _key([f"{a} {b}" for a, b in zip(letters, columns, strict=True)])
    lines = -(-len(columns) // PHONE_ACROSS)
    heights = [7.0 + PHONE_ROW_MM * lines if row.cells else 8.0 for row in rows]
    top, width = (
        26.0 + 4.6 * len(key),
        PHONE_CELL_MM * PHONE_ACROSS / min(len(columns), PHONE_ACROSS),
    )
    page = Sheet.new(PHONE_MM * 1.06, top + sum(heights))
    for i, words in enumerate(key):
        page.write(0.0, 4.6 * i, words, size=PHONE_SIZE)
    _legend(page, 4.6 * len(key) + 1.0, PHONE_SIZE, ((0.0, 0), (42.0, 0), (0.0, 1), (50.0, 1)))
    axes = page.margin(0.0, top, PHONE_MM * 1.06, sum(heights))
    at, on = sum(heights), _Drawn(axes)
    for row, height in zip(rows, heights, strict=True):
        _name(axes, row, at - 4.8, 10.5)
        for j, cell in enumerate(row.cells):
            line, across = divmod(j, PHONE_ACROSS)
            bottom = at - 6.0 - PHONE_ROW_MM * (line + 1)
            box = (across * width, bottom + 0.6, width - 1.0, PHONE_ROW_MM - 0.8)
            _cell(on, box, cell, 9.0, letters[j], now=j == row.now)
        at -= height
    on.finish()
    return page.figure


def _key(items: Sequence[str]) -> list[str]:
    """Return what the letters stand for, in lines that no item is broken over."""
    lines = [items[0]]
    for item in items[1:]:
        longer = f"{lines[-1]};  {item}"
        fits = text_width_mm(longer, PHONE_SIZE) < KEY_MM
        lines = [*lines[:-1], longer] if fits else [*lines, item]
    return lines


def column_letters(names: Sequence[str]) -> list[str]:
    """Return the shortest beginnings that tell names apart; numbers where they would be long.

    Examples
    --------
    >>> column_letters(["Store", "Court Gallery", "Stairs"])
    ['Sto', 'C', 'Sta']
    >>> column_letters(["outside wall, insulated", "outside wall, solid masonry"])
    ['1', '2']
    """
    found = []
    for name in names:
        others = [other for other in names if other != name]
        length = 1
        while length < len(name) and any(other.startswith(name[:length]) for other in others):
            length += 1
        found.append(name[:length].strip())
    if max(map(len, found)) > LONGEST_LETTERS:
        return [str(i) for i in range(1, len(names) + 1)]
    return found


def grid_of(table: HangingTable) -> tuple[list[str], list[GridRow]]:
    """Return the columns' names and the rows: works by rooms, or of one work, rooms by walls."""
    walls = [wall for wall in Wall if any(place.wall is wall for place in table.places)]
    if len(table.rows) == 1 and len(walls) > 1:
        cells = dict(zip(table.places, table.rows[0].cells, strict=True))
        shares: dict[str, float] = {}
        for place, cell in cells.items():
            shares[place.room] = shares.get(place.room, 0.0) + np.nan_to_num(cell.share)
        rooms = sorted(shares, key=lambda room: (round(shares[room], 2), room))
        rows = [
            GridRow(
                room,
                [cells[Place(room, wall)] for wall in walls],
                _place_of(table.rows[0].now, [Place(room, wall) for wall in walls]),
            )
            for room in rooms
        ]
        return [wall.value for wall in walls], rows
    columns = [
        place.room if len(walls) == 1 else f"{place.room}, {place.wall.value}"
        for place in table.places
    ]
    return columns, _grouped(table)


def _place_of(now: Place | None, places: Sequence[Place]) -> int | None:
    return places.index(now) if now in places else None


def _grouped(table: HangingTable) -> list[GridRow]:
    """Return the works, with a heading before those to which the place hardly matters."""
    matters = [row for row in table.rows if row.judged and row.depends]
    same = [row for row in table.rows if row.judged and not row.depends]
    unknown = [row for row in table.rows if not row.judged]
    rows = [_named(row, table) for row in matters]
    for heading, group in ((_(HARDLY), same), (_(UNTOLD), unknown)):
        if group:
            rows += [GridRow(heading)] if len(table.rows) > 1 else []
            rows += [_named(row, table) for row in group]
    return rows


def _named(row: HangingRow, table: HangingTable) -> GridRow:
    return GridRow(row.work.title, row.cells, _place_of(row.now, table.places))


def causes_of(cell: LookFirst) -> list[tuple[Cause, float]]:
    """Return the causes that take a share of the year worth showing, with their shares."""
    shares = (cell.visible, cell.clearance or 0.0, cell.hinges)
    return [(c, s) for c, s in zip(CAUSES, shares, strict=True) if s >= SHOWN_FROM]


def _name(axes: Axes, row: GridRow, bottom: float, size: float) -> None:
    if row.cells:
        axes.text(0.0, bottom, row.name, size=size)
    else:
        axes.text(0.0, bottom, row.name, size=size, family=SERIF, style="italic", color=SOFT)


@dataclass
class _Drawn:
    """What a grid is made of, gathered so that it is drawn in a few strokes."""

    axes: Axes
    shades: list[tuple[Box, float]] = field(default_factory=list)
    lines: dict[str, list[Floats]] = field(default_factory=dict)

    def line(self, ink: str, across: Floats, up: Floats) -> None:
        self.lines.setdefault(ink, []).append(np.column_stack([across, up]))

    def finish(self) -> None:
        for (left, bottom, width, height), share in self.shades:
            shade = Rectangle((left, bottom), width, height, color=FELT, alpha=share, lw=0)
            self.axes.add_artist(shade)
        for ink, lines in self.lines.items():
            pen = PENS.get(ink, 0.9)
            strokes = LineCollection(lines, colors=ink, linewidths=pen)
            self.axes.add_collection(strokes, autolim=False)


def _cell(
    on: _Drawn, box: Box, cell: LookFirst, size: float, letter: str = "", *, now: bool = False
) -> None:
    """Draw a cell in axes that count millimetres: shade, figure, letters, bars."""
    left, bottom, width, height = box
    write = on.axes.text
    on.line(INK if now else HAIR, np.array([left, left + width]), np.array([bottom, bottom]))
    if letter:
        write(left + 0.4, bottom + height - 0.3, letter, size=7.5, color=SOFT, va="top")
    if not cell.judged:
        write(left + 0.4, bottom + 0.7, "cannot\ntell", size=7.5, color=SOFT, linespacing=0.95)
        return
    if cell.share >= SHOWN_FROM:
        on.shades.append((box, 0.75 * cell.share))
    above, found = bottom + 3 * LANE_MM + 0.9, causes_of(cell)
    ink = INK if found else SOFT
    write(left + 0.4, above, f"{number(100 * cell.share)} %", size=size, color=ink)
    if found:
        words = "".join(cause.letter for cause, _ in found)
        write(left + width - 0.3, above, words, size=size, color=INK, ha="right")
    for cause, share in found:
        lane = bottom + LANE_MM * (2 - CAUSES.index(cause)) + 0.35
        _stroke(on, cause, left, lane, width * share)


def _stroke(on: _Drawn, cause: Cause, left: float, bottom: float, width: float) -> None:
    """Draw a bar as the cause's own stroke: waves, waves under a line, hinges that lean."""
    if cause is HINGES:
        for foot in np.arange(0.0, max(width - 0.3, 0.1), LEAN_MM):
            across = np.array([left + foot, left + foot + 0.5])
            on.line(cause.ink, across, np.array([bottom, bottom + 0.8]))
        return
    along = np.linspace(0.0, width, max(int(width * POINTS_A_MM), 4))
    up = bottom + 0.3 + 0.3 * np.sin(2.0 * np.pi * along / WAVE_MM)
    on.line(cause.ink, left + along, up)
    if cause is GLAZING:
        on.line(cause.ink, np.array([left, left + width]), np.full(2, bottom + 0.75))


def _legend(page: Sheet, top: float, size: float, at: Sequence[tuple[float, float]]) -> None:
    """Write what the cells say, the three causes and the mark of the present place.

    Parameters
    ----------
    at : sequence of tuple
        Left edge and line, 0 or 1, of each entry.
    """
    lines = wrapped(_(INTRO), page.width_mm - 4.0, size)
    for i, words in enumerate(lines):
        page.write(0.0, top + 4.2 * i, words, size=size, color=SOFT)
    axes = page.margin(0.0, top + 4.2 * len(lines), page.width_mm, 10.0)
    on = _Drawn(axes)
    names = [f"{cause.letter}  {translated(cause.words)}" for cause in CAUSES]
    for name, (left, line) in zip([*names, _(NOW)], at, strict=True):
        axes.text(left + 7.2, 4.9 - 4.7 * line, name, size=size)
    for cause, (left, line) in zip(CAUSES, at[:3], strict=True):
        _stroke(on, cause, left, 5.5 - 4.7 * line, 6.0)
    left, line = at[3]
    on.line(INK, np.array([left, left + 6.0]), np.full(2, 5.6 - 4.7 * line))
    on.finish()
