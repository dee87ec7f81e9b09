"""A room's week written to a file: its chart as a picture, or the sheet for its wall as PDF."""

from collections.abc import Callable
from pathlib import Path

from matplotlib.figure import Figure

from analysis.errors import UnknownNameError
from dashboards.charts.style import png, svg
from dashboards.charts.week import week_chart
from dashboards.sheets.typesetting import sheet_pdf
from dashboards.sheets.week_sheet import paper_named, week_sheet
from service.answers.museum import Museum

PICTURES: dict[str, Callable[[Figure], bytes]] = {"svg": svg, "png": png}
SHEET = "pdf"


def week_bytes(
    museum: Museum, room_id: str, iso_week: str, ending: str, paper: str = "a4"
) -> bytes:
    """Return a room's week: its chart as ``svg`` or ``png``, its sheet for the wall as ``pdf``.

    ``paper``, ``a4`` or ``a3``, is that of the sheet.

    Raises
    ------
    UnknownNameError
        If the ending or the paper is none of these, or there is no such room.
    """
    if ending not in (*PICTURES, SHEET):
        raise UnknownNameError(read="kinds of picture", name=ending, known=(*PICTURES, SHEET))
    size = paper_named(paper)

    def make() -> bytes:
        week = museum.room_week(room_id, iso_week)
        if ending == SHEET:
            return sheet_pdf(week_sheet(week, size, museum.now()))
        return PICTURES[ending](week_chart(week))

    return museum.cached_week(f"week as {ending} on {paper}", room_id, iso_week, make)


def write_week(museum: Museum, room_id: str, iso_week: str, path: Path, paper: str = "a4") -> Path:
    """Write a room's week to a file whose ending says the kind; return the path."""
    data = week_bytes(museum, room_id, iso_week, path.suffix.removeprefix("."), paper)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
    return path
