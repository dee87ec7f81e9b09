"""Bringing in readings: the file, the preview to confirm or correct, the receipt."""

import re
from collections.abc import Mapping
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, File, Form, Request, UploadFile
from fastapi.responses import HTMLResponse, RedirectResponse

from analysis.errors import StilltautError, UnknownNameError
from dashboards.lines import Receipt, UploadLine
from dashboards.pages.page import BringIn, BringInDone, BringInWaiting
from service.answers.museum import Museum
from service.ingest.choice import Choice
from service.intake.arrivals import printable
from service.intake.import_options import choice_of
from service.intake.previews import Waiting, logger_choices, preview
from service.intake.receipts import Outcome, UploadReceipt
from service.intake.taking_in import take_in
from service.jobs import Job
from service.notices.after_arrival import after_arrival, rooms_of
from service.storage.uploads import Upload, uploads
from service.web.routes.common import JobsDep, MuseumDep, go_to, shown, upload_bytes

router = APIRouter()
LATELY = 12
HASH = re.compile("[0-9a-f]{64}")


@router.get("/bring-in")
def form(museum: MuseumDep) -> HTMLResponse:
    """Show the form and the last uploads."""
    found = uploads(museum.stores.register)[-LATELY:]
    return shown(
        BringIn(
            zone=museum.zone,
            limit_mb=museum.settings.upload_limit_mb,
            loggers=logger_choices(museum),
            uploads=[_upload_line(one) for one in reversed(found)],
        )
    )


@router.post("/bring-in")
def look(
    museum: MuseumDep, file: Annotated[UploadFile, File()], logger: Annotated[str, Form()] = ""
) -> HTMLResponse:
    """Keep the file as it came, and show what is understood of it."""
    data = upload_bytes(museum, file)
    name = printable(file.filename or "upload")
    sha256 = museum.stores.originals.keep(data)
    return _preview(museum, Waiting(name, sha256, data, logger, {}))


@router.get("/bring-in/look")
def look_again(request: Request, museum: MuseumDep, token: str, logger: str = "") -> HTMLResponse:
    """Show what is understood of a waiting file now that more was said of it."""
    sha256, name = _named(museum, token)
    data = museum.stores.originals.read(sha256)
    return _preview(museum, Waiting(name, sha256, data, logger, dict(request.query_params)))


@router.post("/bring-in/confirm")
async def confirm(request: Request, museum: MuseumDep, jobs: JobsDep) -> RedirectResponse:
    """Take the readings in as they were confirmed; the page that follows tells how far it is."""
    sent = {name: str(value) for name, value in (await request.form()).items()}
    sha256, name = _named(museum, sent.get("token", ""))
    logger = sent.get("logger", "")
    if not logger:
        raise UnknownNameError(
            read="the form, logger", name="", known=[c.logger_id for c in logger_choices(museum)]
        )
    said = choice_of(sent)
    job = jobs.start(name, lambda job: _take_in(museum, job, (sha256, name, logger), said, sent))
    return go_to(f"/bring-in/{quote(job.job_id)}")


@router.get("/bring-in/{job_id}")
def receipt(museum: MuseumDep, jobs: JobsDep, job_id: str) -> HTMLResponse:
    """Show the receipt, or how far the upload has come."""
    job = jobs.get(job_id)
    if job is None:
        raise UnknownNameError(read="uploads in hand", name=job_id, known=[])
    job.finished.wait(0.5)
    if job.problem is not None:
        raise job.problem
    if not isinstance(job.result, Receipt):
        return shown(BringInWaiting(file_name=job.title, step=job.step))
    return shown(BringInDone(zone=museum.zone, receipt=job.result))


def _preview(museum: Museum, waiting: Waiting) -> HTMLResponse:
    try:
        return shown(preview(museum, waiting))
    except StilltautError as problem:
        vars(problem)["kept"] = f"The file is kept as received (SHA-256 {waiting.sha256})."
        raise


def _named(museum: Museum, token: str) -> tuple[str, str]:
    """Return the hash and the name of a waiting upload."""
    sha256, _, name = token.partition("/")
    if not HASH.fullmatch(sha256) or not museum.stores.originals.has(sha256):
        raise StilltautError(
            read="the form",
            where="file",
            found=f"{sha256[:70]!r}",
            expected="a file that was sent before",
            action="Choose the file and send it again.",
        )
    return sha256, printable(name) or "upload"


def _take_in(
    museum: Museum, job: Job, which: tuple[str, str, str], said: Choice, sent: Mapping[str, str]
) -> Receipt:
    sha256, name, logger = which
    job.step = "reading the file and storing its readings"
    taken = take_in(
        museum.stores,
        museum.stores.originals.read(sha256),
        name=name,
        logger_id=logger,
        zone=sent.get("zone") or None,
        columns=said.columns or None,
        day_first=said.day_first,
        start=said.start,
        interval_s=said.interval_s,
        by="page",
        keep_unread=True,
        instead=sent.get("instead") == "yes",
    )
    job.step = "judging the works in the room"
    rooms = rooms_of(museum, [sensor.logger_id for sensor in taken.sensors])
    changes = after_arrival(museum, rooms)
    told = [notice.headline for notice in (*changes.opened, *changes.updated)]
    return _receipt(museum, taken, logger, rooms, told)


def _receipt(
    museum: Museum, taken: UploadReceipt, logger: str, rooms: tuple[str, ...], told: list[str]
) -> Receipt:
    room = museum.room(rooms[-1]) if rooms else None
    firsts = [s.first_utc for s in taken.sensors if s.first_utc]
    lasts = [s.last_utc for s in taken.sensors if s.last_utc]
    return Receipt(
        file_name=taken.name,
        sha256=taken.sha256,
        logger_id=logger,
        room_id=room.room if room else "",
        room_name=room.name if room else "",
        rows=taken.rows,
        new=taken.added + taken.filled,
        already_known=taken.same,
        conflicts=taken.conflicts,
        unreadable=taken.unreadable,
        flagged=taken.flagged,
        first_utc=min(firsts, default=None),
        last_utc=max(lasts, default=None),
        already_stored=taken.outcome is Outcome.ALREADY_THERE,
        notices=told,
    )


def _upload_line(upload: Upload) -> UploadLine:
    sensors = upload.report.get("sensors", ())
    return UploadLine(
        at_utc=upload.received_utc,
        file_name=upload.name,
        logger_id=upload.logger,
        outcome=str(upload.state),
        readings=sum(int(sensor.get("rows", 0)) for sensor in sensors),
    )
