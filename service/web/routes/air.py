"""A room's air over a longer time, and the rooms against their limits."""

from datetime import timedelta

from fastapi import APIRouter
from fastapi.responses import HTMLResponse, Response
from markupsafe import Markup

from dashboards.charts.air_values import carpet_lines, picture_lines
from dashboards.charts.carpet import carpet_chart, carpet_words
from dashboards.charts.psychrometric import (
    drawn_across,
    psychrometric_chart,
    psychrometric_words,
)
from dashboards.charts.readout import values_json
from dashboards.charts.style import inline_svg
from dashboards.lines import Choice, Table
from dashboards.pages.page import AirPage, LimitsPage
from dashboards.text.limit_text import limits_answer
from dashboards.text.messages import _
from service.answers.air_figures import AirPicture, air_answer, air_picture, statistic_lines
from service.answers.air_findings import air_findings
from service.answers.limit_lines import (
    first_judged,
    limit_lines,
    more_limits,
    room_limit_lines,
)
from service.web.routes.common import MuseumDep, shown, shown_or_taken

router = APIRouter()
YEAR = timedelta(days=366)


@router.get("/rooms/{room_id:name}/air", name="room air")
def room_air(museum: MuseumDep, room_id: str, table: str = "") -> Response:
    """Show a room's last year: figures, psychrometric picture, carpet."""
    room = museum.room(room_id)
    found = museum.cached(("air", room_id), lambda: air_picture(museum, room_id, YEAR))
    page = AirPage(
        zone=museum.zone,
        room_id=room_id,
        room_name=room.name,
        rooms=[Choice(r.room, r.name, r.room == room_id) for r in museum.rooms()],
        first_utc=found.first_utc,
        last_utc=found.last_utc,
        answer=air_answer(found.statistics),
        statistics=statistic_lines(found),
        psychrometric=museum.cached(("psychrometric", room_id), lambda: _psychrometric(found)),
        psychrometric_words=psychrometric_words(found.picture),
        carpet=museum.cached(("carpet", room_id), lambda: _carpet(found)),
        carpet_words=carpet_words(found.carpet),
        findings=museum.cached(("findings", room_id), lambda: air_findings(museum, room_id, found)),
        limits=museum.cached(("limits", room_id), lambda: room_limit_lines(museum, room_id)),
        more_limits=museum.cached(("more", room_id), lambda: more_limits(museum, room_id)),
    )
    return shown_or_taken(museum, page, _figures(page), f"{room_id}-air", table)


@router.get("/rooms/{room_id:name}/air/values.json")
def air_values(museum: MuseumDep, room_id: str) -> Response:
    """Send what can be read of the pictures of a room's air, for the script of its page."""

    def made() -> str:
        found = museum.cached(("air", room_id), lambda: air_picture(museum, room_id, YEAR))
        fields = picture_lines(found.picture, drawn_across(found.picture))
        return values_json({**carpet_lines(found.carpet), **fields})

    museum.room(room_id)
    text = museum.cached(("values of the air", room_id), made)
    return Response(text, media_type="application/json")


def _figures(page: AirPage) -> Table:
    """Return the figures of a room's air as its page has them."""
    headings = (_("Figure"), _("Value"), _("By which definition"), _("Stands on"))
    rows = [(one.name, one.value, one.basis, one.coverage) for one in page.statistics]
    return Table(headings, rows)


def _psychrometric(found: AirPicture) -> Markup:
    chart = psychrometric_chart(found.picture, found.band)
    return inline_svg(chart, psychrometric_words(found.picture))


def _carpet(found: AirPicture) -> Markup:
    return inline_svg(carpet_chart(found.carpet, found.band), carpet_words(found.carpet))


@router.get("/limits")
def limits(museum: MuseumDep) -> HTMLResponse:
    """Show the rooms against agreed and published limits."""
    lines = museum.cached("limits", lambda: limit_lines(museum))
    now = museum.now()
    return shown(
        LimitsPage(
            zone=museum.zone,
            first_utc=first_judged(museum) or now,
            last_utc=now,
            answer=limits_answer(lines),
            lines=lines,
        )
    )
