"""Numbers measured for one work, in place of the tables': stated, worked out, withdrawn."""

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from dashboards import links
from dashboards.pages.register_pages import FormPage
from service.answers.museum import Museum
from service.records.stated_numbers import (
    asked_number,
    measured_page,
    require_stated,
    sent_number,
    sent_withdrawal,
    withdraw_form,
)
from service.records.worked_out import NOTHING, board_form, sent_board, sent_strips, strip_form
from service.web.routes.common import JobsDep, MuseumDep, form_texts, saved_at, sent_back, shown

router = APIRouter()


@router.get("/works/{work_id:name}/measured")
def measured(museum: MuseumDep, work_id: str, saved: str = "") -> HTMLResponse:
    """Show every number that may be stated of a work."""
    return shown(measured_page(museum, work_id, saved))


@router.get("/works/{work_id:name}/measured/strip")
def ask_strips(museum: MuseumDep, work_id: str) -> HTMLResponse:
    """Ask for offcut strips."""
    return shown(strip_form(museum, work_id, {}, {}, NOTHING))


@router.post("/works/{work_id:name}/measured/strip")
async def strips(request: Request, museum: MuseumDep, jobs: JobsDep, work_id: str) -> Response:
    """Work offcut strips out, and write the result down when asked to."""
    page, wrong = sent_strips(museum, work_id, await form_texts(request))
    return _answer(museum, jobs, work_id, page, wrong)


@router.get("/works/{work_id:name}/measured/board")
def ask_board(museum: MuseumDep, work_id: str) -> HTMLResponse:
    """Ask for the board and the back of a frame."""
    return shown(board_form(museum, work_id, {}, {}, NOTHING))


@router.post("/works/{work_id:name}/measured/board")
async def board(request: Request, museum: MuseumDep, jobs: JobsDep, work_id: str) -> Response:
    """Work board and back out, and write them down when asked to."""
    page, wrong = sent_board(museum, work_id, await form_texts(request))
    return _answer(museum, jobs, work_id, page, wrong)


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
    return _answer(museum, jobs, work_id, page, wrong=True)


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
    return _answer(museum, jobs, work_id, page, wrong=True, done="withdrawn")


def _answer(
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
