"""The outside walls of a room: how cold their surfaces may have been, and what that means."""

from collections.abc import Iterator

import pandas as pd

from analysis.harm.condensation import (
    BACK_OF_FRAME,
    BARE_WALL,
    ColdSurface,
    at_surface,
    wall_surface,
)
from analysis.harm.mould import mould_history
from analysis.works import Wall
from dashboards.lines import Finding
from dashboards.text import wording
from dashboards.text.air_report import mould_lines, surface_line
from dashboards.text.messages import _
from service.answers.air_figures import AirPicture
from service.answers.museum import Museum

HEADING = "Could water form on its outside walls?"
NO_OUTSIDE_WALL = ("none", "no", "-", "–")
OUTSIDE = (Wall.OUTSIDE_MASONRY, Wall.OUTSIDE_INSULATED)
UPPER_BOUND = (
    "Behind a frame this is an upper bound: it holds if the air of the room gets there. "
    "A logger behind the frame would tell."
)


def cold_wall_finding(
    museum: Museum, room_id: str, found: AirPicture, covered: str
) -> Iterator[Finding]:
    """Yield what can be said of a room's outside walls; nothing for a room that has none."""
    walls = museum.room(room_id).outside_walls.strip()
    if walls.lower() in NO_OUTSIDE_WALL:
        return
    outdoor = museum.outdoor()
    if not walls:
        why = _("Cannot tell: the register does not say which of its walls are outside walls.")
        yield Finding(HEADING, [why], covered)
    elif outdoor is None:
        why = _(
            "Cannot tell: outside walls ({walls}), but no outdoor logger. Hang one in the shade.",
            walls=walls,
        )
        yield Finding(HEADING, [why], covered)
    else:
        yield Finding(HEADING, _sentences(museum, room_id, found, outdoor), covered, UPPER_BOUND)


def _sentences(museum: Museum, room_id: str, found: AirPicture, outdoor: pd.DataFrame) -> list[str]:
    said = []
    for wall in walls_of(museum, room_id, found):
        for where in (BARE_WALL, BACK_OF_FRAME):
            surfaces = wall_surface(found.frame, outdoor["temp_c"], wall, where)
            said += [_in_words(surfaces, museum.zone)]
            if where == BARE_WALL:
                there = mould_history(at_surface(found.frame, surfaces[1]))
                said += [
                    _(
                        "At that surface: {mould_lines}",
                        mould_lines=mould_lines(there, museum.zone)[0],
                    )
                ]
    return said


def walls_of(museum: Museum, room_id: str, found: AirPicture) -> tuple[Wall, ...]:
    """Return the kinds of outside wall that works hang on here; all kinds where none does."""
    hung = {work.wall for work in museum.works_in(room_id, found.last_utc)}
    return tuple(wall for wall in OUTSIDE if wall in hung) or OUTSIDE


def _in_words(surfaces: tuple[ColdSurface, ColdSurface, ColdSurface], zone: str) -> str:
    """Return the middle case, with the hours of water for the range of the surface factor."""
    cold, middle, warm = surfaces
    said = surface_line(middle, zone)
    if middle.least_margin_utc is None:
        return said
    few, many = warm.condensation_h, cold.condensation_h
    return _(
        "{said} Over the range of the factor: {few} to {many} at or below it.",
        said=said,
        few=wording.duration(few),
        many=wording.duration(many),
    )
