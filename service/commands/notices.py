"""``stilltaut notices``: the open notices, newest first."""

import json
from pathlib import Path

import click

from service.answers.museum import Museum
from service.commands.clock_option import as_if_option
from service.commands.due import do_and_say
from service.notices.lines import as_json, notices_text, room_names
from service.settings import load_settings
from service.site_locale import opened_stores
from service.storage.notices import open_notices
from service.storage.register import Register


@click.command()
@click.option("--data", type=click.Path(path_type=Path), help="Folder of the stores.")
@as_if_option
@click.option("--json", "as_object", is_flag=True, help="Print one JSON object.")
@click.option("--send", is_flag=True, help="First do what `stilltaut due` does.")
def command(data: Path | None, as_if: str | None, as_object: bool, send: bool) -> int:
    """List the open notices, newest first.

    The exit code is 1 while a notice is open that nobody has seen, or a letter could not be sent.
    """
    settings = load_settings().with_changes(data_dir=data, as_if=as_if)
    with opened_stores(settings, create=False) as stores:
        unsent = send and not do_and_say(Museum(stores, settings))
        click.echo(_object(stores.register) if as_object else notices_text(stores.register))
        unseen = any(notice.unseen for notice in open_notices(stores.register))
    return int(unseen or unsent)


def _object(register: Register) -> str:
    names = room_names(register)
    told = [as_json(notice, names[notice.room]) for notice in open_notices(register)]
    return json.dumps({"open": told}, indent=2, ensure_ascii=False)
