"""One hinge seen from the side: where it is glued, its free length, where it is fixed behind.

The free length has one definition, from the edge of the print to where the strip is fixed, and one
drawing: on the mount sheet to scale, and small beside the field that asks for it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from dashboards.inks import GREY, INK, MADDER, WASH
from dashboards.text.messages import N_, _

Points = tuple[tuple[float, float], ...]
OVERLAP_MM, BEYOND_MM = 9.0, 6.0  # of the tape behind: on the strip, and past its end
# A usual mount, for the small drawing: panel, rim of it that shows, glue line, hinge behind [mm].
PANEL_MM, SHOWS_MM, GLUE_MM, BEHIND_MM = 8.0, 1.0, 15.0, 26.0
INSIDE_MM, LEFT_MM, TOP_MM = 48.0, 5.0, 5.0
MEANING = N_("Pale: the free length, from the edge of the print to where the strip is fixed.")


@dataclass(frozen=True)
class HingeRun:
    """The strip's way in mm, x inwards from the panel's edge, y up from its face.

    ``free`` runs from the print's edge round the panel to where the strip is fixed.
    """

    glued: Points
    free: Points
    fixed: Points
    tape: Points
    printed: Points


def hinge_run(panel_mm: float, shows_mm: float, glue_mm: float, behind_mm: float) -> HingeRun:
    """Return how a hinge runs: glued under the print, round the panel, fixed behind by tape."""
    back, fixed = -panel_mm - 0.9, max(behind_mm - OVERLAP_MM, 0.0)
    return HingeRun(
        glued=((shows_mm + glue_mm, 0.7), (shows_mm, 0.7)),
        free=((shows_mm, 0.7), (-1.0, 0.7), (-1.0, back), (fixed, back)),
        fixed=((fixed, back), (behind_mm, back)),
        tape=((fixed, back - 1.3), (behind_mm + BEYOND_MM, back - 1.3)),
        printed=((shows_mm, 1.4), (INSIDE_MM, 1.4)),
    )


def _stroke(points: Points, ink: str, pen: float, opacity: float = 1.0) -> str:
    at = " ".join(f"{LEFT_MM + x:g},{TOP_MM - y:g}" for x, y in points)
    return (
        f'<polyline points="{at}" fill="none" stroke="{ink}" stroke-width="{pen:g}"'
        f' stroke-opacity="{opacity:g}"/>'
    )


def _label(x: float, y: float, words: str) -> str:
    return (
        f'<text x="{LEFT_MM + x:g}" y="{TOP_MM - y:g}" font-size="3.4" fill="{INK}">{words}</text>'
    )


def free_length_svg() -> Markup:
    """Return the small drawing of a usual hinge, its free length pale."""
    run = hinge_run(PANEL_MM, SHOWS_MM, GLUE_MM, BEHIND_MM)
    parts: Sequence[str] = (
        f"<title>{_(MEANING)}</title>",
        f'<rect x="{LEFT_MM:g}" y="{TOP_MM:g}" width="{INSIDE_MM:g}" height="{PANEL_MM:g}"'
        f' fill="{WASH}" stroke="{INK}" stroke-width="0.3"/>',
        _stroke(run.free, MADDER, 2.2, 0.3),
        _stroke(run.printed, INK, 0.8),
        *(_stroke(points, MADDER, 0.6) for points in (run.glued, run.free, run.fixed)),
        _stroke(run.tape, GREY, 0.8),
        _label(30.0, 2.6, _("print")),
        _label(30.0, -PANEL_MM / 2 - 1.0, _("panel")),
        _label(34.0, -PANEL_MM - 4.0, _("tape")),
    )
    return Markup(
        f'<svg class="hinge" role="img" viewBox="0 0 {LEFT_MM + INSIDE_MM + 1:g}'
        f' {TOP_MM + PANEL_MM + 6:g}" width="212">{"".join(parts)}</svg>'
    )
