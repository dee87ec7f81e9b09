"""``stilltaut measure``: what to measure next, one ranked list for the house."""

from pathlib import Path

import click

from analysis.answers.measuring import leading
from dashboards.pages.measure_page import line
from dashboards.text.measure_text import NOTES, answer_words
from dashboards.text.messages import _
from service.answers.measuring import measure_next, room_names
from service.answers.museum import Museum
from service.commands.clock_option import as_if_option
from service.settings import load_settings
from service.site_locale import opened_stores


@click.command()
@click.option("--first", default=10, show_default=True, help="How many acts to list.")
@click.option("--data", type=click.Path(path_type=Path), help="Folder of the stores.")
@as_if_option
def command(first: int, data: Path | None, as_if: str | None) -> int:
    """Rank what to measure next: what settles most open answers for a person's time, first.

    Exit code 0, also where nothing would settle anything.
    """
    settings = load_settings().with_changes(data_dir=data, as_if=as_if)
    with opened_stores(settings, create=False) as stores:
        museum = Museum(stores, settings)
        found, rooms = measure_next(museum), room_names(museum)
        click.echo(answer_words(found, rooms))
        for one in (line(act, rooms) for act in leading(found, first)):
            click.echo(f"  {one.act}: {one.where}")
            said = _(
                "settles {many} in {time}, {rate} a quarter hour",
                many=one.settles,
                time=one.minutes,
                rate=one.per_quarter,
            )
            click.echo(f"    {said}")
        for note in NOTES:
            click.echo(_(note))
    return 0
