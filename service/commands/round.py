"""``stilltaut round``: the four lists, with reasons."""

import json
from pathlib import Path

import click

from analysis.results import Judgement, Listing
from service.answers.museum import Museum
from service.answers.rounds import museum_round, round_json, round_text
from service.commands.clock_option import as_if_option
from service.commands.engine_option import engine_option, says_how_far
from service.settings import load_settings
from service.site_locale import opened_stores


@click.command()
@click.option("--data", type=click.Path(path_type=Path), help="Folder of the stores.")
@click.option("--room", help="Limit the lists to one room.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@engine_option
@as_if_option
def command(
    data: Path | None, room: str | None, as_json: bool, engine: str | None, as_if: str | None
) -> int:
    """Print the lists. Exit code 1: a work is to be looked at first."""
    settings = load_settings().with_changes(data_dir=data, engine=engine, as_if=as_if)
    with opened_stores(settings, create=False) as stores:
        museum = Museum(stores, settings)
        tell = _tell if says_how_far(settings.engine) else None
        found = museum_round(museum, room, tell=tell)
        if as_json:
            click.echo(json.dumps(round_json(found, museum.zone), indent=2, ensure_ascii=False))
        else:
            click.echo("\n".join(round_text(found, museum.zone)))
    return int(any(_needed(judgement) for judgement in found.judgements))


def _tell(words: str) -> None:
    click.echo(words, err=True)


def _needed(judgement: Judgement) -> bool:
    return judgement.listing is Listing.LOOK_FIRST
