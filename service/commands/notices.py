"""``stilltaut notices``: the open notices, newest first."""

import json
from pathlib import Path

import click

from service.notices.lines import as_json
from service.notices.listing import notices_text
from service.notices.sending import mail_server, send_due
from service.settings import Settings, load_settings
from service.storage import places
from service.storage.notices import open_notices
from service.storage.register import Register
from service.storage.stores import Stores


@click.command()
@click.option("--data", type=click.Path(path_type=Path), help="Folder of the stores.")
@click.option("--json", "as_object", is_flag=True, help="Print one JSON object.")
@click.option("--send", is_flag=True, help="First send the letters that wait in the outbox.")
def command(data: Path | None, as_object: bool, send: bool) -> int:
    """List the open notices, newest first.

    The exit code is 1 while a notice is open that nobody has seen, or a letter could not be sent.
    """
    settings = load_settings().with_changes(data_dir=data)
    with Stores.open(settings, create=False) as stores:
        unsent = send and not _sent(stores.register, settings)
        click.echo(_object(stores.register) if as_object else notices_text(stores.register))
        unseen = any(not notice.seen_by for notice in open_notices(stores.register))
    return int(unseen or unsent)


def _sent(register: Register, settings: Settings) -> bool:
    server = mail_server(settings)
    if server is None:
        click.echo("No mail server is set (STILLTAUT_SMTP_HOST); nothing was sent.", err=True)
        return False
    outcome = send_due(register, server)
    click.echo(f"Letters sent: {outcome.sent}; waiting: {outcome.waiting}.", err=True)
    return not outcome.last_error


def _object(register: Register) -> str:
    names = {room.room: room.name for room in places.rooms(register)}
    told = [as_json(notice, names[notice.room]) for notice in open_notices(register)]
    return json.dumps({"open": told}, indent=2, ensure_ascii=False)
