"""The house, its rooms, where loggers hang, and the bands agreed."""

import re
from collections.abc import Callable, Mapping
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from analysis.errors import StilltautError
from dashboards import links
from dashboards.forms.form import Field
from dashboards.forms.room_fields import HOUSE, LOGGER, LOGGER_NAME, ROOM, ROOM_NAME, SITE_CHOICE
from service.answers.museum import Museum
from service.records.entries import asked_entry, asked_take_out, sent_entry, sent_take_out
from service.records.entry_forms import Texts, house_form, logger_form, read_sent, room_form
from service.records.record_pages import room_record_page
from service.records.register_saving import save_entry
from service.register.record_nouns import OF_A_ROOM
from service.register.sent_forms import problem_at, texts
from service.storage.loggers import Logger, logger_named
from service.storage.places import Room, Site, room_named, sites
from service.storage.records import values_of
from service.web.routes.common import (
    JobsDep,
    MuseumDep,
    form_texts,
    go_to,
    noun_of,
    saved_at,
    sent_back,
    shown,
)

router = APIRouter()


@router.get("/house")
def ask_house(museum: MuseumDep) -> HTMLResponse:
    """Show the form of the house."""
    there = next(iter(sites(museum.stores.register)), None)
    if there is None:
        return shown(house_form({}, {}, {}))
    return shown(house_form(texts(HOUSE, values_of(there), "UTC"), {}, {"site": there.site}))


@router.post("/house")
async def write_house(request: Request, museum: MuseumDep) -> Response:
    """Write the house down, or correct it."""
    sent = await form_texts(request)
    site = sent.get("site", "")
    there = next((one for one in sites(museum.stores.register) if one.site == site), None)

    def make(values: Mapping[str, Any]) -> dict[str, Any]:
        short = there.site if there else _short_name(str(values["name"]))
        return values_of(Site(**({"site": short} | dict(values))))

    hidden = {"site": there.site} if there else {}
    was = {"site": there.site} if there else None
    problems = _kept(museum, "sites.csv", HOUSE, sent, make, was=was, otherwise="zone")
    if problems:
        return sent_back(house_form(sent, problems, hidden))
    return saved_at(links.works(), "written") if there else go_to(links.new_room())


@router.get("/rooms/new")
def new_room(museum: MuseumDep) -> Response:
    """Ask for a new room; the house comes before its first room."""
    if not sites(museum.stores.register):
        return go_to(links.house())
    return shown(room_form(museum, {}, {}))


@router.post("/rooms/new")
async def add_room(request: Request, museum: MuseumDep) -> Response:
    """Write a new room down."""
    sent = await form_texts(request)
    fields = (ROOM_NAME, SITE_CHOICE, *ROOM)

    def make(values: Mapping[str, Any]) -> dict[str, Any]:
        return values_of(Room(**values))

    problems = _kept(museum, "rooms.csv", fields, sent, make, otherwise="room")
    if problems:
        return sent_back(room_form(museum, sent, problems))
    return saved_at(links.room_record(sent["room"].strip()), "written")


@router.get("/rooms/{room_id}/record")
def record(museum: MuseumDep, room_id: str, saved: str = "") -> HTMLResponse:
    """Show everything the register knows of a room."""
    return shown(room_record_page(museum, room_id, saved))


@router.get("/rooms/{room_id}/record/room")
def ask_room(museum: MuseumDep, room_id: str) -> HTMLResponse:
    """Show the form of a room."""
    there = values_of(room_named(museum.stores.register, room_id))
    return shown(room_form(museum, texts((SITE_CHOICE, *ROOM), there, "UTC"), {}, room_id))


@router.post("/rooms/{room_id}/record/room")
async def correct_room(
    request: Request, museum: MuseumDep, jobs: JobsDep, room_id: str
) -> Response:
    """Correct a room."""
    sent = await form_texts(request)
    room_named(museum.stores.register, room_id)

    def make(values: Mapping[str, Any]) -> dict[str, Any]:
        return values_of(Room(**({"room": room_id} | dict(values))))

    fields, was = (SITE_CHOICE, *ROOM), {"room": room_id}
    problems = _kept(museum, "rooms.csv", fields, sent, make, was=was, otherwise="name")
    if problems:
        return sent_back(room_form(museum, sent, problems, room_id))
    return _done(museum, jobs, room_id, "written")


@router.get("/rooms/{room_id}/record/instrument")
def ask_logger(museum: MuseumDep, room_id: str, was_logger: str = "") -> HTMLResponse:
    """Ask for a new logger, or show the one that is to be corrected."""
    room_named(museum.stores.register, room_id)
    there = logger_named(museum.stores.register, was_logger)
    if there is None:
        return shown(logger_form(room_id, {}, {}))
    return shown(logger_form(room_id, texts(LOGGER, values_of(there), "UTC"), {}, was_logger))


@router.post("/rooms/{room_id}/record/instrument")
async def write_logger(
    request: Request, museum: MuseumDep, jobs: JobsDep, room_id: str
) -> Response:
    """Write a logger down and ask where it hangs, or correct one."""
    sent = await form_texts(request)
    room_named(museum.stores.register, room_id)
    there = logger_named(museum.stores.register, sent.get("was_logger", ""))
    name = "" if there is None else there.logger

    def make(values: Mapping[str, Any]) -> dict[str, Any]:
        return values_of(Logger(**(dict(values) | ({"logger": name} if name else {}))))

    fields = LOGGER if name else (LOGGER_NAME, *LOGGER)
    was = {"logger": name} if name else None
    otherwise = "description" if name else "logger"
    problems = _kept(museum, "loggers.csv", fields, sent, make, was=was, otherwise=otherwise)
    if problems:
        return sent_back(logger_form(room_id, sent, problems, name))
    if name:
        return _done(museum, jobs, room_id, "written")
    return go_to(links.room_record(room_id, "logger", logger=sent["logger"].strip()))


@router.get("/rooms/{room_id}/record/{part}")
def ask_entry(request: Request, museum: MuseumDep, room_id: str, part: str) -> Response:
    """Show the form that adds an entry to a part of the record, or corrects one."""
    noun = noun_of(part, OF_A_ROOM)
    room_named(museum.stores.register, room_id)
    return shown(asked_entry(museum, noun, room_id, dict(request.query_params)))


@router.post("/rooms/{room_id}/record/{part}")
async def write_entry(
    request: Request, museum: MuseumDep, jobs: JobsDep, room_id: str, part: str
) -> Response:
    """Add an entry to a part of the record, or correct one."""
    noun = noun_of(part, OF_A_ROOM)
    room_named(museum.stores.register, room_id)
    page = sent_entry(museum, noun, room_id, await form_texts(request))
    return sent_back(page) if page is not None else _done(museum, jobs, room_id, "written")


@router.get("/rooms/{room_id}/record/{part}/take-out")
def ask_take_out(request: Request, museum: MuseumDep, room_id: str, part: str) -> HTMLResponse:
    """Ask why an entry is to be taken out."""
    noun = noun_of(part, OF_A_ROOM)
    room_named(museum.stores.register, room_id)
    return shown(asked_take_out(noun, room_id, dict(request.query_params)))


@router.post("/rooms/{room_id}/record/{part}/take-out")
async def take_out(
    request: Request, museum: MuseumDep, jobs: JobsDep, room_id: str, part: str
) -> Response:
    """Take an entry out of the record."""
    noun = noun_of(part, OF_A_ROOM)
    page = sent_take_out(museum, noun, room_id, await form_texts(request))
    return sent_back(page) if page is not None else _done(museum, jobs, room_id, "taken-out")


def _kept(
    museum: Museum,
    file: str,
    fields: tuple[Field, ...],
    sent: Texts,
    make: Callable[[Mapping[str, Any]], dict[str, Any]],
    *,
    otherwise: str,
    was: Mapping[str, Any] | None = None,
) -> dict[str, str]:
    """Keep what a form says; return what is wrong with it, by field."""
    found = read_sent(museum, file, fields, sent)
    if found.problems:
        return found.problems
    try:
        who = sent["who"].strip()
        save_entry(museum.stores.register, file, make(found.values), who=who, was=was)
    except StilltautError as problem:
        return problem_at(problem, fields, otherwise)
    return {}


def _done(museum: Museum, jobs: JobsDep, room_id: str, done: str) -> Response:
    jobs.wake()
    return saved_at(links.room_record(room_id), done)


def _short_name(name: str) -> str:
    """Return a name as it can stand in a file: small letters, digits and hyphens."""
    return re.sub(r"[^a-z0-9]+", "-", name.casefold()).strip("-")[:40] or "house"
