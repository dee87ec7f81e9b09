"""A room's week chart written to a file."""

from collections.abc import Callable
from pathlib import Path

from matplotlib.figure import Figure

from analysis.errors import UnknownNameError
from dashboards.charts.style import pdf, png, svg
from dashboards.charts.week import week_chart
from service.answers.museum import Museum

FORMATS: dict[str, Callable[[Figure], bytes]] = {"svg": svg, "png": png, "pdf": pdf}


def week_bytes(museum: Museum, room_id: str, iso_week: str, ending: str) -> bytes:
    """Return a room's week chart as ``svg``, ``png`` or ``pdf``.

    Raises
    ------
    UnknownNameError
        If the ending is none of these, or there is no such room.
    """
    if ending not in FORMATS:
        raise UnknownNameError(read="kinds of picture", name=ending, known=FORMATS)

    def make() -> bytes:
        return FORMATS[ending](week_chart(museum.room_week(room_id, iso_week)))

    return museum.cached_week(f"week as {ending}", room_id, iso_week, make)


def write_week(museum: Museum, room_id: str, iso_week: str, path: Path) -> Path:
    """Write a room's week chart to a file whose ending says the kind; return the path."""
    data = week_bytes(museum, room_id, iso_week, path.suffix.removeprefix("."))
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
    return path
