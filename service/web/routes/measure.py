"""What to measure next in the house."""

from fastapi import APIRouter
from fastapi.responses import HTMLResponse

from analysis.answers.measuring import leading
from dashboards.pages.measure_page import MeasurePage, line
from dashboards.text.measure_text import NOTES, answer_words
from dashboards.text.messages import _
from service.answers.measuring import measure_next, room_names
from service.web.routes.common import MuseumDep, shown

router = APIRouter()
FIRST = 10  # acts that are shown before the rest is folded away


@router.get("/measure")
def measure(museum: MuseumDep) -> HTMLResponse:
    """Show one list for the house: what settles most for its time first."""
    found, rooms = measure_next(museum), room_names(museum)
    first = leading(found, FIRST)
    rest = [one for one in found if one not in first]
    return shown(
        MeasurePage(
            answer=answer_words(found, rooms),
            lines=[line(one, rooms) for one in first],
            rest=[line(one, rooms) for one in rest],
            notes=[_(note) for note in NOTES],
        )
    )
