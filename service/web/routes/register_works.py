"""All works and rooms, a new work, and the record of one."""

import json
from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, File, Request, UploadFile
from fastapi.responses import HTMLResponse, Response

from analysis.records import REGISTER
from analysis.records.work_records import Print
from dashboards import links
from dashboards.lines import Table
from dashboards.pages.register_pages import FormPage, WorksPage
from dashboards.text.messages import _
from service.answers.museum import Museum
from service.records.entry_forms import (
    asked_entry,
    sent_entry,
    sent_take_out,
    sheet_form,
    store_entry,
    take_out_form,
)
from service.records.record_pages import waiting, work_record_page, works_page
from service.records.record_parts import OF_A_WORK
from service.records.register_saving import save_like
from service.records.sent_forms import Texts, texts
from service.records.stated_numbers import (
    asked_number,
    measured_page,
    require_stated,
    sent_number,
    sent_withdrawal,
    withdraw_form,
)
from service.records.worked_out import NOTHING, board_form, sent_board, sent_strips, strip_form
from service.records.works_import import cells_of, cells_sent, import_page, take_works
from service.storage.records import values_of
from service.storage.works import work_record
from service.web.drawn_pages import DrawnDep, NotYetError
from service.web.routes.common import (
    JobsDep,
    MuseumDep,
    Passed,
    form_texts,
    part_of,
    saved_at,
    sent_back,
    shown,
    shown_or_taken,
    upload_bytes,
)

router = APIRouter()


FILE = "works.csv"


NEW = REGISTER[FILE].asked()


KNOWN = REGISTER[FILE].asked("work_id")


def work_form(museum: Museum, sent: Texts, problems: Texts, work_id: str = "") -> FormPage:
    """Return the form of a print: a new one, or the one of that number."""
    if work_id:
        answer = _("The print itself. Its mounting and its frame have forms of their own.")
        return sheet_form(
            museum,
            KNOWN,
            sent,
            problems,
            question=_("What is the print?"),
            answer=answer,
            action=links.work_record(work_id, "print"),
            back=links.work_record(work_id),
        )
    like = sent.get("like", "")
    next_ = _("How it is held, its frame and where it hangs come next.")
    if like:
        next_ = _(
            "How it is held, its frame and where it hangs are taken from {like}; correct them.",
            like=like,
        )
    return sheet_form(
        museum,
        NEW,
        sent,
        problems,
        question=_("Which work is it?"),
        answer=_("The print itself. {what_next}", what_next=next_),
        action=links.new_work(),
        back=links.works(),
        hidden={"like": like} if like else {},
    )


@router.get("/works")
def works(
    museum: MuseumDep,
    jobs: JobsDep,
    drawn: DrawnDep,
    search: str = "",
    saved: str = "",
    after: Passed = 0,
) -> Response:
    """Show all works and rooms; works that wait for their judgement are judged meanwhile."""

    def page() -> WorksPage:
        found = works_page(museum, search, saved, after)
        if waiting(found.works):
            raise NotYetError(found)
        return found

    try:
        return drawn.shown(museum, ("works", search, saved, after), page)
    except NotYetError as soon:
        jobs.wake()
        return shown(soon.page)


@router.get("/works/new")
def new_work(museum: MuseumDep, like: str = "") -> HTMLResponse:
    """Ask for a new work; one that is like another begins with what is known of that."""
    if not like:
        return shown(work_form(museum, {}, {}))
    there = values_of(work_record(museum.stores.register, like).print)
    sent = texts(REGISTER[FILE].asked("work_id", "title", "note"), there, museum.zone)
    return shown(work_form(museum, sent | {"like": like}, {}))


@router.post("/works/new")
async def add_work(request: Request, museum: MuseumDep, jobs: JobsDep) -> Response:
    """Write a new work down; with what another has of mounting, frame and place."""
    sent = await form_texts(request)
    like = sent.get("like", "")

    def make(values: Mapping[str, Any]) -> dict[str, Any]:
        return values_of(Print(**values))

    def save(values: Mapping[str, Any], who: str) -> None:
        save_like(museum.stores.register, values, like, who=who)

    problems = store_entry(
        museum, FILE, NEW, sent, make, otherwise="work_id", save=save if like else None
    )
    if problems:
        return sent_back(work_form(museum, sent, problems))
    jobs.wake()
    return saved_at(links.work_record(sent["work_id"].strip()), "written")


@router.get("/works/import")
def ask_for_sheet() -> HTMLResponse:
    """Ask for a spreadsheet of works."""
    return shown(import_page(None, "", stored=False))


@router.post("/works/import/look")
def look_at_sheet(museum: MuseumDep, file: Annotated[UploadFile, File()]) -> HTMLResponse:
    """Show what a spreadsheet would bring; nothing is stored."""
    cells = cells_of(file.filename or "the sheet", upload_bytes(museum, file))
    sheet = take_works(museum.stores.register, cells, who="a look", keep=False)
    return shown(import_page(sheet, json.dumps(cells, ensure_ascii=False), stored=False))


@router.post("/works/import")
async def keep_sheet(request: Request, museum: MuseumDep, jobs: JobsDep) -> HTMLResponse:
    """Add the works of a spreadsheet that was shown."""
    sent = await form_texts(request)
    cells, who = cells_sent(sent.get("table", "")), sent.get("who", "").strip()
    if not who:
        sheet = take_works(museum.stores.register, cells, who="a look", keep=False)
        return sent_back(import_page(sheet, sent["table"], stored=False))
    sheet = take_works(museum.stores.register, cells, who=who, keep=True)
    jobs.wake()
    return shown(import_page(sheet, "", stored=True))


@router.get("/works/{work_id:name}/record")
def record(museum: MuseumDep, work_id: str, saved: str = "") -> HTMLResponse:
    """Show everything the register knows of a work."""
    return shown(work_record_page(museum, work_id, saved))


@router.get("/works/{work_id:name}/record/print")
def ask_print(museum: MuseumDep, work_id: str) -> HTMLResponse:
    """Show the form of the print."""
    there = values_of(work_record(museum.stores.register, work_id).print)
    return shown(work_form(museum, texts(KNOWN, there, museum.zone), {}, work_id))


@router.post("/works/{work_id:name}/record/print")
async def correct_print(
    request: Request, museum: MuseumDep, jobs: JobsDep, work_id: str
) -> Response:
    """Correct the print."""
    sent = await form_texts(request)
    there = values_of(work_record(museum.stores.register, work_id).print)

    def make(values: Mapping[str, Any]) -> dict[str, Any]:
        return values_of(Print(**({"work_id": work_id} | dict(values))))

    was = {"work_id": work_id}
    problems = store_entry(
        museum, FILE, KNOWN, sent, make, otherwise="title", was=was, before=there
    )
    if problems:
        return sent_back(work_form(museum, sent, problems, work_id))
    return _answer(museum, jobs, work_id, None, "written")


@router.get("/works/{work_id:name}/record/{part}")
def ask_entry(request: Request, museum: MuseumDep, work_id: str, part: str) -> HTMLResponse:
    """Show the form that adds an entry to a part of the record, or corrects one."""
    asked = part_of(part, OF_A_WORK)
    _require_work(museum, work_id)
    return shown(asked_entry(museum, asked, work_id, dict(request.query_params)))


@router.post("/works/{work_id:name}/record/{part}")
async def write_entry(
    request: Request, museum: MuseumDep, jobs: JobsDep, work_id: str, part: str
) -> Response:
    """Add an entry to a part of the record, or correct one."""
    asked = part_of(part, OF_A_WORK)
    _require_work(museum, work_id)
    page = sent_entry(museum, asked, work_id, await form_texts(request))
    return _answer(museum, jobs, work_id, page, "written")


@router.get("/works/{work_id:name}/record/{part}/take-out")
def ask_take_out(request: Request, museum: MuseumDep, work_id: str, part: str) -> HTMLResponse:
    """Ask why an entry is to be taken out."""
    asked = part_of(part, OF_A_WORK)
    _require_work(museum, work_id)
    return shown(take_out_form(asked, work_id, dict(request.query_params), {}))


@router.post("/works/{work_id:name}/record/{part}/take-out")
async def take_out(
    request: Request, museum: MuseumDep, jobs: JobsDep, work_id: str, part: str
) -> Response:
    """Take an entry out of the record."""
    asked = part_of(part, OF_A_WORK)
    _require_work(museum, work_id)
    page = sent_take_out(museum, asked, work_id, await form_texts(request))
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


# Numbers measured for one work, in place of the tables': stated, worked out, withdrawn.


@router.get("/works/{work_id:name}/measured")
def measured(museum: MuseumDep, work_id: str, saved: str = "", table: str = "") -> Response:
    """Show every number that may be stated of a work."""
    page = measured_page(museum, work_id, saved)
    headings = (_("Part"), _("Number"), _("The tables have"), _("From"), _("Stated"))
    rows = [
        (group.heading, line.words, line.table, line.source, line.stated)
        for group in page.groups
        for line in group.lines
    ]
    name = f"measured-{work_id}"
    return shown_or_taken(museum, page, Table(headings, rows), name, table)


@router.get("/works/{work_id:name}/measured/strip")
def ask_strips(museum: MuseumDep, work_id: str) -> HTMLResponse:
    """Ask for offcut strips."""
    return shown(strip_form(museum, work_id, {}, {}, NOTHING))


@router.post("/works/{work_id:name}/measured/strip")
async def strips(request: Request, museum: MuseumDep, jobs: JobsDep, work_id: str) -> Response:
    """Work offcut strips out, and write the result down when asked to."""
    page, wrong = sent_strips(museum, work_id, await form_texts(request))
    return _answer_measured(museum, jobs, work_id, page, wrong)


@router.get("/works/{work_id:name}/measured/board")
def ask_board(museum: MuseumDep, work_id: str) -> HTMLResponse:
    """Ask for the board and the back of a frame."""
    return shown(board_form(museum, work_id, {}, {}, NOTHING))


@router.post("/works/{work_id:name}/measured/board")
async def board(request: Request, museum: MuseumDep, jobs: JobsDep, work_id: str) -> Response:
    """Work board and back out, and write them down when asked to."""
    page, wrong = sent_board(museum, work_id, await form_texts(request))
    return _answer_measured(museum, jobs, work_id, page, wrong)


@router.get("/works/{work_id:name}/measured/{name}")
def ask_number(request: Request, museum: MuseumDep, work_id: str, name: str) -> HTMLResponse:
    """Ask for one number, or show the one that is to be corrected."""
    require_stated(name)
    return shown(asked_number(museum, work_id, name, dict(request.query_params)))


@router.post("/works/{work_id:name}/measured/{name}")
async def state(
    request: Request, museum: MuseumDep, jobs: JobsDep, work_id: str, name: str
) -> Response:
    """State one number."""
    require_stated(name)
    page = sent_number(museum, work_id, name, await form_texts(request))
    return _answer_measured(museum, jobs, work_id, page, wrong=True)


@router.get("/works/{work_id:name}/measured/{name}/withdraw")
def ask_withdrawal(request: Request, museum: MuseumDep, work_id: str, name: str) -> HTMLResponse:
    """Ask why a number is to be withdrawn."""
    require_stated(name)
    return shown(withdraw_form(work_id, name, dict(request.query_params), {}))


@router.post("/works/{work_id:name}/measured/{name}/withdraw")
async def withdraw(
    request: Request, museum: MuseumDep, jobs: JobsDep, work_id: str, name: str
) -> Response:
    """Withdraw a number; it stays in the record."""
    require_stated(name)
    page = sent_withdrawal(museum, work_id, name, await form_texts(request))
    return _answer_measured(museum, jobs, work_id, page, wrong=True, done="withdrawn")


def _answer_measured(
    museum: Museum,
    jobs: JobsDep,
    work_id: str,
    page: FormPage | None,
    wrong: bool,
    done: str = "written",
) -> Response:
    """Return the form again, wrong or worked out; or go on when it was kept."""
    if page is not None:
        return sent_back(page) if wrong else shown(page)
    jobs.wake()
    return saved_at(links.measured(work_id), done)
