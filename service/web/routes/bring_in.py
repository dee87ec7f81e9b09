"""Bringing in readings: the files, each looked at, confirmed or corrected, and its receipt."""

from collections.abc import Mapping, Sequence
from typing import Annotated

from fastapi import APIRouter, File, Form, Request, UploadFile
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse

from analysis.errors import UnknownNameError
from dashboards import links
from dashboards.file_lines import FileInHand, UploadLine
from dashboards.pages.page import BringIn, BringInFiles, TakeBack
from dashboards.text import wording
from dashboards.text.messages import _
from service.answers.first_hour import first_hour
from service.answers.museum import Museum
from service.intake.files_in_hand import confirm, noted_beside, receive, restated, store_at_once
from service.intake.import_options import fields_of, options_of
from service.intake.previews import file_in_hand, logger_choices, open_points
from service.intake.taking_back import take_back, what_changes
from service.storage.job_records import JobRecord, JobState, drop_job, job_named, jobs_of
from service.storage.uploads import Upload, UploadState, latest_uploads, upload_numbered
from service.web.routes.common import (
    JobsDep,
    MuseumDep,
    form_texts,
    go_to,
    shown,
    upload_bytes,
)

router = APIRouter()
LATELY = 12
OPEN = (JobState.PREVIEW, JobState.FAILED)
BUSY = (JobState.WAITING, JobState.RUNNING)
A_MOMENT_S = 0.5


@router.get("/bring-in")
def form(museum: MuseumDep) -> HTMLResponse:
    """Show the form, what waits for a person, and the last uploads."""
    found = latest_uploads(museum.stores.register, LATELY)
    return shown(
        BringIn(
            zone=museum.zone,
            limit_mb=museum.settings.upload_limit_mb,
            loggers=logger_choices(museum),
            uploads=[_upload_line(one) for one in reversed(found)],
            waiting=_waiting(museum),
        )
    )


@router.post("/bring-in")
def send(
    museum: MuseumDep,
    file: Annotated[list[UploadFile], File()],
    logger: Annotated[str, Form()] = "",
) -> RedirectResponse:
    """Keep the files as they came, and go on to what is understood of them."""
    sent = [(one.filename or "upload", upload_bytes(museum, one)) for one in file]
    return go_to(links.files_in_hand(receive(museum, sent, logger)))


@router.get("/bring-in/{batch}")
def batch_page(museum: MuseumDep, jobs: JobsDep, batch: str, asked: str = "") -> HTMLResponse:
    """Show the files that came together: previews, questions, how far they are, receipts."""
    found = _batch(museum, batch)
    for job in found:
        if job.state in BUSY:
            jobs.wait_for(job.job_id, A_MOMENT_S)
            found = _batch(museum, batch)
            break
    return shown(_page(museum, batch, found, asked))


@router.post("/bring-in/{batch}/{job_id}/look")
async def look_again(
    request: Request, museum: MuseumDep, batch: str, job_id: str
) -> RedirectResponse:
    """Keep what was said of a waiting file, and show what is understood of it now."""
    job = _of_batch(museum, batch, job_id)
    sent = await form_texts(request)
    _note_others(museum, job, sent)
    if job.state in OPEN:
        restated(museum, job, fields_of(sent, job_id))
    return go_to(links.files_in_hand(batch, job_id))


@router.post("/bring-in/{batch}/{job_id}/confirm")
async def store(
    request: Request, museum: MuseumDep, jobs: JobsDep, batch: str, job_id: str
) -> RedirectResponse:
    """Promise to take a file in as it was confirmed; from then on it is done whatever happens."""
    job = _of_batch(museum, batch, job_id)
    form = await form_texts(request)
    _note_others(museum, job, form)
    if job.state not in OPEN:
        return go_to(links.files_in_hand(batch, job_id))
    sent = fields_of(form, job_id)
    job = restated(museum, job, sent)
    unsure = open_points(museum, job) and sent.get("sure") != "yes"
    if unsure or not options_of(sent).logger:
        return go_to(links.files_in_hand(batch, job_id, asked=True))
    await run_in_threadpool(store_at_once, museum, confirm(museum, job, sent))
    jobs.wake()
    return go_to(links.files_in_hand(batch, job_id))


@router.post("/bring-in/{batch}/{job_id}/drop")
async def drop(request: Request, museum: MuseumDep, batch: str, job_id: str) -> RedirectResponse:
    """Store nothing of a waiting file; the file itself stays kept."""
    _note_others(museum, _of_batch(museum, batch, job_id), await form_texts(request))
    drop_job(museum.stores.register, job_id)
    return go_to(links.files_in_hand(batch, job_id))


@router.get("/uploads/{number}")
def upload(museum: MuseumDep, number: int) -> HTMLResponse:
    """Say what would change if an upload were taken back."""
    found = upload_numbered(museum.stores.register, number)
    done = found.state == UploadState.WITHDRAWN
    changes = what_changes(museum.stores, found)
    return shown(
        TakeBack(
            number=number,
            file_name=found.name,
            answer=_taken_back(found, museum.zone) if done else changes.sentence(),
            changes=[] if done else changes.lines(),
            done=done,
        )
    )


@router.post("/uploads/{number}")
def withdraw(
    museum: MuseumDep, jobs: JobsDep, number: int, by: Annotated[str, Form()]
) -> RedirectResponse:
    """Take an upload back."""
    take_back(museum.stores, number, by=by.strip() or "page")
    jobs.wake()
    return go_to(links.upload(number))


def _page(museum: Museum, batch: str, found: Sequence[JobRecord], asked: str) -> BringInFiles:
    files = [file_in_hand(museum, job) for job in found]
    open_files = [one for one in files if one.state in OPEN]
    busy = any(one.state in BUSY for one in files)
    return BringInFiles(
        batch=batch,
        zone=museum.zone,
        heading=_heading(files, open_files, busy),
        answer=_answer(files, open_files),
        files=files,
        busy=busy,
        refresh=busy and not open_files,
        asked=asked,
        begin=None if open_files else first_hour(museum),
    )


def _heading(files: Sequence[FileInHand], open_files: Sequence[FileInHand], busy: bool) -> str:
    if open_files:
        return (
            _("Were these files understood?") if len(files) > 1 else _("Was this file understood?")
        )
    return _("How far is it?") if busy else _("What came of it?")


def _answer(files: Sequence[FileInHand], open_files: Sequence[FileInHand]) -> str:
    counts = {
        _("stored"): sum(one.receipt is not None or one.stored for one in files),
        _("being taken in"): sum(one.state in BUSY and not one.stored for one in files),
        _("understood, to be confirmed"): sum(one.preview is not None for one in open_files),
        _("to be answered or corrected"): sum(one.preview is None for one in open_files),
        _("left aside"): sum(one.state == JobState.DROPPED for one in files),
    }
    parts = [f"{wording.count(many)} {words}" for words, many in counts.items() if many]
    judging = _(" The works in the rooms are being judged.") if any(f.stored for f in files) else ""
    several = wording.plural(len(files), "file", "files")
    told = f"{several}: {wording.listed(parts)}."
    return wording.capital(told) + judging


def _batch(museum: Museum, batch: str) -> tuple[JobRecord, ...]:
    found = jobs_of(museum.stores.register, batch=batch)
    if not found:
        raise UnknownNameError(read="files in hand", name=batch, known=[])
    return found


def _of_batch(museum: Museum, batch: str, job_id: str) -> JobRecord:
    job = job_named(museum.stores.register, job_id)
    if job.batch != batch:
        raise UnknownNameError(read="files in hand", name=job_id, known=[])
    return job


def _note_others(museum: Museum, job: JobRecord, sent: Mapping[str, str]) -> None:
    """Keep what stands on a form for the files besides the one that is sent."""
    for other in _batch(museum, job.batch):
        fields = fields_of(sent, other.job_id)
        if other.job_id != job.job_id and other.state in OPEN and fields:
            noted_beside(museum, other, fields)


def _waiting(museum: Museum) -> list[tuple[str, str]]:
    """Return the batches in which a file waits for a person, with the names of their files."""
    names: dict[str, list[str]] = {}
    for job in jobs_of(museum.stores.register, states=OPEN):
        names.setdefault(job.batch, []).append(job.title)
    return [(batch, wording.listed(titles)) for batch, titles in reversed(names.items())]


def _taken_back(found: Upload, zone: str) -> str:
    return _(
        "The readings of {name}, which came on {day}, are taken back.",
        name=found.name,
        day=wording.day(found.received_utc, zone),
    )


def _upload_line(upload: Upload) -> UploadLine:
    sensors = upload.report.get("sensors", ())
    return UploadLine(
        at_utc=upload.received_utc,
        file_name=upload.name,
        logger_id=upload.logger,
        outcome=str(upload.state),
        readings=sum(int(sensor.get("rows", 0)) for sensor in sensors),
        number=upload.id,
        stored=upload.state == UploadState.STORED,
    )
