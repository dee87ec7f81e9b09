"""``stilltaut plan``: when to mount, where to hang, how to close, how deep, how to build."""

import json
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click
from matplotlib.figure import Figure

from analysis.errors import StilltautError
from analysis.planning.hanging import HangingTable
from analysis.planning.seasonal import set_points
from analysis.planning.year import LookFirst
from analysis.works import Wall
from dashboards.charts.days_ahead import days_figure
from dashboards.charts.hanging import causes_of, hanging_figure
from dashboards.charts.mounting import mounting_figure
from dashboards.charts.sealing import sealing_figure
from dashboards.charts.seasons import seasons_figure
from dashboards.charts.spacer import section_figure
from dashboards.charts.style import pdf, png, svg
from dashboards.pages.days_page import days_table
from dashboards.pages.plan_pages import (
    BOW,
    clearance_table,
    mounting_table,
    schedule_table,
    sealing_table,
    table_lines,
)
from dashboards.sheets.mount_paper import bench_sheet
from dashboards.sheets.typesetting import Sheet, sheet_page_svg, sheet_pdf, sheet_png
from dashboards.text import hanging_text, plan_text as words, wording
from dashboards.text.bench_sheet import text
from dashboards.text.days_text import assumed, basis, days_answer, each_work
from dashboards.text.messages import _
from service.answers.days_ahead import WHAT_IF, days_ahead, days_json
from service.answers.hanging_jobs import (
    PLAN_HANGING,
    Asked,
    begin_job,
    draws_of_job,
    hanging_work,
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
)
from service.command_words import CommandGroup
from service.commands.clock_option import as_if_given, remembered_as_if_option
from service.commands.engine_option import engine_given, remembered_engine_option
from service.jobs import Jobs
from service.settings import load_settings
from service.site_locale import opened_stores
from service.storage.job_records import job_named

SHEETS: dict[str, Callable[[Sheet], bytes]] = {
    ".pdf": sheet_pdf,
    ".png": lambda sheet: sheet_png(sheet)[0],
    ".svg": sheet_page_svg,
}
PICTURES: dict[str, Callable[[Figure], bytes]] = {".svg": svg, ".pdf": pdf, ".png": png}
Option = Callable[[Any], Any]
PARTS = ("read", "where", "found", "expected", "action")

data_option: Option = click.option(
    "--data", "data_dir", type=click.Path(path_type=Path), help="Folder of the stores."
)
work_option: Option = click.option("--work", "work_id", required=True, help="The work's number.")
room_option: Option = click.option(
    "--room", "room_id", help="Room whose last year is used; default: where it hangs."
)
out_option: Option = click.option(
    "--out", type=click.Path(path_type=Path), help="Write a picture too: .svg, .pdf or .png."
)


@click.group(cls=CommandGroup)
def command() -> None:
    """When to mount, where to hang, how to close, how deep a spacer, how to build.

    The answers compare; a conservator decides.
    """


@command.command()
@work_option
@room_option
@out_option
@data_option
@remembered_as_if_option
def mount(work_id: str, room_id: str | None, out: Path | None, data_dir: Path | None) -> None:
    """Months slack, months overtight and peak load, by humidity at mounting."""
    with _museum(data_dir) as museum:
        curve = plan_mounting(museum, work_id, room_id)
        lines = [*table_lines(mounting_table(curve)), *words.mounting_reasons(curve)]
        _say(words.mounting_answer(curve), lines, words.mounting_assumed(curve))
        if out:
            _draw(mounting_figure(curve), out)


@command.command()
@click.option("--work", "work_ids", multiple=True, help="A work; may be repeated; default: all.")
@click.option("--room", "room_ids", multiple=True, help="A room; may be repeated; default: all.")
@click.option(
    "--wall",
    "walls",
    multiple=True,
    type=click.Choice([wall.value for wall in Wall]),
    default=[Wall.INSIDE.value],
    show_default=True,
    help="A kind of wall; may be repeated.",
)
@out_option
@data_option
@remembered_engine_option
@remembered_as_if_option
def hang(
    work_ids: Sequence[str],
    room_ids: Sequence[str],
    walls: Sequence[str],
    out: Path | None,
    data_dir: Path | None,
) -> None:
    """Works by rooms: the share of the last year in which to look first, and why."""
    with _museum(data_dir) as museum:
        asked = Asked(tuple(work_ids), tuple(room_ids), tuple(walls))
        large = is_large(museum, asked)
        table = (
            _by_job(museum, asked)
            if large
            else plan_hanging(museum, work_ids, room_ids, [Wall(wall) for wall in walls])
        )
        names = [hanging_text.place_words(place, table.places) for place in table.places]
        rows, now = [], _("now")
        for row in table.rows:
            shares = [
                f"{name}{f' ({now})' if place == row.now else ''} {_share(cell)}"
                for name, place, cell in zip(names, table.places, row.cells, strict=True)
            ]
            rows.append(f"{row.work.title}: " + ", ".join(shares))
        left_out = [_("Left out: {work}.", work=one) for one in hanging_text.left_out(table)]
        lines = [*rows, *left_out, *hanging_text.notes(table)]
        draws = (
            [hanging_text.job_draws(draws_of_job(museum), museum.settings.draws)] if large else []
        )
        _say(hanging_text.answer(table), lines, [*draws, *hanging_text.assumed()])
        if out:
            _draw(hanging_figure(table), out)


def _by_job(museum: Museum, asked: Asked) -> HangingTable:
    """Work a large table out, or wait for who has it in hand, telling how far it is."""
    register = museum.stores.register
    last = latest_job(register, asked)
    kept = None if last is None or is_old(museum, last) else kept_table(museum, last)
    if kept is not None:
        return kept
    job = begin_job(museum, asked)
    jobs = Jobs(register, {PLAN_HANGING: hanging_work(museum, _tell)})
    while not job.over:
        if not jobs.do(job.job_id):
            _tell(job.step)
            time.sleep(1.0)
        job = job_named(register, job.job_id)
    table = kept_table(museum, job)
    if table is None:
        raise StilltautError(**{name: (job.problem or {}).get(name, "") for name in PARTS})
    return table


def _tell(words: str) -> None:
    click.echo(words, err=True)


@command.command()
@work_option
@room_option
@click.option("--target", "target_rh_pct", type=float, help="Humidity the package should hold, %.")
@out_option
@data_option
@remembered_as_if_option
def seal(
    work_id: str,
    room_id: str | None,
    target_rh_pct: float | None,
    out: Path | None,
    data_dir: Path | None,
) -> None:
    """Frame builds compared, with the humidity that closing today would lock in."""
    with _museum(data_dir) as museum:
        found = plan_sealing(museum, work_id, room_id, target_rh_pct=target_rh_pct)
        rows = table_lines(sealing_table(found))
        lines = [*words.sealing_warnings(found), *rows, *words.sealing_reasons(found)]
        _say(words.sealing_answer(found), lines, words.sealing_assumed(found))
        if out:
            _draw(sealing_figure(found), out)


@command.command()
@work_option
@room_option
@click.option("--spacer", "spacer_mm", type=float, help="Depth to try, mm; default: its own.")
@click.option("--minimum", "agreed_minimum_mm", type=float, help="Agreed clearance, mm.")
@out_option
@data_option
@remembered_as_if_option
def spacer(
    work_id: str,
    room_id: str | None,
    spacer_mm: float | None,
    agreed_minimum_mm: float | None,
    out: Path | None,
    data_dir: Path | None,
) -> None:
    """Clearance: spacer depth less waves, bow of the glazing and bow of the panel."""
    with _museum(data_dir) as museum:
        found = plan_spacer(
            museum,
            work_id,
            room_id,
            spacer_mm=spacer_mm,
            agreed_minimum_mm=agreed_minimum_mm,
        )
        _say(words.clearance_answer(found), table_lines(clearance_table(found)), BOW)
        if out:
            _draw(section_figure(found), out)


@command.command()
@work_option
@click.option("--target", "target_rh_pct", type=float, help="Humidity to mount at, %.")
@click.option("--pitch", "pitch_mm", type=float, help="From one hinge to the next, mm.")
@click.option("--out", type=click.Path(path_type=Path), help="Write .pdf, .svg, .png or .txt.")
@data_option
@remembered_as_if_option
def sheet(
    work_id: str,
    target_rh_pct: float | None,
    pitch_mm: float | None,
    out: Path | None,
    data_dir: Path | None,
) -> None:
    """Print the mount sheet for the bench: sizes, hinges, tape, adhesive, order of work."""
    with _museum(data_dir) as museum:
        found = plan_mount_sheet(museum, work_id, target_rh_pct=target_rh_pct, pitch_mm=pitch_mm)
        if out is None:
            click.echo(text(found), nl=False)
        elif out.suffix == ".txt":
            out.write_text(text(found), encoding="utf-8")
            click.echo(_("Written: {file}", file=out))
        else:
            _set(bench_sheet(found), out)


@command.command()
@work_option
@room_option
@click.option("--winter", "winter_pct", type=float, default=0.0, help="%RH, December to February.")
@click.option("--summer", "summer_pct", type=float, default=0.0, help="%RH, June to August.")
@click.option("--glide", "glide_days", type=int, default=30, show_default=True, help="Days.")
@click.option("--setback", "setback_k", type=float, default=0.0, help="Kelvin cooler at night.")
@click.option("--from", "from_hour", type=int, default=20, show_default=True, help="Local hour.")
@click.option("--to", "to_hour", type=int, default=6, show_default=True, help="Local hour.")
@out_option
@data_option
@remembered_as_if_option
def seasons(
    work_id: str, room_id: str | None, out: Path | None, data_dir: Path | None, **asked: Any
) -> None:
    """Seasonal set points and night setback: what they would have done to a work's last year."""
    with _museum(data_dir) as museum:
        schedule = set_points(zone=museum.zone, **asked)
        if schedule is None:
            raise click.UsageError(_("Say what would change: --winter, --summer or --setback."))
        years = plan_schedules(museum, work_id, [schedule], room_id)
        lines = table_lines(schedule_table(years))
        _say(words.schedule_answer(years), lines, words.SET_POINT_CAUTIONS)
        if out:
            _draw(seasons_figure(years[0], years[-1]), out)


@command.command()
@click.option("--room", "room_id", required=True, help="The room.")
@click.option(
    "--what-if",
    "what_if",
    type=click.Choice([name for name in WHAT_IF if name]),
    help="A change: plant off, an outer door open this evening, or a set point of 45 %RH.",
)
@click.option("--json", "as_plain", is_flag=True, help="Print one JSON object, by the hour.")
@out_option
@data_option
@remembered_as_if_option
def days(
    room_id: str, what_if: str | None, as_plain: bool, out: Path | None, data_dir: Path | None
) -> None:
    """Show a room's next days as a band, with its works: by a forecast, or as the season goes."""
    with _museum(data_dir) as museum:
        found = days_ahead(museum, room_id, what_if or "")
        now, zone = museum.clock(), museum.zone
        if as_plain:
            click.echo(json.dumps(days_json(found), indent=2, ensure_ascii=False))
        else:
            change = WHAT_IF[what_if] if what_if else ""
            answer = days_answer(found.room_name, found.ahead, found.works, change)
            rests_on = basis(found.issued, found.from_utc, now, zone, found.outdoors_until)
            said = [*rests_on, *each_work(found.works, zone)]
            rows = table_lines(days_table(found.ahead, zone))
            _say(answer, [*said, *rows], assumed(found.record_days, found.ahead is found.usual))
        if out:
            _draw(days_figure(found.ahead, found.usual, zone), out)


def _share(cell: LookFirst) -> str:
    if not cell.judged:
        return wording.cannot_tell()
    causes = [f"{cause.words} {wording.number(100 * share)}" for cause, share in causes_of(cell)]
    why = f" ({', '.join(causes)})" if causes else ""
    return f"{wording.share(cell.share)}{why}"


@contextmanager
def _museum(data_dir: Path | None) -> Iterator[Museum]:
    settings = load_settings().with_changes(
        data_dir=data_dir, engine=engine_given(), as_if=as_if_given()
    )
    with opened_stores(settings, create=False) as stores:
        yield Museum(stores, settings)


def _say(answer: str, lines: Sequence[str], assumed: Sequence[str]) -> None:
    click.echo(answer)
    for line in lines:
        click.echo(f"  {line}")
    click.echo(_("Assumed:"))
    for line in assumed:
        click.echo(f"  {line}")


def _set(sheet: Sheet, out: Path) -> None:
    if out.suffix not in SHEETS:
        known = ", ".join([*sorted(SHEETS), ".txt"])
        raise click.BadParameter(_("{file}: expected one of {known}", file=out.name, known=known))
    out.write_bytes(SHEETS[out.suffix](sheet))
    click.echo(_("Written: {file}", file=out))


def _draw(figure: Figure, out: Path) -> None:
    if out.suffix not in PICTURES:
        raise click.BadParameter(
            _("{file}: expected one of {known}", file=out.name, known=", ".join(sorted(PICTURES)))
        )
    out.write_bytes(PICTURES[out.suffix](figure))
    click.echo(_("Written: {file}", file=out))
