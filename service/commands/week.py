"""``stilltaut week``: a room's week, drawn to a file."""

from pathlib import Path

import click

from dashboards.charts.week import quality_line
from dashboards.text.messages import _
from dashboards.text.sentences import CAUTION, week_sentence
from service.answers.museum import Museum
from service.answers.week_files import write_week
from service.commands.clock_option import as_if_option
from service.settings import load_settings
from service.site_locale import opened_stores


@click.command()
@click.argument("room")
@click.option("--week", "iso_week", help="ISO week, for example 2026-W12; else the latest.")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    help="File to write, ending in .svg, .png or, for the sheet on the wall, .pdf.",
)
@click.option(
    "--paper",
    type=click.Choice(["a4", "a3"]),
    default="a4",
    show_default=True,
    help="Paper of the sheet; A3 is read from two metres.",
)
@as_if_option
@click.option("--data", type=click.Path(path_type=Path), help="Folder of the stores.")
def command(
    room: str,
    iso_week: str | None,
    out: Path | None,
    paper: str,
    as_if: str | None,
    data: Path | None,
) -> int:
    """Draw the week of ROOM: its air, what the frames felt, and a strip a work."""
    settings = load_settings().with_changes(data_dir=data, as_if=as_if)
    with opened_stores(settings, create=False) as stores:
        museum = Museum(stores, settings)
        wanted = iso_week or museum.week_of_room(room)
        if wanted is None:
            click.echo(_("No readings yet: add a logger's file first (stilltaut add)."))
            return 1
        week = museum.room_week(room, wanted)
        path = write_week(museum, room, wanted, out or Path(f"{room}-{wanted}.svg"), paper)
        click.echo(f"{week.room_name}, {wanted}")
        click.echo("\n".join((week_sentence(week), quality_line(week), _(CAUTION))))
        click.echo(_("Drawn: {file}", file=path))
    return 0
