"""Planning pages: mounting RH, where to hang, seal or not, spacer, set points, mount sheet."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from analysis.planning.seasonal import set_points
from analysis.records.declaration import plain_number
from analysis.works import Wall
from dashboards import links
from dashboards.lines import Choice, FormField
from dashboards.pages.days_page import days_page
from dashboards.pages.page import PlanIndexPage, PlanPage
from dashboards.pages.plan_pages import (
    hanging_job_page,
    hanging_page,
    mount_sheet_page,
    mounting_page,
    sealing_page,
    seasons_page,
    spacer_page,
)
from dashboards.sheets.mount_paper import bench_sheet
from dashboards.sheets.typesetting import sheet_pdf
from dashboards.text.hanging_text import job_offered, job_words, table_words
from dashboards.text.messages import _
from dashboards.text.wording import when
from service.answers.days_ahead import WHAT_IF, days_ahead
from service.answers.hanging_jobs import (
    Asked as WholeHouse,
    begin_job,
    draws_of_job,
    is_large,
    is_old,
    kept_table,
    latest_job,
)
from service.answers.museum import Museum
from service.answers.planning import (
    plan_hanging,
    plan_mount_sheet,
    plan_mounting,
    plan_schedules,
    plan_sealing,
    plan_spacer,
    room_of,
    work_now,
)
from service.storage.forecasts import take_forecast_back
from service.storage.works import prints
from service.web.routes.common import JobsDep, MuseumDep, go_to, sent_file, shown, shown_or_taken

router = APIRouter()


@router.get("/plan")
def index(museum: MuseumDep) -> HTMLResponse:
    """Ask what is to be planned."""
    return shown(PlanIndexPage(works=_works(museum), rooms=_rooms(museum)))


@router.get("/plan/mount")
def mount(request: Request, museum: MuseumDep, work: str, room: str = "") -> Response:
    """Show months slack, months overtight and peak load by mounting RH."""
    curve = plan_mounting(museum, work, room or None)
    return _shown(request, museum, mounting_page(curve, _form(museum, work, room)))


@router.get("/plan/hang")
def hang(request: Request, museum: MuseumDep, work: str = "", wall: Wall = Wall.INSIDE) -> Response:
    """Show the share of last year in which each work would have been looked at first, by room.

    Of one work all walls are shown. Of a large collection it is a job, begun by a button.
    """
    every = _works(museum, work)
    works = FormField(
        "work", _("Work"), work, choices=[Choice("", _("all works"), not work), *every]
    )
    walls = [Choice(kind.value, kind.value, kind is wall) for kind in Wall]
    asked = (
        [] if work else [FormField("wall", _("On what kind of wall"), wall.value, choices=walls)]
    )
    form = [works, *asked]
    whole = WholeHouse(walls=(wall.value,))
    if not work and is_large(museum, whole):
        return _shown(request, museum, _whole_house(museum, whole, form))
    table = plan_hanging(museum, [work] if work else [], walls=list(Wall) if work else [wall])
    title = work_now(museum, work).title if work else ""
    return _shown(request, museum, hanging_page(table, title, form))


def _whole_house(museum: Museum, asked: WholeHouse, form: Sequence[FormField]) -> PlanPage:
    """Return the last table of a large collection, how far its job is, or how to begin it."""
    begin = links.plan("hang", wall=asked.walls[0])
    job = latest_job(museum.stores.register, asked)
    table = None if job is None else kept_table(museum, job)
    draws, usual = draws_of_job(museum), museum.settings.draws
    if job is None or table is None:
        answer = job_words(job.step, job.problem) if job else job_offered(draws, usual)
        waits = job is not None and not job.over
        return hanging_job_page(answer, form, "" if waits else begin, waits=waits)
    at = when(job.changed_utc, museum.zone)
    told = [table_words(at, job.arguments["draws"], usual, old=is_old(museum, job))]
    page = hanging_page(table, "", form)
    return replace(page, assumed=[*told, *page.assumed], begin=begin)


@router.post("/plan/hang")
def begin_hanging(museum: MuseumDep, jobs: JobsDep, wall: Wall = Wall.INSIDE) -> RedirectResponse:
    """Promise to work out where to hang all works on a kind of wall."""
    begin_job(museum, WholeHouse(walls=(wall.value,)))
    jobs.wake()
    return go_to(links.plan("hang", wall=wall.value))


@router.get("/plan/seal")
def seal(
    request: Request, museum: MuseumDep, work: str, room: str = "", target: float | None = None
) -> Response:
    """Compare frame builds, with the humidity that closing today would lock in."""
    found = plan_sealing(museum, work, room or None, target_rh_pct=target)
    aim = FormField("target", _("RH it should hold"), _number(target), "%")
    return _shown(request, museum, sealing_page(found, [*_form(museum, work, room), aim]))


@router.get("/plan/spacer")
def spacer(
    request: Request,
    museum: MuseumDep,
    work: str,
    room: str = "",
    depth: float | None = None,
    minimum: float | None = None,
) -> Response:
    """Show the clearance sum: spacer less waves, bow of glazing, bow of panel."""
    found = plan_spacer(museum, work, room or None, spacer_mm=depth, agreed_minimum_mm=minimum)
    form = [
        *_form(museum, work, room),
        FormField("depth", _("Depth to try"), _number(depth), "mm"),
        FormField("minimum", _("Least clearance agreed"), _number(found.agreed_minimum_mm), "mm"),
    ]
    return _shown(request, museum, spacer_page(found, work_now(museum, work).title, form))


@router.get("/plan/days")
def days(request: Request, museum: MuseumDep, room: str = "", what: str = "") -> Response:
    """Show a room's next days as a band, with its works, as it is run or with a change."""
    here = room or next((one.room for one in museum.rooms()), "")
    found = days_ahead(museum, here, what)
    choices = [Choice(key, words, key == what) for key, words in WHAT_IF.items()]
    form = [
        FormField("room", _("Room"), here, choices=_rooms(museum, here)),
        FormField("what", _("The room"), what, choices=choices),
    ]
    return _shown(
        request,
        museum,
        days_page(
            found.room_name,
            found.ahead,
            found.usual,
            found.works,
            form,
            zone=museum.zone,
            record_days=found.record_days,
            outdoors_until=found.outdoors_until,
            from_utc=found.from_utc,
            now_utc=museum.clock(),
            issued=found.issued,
            forecast=found.forecast,
            what_if=WHAT_IF[what] if what else "",
        ),
        hours=[links.days_table(here, ending, what) for ending in ("csv", "xlsx")],
    )


def _shown(request: Request, museum: Museum, page: PlanPage, hours: Sequence[str] = ()) -> Response:
    """Return a plan, or its table as a file where the address asks for one."""
    asked = {name: value for name, value in request.query_params.items() if name != "table"}
    kind = request.url.path.rpartition("/")[2]
    about = asked.get("work") or asked.get("room") or ""
    return shown_or_taken(
        museum,
        replace(page, address=links.plan(kind, **asked), hours=hours),
        page.table,
        "-".join(filter(None, ("plan", kind, about))),
        request.query_params.get("table", ""),
    )


@router.post("/plan/forecasts/{forecast:name}/take-back")
def no_forecast(museum: MuseumDep, forecast: str) -> RedirectResponse:
    """Put a forecast aside, and show the days without it."""
    take_forecast_back(museum.stores, forecast)
    return go_to(links.plan("days"))


@dataclass(frozen=True)
class Asked:
    """Set points as the form sends them."""

    winter: float = 0.0
    summer: float = 0.0
    glide: int = 30
    setback: float = 0.0
    start: int = 20
    end: int = 6


@router.get("/plan/seasons")
def seasons(
    request: Request,
    museum: MuseumDep,
    asked: Annotated[Asked, Depends()],
    work: str,
    room: str = "",
) -> Response:
    """Show what seasonal set points or a night setback would do to a work."""
    schedule = set_points(
        winter_pct=asked.winter,
        summer_pct=asked.summer,
        glide_days=asked.glide,
        setback_k=asked.setback,
        from_hour=asked.start,
        to_hour=asked.end,
        zone=museum.zone,
    )
    years = [] if schedule is None else plan_schedules(museum, work, [schedule], room or None)
    form = [*_form(museum, work, room), *_set_point_fields(asked)]
    return _shown(request, museum, seasons_page(years, work_now(museum, work).title, form))


@router.get("/plan/sheet")
def sheet(
    museum: MuseumDep,
    work: str,
    room: str = "",
    target: float | None = None,
    pitch: float | None = None,
) -> HTMLResponse:
    """Show the mount sheet for the bench, and where to print it."""
    found = plan_mount_sheet(museum, work, target_rh_pct=target, pitch_mm=pitch)
    query = {"work": work, "target": _number(target), "pitch": _number(pitch)}
    paper = links.plan("sheet.pdf", **{name: value for name, value in query.items() if value})
    form = [
        FormField("work", _("Work"), work, choices=_works(museum, work)),
        FormField("target", _("Mount at"), _number(found.target_rh_pct), "%RH"),
        FormField("pitch", _("From one hinge to the next"), _number(found.hinges.pitch_mm), "mm"),
    ]
    return shown(mount_sheet_page(found, paper, form))


@router.get("/plan/sheet.pdf")
def printed_sheet(
    museum: MuseumDep, work: str, target: float | None = None, pitch: float | None = None
) -> Response:
    """Return the mount sheet as one upright A4 page."""
    found = plan_mount_sheet(museum, work, target_rh_pct=target, pitch_mm=pitch)
    return sent_file(sheet_pdf(bench_sheet(found)), f"mount-{work}.pdf")


def _number(value: float | None) -> str:
    """Return a number as its field holds it, to be sent again."""
    return "" if value is None else plain_number(round(value, 6))


def _works(museum: Museum, chosen: str = "") -> list[Choice]:
    every = prints(museum.stores.register)
    return [Choice(p.work_id, f"{p.title}, {p.work_id}", p.work_id == chosen) for p in every]


def _rooms(museum: Museum, chosen: str = "") -> list[Choice]:
    return [Choice(r.room, r.name, r.room == chosen) for r in museum.rooms()]


def _form(museum: Museum, work: str, room: str) -> list[FormField]:
    here = room or room_of(museum, work)
    return [
        FormField("work", _("Work"), work, choices=_works(museum, work)),
        FormField("room", _("Room whose last year is used"), here, choices=_rooms(museum, here)),
    ]


def _set_point_fields(asked: Asked) -> list[FormField]:
    return [
        FormField(
            "winter",
            _("December to February, damper by (minus: drier)"),
            _number(asked.winter),
            "%RH",
        ),
        FormField(
            "summer",
            _("June to August, damper by (minus: drier)"),
            _number(asked.summer),
            "%RH",
        ),
        FormField("glide", _("The change glides over"), _number(asked.glide), _("days")),
        FormField("setback", _("Cooler at night, by"), _number(asked.setback), "K"),
        FormField("start", _("Cooler from (hour of the day)"), _number(asked.start), "h"),
        FormField("end", _("Cooler until (hour of the day)"), _number(asked.end), "h"),
    ]
