"""``stilltaut demo``: the whole job on the invented museum."""

from pathlib import Path

import click

from dashboards.text.messages import _
from service.answers.museum import Museum
from service.answers.rounds import museum_round, round_text
from service.answers.week_files import write_week
from service.commands.clock_option import as_if_option
from service.commands.serve import serve
from service.intake.demo import build, sample_folder
from service.notices.follow_up import follow_up_all
from service.notices.lines import open_lines
from service.settings import load_settings
from service.site_locale import opened_stores


@click.command()
@click.option(
    "--data",
    type=click.Path(path_type=Path),
    default=Path("demo-data"),
    show_default=True,
    help="Folder for the invented museum.",
)
@as_if_option
@click.option("--no-serve", is_flag=True, help="Stop after printing the lists.")
def command(data: Path, as_if: str | None, no_serve: bool) -> None:
    """Build the invented museum, run the whole job, print the four lists, then serve the pages."""
    settings = load_settings().with_changes(data_dir=data, as_if=as_if)
    with opened_stores(settings) as stores:
        click.echo(_("Taking in the invented museum's records"))
        for receipt in build(stores, sample_folder()):
            click.echo("\n".join(f"  {line}" for line in receipt.lines()))
        _whole_job(Museum(stores, settings))
    if not no_serve:
        serve(settings)


def _whole_job(museum: Museum) -> None:
    said = _("Judging the works (the first time the calculation is compiled: half a minute)")
    click.echo(f"\n{said}")
    follow_up_all(museum)
    click.echo("")
    for line in round_text(museum_round(museum), museum.zone):
        click.echo(line)
    many = len(open_lines(museum))
    said = _("Open notices: {many}", many=many)
    click.echo(f"\n{said} (stilltaut notices --data …)")
    folder = museum.settings.data_dir / "weeks"
    for room in museum.rooms():
        if week := museum.week_of_room(room.room):
            path = write_week(museum, room.room, week, folder / f"{room.room}-{week}.svg")
            click.echo(_("Week chart: {file}", file=path))
