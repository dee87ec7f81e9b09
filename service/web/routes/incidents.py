"""Incidents: opened from a notice, written down as they go on, closed with a lesson."""

from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from analysis.errors import OutOfRangeError, UnknownNameError
from dashboards import links
from dashboards.lines import DoseLine, IncidentLine
from dashboards.pages.page import IncidentPage, IncidentsPage
from dashboards.text import incident_text as text
from dashboards.text.error_words import error_words
from dashboards.text.messages import _, translated
from service.answers.museum import Museum
from service.notices.incident import (
    QUESTIONS,
    Dose,
    add_line,
    close_incident,
    doses,
    notice_of,
    open_incident,
)
from service.storage.incidents import Incident, change_incident, incident, incidents
from service.storage.notices import notices
from service.web.routes.common import MuseumDep, go_to, sent_back, shown

router = APIRouter()
PARTS = ("people", "actions")


@router.get("/incidents")
def every_incident(museum: MuseumDep) -> HTMLResponse:
    """Show all incidents, newest first."""
    found = incidents(museum.stores.register)
    learned = sum(1 for one in found if one.closed_utc is not None)
    names = {room.room: room.name for room in museum.every_room()}
    return shown(
        IncidentsPage(
            zone=museum.zone,
            answer=text.incidents_answer(len(found) - learned, learned),
            lines=[
                IncidentLine(
                    one.id,
                    names[one.room],
                    _what(one, names[one.room]),
                    one.first_utc or one.opened_utc,
                    one.closed_utc,
                    one.lesson,
                )
                for one in found
            ],
        )
    )


@router.get("/incidents/{number}")
def one_incident(museum: MuseumDep, number: int) -> HTMLResponse:
    """Show one incident."""
    return shown(_page(museum, incident(museum.stores.register, number)))


@router.post("/notices/{notice_id}/incident")
def from_notice(museum: MuseumDep, notice_id: str, by: Annotated[str, Form()]) -> RedirectResponse:
    """Open the incident of a notice, or go to the one that is there."""
    notice = notice_of(museum, notice_id)
    if notice is None:
        known = [str(one.id) for one in notices(museum.stores.register)]
        raise UnknownNameError(read="notices", name=notice_id, known=known)
    return go_to(links.incident(open_incident(museum, notice, by=by.strip()).id))


@router.post("/incidents/{number}/questions")
async def questions(museum: MuseumDep, number: int, request: Request) -> Response:
    """Keep the answers to the first questions."""
    form = await request.form()
    answers = {key: str(form.get(key, "")).strip() for key, *_rest in QUESTIONS}
    by = str(form.get("by", "")).strip()
    change_incident(museum.stores.register, number, by=by, details={"answers": answers})
    return go_to(links.incident(number))


@router.post("/incidents/{number}/lines")
def line(
    museum: MuseumDep,
    number: int,
    part: Annotated[str, Form()],
    text: Annotated[str, Form()] = "",
    by: Annotated[str, Form()] = "",
) -> Response:
    """Add a person told, or an action."""
    if part not in PARTS:
        raise UnknownNameError(read="incident", name=part, known=PARTS)
    try:
        add_line(museum, incident(museum.stores.register, number).id, part, text=text, by=by)
    except OutOfRangeError as problem:
        return _back(museum, number, problem)
    return go_to(links.incident(number))


@router.post("/incidents/{number}/close")
def close(
    museum: MuseumDep,
    number: int,
    cause: Annotated[str, Form()] = "",
    state: Annotated[str, Form()] = "unknown",
    lesson: Annotated[str, Form()] = "",
    by: Annotated[str, Form()] = "",
) -> Response:
    """Close an incident with its cause and its lesson."""
    try:
        close_incident(museum, number, cause=cause, state=state, lesson=lesson, by=by)
    except OutOfRangeError as problem:
        return _back(museum, number, problem)
    return go_to(links.incident(number))


def _back(museum: Museum, number: int, problem: OutOfRangeError) -> HTMLResponse:
    parts = (problem.where, problem.found, problem.expected, problem.action)
    where, found, expected, action = (error_words(part) for part in parts)
    words = f"{where}: {found}; {expected}. {action}"
    return sent_back(_page(museum, incident(museum.stores.register, number), words))


def _what(one: Incident, room_name: str) -> str:
    return one.noticed.removeprefix(f"{room_name}: ")


def _page(museum: Museum, one: Incident, problem: str = "") -> IncidentPage:
    room_name, zone = museum.room(one.room).name, museum.zone
    answers: dict[str, str] = one.details.get("answers", {})
    since = one.first_utc or one.opened_utc
    return IncidentPage(
        number=one.id,
        room_name=room_name,
        answer=text.happened(_what(one, room_name), since, _last(museum, one), zone),
        opened=text.opened_words(one.opened_by, one.opened_utc, zone),
        notice_id=str(one.details.get("notice", "")),
        questions=[
            (key, _(words), translated(hint), answers.get(key, ""))
            for key, words, hint in QUESTIONS
        ],
        people=_lines(one, "people", zone),
        actions=_lines(one, "actions", zone),
        doses=[_dose_line(dose, zone) for dose in doses(museum, one)],
        causes=[(value, _(words)) for value, words in text.CAUSES],
        closed=""
        if one.closed_utc is None
        else text.closed_words(
            one.cause, one.cause_state, one.lesson, one.closed_by, one.closed_utc, zone
        ),
        problem=problem,
    )


def _last(museum: Museum, one: Incident) -> datetime | None:
    """Return when it ended: as written down, or as its notice knows by now."""
    notice = notice_of(museum, str(one.details.get("notice", "")))
    return one.last_utc or (None if notice is None else notice.ended_utc)


def _lines(one: Incident, part: str, zone: str) -> list[str]:
    found: list[dict[str, Any]] = one.details.get(part, [])
    return [
        text.line_words(line["text"], line["by"], datetime.fromisoformat(line["at_utc"]), zone)
        for line in found
    ]


def _dose_line(dose: Dose, zone: str) -> DoseLine:
    words = text.dose_words(
        dose.peak_rh_pct, dose.waves_h, dose.mounted_rh_pct, dose.counted_from, zone
    )
    inspected = [text.look_words(x.grade, x.by, x.at_utc, x.note, zone) for x in dose.inspected]
    title = text.on_loan(dose.title) if dose.on_loan else dose.title
    return DoseLine(dose.work_id, title, words, inspected)
