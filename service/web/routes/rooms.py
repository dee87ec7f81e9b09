"""A room's week, as a page and as a file to pin on a wall."""

from fastapi import APIRouter
from fastapi.responses import HTMLResponse, Response

from dashboards.charts.strips import page_key, strip_lines
from dashboards.charts.style import inline_svg
from dashboards.charts.week import week_chart, week_chart_narrow
from dashboards.pages.page import RoomWeekPage
from dashboards.text import sentences
from service.answers.week_files import week_bytes
from service.web.routes.common import MuseumDep, shown
from service.web.routes.week import after, before

router = APIRouter()
MEDIA = {"svg": "image/svg+xml", "png": "image/png", "pdf": "application/pdf"}


@router.get("/rooms/{room_id:name}")
def latest_week(museum: MuseumDep, room_id: str) -> HTMLResponse:
    """Show a room's latest week."""
    return room_week(museum, room_id, museum.week_of_room(room_id) or museum.this_week())


@router.get("/rooms/{room_id:name}/{iso_week}.{ending}")
def week_file(museum: MuseumDep, room_id: str, iso_week: str, ending: str) -> Response:
    """Send a room's week chart as SVG, PNG or PDF."""
    data = week_bytes(museum, room_id, iso_week, ending)
    name = f'inline; filename="{room_id}-{iso_week}.{ending}"'
    return Response(data, media_type=MEDIA[ending], headers={"Content-Disposition": name})


@router.get("/rooms/{room_id:name}/{iso_week}")
def room_week(museum: MuseumDep, room_id: str, iso_week: str) -> HTMLResponse:
    """Show one week of a room."""
    week = museum.room_week(room_id, iso_week)
    answer = sentences.week_sentence(week)
    return shown(
        RoomWeekPage(
            week=week,
            answer=answer,
            chart=museum.cached_week(
                "wide chart",
                room_id,
                iso_week,
                lambda: inline_svg(week_chart(week, words=False), answer),
            ),
            chart_narrow=museum.cached_week(
                "narrow chart",
                room_id,
                iso_week,
                lambda: inline_svg(week_chart_narrow(week, words=False, strips=False), answer),
            ),
            strips=museum.cached_week("strips", room_id, iso_week, lambda: strip_lines(week)),
            key=page_key(),
            finding=sentences.week_finding(week),
            previous_week=before(museum, iso_week),
            next_week=after(museum, iso_week),
        )
    )
