"""The first page: what to look at this week."""

from collections import Counter
from datetime import datetime

from fastapi import APIRouter
from fastapi.responses import HTMLResponse

from analysis.records.room_records import Room
from analysis.results import Listing
from dashboards.charts.glance import room_glance
from dashboards.charts.strips import page_key, strip_lines
from dashboards.charts.style import inline_svg
from dashboards.lines import RoomSummary
from dashboards.pages.page import ThisWeek
from dashboards.text import sentences
from dashboards.text.event_words import telling_event
from service.answers.museum import Museum
from service.answers.rounds import round_lines
from service.climate.room_readings import full_hour
from service.climate.weeks import shifted, week_of, week_span
from service.notices.lines import open_lines
from service.web.routes.common import MuseumDep, shown

router = APIRouter()


@router.get("/")
def this_week(museum: MuseumDep, week: str | None = None) -> HTMLResponse:
    """Show all rooms of a week, those that need a person first."""
    latest = museum.this_week()
    iso_week = week or latest or week_of(datetime.now().astimezone(), museum.zone)
    at = _hour(museum, iso_week)
    rooms = () if at is None else tuple(_summary(museum, r, iso_week) for r in museum.rooms())
    ordered = sorted(rooms, key=lambda r: -r.counts.get(Listing.LOOK_FIRST, 0))
    judgements = [j for r in museum.rooms() for j in museum.judgements(r.room, at)] if at else []
    return shown(
        ThisWeek(
            zone=museum.zone,
            iso_week=iso_week,
            previous_week=before(museum, iso_week),
            next_week=after(museum, iso_week),
            answer=sentences.week_answer(judgements, museum.zone, ordered),
            rooms=ordered,
            look_first=round_lines(museum, at)[Listing.LOOK_FIRST] if at else (),
            notices=open_lines(museum) if iso_week == latest else (),
            key=page_key(),
        )
    )


def _hour(museum: Museum, iso_week: str) -> datetime | None:
    """Return the hour a week is judged at: its end, or the newest reading."""
    now = museum.as_of()
    return None if now is None else min(full_hour(week_span(iso_week, museum.zone)[1]), now)


def _summary(museum: Museum, room: Room, iso_week: str) -> RoomSummary:
    week = museum.room_week(room.room, iso_week)
    said = sentences.week_sentence(week)
    return RoomSummary(
        room_id=room.room,
        room_name=room.name,
        sentence=said,
        counts=Counter(j.listing for j in week.judgements),
        coverage=week.coverage,
        picture=museum.kept_week(
            "glance", room.room, iso_week, lambda: inline_svg(room_glance(week), said)
        ),
        open_notices=len(open_lines(museum, room.room)),
        strips=museum.kept_week(
            "needing strips", room.room, iso_week, lambda: strip_lines(week, only_needing=True)
        ),
        event=telling_event(week),
    )


def before(museum: Museum, iso_week: str) -> str | None:
    """Return the week before, or None where the record begins."""
    first = museum.first()
    earlier = shifted(iso_week, -1)
    return earlier if first and week_span(earlier, museum.zone)[1] > first else None


def after(museum: Museum, iso_week: str) -> str | None:
    """Return the week after, or None where the record ends."""
    now = museum.as_of()
    later = shifted(iso_week, 1)
    return later if now and week_span(later, museum.zone)[0] <= now else None
