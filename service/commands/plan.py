"""``stilltaut plan``: when to mount, where to hang, how to close, how deep, how to build."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click
from matplotlib.figure import Figure

from analysis.duration_words import hours_words
from analysis.planning.seasonal import Schedule
from analysis.planning.year import YearSummary
from dashboards.bench_sheet import text
from dashboards.charts.mount_sheet import mount_sheet_figure
from dashboards.charts.planning import hanging_figure, mounting_figure
from dashboards.charts.style import pdf, png, svg
from service.planning import (
    plan_hanging,
    plan_mount_sheet,
    plan_mounting,
    plan_schedules,
    plan_sealing,
    plan_spacer,
)
from service.settings import Settings, load_settings
from service.storage.stores import Stores

PICTURES: dict[str, Callable[[Figure], bytes]] = {".svg": svg, ".pdf": pdf, ".png": png}
Option = Callable[[Any], Any]

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


@click.group()
def command() -> None:
    """When to mount, where to hang, how to close, how deep a spacer, how to build.

    The answers compare; a conservator decides.
    """


@command.command()
@work_option
@room_option
@out_option
@data_option
def mount(work_id: str, room_id: str | None, out: Path | None, data_dir: Path | None) -> None:
    """Months slack, months overtight and peak load, by humidity at mounting."""
    with _museum(data_dir) as (stores, settings):
        curve = plan_mounting(stores, work_id, room_id, draws=settings.draws)
    _say(curve.answer, curve.reasons, curve.assumed)
    if out:
        _draw(mounting_figure(curve), out)


@command.command()
@click.option("--work", "work_ids", multiple=True, help="A work; may be repeated; default: all.")
@click.option("--room", "room_ids", multiple=True, help="A room; may be repeated; default: all.")
@out_option
@data_option
def hang(
    work_ids: Sequence[str], room_ids: Sequence[str], out: Path | None, data_dir: Path | None
) -> None:
    """Works by rooms: the share of the last year in which to look first."""
    with _museum(data_dir) as (stores, settings):
        table = plan_hanging(stores, work_ids, room_ids, draws=settings.draws)
    rows = []
    for work, cells in zip(table.works, table.cells, strict=True):
        shares = [
            f"{room} {_share(cell)}" for room, cell in zip(table.room_names, cells, strict=True)
        ]
        rows.append(f"{work.title}: " + ", ".join(shares))
    left_out = [f"Left out: {words}." for words in table.left_out]
    _say(table.answer, [*rows, *left_out, *table.notes], table.assumed)
    if out:
        _draw(hanging_figure(table), out)


@command.command()
@work_option
@room_option
@click.option("--target", "target_rh_pct", type=float, help="Humidity the package should hold, %.")
@data_option
def seal(
    work_id: str, room_id: str | None, target_rh_pct: float | None, data_dir: Path | None
) -> None:
    """Frame builds compared, with the humidity that closing today would lock in."""
    with _museum(data_dir) as (stores, settings):
        found = plan_sealing(
            stores, work_id, room_id, target_rh_pct=target_rh_pct, draws=settings.draws
        )
    rows = [
        f"{b.words}{' (as it is now)' if b.is_now else ''}: half-time "
        f"{hours_words(b.half_time_h.mid)} ({hours_words(b.half_time_h.low)} to "
        f"{hours_words(b.half_time_h.high)}), frame "
        f"{b.year.frame_rh_pct.low:.0f} to {b.year.frame_rh_pct.high:.0f} %RH, slack "
        f"{b.year.months_slack.mid:.1f} months, look first {100 * b.year.look_first_share:.0f} %."
        for b in found.builds
    ]
    _say(found.answer, [*found.warnings, *rows], found.assumed)


@command.command()
@work_option
@room_option
@click.option("--spacer", "spacer_mm", type=float, help="Depth to try, mm; default: its own.")
@click.option("--minimum", "agreed_minimum_mm", type=float, help="Agreed clearance, mm.")
@data_option
def spacer(
    work_id: str,
    room_id: str | None,
    spacer_mm: float | None,
    agreed_minimum_mm: float | None,
    data_dir: Path | None,
) -> None:
    """Clearance: spacer depth less waves, bow of the glazing and bow of the panel."""
    with _museum(data_dir) as (stores, settings):
        found = plan_spacer(
            stores,
            work_id,
            room_id,
            spacer_mm=spacer_mm,
            agreed_minimum_mm=agreed_minimum_mm,
            draws=settings.draws,
        )
    terms = {
        "Spacer": found.spacer_mm,
        "Waves, at the worst hour of the year": found.wave_mm,
        "Bow of the glazing": found.glazing_bow_mm,
        "Bow of the panel": found.panel_bow_mm,
    }
    rows = [
        f"{name}: "
        + ("not known" if r is None else f"{r.mid:.1f} mm ({r.low:.1f} to {r.high:.1f})")
        for name, r in terms.items()
    ]
    _say(found.sentence, rows, ["Bow of glazing and panel: no published figures were found."])


@command.command()
@work_option
@click.option("--target", "target_rh_pct", type=float, help="Humidity to mount at, %.")
@click.option("--pitch", "pitch_mm", type=float, help="From one hinge to the next, mm.")
@click.option("--out", type=click.Path(path_type=Path), help="Write .pdf, .svg, .png or .txt.")
@data_option
def sheet(
    work_id: str,
    target_rh_pct: float | None,
    pitch_mm: float | None,
    out: Path | None,
    data_dir: Path | None,
) -> None:
    """Print the mount sheet for the bench: sizes, hinges, tape, adhesive, order of work."""
    with _museum(data_dir) as (stores, _):
        found = plan_mount_sheet(stores, work_id, target_rh_pct=target_rh_pct, pitch_mm=pitch_mm)
    if out is None:
        click.echo(text(found), nl=False)
    elif out.suffix == ".txt":
        out.write_text(text(found), encoding="utf-8")
        click.echo(f"Written: {out}")
    else:
        _draw(mount_sheet_figure(found), out)


@command.command()
@work_option
@room_option
@click.option("--setback", "setback_k", type=float, required=True, help="Kelvin cooler.")
@click.option("--from", "from_hour", type=int, default=20, show_default=True, help="Hour, UTC.")
@click.option("--to", "to_hour", type=int, default=6, show_default=True, help="Hour, UTC.")
@data_option
def night(
    work_id: str,
    room_id: str | None,
    setback_k: float,
    from_hour: int,
    to_hour: int,
    data_dir: Path | None,
) -> None:
    """Night setback: whether the air inside the frame would move at all."""
    schedule = Schedule("with setback", setback_k, from_hour, to_hour)
    with _museum(data_dir) as (stores, settings):
        years = plan_schedules(stores, work_id, [schedule], room_id, draws=settings.draws)
    answer, *rows = [year.sentence for year in years]
    _say(answer, rows, ["The water in the air stays; plant and its controls are not modelled."])


def _share(cell: YearSummary | None) -> str:
    if cell is None:
        return "cannot tell"
    return (
        f"{100 * cell.look_first_share:.0f} % (waves {100 * cell.visible_share:.0f}, "
        f"glazing {100 * cell.clearance_share:.0f}, hinges {100 * cell.hinges_share:.0f})"
    )


@contextmanager
def _museum(data_dir: Path | None) -> Iterator[tuple[Stores, Settings]]:
    settings = load_settings().with_changes(data_dir=data_dir)
    with Stores.open(settings, create=False) as stores:
        yield stores, settings


def _say(answer: str, lines: Sequence[str], assumed: Sequence[str]) -> None:
    click.echo(answer)
    for line in lines:
        click.echo(f"  {line}")
    click.echo("Assumed:")
    for line in assumed:
        click.echo(f"  {line}")


def _draw(figure: Figure, out: Path) -> None:
    if out.suffix not in PICTURES:
        raise click.BadParameter(f"{out.name}: expected one of {', '.join(sorted(PICTURES))}")
    out.write_bytes(PICTURES[out.suffix](figure))
    click.echo(f"Written: {out}")
