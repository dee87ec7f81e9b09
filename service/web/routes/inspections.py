"""Short inspections sent from the round or from a work's page, and their withdrawal."""

import math
from dataclasses import replace
from datetime import datetime, timedelta
from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import JSONResponse, Response
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile

from analysis.errors import OutOfRangeError, StilltautError
from analysis.records.inspection_records import Inspection
from dashboards import links
from dashboards.pages.page import LookTwice
from dashboards.render import page_html
from dashboards.text.look_text import saved_words, twice_words
from service.answers.museum import Museum
from service.answers.reasons import hour_asked
from service.answers.rounds import look_answered
from service.intake.photographs import MOST_BYTES, NAMED, SMALL_PX, made_anew, photograph_of
from service.storage.inspections import (
    inspections,
    photographs_named,
    put_inspection,
    withdraw_inspection,
)
from service.storage.works import work_at
from service.web.routes.common import FORM_TOKEN, JobsDep, MuseumDep, go_to, own_address
from service.web.routes.works import inspection_id as named_look, inspection_line

router = APIRouter()
Text = Annotated[str, Form()]
# What the form says of the edges → whether a hinge has let go; None: they were not looked at.
EDGES = {"": None, "hold": False, "loose": True}
TWICE = timedelta(minutes=10)  # a second grade within this is asked about
SAME_DAY = timedelta(hours=24)  # a look of another day is not set against today's chance
STANDING = timedelta(minutes=1)  # before a clock that stands still
AHEAD = timedelta(minutes=10)  # by so much the clock of a phone may be fast


@router.get("/photographs/{name}")
def photograph(museum: MuseumDep, name: str) -> Response:
    """Send the photograph of a look."""
    return _picture(museum.stores.photographs.read(name))


@router.get("/photographs/{name}/small")
def small_photograph(museum: MuseumDep, name: str) -> Response:
    """Send the photograph of a look as small as the work's page shows it."""
    return _picture(made_anew(museum.stores.photographs.read(name), SMALL_PX))


def _picture(data: bytes) -> Response:
    return Response(data, media_type="image/jpeg", headers={"Cache-Control": "private"})


@router.post("/works/{work_id:name}/inspections")
async def add(museum: MuseumDep, jobs: JobsDep, request: Request, work_id: str) -> Response:
    """Write down what somebody saw; "no change" and "flat" count too.

    A look is named by its work, its instant and who looked: sent twice, it counts once. A program
    that asks for JSON is answered in JSON. What follows from it is judged by a job.
    """
    async with request.form() as form:
        sent = {name: value for name, value in form.items() if isinstance(value, str)}
        sent.pop(FORM_TOKEN, None)
        file = form.get("photograph")
        picture = await file.read(MOST_BYTES + 1) if isinstance(file, UploadFile) else file or ""
    wants_json = "application/json" in request.headers.get("accept", "")
    answer = await run_in_threadpool(_add, museum, work_id, sent, picture, wants_json)
    jobs.wake()
    return answer


def _add(
    museum: Museum, work_id: str, sent: dict[str, str], picture: bytes | str, wants_json: bool
) -> Response:
    seen = _with_what_was_said(museum, _sent_inspection(museum, work_id, sent))
    before = _minutes_ago(museum, seen)
    photograph = photograph_of(museum.stores, picture)
    if before is not None and sent.get("again") not in ("both", "instead"):
        return _asked(museum, seen, before, sent | _named(photograph), wants_json)
    seen = replace(seen, photograph=photograph or seen.photograph)
    try:
        put_inspection(museum.stores.register, seen, by=seen.by)
    except StilltautError:
        drop_unused(museum, photograph)
        raise
    if before is not None and sent.get("again") == "instead":
        why = "corrected within minutes"
        withdraw_inspection(
            museum.stores.register, work_id, before.at_utc, before.by, why=why, by=seen.by
        )
        drop_unused(museum, before.photograph)
    return _answered(museum, seen, own_address(sent.get("back", ""), ""), wants_json)


def drop_unused(museum: Museum, photograph: str) -> None:
    """Remove a photograph to which no inspection points any more."""
    if photograph and photograph not in photographs_named(museum.stores.register):
        museum.stores.photographs.drop(photograph)


def _named(photograph: str) -> dict[str, str]:
    """Return a photograph that is kept as a form sends it again."""
    return {"photograph": NAMED + photograph} if photograph else {}


def _with_what_was_said(museum: Museum, seen: Inspection) -> Inspection:
    """Return a look with the chance that was told of its work before it was written down.

    Sent again, it stays what it was. A look of another day is not set against today's chance.
    """
    for one in inspections(museum.stores.register, seen.work_id, with_withdrawn=True):
        if (one.at_utc, one.by) == (seen.at_utc, seen.by):
            return replace(seen, estimate_p=one.estimate_p, photograph=one.photograph)
    before = museum.judged_before(seen.work_id)
    if before is None or museum.clock() - seen.at_utc > SAME_DAY:
        return seen
    chance = before.judgement.p_visible_now
    return seen if math.isnan(chance) else replace(seen, estimate_p=chance)


def _sent_inspection(museum: Museum, work_id: str, sent: dict[str, str]) -> Inspection:
    return Inspection(
        work_id=work_id,
        at_utc=_looked_at(museum, work_id, sent.get("at", "")),
        grade=_grade(sent.get("grade", "")),
        wave_mm=_millimetres(sent.get("wave_mm", "")),
        place=sent.get("place", ""),
        lamp_side=sent.get("lamp_side", ""),
        note=sent.get("note", ""),
        by=sent.get("by", "").strip(),
        released=_released(sent.get("edges", "")),
        finding=sent.get("finding", "") or None,
    )


def _looked_at(museum: Museum, work_id: str, at: str) -> datetime:
    """Return when it was looked at: as was sent, in the site's zone where no zone is named.

    On a clock that stands still looks follow one another by milliseconds just before it, so that
    a second look never takes the place of the first.
    """
    now = museum.clock()
    if not at.strip():
        if museum.time.declared_utc is None:
            return now
        known = inspections(museum.stores.register, work_id, with_withdrawn=True)
        return now - STANDING + timedelta(milliseconds=len(known))
    asked = hour_asked(at, museum.zone)
    if asked > now + AHEAD:
        raise OutOfRangeError(
            read="the form",
            where="when it was looked at",
            found=at,
            expected="a time that is not yet to come",
            action="Correct the time, or the clock of the phone. Nothing was stored.",
        )
    return asked


def _minutes_ago(museum: Museum, seen: Inspection) -> Inspection | None:
    """Return another look at the same work within some minutes, where there is one."""
    known = inspections(museum.stores.register, seen.work_id)
    if any((one.at_utc, one.by) == (seen.at_utc, seen.by) for one in known):
        return None  # the same look, sent again
    near = [one for one in known if abs(one.at_utc - seen.at_utc) <= TWICE]
    return near[-1] if near else None


def _asked(
    museum: Museum, seen: Inspection, before: Inspection, sent: dict[str, str], wants_json: bool
) -> Response:
    title = work_at(museum.stores.register, seen.work_id).title
    if wants_json:
        words = twice_words(title, before.grade, before.at_utc, seen.grade, museum.zone)
        return JSONResponse({"question": words}, HTTPStatus.CONFLICT)
    page = LookTwice(
        zone=museum.zone,
        title=title,
        action=links.inspections(seen.work_id),
        before=inspection_line(before),
        grade=seen.grade,
        sent=[(k, v) for k, v in sent.items() if k not in ("again", "at")]
        + [("at", seen.at_utc.isoformat())],
    )
    return Response(page_html(page), HTTPStatus.CONFLICT, media_type="text/html")


def _answered(museum: Museum, seen: Inspection, back: str, wants_json: bool) -> Response:
    named = named_look(seen)
    if not wants_json:
        what = "loose" if seen.released else "seen"
        return go_to(links.saved_look(back or links.work(seen.work_id), seen.work_id, named, what))
    title = work_at(museum.stores.register, seen.work_id).title
    undo = links.withdraw_inspection(seen.work_id, named)
    words = saved_words(title, seen.grade, seen.released)
    answer = links.look_answer(seen.work_id, named)
    return JSONResponse(
        {"saved": words, "undo": undo, "loose": bool(seen.released), "answer": answer}
    )


@router.get("/works/{work_id:name}/inspections/{inspection_id:name}")
def answer(museum: MuseumDep, work_id: str, inspection_id: str) -> JSONResponse:
    """Say what a look did to an estimate that had said otherwise, once its job is done."""
    every = inspections(museum.stores.register, work_id)
    seen = next((one for one in every if named_look(one) == inspection_id), None)
    judged = museum.judged_before(work_id)
    if seen is None or judged is None:
        return JSONResponse({"done": seen is None, "answer": ""})
    said = look_answered(seen, judged.judgement, museum.clock())
    return JSONResponse({"done": True, "answer": said})


@router.post("/works/{work_id:name}/inspections/{inspection_id:name}/withdraw")
def withdraw(
    museum: MuseumDep,
    jobs: JobsDep,
    request: Request,
    work_id: str,
    inspection_id: str,
    back: Text = "",
) -> Response:
    """Take an inspection out of the count; it stays in the record."""
    at, _, seen_by = inspection_id.partition("~")
    every = inspections(museum.stores.register, work_id, with_withdrawn=True)
    photographs = [one.photograph for one in every if named_look(one) == inspection_id]
    withdraw_inspection(
        museum.stores.register,
        work_id,
        _time(at),
        seen_by,
        why="withdrawn on the work's page" if not back else "taken back on the round",
        by="page",
    )
    for name in photographs:
        drop_unused(museum, name)
    jobs.wake()
    if "application/json" in request.headers.get("accept", ""):
        return JSONResponse({"saved": ""})
    address = own_address(back, links.work(work_id))
    return go_to(f"{address}{'&' if '?' in address else '?'}saved=withdrawn")


def _grade(text: str) -> int:
    try:
        return int(text)
    except ValueError:
        raise StilltautError(
            read="the form",
            where="what was seen",
            found=repr(text),
            expected="a grade from 0 to 4",
            action="Go back and choose one of the five. Nothing was stored.",
        ) from None


def _millimetres(text: str) -> float | None:
    if not text.strip():
        return None
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise StilltautError(
            read="the form",
            where="height of the waves",
            found=repr(text),
            expected="a number of millimetres",
            action="Go back and correct it, or leave it empty. Nothing was stored.",
        ) from None


def _released(edges: str) -> bool | None:
    if edges not in EDGES:
        raise StilltautError(
            read="the form",
            where="the edges",
            found=repr(edges),
            expected="nothing, hold or loose",
            action="Go back and choose again. Nothing was stored.",
        )
    return EDGES[edges]


def _time(text: str) -> datetime:
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        raise StilltautError(
            read="the address",
            where="inspection",
            found=repr(text),
            expected="the time of an inspection",
            action="Go back to the work's page and withdraw it from there.",
        ) from None
