"""The calendar of the house, and the checks of its instruments."""

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from dashboards import links
from service.records.entry_forms import (
    asked_entry,
    page_of,
    sent_entry,
    sent_take_out,
    take_out_form,
)
from service.records.house_pages import (
    calendar_page,
    forget_form,
    instruments_page,
    sent_forget,
)
from service.records.record_parts import OF_THE_HOUSE
from service.web.routes.common import (
    JobsDep,
    MuseumDep,
    form_texts,
    part_of,
    saved_at,
    sent_back,
    shown,
)

router = APIRouter()


@router.get("/calendar")
def calendar(museum: MuseumDep, saved: str = "") -> HTMLResponse:
    """Show what is planned, and what was going on."""
    return shown(calendar_page(museum, saved))


@router.get("/instruments")
def instruments(museum: MuseumDep, saved: str = "") -> HTMLResponse:
    """Show all loggers, and how they were checked."""
    return shown(instruments_page(museum, saved))


@router.get("/instruments/{logger_id:name}/forget")
def ask_forget(logger_id: str) -> HTMLResponse:
    """Ask whether what was confirmed of a logger's files is to be taken back."""
    return shown(forget_form(logger_id, {}, {}))


@router.post("/instruments/{logger_id:name}/forget")
async def forget(request: Request, museum: MuseumDep, logger_id: str) -> Response:
    """Take back what was confirmed of a logger's files."""
    page = sent_forget(museum, logger_id, await form_texts(request))
    return (
        sent_back(page)
        if page is not None
        else saved_at(links.house_page("calibration"), "taken-out")
    )


@router.get("/house/{part}")
def ask_entry(request: Request, museum: MuseumDep, part: str) -> HTMLResponse:
    """Show the form that adds an entry to the house's record, or corrects one."""
    asked = part_of(part, OF_THE_HOUSE)
    return shown(asked_entry(museum, asked, "", dict(request.query_params)))


@router.post("/house/{part}")
async def write_entry(request: Request, museum: MuseumDep, jobs: JobsDep, part: str) -> Response:
    """Add an entry to the house's record, or correct one."""
    asked = part_of(part, OF_THE_HOUSE)
    page = sent_entry(museum, asked, "", await form_texts(request))
    if page is not None:
        return sent_back(page)
    jobs.wake()
    return saved_at(page_of(asked, ""), "written")


@router.get("/house/{part}/take-out")
def ask_take_out(request: Request, museum: MuseumDep, part: str) -> HTMLResponse:
    """Ask why an entry is to be taken out."""
    asked = part_of(part, OF_THE_HOUSE)
    return shown(take_out_form(asked, "", dict(request.query_params), {}))


@router.post("/house/{part}/take-out")
async def take_out(request: Request, museum: MuseumDep, jobs: JobsDep, part: str) -> Response:
    """Take an entry out of the record."""
    asked = part_of(part, OF_THE_HOUSE)
    page = sent_take_out(museum, asked, "", await form_texts(request))
    if page is not None:
        return sent_back(page)
    jobs.wake()
    return saved_at(page_of(asked, ""), "taken-out")
