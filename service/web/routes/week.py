"""The first page: what to look at this week."""

from collections import Counter, defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from functools import partial

from fastapi import APIRouter
from fastapi.responses import HTMLResponse, Response
from markupsafe import Markup
from matplotlib.figure import Figure

from analysis.errors import StilltautError
from analysis.records.room_records import Rhythm, Room
from analysis.results import Beside, Listing, RoomWeek
from dashboards import links
from dashboards.charts.readout import values_json
from dashboards.charts.strips import needing_rows, page_key, strip_lines
from dashboards.charts.style import inline_svg
from dashboards.charts.week import room_glance, week_chart, week_chart_narrow
from dashboards.charts.week_values import week_lines
from dashboards.lines import Choice, DayChoice, RoomSummary, RoundLine, StripLine
from dashboards.pages.day_page import NoWeekPage, outside_words
from dashboards.pages.first_hour import FirstHour
from dashboards.pages.page import RoomWeekPage, ThisWeek
from dashboards.text import sentences, wording
from dashboards.text.beside_text import BESIDE_WORDS, beside_sentence
from dashboards.text.days_text import foretold_sentence
from dashboards.text.event_words import telling_event
from dashboards.text.first_hour_text import first_answer
from dashboards.text.messages import _
from dashboards.text.presence_text import clock_sentence, readings_sentence
from service.answers.days_ahead import foretold
from service.answers.first_hour import first_hour
from service.answers.museum import Museum
from service.answers.rounds import round_lines
from service.answers.week_beside import week_beside
from service.answers.week_files import week_bytes
from service.climate.room_readings import full_hour
from service.climate.weeks import shifted, week_of_day, week_span, year_before
from service.notices.lines import open_lines
from service.web.drawn_pages import DrawnDep
from service.web.routes.common import MuseumDep, go_to, sent_file, shown
from service.web.routes.register_rooms import house_form

router = APIRouter()
MOST_LINES = 20  # works named on the first page; the round has them all
MOST_STRIPS = 12  # strips of a room on the first page; the room's own page has them all
STRIPS_OF_HOUSE = 60  # and of all its rooms, of which each has its share
LARGE_HOUSE = 12  # rooms; of a house with more, only the first few are drawn
DRAWN_OF_LARGE = 2


@router.get("/")
def this_week(
    museum: MuseumDep, drawn: DrawnDep, week: str | None = None, on: str = ""
) -> Response:
    """Show all rooms of a week, those that need a person first; ``on`` leads to that of a day."""
    if on:
        choice = _day_choice(museum, links.this_week())
        return _week_of_day(on, choice, links.this_week, _("What should we look at this week?"))
    if week is not None:
        return shown(first_page(museum, week))
    return drawn.shown(museum, "first page", lambda: first_page(museum))


def first_page(museum: Museum, week: str | None = None) -> ThisWeek:
    """Return the page of all rooms of a week (default: the present one)."""
    latest = museum.this_week()
    iso_week = week or latest
    at = min(full_hour(week_span(iso_week, museum.zone)[1]), museum.now())
    begin, lists = _first_hour(museum), round_lines(museum, at)
    notices = open_lines(museum)
    ordered = _rooms(museum, lists, iso_week, Counter(line.room_id for line in notices))
    return ThisWeek(
        zone=museum.zone,
        iso_week=iso_week,
        previous_week=before(museum, iso_week),
        next_week=after(museum, iso_week),
        answer=first_answer(begin.done) if begin else _answer(museum, lists, ordered),
        rooms=ordered,
        look_first=lists[Listing.LOOK_FIRST][:MOST_LINES],
        watch=lists[Listing.WATCH][:MOST_LINES],
        more_first=max(0, len(lists[Listing.LOOK_FIRST]) - MOST_LINES),
        more_watch=max(0, len(lists[Listing.WATCH]) - MOST_LINES),
        notices=notices if iso_week == latest else (),
        key=page_key(),
        clock=clock_words(museum),
        begin=begin,
        day=_day_choice(museum, links.this_week()),
        ahead=ahead_words(museum, *(room.room for room in museum.rooms()))
        if iso_week == latest
        else "",
    )


def _answer(
    museum: Museum, lists: Mapping[Listing, Sequence[RoundLine]], rooms: Sequence[RoomSummary]
) -> str:
    every = (line.judgement for lines in lists.values() for line in lines)
    judged = sorted(every, key=lambda one: one.order_key)
    return sentences.week_answer(judged, museum.zone, rooms)


def _first_hour(museum: Museum) -> FirstHour | None:
    """Return the first steps, with the form of the first while not even the house is known."""
    begin = first_hour(museum)
    if begin is None or begin.steps[0].done:
        return begin
    return replace(begin, house=house_form(museum, {}, {}, {}).form)


def ahead_words(museum: Museum, *rooms: str, work_id: str = "") -> str:
    """Return on which works of rooms, or on one work, waves will show by the forecast."""
    found = [one for room in rooms for one in foretold(museum, room)]
    found = [one for one in found if work_id in ("", one.work_id)]
    works = [(one.title, one.room_name, one.at_utc) for one in found]
    made = found[0].issued_utc if found else museum.clock()
    return foretold_sentence(works, made, museum.clock(), museum.zone)


def clock_words(museum: Museum) -> str:
    """Return that the clock is declared, or nothing."""
    declared = museum.time.declared_utc
    return "" if declared is None else clock_sentence(declared, museum.zone)


def readings_words(museum: Museum, room_id: str) -> str:
    """Return what a room's readings reach to where that is not the present, or nothing."""
    found, now = museum.presence(room_id), museum.clock()
    return readings_sentence(
        found.known_until_utc,
        now,
        museum.zone,
        current=found.current,
        due=found.due_utc is not None
        and now > found.due_utc
        and found.rhythm is not Rhythm.BY_ITSELF,
    )


def _with_readings(museum: Museum) -> list[Room]:
    return [room for room in museum.rooms() if museum.week_of_room(room.room)]


def _rooms(
    museum: Museum,
    lists: Mapping[Listing, Sequence[RoundLine]],
    iso_week: str,
    notices: Mapping[str, int],
) -> list[RoomSummary]:
    """Return the rooms on the page of a week, those that need a person most first.

    In a large house only the first few are drawn; the others stand below in short.
    """
    counts: dict[str, Counter[Listing]] = defaultdict(Counter)
    for which, lines in lists.items():
        for line in lines:
            counts[line.room_id][which] += 1
    every = sorted(_with_readings(museum), key=lambda r: -counts[r.room][Listing.LOOK_FIRST])
    drawn = len(every) if len(every) <= LARGE_HOUSE else DRAWN_OF_LARGE
    strips = min(MOST_STRIPS, STRIPS_OF_HOUSE // max(drawn, 1))
    return [
        _in_short(museum, room, iso_week, counts[room.room], notices[room.room])
        if number >= drawn
        else _summary(museum, room, iso_week, counts[room.room], notices[room.room], strips)
        for number, room in enumerate(every)
    ]


def _in_short(
    museum: Museum, room: Room, iso_week: str, counts: Mapping[Listing, int], notices: int
) -> RoomSummary:
    """Return a room without its week: how many works need what, and what its readings reach to."""
    return RoomSummary(
        room_id=room.room,
        room_name=room.name,
        sentence="",
        counts=counts,
        open_notices=notices,
        readings=readings_words(museum, room.room) if iso_week == museum.this_week() else "",
        in_short=True,
    )


def _summary(
    museum: Museum,
    room: Room,
    iso_week: str,
    counts: Mapping[Listing, int],
    notices: int,
    most: int,
) -> RoomSummary:
    """Return a room on the page of a week, with so many strips; of the present its latest week."""
    present = iso_week == museum.this_week()
    own = (museum.week_of_room(room.room) or iso_week) if present else iso_week
    week = museum.room_week(room.room, own)
    said = sentences.week_sentence(week)
    return RoomSummary(
        room_id=room.room,
        room_name=room.name,
        sentence=said,
        counts=counts,
        coverage=week.coverage,
        picture=museum.cached_week(
            "glance", room.room, own, lambda: inline_svg(room_glance(week), said)
        ),
        open_notices=notices,
        strips=museum.cached_week("needing strips", room.room, own, lambda: _strips(week))[:most],
        more=max(0, len(needing_rows(week)) - most),
        event=telling_event(week),
        iso_week=own,
        readings=readings_words(museum, room.room) if present else "",
    )


def _strips(week: RoomWeek) -> list[StripLine]:
    return strip_lines(week, only_needing=True, most=MOST_STRIPS)


def before(museum: Museum, iso_week: str) -> str | None:
    """Return the week before, or None where the record begins."""
    first = museum.first()
    earlier = shifted(iso_week, -1)
    return earlier if first and week_span(earlier, museum.zone)[1] > first else None


def after(museum: Museum, iso_week: str) -> str | None:
    """Return the week after, or None where it has not begun."""
    later = shifted(iso_week, 1)
    return later if week_span(later, museum.zone)[0] <= museum.now() else None


# The week of a day.


def _day_choice(museum: Museum, address: str, beside: str = "") -> DayChoice | None:
    """Return the form that leads to another day; None while there is no record."""
    first = museum.first()
    if first is None:
        return None
    begin, end = (wording.local(at, museum.zone).date().isoformat() for at in (first, museum.now()))
    return DayChoice(address, begin, end, beside)


def _week_of_day(
    on: str, choice: DayChoice | None, address: Callable[[str], str], question: str
) -> Response:
    """Send on to the week of a day; say of a day outside the record from when to when it runs."""
    try:
        asked = date.fromisoformat(on)
    except ValueError:
        raise StilltautError(
            read="day", where="on", found=repr(on), expected="a day such as 2026-03-19",
            action="Write the year, the month and the day, or choose it from the calendar.",
        ) from None  # fmt: skip
    if choice is None:
        return go_to(links.this_week())
    first, last = date.fromisoformat(choice.first), date.fromisoformat(choice.last)
    ends = [address(week_of_day(day)) for day in (first, last)]
    if _monday(first) <= asked < _monday(last) + timedelta(weeks=1):
        return go_to(address(week_of_day(asked)))
    answer = outside_words(on, choice.first, choice.last)
    return shown(NoWeekPage(question, answer, choice, *ends))


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


# A room's week, as a page and as a file to pin on a wall.


@router.get("/rooms/{room_id:name}")
def latest_week(
    museum: MuseumDep, room_id: str, on: str = "", beside: Beside = Beside.WEEK
) -> Response:
    """Show a room's latest week; ``on`` leads to that of a day."""
    if on:
        question = _("Is all still taut in {room}?", room=museum.room(room_id).name)
        choice = _day_choice(museum, links.room(room_id), beside)
        return _week_of_day(on, choice, lambda week: links.room(room_id, week, beside), question)
    return room_week(museum, room_id, museum.week_of_room(room_id) or museum.this_week(), beside)


@router.get("/rooms/{room_id:name}/{iso_week}.{ending}")
def week_file(museum: MuseumDep, room_id: str, iso_week: str, ending: str) -> Response:
    """Send a room's week chart as SVG or PNG, or the A4 sheet for its wall as PDF."""
    data = week_bytes(museum, room_id, iso_week, ending)
    return sent_file(data, f"{room_id}-{iso_week}.{ending}")


@router.get("/rooms/{room_id:name}/{iso_week}/{paper}.pdf")
def week_on_paper(museum: MuseumDep, room_id: str, iso_week: str, paper: str) -> Response:
    """Send the sheet of a room's week for its wall, on ``a4`` or ``a3``."""
    data = week_bytes(museum, room_id, iso_week, "pdf", paper)
    return sent_file(data, f"{room_id}-{iso_week}-{paper}.pdf")


@router.get("/rooms/{room_id:name}/{iso_week}/values.json")
def week_values(museum: MuseumDep, room_id: str, iso_week: str) -> Response:
    """Send what can be read along the pictures of a room's week, for the script of a page."""

    def made() -> str:
        return values_json(week_lines(museum.room_week(room_id, iso_week)))

    text = museum.cached_week("values to read", room_id, iso_week, made)
    return Response(text, media_type="application/json")


@router.get("/rooms/{room_id:name}/{iso_week}")
def room_week(
    museum: MuseumDep, room_id: str, iso_week: str, beside: Beside = Beside.WEEK
) -> HTMLResponse:
    """Show one week of a room, beside the week before, the same of last year, or outdoors."""
    week = week_beside(museum, room_id, iso_week, beside)
    answer = sentences.week_sentence(week)
    wide, narrow = (
        _picture(museum, week, name, partial(_inline, draw, answer))
        for name, draw in (
            ("wide", lambda: week_chart(week, words=False)),
            ("narrow", lambda: week_chart_narrow(week, words=False, strips=False)),
        )
    )
    return shown(
        RoomWeekPage(
            week=week,
            answer=answer,
            chart=wide,
            chart_narrow=narrow,
            strips=museum.cached_week("strips", room_id, iso_week, lambda: strip_lines(week)),
            key=page_key(),
            finding=sentences.week_finding(week),
            previous_week=before(museum, iso_week),
            next_week=after(museum, iso_week),
            day=_day_choice(museum, links.room(room_id), beside),
            difference=beside_sentence(week, wording.week_dates(year_before(iso_week))),
            others=_others(museum, week),
        )
    )


def _picture(museum: Museum, week: RoomWeek, name: str, draw: Callable[[], Markup]) -> Markup:
    """Return a picture of a week as it was drawn before; anew where it shows the air outdoors."""
    if week.beside is Beside.OUTDOORS:
        return draw()
    named = f"{name} chart beside {week.beside}"
    return museum.cached_week(named, week.room_id, week.iso_week, draw)


def _inline(draw: Callable[[], Figure], words: str) -> Markup:
    return inline_svg(draw(), words)


def _others(museum: Museum, week: RoomWeek) -> list[Choice]:
    """Return what a room's week can be drawn beside; outdoors where there is a record of it."""
    ways = [one for one in Beside if one is not Beside.OUTDOORS or museum.outdoor() is not None]
    return [
        Choice(links.room(week.room_id, week.iso_week, one), BESIDE_WORDS[one], one is week.beside)
        for one in ways
    ]
