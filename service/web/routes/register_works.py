"""All works and rooms, a new work, and the record of one."""

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from analysis.errors import StilltautError
from dashboards import links
from dashboards.forms.record_fields import PRINT, WORK_NUMBER
from dashboards.pages.register_pages import FormPage
from service.answers.museum import Museum
from service.records.entries import asked_entry, asked_take_out, sent_entry, sent_take_out
from service.records.entry_forms import read_sent, work_form
from service.records.record_pages import work_record_page, works_page
from service.records.register_saving import save_entry
from service.records.works_list import waiting
from service.register.record_nouns import OF_A_WORK
from service.register.sent_forms import problem_at, texts
from service.storage.records import values_of
from service.storage.works import Print, work_record
from service.web.routes.common import (
    JobsDep,
    MuseumDep,
    form_texts,
    noun_of,
    saved_at,
    sent_back,
    shown,
)

router = APIRouter()


@router.get("/works")
def works(museum: MuseumDep, jobs: JobsDep, search: str = "", saved: str = "") -> HTMLResponse:
    """Show all works and rooms; works that wait for their judgement are judged meanwhile."""
    page = works_page(museum, search, saved)
    if waiting(page.works):
        jobs.wake()
    return shown(page)


@router.get("/works/new")
def new_work(museum: MuseumDep) -> HTMLResponse:
    """Ask for a new work."""
    return shown(work_form({}, {}))


@router.post("/works/new")
async def add_work(request: Request, museum: MuseumDep) -> Response:
    """Write a new work down."""
    sent = await form_texts(request)
    found = read_sent(museum, "works.csv", (WORK_NUMBER, *PRINT), sent)
    problems = dict(found.problems)
    if not problems:
        try:
            values = values_of(Print(**found.values))
            who = sent["who"].strip()
            save_entry(museum.stores.register, "works.csv", values, who=who)
        except StilltautError as problem:
            problems = problem_at(problem, (WORK_NUMBER, *PRINT), "work_id")
    if problems:
        return sent_back(work_form(sent, problems))
    return saved_at(links.work_record(str(found.values["work_id"])), "written")


@router.get("/works/{work_id}/record")
def record(museum: MuseumDep, work_id: str, saved: str = "") -> HTMLResponse:
    """Show everything the register knows of a work."""
    return shown(work_record_page(museum, work_id, saved))


@router.get("/works/{work_id}/record/print")
def ask_print(museum: MuseumDep, work_id: str) -> HTMLResponse:
    """Show the form of the print."""
    there = values_of(work_record(museum.stores.register, work_id).print)
    return shown(work_form(texts(PRINT, there, museum.zone), {}, work_id))


@router.post("/works/{work_id}/record/print")
async def correct_print(
    request: Request, museum: MuseumDep, jobs: JobsDep, work_id: str
) -> Response:
    """Correct the print."""
    sent = await form_texts(request)
    there = values_of(work_record(museum.stores.register, work_id).print)
    found = read_sent(museum, "works.csv", PRINT, sent, there)
    problems = dict(found.problems)
    if not problems:
        try:
            values = values_of(Print(**({"work_id": work_id} | found.values)))
            key, who = {"work_id": work_id}, sent["who"].strip()
            save_entry(museum.stores.register, "works.csv", values, who=who, was=key)
        except StilltautError as problem:
            problems = problem_at(problem, PRINT, "title")
    if problems:
        return sent_back(work_form(sent, problems, work_id))
    jobs.wake()
    return saved_at(links.work_record(work_id), "written")


@router.get("/works/{work_id}/record/{part}")
def ask_entry(request: Request, museum: MuseumDep, work_id: str, part: str) -> HTMLResponse:
    """Show the form that adds an entry to a part of the record, or corrects one."""
    noun = noun_of(part, OF_A_WORK)
    _require_work(museum, work_id)
    return shown(asked_entry(museum, noun, work_id, dict(request.query_params)))


@router.post("/works/{work_id}/record/{part}")
async def write_entry(
    request: Request, museum: MuseumDep, jobs: JobsDep, work_id: str, part: str
) -> Response:
    """Add an entry to a part of the record, or correct one."""
    noun = noun_of(part, OF_A_WORK)
    _require_work(museum, work_id)
    page = sent_entry(museum, noun, work_id, await form_texts(request))
    return _answer(museum, jobs, work_id, page, "written")


@router.get("/works/{work_id}/record/{part}/take-out")
def ask_take_out(request: Request, museum: MuseumDep, work_id: str, part: str) -> HTMLResponse:
    """Ask why an entry is to be taken out."""
    noun = noun_of(part, OF_A_WORK)
    _require_work(museum, work_id)
    return shown(asked_take_out(noun, work_id, dict(request.query_params)))


@router.post("/works/{work_id}/record/{part}/take-out")
async def take_out(
    request: Request, museum: MuseumDep, jobs: JobsDep, work_id: str, part: str
) -> Response:
    """Take an entry out of the record."""
    noun = noun_of(part, OF_A_WORK)
    _require_work(museum, work_id)
    page = sent_take_out(museum, noun, work_id, await form_texts(request))
    return _answer(museum, jobs, work_id, page, "taken-out")


def _answer(
    museum: Museum, jobs: JobsDep, work_id: str, page: FormPage | None, done: str
) -> Response:
    if page is not None:
        return sent_back(page)
    jobs.wake()
    return saved_at(links.work_record(work_id), done)


def _require_work(museum: Museum, work_id: str) -> None:
    work_record(museum.stores.register, work_id)
