"""Short inspections sent from the round or from a work's page, and their withdrawal."""

from datetime import datetime, timedelta
from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import JSONResponse, Response
from starlette.concurrency import run_in_threadpool

from analysis.errors import OutOfRangeError, StilltautError
from analysis.records.inspection_records import Inspection
from dashboards import links
from dashboards.pages.page import LookTwice
from dashboards.render import page_html
from dashboards.text.look_text import saved_words, twice_words
from service.answers.museum import Museum
from service.answers.reasons import hour_asked
from service.storage.inspections import (
    inspections,
    put_inspection,
    withdraw_inspection,
)
from service.storage.works import work_at
from service.web.routes.common import JobsDep, MuseumDep, go_to, own_address
from service.web.routes.works import inspection_id, inspection_line

router = APIRouter()
Text = Annotated[str, Form()]
# What the form says of the edges → whether a hinge has let go; None: they were not looked at.
EDGES = {"": None, "hold": False, "loose": True}
TWICE = timedelta(minutes=10)  # a second grade within this is asked about
STANDING = timedelta(minutes=1)  # before a clock that stands still
AHEAD = timedelta(minutes=10)  # by so much the clock of a phone may be fast


@router.post("/works/{work_id:name}/inspections")
async def add(museum: MuseumDep, jobs: JobsDep, request: Request, work_id: str) -> Response:
    """Write down what somebody saw; "no change" and "flat" count too.

    A look is named by its work, its instant and who looked: sent twice, it counts once. A program
    that asks for JSON is answered in JSON. What follows from it is judged by a job.
    """
    sent = {name: str(value) for name, value in (await request.form()).items()}
    wants_json = "application/json" in request.headers.get("accept", "")
    answer = await run_in_threadpool(_add, museum, work_id, sent, wants_json)
    jobs.wake()
    return answer


def _add(museum: Museum, work_id: str, sent: dict[str, str], wants_json: bool) -> Response:
    seen = _sent_inspection(museum, work_id, sent)
    before = _minutes_ago(museum, seen)
    if before is not None and sent.get("again") not in ("both", "instead"):
        return _asked(museum, seen, before, sent, wants_json)
    put_inspection(museum.stores.register, seen, by=seen.by)
    if before is not None and sent.get("again") == "instead":
        why = "corrected within minutes"
        withdraw_inspection(
            museum.stores.register, work_id, before.at_utc, before.by, why=why, by=seen.by
        )
    return _answered(museum, seen, own_address(sent.get("back", ""), ""), wants_json)


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
    named = inspection_id(seen)
    if not wants_json:
        what = "loose" if seen.released else "seen"
        return go_to(links.saved_look(back or links.work(seen.work_id), seen.work_id, named, what))
    title = work_at(museum.stores.register, seen.work_id).title
    undo = links.withdraw_inspection(seen.work_id, named)
    words = saved_words(title, seen.grade, seen.released)
    return JSONResponse({"saved": words, "undo": undo, "loose": bool(seen.released)})


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
    withdraw_inspection(
        museum.stores.register,
        work_id,
        _time(at),
        seen_by,
        why="withdrawn on the work's page" if not back else "taken back on the round",
        by="page",
    )
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
