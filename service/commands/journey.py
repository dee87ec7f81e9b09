"""``stilltaut journey``: what a work went through in crates and other houses."""

import json
from pathlib import Path

import click

from service.answers.museum import Museum
from service.commands.clock_option import as_if_option
from service.reports.journey_json import journey_lines, journeys_json
from service.settings import load_settings
from service.site_locale import opened_stores


@click.command()
@click.argument("work_id", metavar="WORK")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON list, newest first.")
@as_if_option
@click.option("--data", type=click.Path(path_type=Path), help="Folder of the stores.")
def command(work_id: str, as_json: bool, as_if: str | None, data: Path | None) -> None:
    """Tell what WORK went through in crates and other houses, and what nobody measured."""
    settings = load_settings().with_changes(data_dir=data, as_if=as_if)
    with opened_stores(settings, create=False) as stores:
        museum = Museum(stores, settings)
        if as_json:
            told = journeys_json(museum, work_id)
            click.echo(json.dumps(told, indent=2, ensure_ascii=False))
        else:
            click.echo("\n".join(journey_lines(museum, work_id)))
