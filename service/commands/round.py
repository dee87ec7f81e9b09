"""``stilltaut round``: the four lists, with reasons."""

import json
from pathlib import Path

import click

from analysis.results import Judgement, Listing
from service.answers.museum import Museum
from service.answers.round_text import round_text
from service.notices.told_judgement import as_plain
from service.settings import load_settings
from service.storage.stores import Stores


@click.command()
@click.option("--data", type=click.Path(path_type=Path), help="Folder of the stores.")
@click.option("--room", help="Limit the lists to one room.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def command(data: Path | None, room: str | None, as_json: bool) -> int:
    """Print the four lists. Exit code 1: a work is to be looked at first."""
    settings = load_settings().with_changes(data_dir=data)
    with Stores.open(settings, create=False) as stores:
        museum = Museum(stores, settings)
        now = museum.as_of()
        if now is None:
            click.echo("No readings yet: add a logger's file first (stilltaut add).")
            return 1
        rooms = [museum.room(room)] if room else list(museum.rooms())
        judged = {r.name: museum.judgements(r.room, now) for r in rooms}
        if as_json:
            plain = {
                name: [as_plain(j, museum.zone) for j in many] for name, many in judged.items()
            }
            click.echo(json.dumps({"at_utc": now.isoformat(), "rooms": plain}, indent=2))
        else:
            click.echo("\n".join(round_text(judged, now, museum.zone)))
    return int(any(_needed(j) for many in judged.values() for j in many))


def _needed(judgement: Judgement) -> bool:
    return judgement.listing is Listing.LOOK_FIRST
