"""The house, its rooms, where loggers hang, and the bands agreed."""

import re
from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from analysis.records import REGISTER
from analysis.records.room_records import Logger, Room, Site
from dashboards import links
from dashboards.pages.register_pages import FormPage
from dashboards.text.messages import _
from service.answers.museum import Museum
from service.records.entry_forms import (
    WAS,
    asked_entry,
    sent_entry,
    sent_take_out,
    sheet_form,
    store_entry,
    take_out_form,
)
from service.records.record_pages import room_record_page
from service.records.record_parts import OF_A_ROOM
from service.records.sent_forms import Texts, texts
from service.storage.loggers import logger_named
from service.storage.places import room_named, sites
from service.storage.records import values_of
from service.web.routes.common import (
    JobsDep,
    MuseumDep,
    form_texts,
    go_to,
    part_of,
    saved_at,
    sent_back,
    shown,
)

router = APIRouter()
HOUSE = REGISTER["sites.csv"].asked()


def house_form(museum: Museum, sent: Texts, problems: Texts, hidden: Texts) -> FormPage:
    """Return the form of the house."""
    return sheet_form(
        museum,
        HOUSE,
        sent,
        problems,
        question=_("Which house is it?"),
        answer=_("A building or campus: its name, and the zone in which its people read the time."),
        action=links.house(),
        back=links.works(),
        hidden=hidden,
    )


def room_form(museum: Museum, sent: Texts, problems: Texts, room_id: str = "") -> FormPage:
    """Return the form of a room: a new one, or the one of that name."""
    houses = sites(museum.stores.register)
    left_out = (("room",) if room_id else ()) + (("site",) if len(houses) == 1 else ())
    return sheet_form(
        museum,
        REGISTER["rooms.csv"].asked(*left_out),
        sent,
        problems,
        question=_("Which room is it?"),
        answer=_("A gallery, a store, or another space with air of its own."),
        action=links.room_record(room_id, "room") if room_id else links.new_room(),
        back=links.room_record(room_id) if room_id else links.works(),
        hidden={"site": houses[0].site} if len(houses) == 1 else {},
    )


def logger_form(
    museum: Museum, room_id: str, sent: Texts, problems: Texts, was: str = ""
) -> FormPage:
    """Return the form of a logger: a new one, or the one of that name."""
    return sheet_form(
        museum,
        REGISTER["loggers.csv"].asked(),
        sent,
        problems,
        question=_("What is {was}?", was=was) if was else _("Which logger is it?"),
        answer=_("The instrument itself.") + ("" if was else _(" Where it hangs comes next.")),
        action=links.room_record(room_id, "instrument"),
        back=links.room_record(room_id),
        hidden={WAS + "logger": was} if was else {},
    )


@router.get("/house")
def ask_house(museum: MuseumDep) -> HTMLResponse:
    """Show the form of the house."""
    there = next(iter(sites(museum.stores.register)), None)
    if there is None:
        return shown(house_form(museum, {}, {}, {}))
    sent = texts(HOUSE, values_of(there), "UTC")
    return shown(house_form(museum, sent, {}, {"site": there.site}))


@router.post("/house")
async def write_house(request: Request, museum: MuseumDep) -> Response:
    """Write the house down, or correct it."""
    sent = await form_texts(request)
    site = sent.get("site", "")
    there = next((one for one in sites(museum.stores.register) if one.site == site), None)

    def make(values: Mapping[str, Any]) -> dict[str, Any]:
        stays = values_of(there) if there else {"site": _short_name(str(values["name"]))}
        return values_of(Site(**(stays | dict(values))))

    was = {"site": there.site} if there else None
    problems = store_entry(museum, "sites.csv", HOUSE, sent, make, was=was, otherwise="zone")
    if problems:
        return sent_back(house_form(museum, sent, problems, was or {}))
    return saved_at(links.works(), "written") if there else go_to(links.bring_in())


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
    fields = REGISTER["rooms.csv"].asked()

    def make(values: Mapping[str, Any]) -> dict[str, Any]:
        return values_of(Room(**values))

    problems = store_entry(museum, "rooms.csv", fields, sent, make, otherwise="room")
    if problems:
        return sent_back(room_form(museum, sent, problems))
    return saved_at(links.room_record(sent["room"].strip()), "written")


@router.get("/rooms/{room_id:name}/record")
def record(museum: MuseumDep, room_id: str, saved: str = "") -> HTMLResponse:
    """Show everything the register knows of a room."""
    return shown(room_record_page(museum, room_id, saved))


@router.get("/rooms/{room_id:name}/record/room")
def ask_room(museum: MuseumDep, room_id: str) -> HTMLResponse:
    """Show the form of a room."""
    there = values_of(room_named(museum.stores.register, room_id))
    sent = texts(REGISTER["rooms.csv"].asked(), there, "UTC")
    return shown(room_form(museum, sent, {}, room_id))


@router.post("/rooms/{room_id:name}/record/room")
async def correct_room(
    request: Request, museum: MuseumDep, jobs: JobsDep, room_id: str
) -> Response:
    """Correct a room."""
    sent = await form_texts(request)
    there = values_of(room_named(museum.stores.register, room_id))

    def make(values: Mapping[str, Any]) -> dict[str, Any]:
        return values_of(Room(**({"room": room_id, "site": there["site"]} | dict(values))))

    fields, was = REGISTER["rooms.csv"].asked("room"), {"room": room_id}
    problems = store_entry(museum, "rooms.csv", fields, sent, make, was=was, otherwise="name")
    if problems:
        return sent_back(room_form(museum, sent, problems, room_id))
    return _done(museum, jobs, room_id, "written")


@router.get("/rooms/{room_id:name}/record/instrument")
def ask_logger(museum: MuseumDep, room_id: str, was_logger: str = "") -> HTMLResponse:
    """Ask for a new logger, or show the one that is to be corrected."""
    room_named(museum.stores.register, room_id)
    there = logger_named(museum.stores.register, was_logger)
    if there is None:
        return shown(logger_form(museum, room_id, {}, {}))
    sent = texts(REGISTER["loggers.csv"].asked(), values_of(there), "UTC")
    return shown(logger_form(museum, room_id, sent, {}, was_logger))


@router.post("/rooms/{room_id:name}/record/instrument")
async def write_logger(
    request: Request, museum: MuseumDep, jobs: JobsDep, room_id: str
) -> Response:
    """Write a logger down and ask where it hangs, or correct one."""
    sent = await form_texts(request)
    room_named(museum.stores.register, room_id)
    there = logger_named(museum.stores.register, sent.get(WAS + "logger", ""))
    name = "" if there is None else there.logger

    def make(values: Mapping[str, Any]) -> dict[str, Any]:
        stays = {} if there is None else {"note": there.note}
        return values_of(Logger(**(stays | dict(values))))

    fields = REGISTER["loggers.csv"].asked()
    was = {"logger": name} if name else None
    problems = _name_in_use(museum, name, sent) or store_entry(
        museum, "loggers.csv", fields, sent, make, was=was, otherwise="logger"
    )
    if problems:
        return sent_back(logger_form(museum, room_id, sent, problems, name))
    if name:
        return _done(museum, jobs, room_id, "written")
    return go_to(links.room_record(room_id, "logger", logger=sent["logger"].strip()))


@router.get("/rooms/{room_id:name}/record/{part}")
def ask_entry(request: Request, museum: MuseumDep, room_id: str, part: str) -> Response:
    """Show the form that adds an entry to a part of the record, or corrects one."""
    asked = part_of(part, OF_A_ROOM)
    room_named(museum.stores.register, room_id)
    return shown(asked_entry(museum, asked, room_id, dict(request.query_params)))


@router.post("/rooms/{room_id:name}/record/{part}")
async def write_entry(
    request: Request, museum: MuseumDep, jobs: JobsDep, room_id: str, part: str
) -> Response:
    """Add an entry to a part of the record, or correct one."""
    asked = part_of(part, OF_A_ROOM)
    room_named(museum.stores.register, room_id)
    page = sent_entry(museum, asked, room_id, await form_texts(request))
    return sent_back(page) if page is not None else _done(museum, jobs, room_id, "written")


@router.get("/rooms/{room_id:name}/record/{part}/take-out")
def ask_take_out(request: Request, museum: MuseumDep, room_id: str, part: str) -> HTMLResponse:
    """Ask why an entry is to be taken out."""
    asked = part_of(part, OF_A_ROOM)
    room_named(museum.stores.register, room_id)
    return shown(take_out_form(asked, room_id, dict(request.query_params), {}))


@router.post("/rooms/{room_id:name}/record/{part}/take-out")
async def take_out(
    request: Request, museum: MuseumDep, jobs: JobsDep, room_id: str, part: str
) -> Response:
    """Take an entry out of the record."""
    asked = part_of(part, OF_A_ROOM)
    page = sent_take_out(museum, asked, room_id, await form_texts(request))
    return sent_back(page) if page is not None else _done(museum, jobs, room_id, "taken-out")


def _name_in_use(museum: Museum, name: str, sent: Texts) -> dict[str, str]:
    """Return what is wrong with another name for a logger: its readings lie under the first."""
    wanted = sent.get("logger", "").strip()
    if not name or wanted == name or museum.stores.readings.span(name) is None:
        return {}
    return {
        "logger": _(
            "Readings of {name} have come in under that short name, so it stays. The name as "
            "shown may be mended below; another instrument is added as a new one.",
            name=name,
        )
    }


def _done(museum: Museum, jobs: JobsDep, room_id: str, done: str) -> Response:
    jobs.wake()
    return saved_at(links.room_record(room_id), done)


def _short_name(name: str) -> str:
    """Return a name as it can stand in a file: small letters, digits and hyphens."""
    return re.sub(r"[^a-z0-9]+", "-", name.casefold()).strip("-")[:40] or "house"
