"""``stilltaut classes``: what works teach each other, renewed, written, read, switched."""

from pathlib import Path

import click

from dashboards.text.messages import _
from service.answers.classes import classes_page
from service.answers.museum import Museum
from service.commands.clock_option import as_if_option
from service.estimates.class_renewal import read_summaries, renew, write_summaries
from service.settings import load_settings
from service.site_locale import opened_stores
from service.storage import class_knowledge


@click.command()
@click.option("--renew", "renews", is_flag=True, help="Pool what is measured now.")
@click.option("--write", type=click.Path(path_type=Path), help="Write the summaries to a file.")
@click.option("--name", default="", help="Name of this museum in that file.")
@click.option("--read", type=click.Path(path_type=Path), help="Begin with another museum's file.")
@click.option("--on/--off", "on", default=None, help="Let works teach each other, or not.")
@click.option("--by", default="command", show_default=True, help="Who does it, for the record.")
@click.option("--data", type=click.Path(path_type=Path), help="Folder of the stores.")
@as_if_option
def command(
    renews: bool,
    write: Path | None,
    name: str,
    read: Path | None,
    on: bool | None,
    by: str,
    data: Path | None,
    as_if: str | None,
) -> int:
    """Say what was measured of some works and narrows it for others of their kind.

    A file that is written names no work; another museum reads it as a prior with its name and date.
    """
    settings = load_settings().with_changes(data_dir=data, as_if=as_if)
    with opened_stores(settings, create=False) as stores:
        museum = Museum(stores, settings)
        if on is not None:
            class_knowledge.switch(stores.register, on, by=by, at_utc=museum.clock())
        if read is not None:
            prior = read_summaries(stores, read, by=by, at_utc=museum.clock())
            many = len(prior.summaries)
            click.echo(
                _(
                    "Read: {many} ranges of {name}, {date}.",
                    many=many,
                    name=prior.name,
                    date=prior.date,
                )
            )
        if renews or read is not None:
            renew(stores, museum.clock(), by=by)
        if write is not None:
            write_summaries(stores, write, name or museum.site.name)
            click.echo(_("Written: {file}", file=write))
        _say(museum)
    return 0


def _say(museum: Museum) -> None:
    page = classes_page(museum)
    click.echo(page.answer)
    for row in page.table.rows if page.table else ():
        usual = _("usual {range}; measured of {works}", range=row[2], works=row[4])
        click.echo(f"  {row[0]} ({row[1]}): {row[3]}; {usual}")
    for note in page.notes:
        click.echo(note)
