"""Planning pages: mounting RH, where to hang, seal or not, spacer, mount sheet."""

from dataclasses import replace

from fastapi import APIRouter
from fastapi.responses import HTMLResponse

from analysis.planning.mounting import MountingCurve
from dashboards import wording
from dashboards.bench_sheet import blocks
from dashboards.charts.mount_sheet import panel_drawing
from dashboards.charts.planning import hanging_figure, mounting_figure
from dashboards.charts.style import inline_svg
from dashboards.lines import Choice, FormField, Table
from dashboards.pages import MountSheetPage, PlanIndexPage, PlanPage
from dashboards.wording import range_words
from service.museum import Museum
from service.planning import (
    plan_hanging,
    plan_mount_sheet,
    plan_mounting,
    plan_sealing,
    plan_spacer,
    room_of,
)
from service.routes.common import MuseumDep, shown
from service.storage.works import prints, work_at

router = APIRouter()
DRAWS_FOR_ALL = 60  # draws a work where all works are tried in all rooms, so that it takes seconds


@router.get("/plan")
def index(museum: MuseumDep) -> HTMLResponse:
    """Ask what is to be planned."""
    return shown(PlanIndexPage(works=_works(museum), rooms=_rooms(museum)))


@router.get("/plan/mount")
def mount(museum: MuseumDep, work: str, room: str = "") -> HTMLResponse:
    """Show months slack, months overtight and peak load by mounting RH."""
    draws = museum.settings.draws
    name = ("plan mount", work, room)
    curve = museum.kept(name, lambda: plan_mounting(museum.stores, work, room or None, draws=draws))
    return shown(
        PlanPage(
            question=f"At what RH to mount {_title(museum, work)}?",
            answer=curve.answer,
            form=_form(museum, work, room),
            picture=inline_svg(mounting_figure(curve), curve.answer),
            picture_words="A curve, not a command: the mounting RH is a conservator's choice.",
            reasons=(),
            table=_mounting_table(curve),
            assumed=curve.assumed,
        )
    )


@router.get("/plan/hang")
def hang(museum: MuseumDep, work: str = "", room: str = "") -> HTMLResponse:
    """Show the share of last year in which each work would have been looked at first, by room."""
    works = [work] if work else None
    draws = museum.settings.draws if work else min(museum.settings.draws, DRAWS_FOR_ALL)
    table = museum.kept(
        ("plan hang", work),
        lambda: plan_hanging(museum.stores, works, draws=draws),
    )
    question = f"Where to hang {_title(museum, work)}?" if work else "Where to hang the works?"
    return shown(
        PlanPage(
            question=question,
            answer=table.answer,
            form=[replace(_work_field(museum, work), choices=_or_all(_works(museum, work)))],
            picture=inline_svg(hanging_figure(table), table.answer),
            picture_words="Each square: the share of the last year in which to look first.",
            reasons=[*table.notes, *(f"Left out: {words}." for words in table.left_out)],
            table=None,
            assumed=[*table.assumed, f"Shares rest on {draws} draws of what is uncertain."],
        )
    )


@router.get("/plan/seal")
def seal(museum: MuseumDep, work: str, room: str = "", target: float | None = None) -> HTMLResponse:
    """Compare frame builds, with the humidity that closing today would lock in."""
    found = museum.kept(
        ("plan seal", work, room, target),
        lambda: plan_sealing(
            museum.stores, work, room or None, target_rh_pct=target, draws=museum.settings.draws
        ),
    )
    rows = [
        (
            f"{build.words}{' (as it is)' if build.is_now else ''}",
            range_words(build.half_time_h, "h"),
            range_words(build.year.frame_rh_pct, "%RH"),
            range_words(build.year.months_slack, "", 1),
            f"{100 * build.year.look_first_share:.0f} %",
        )
        for build in found.builds
    ]
    headings = ("Frame", "Half-time", "RH in the frame", "Months slack", "Look first")
    aim = "" if target is None else f"{target:g}"
    return shown(
        PlanPage(
            question=f"Should the frame of {_title(museum, work)} be sealed?",
            answer=found.answer,
            form=[*_form(museum, work, room), FormField("target", "RH it should hold", aim, "%")],
            picture=None,
            picture_words="",
            reasons=found.warnings,
            table=Table(headings, rows, "The last year, in each build", (1, 2, 3, 4)),
            assumed=found.assumed,
        )
    )


@router.get("/plan/spacer")
def spacer(
    museum: MuseumDep, work: str, room: str = "", depth: float | None = None
) -> HTMLResponse:
    """Show the clearance sum: spacer less waves, bow of glazing, bow of panel."""
    found = museum.kept(
        ("plan spacer", work, room, depth),
        lambda: plan_spacer(
            museum.stores, work, room or None, spacer_mm=depth, draws=museum.settings.draws
        ),
    )
    terms = (
        ("Spacer", found.spacer_mm),
        ("less waves, at the worst hour of the year", found.wave_mm),
        ("less bow of the glazing", found.glazing_bow_mm),
        ("less bow of the panel", found.panel_bow_mm),
        ("Clearance", found.clearance_mm),
    )
    rows = [
        (name, "not known" if value is None else range_words(value, "mm", 1))
        for name, value in terms
    ]
    tried = "" if depth is None else f"{depth:g}"
    return shown(
        PlanPage(
            question=f"How deep a spacer does {_title(museum, work)} need?",
            answer=found.sentence,
            form=[*_form(museum, work, room), FormField("depth", "Depth to try", tried, "mm")],
            picture=None,
            picture_words="",
            reasons=(),
            table=Table(("Term", "5–95 %"), rows, "The clearance sum", (1,)),
            assumed=("Bow of glazing and panel: no published figures were found.",),
        )
    )


@router.get("/plan/sheet")
def sheet(museum: MuseumDep, work: str, room: str = "") -> HTMLResponse:
    """Show the mount sheet for the bench, to be printed."""
    found = plan_mount_sheet(museum.stores, work)
    return shown(
        MountSheetPage(
            work=work_at(museum.stores.register, work, museum.as_of()),
            drawing=inline_svg(
                panel_drawing(found), "The panel with its print and hinges, to scale."
            ),
            blocks=blocks(found),
            cautions=found.cautions,
        )
    )


def _mounting_table(curve: MountingCurve) -> Table:
    headings = ("Mounted at", "Months slack", "Months overtight", "Peak load")
    rows = [
        (
            wording.with_unit(point.rh_pct, "%RH", 1),
            range_words(point.year.months_slack, "", 1),
            range_words(point.year.months_overtight, "", 1),
            range_words(point.year.peak_load_n_m, "N/m"),
        )
        for point in curve.points
    ]
    return Table(headings, rows, "Each with its 5–95 % range", (1, 2, 3))


def _title(museum: Museum, work_id: str) -> str:
    return work_at(museum.stores.register, work_id, museum.as_of()).title


def _works(museum: Museum, chosen: str = "") -> list[Choice]:
    every = prints(museum.stores.register)
    return [Choice(p.work_id, f"{p.title}, {p.work_id}", p.work_id == chosen) for p in every]


def _rooms(museum: Museum, chosen: str = "") -> list[Choice]:
    return [Choice(r.room, r.name, r.room == chosen) for r in museum.rooms()]


def _or_all(works: list[Choice]) -> list[Choice]:
    return [Choice("", "all works", not any(choice.chosen for choice in works)), *works]


def _work_field(museum: Museum, work: str) -> FormField:
    return FormField("work", "Work", work, choices=_works(museum, work))


def _form(museum: Museum, work: str, room: str) -> list[FormField]:
    here = room or room_of(museum.stores, work)
    return [
        _work_field(museum, work),
        FormField("room", "Room whose last year is used", here, choices=_rooms(museum, here)),
    ]
