"""``stilltaut take-back``: take the readings of an upload back."""

import json
from pathlib import Path

import click

from dashboards.text.messages import _
from service.commands.clock_option import as_if_option
from service.intake.taking_back import as_json, take_back
from service.intake.taking_in import finish_received
from service.settings import load_settings
from service.site_locale import opened_stores


@click.command()
@click.argument("upload", type=int)
@click.option("--by", default="command line", help="Who does it, for the audit trail.")
@as_if_option
@click.option("--json", "json_wanted", is_flag=True, help="Print one JSON object.")
@click.option("--data", "data_dir", type=click.Path(path_type=Path), help="Folder of the stores.")
def command(
    upload: int, by: str, as_if: str | None, json_wanted: bool, data_dir: Path | None
) -> int:
    """Take the readings of UPLOAD back: the number that its receipt gave, all its sensors.

    The months are built anew from the originals that remain; the original itself stays.
    """
    settings = load_settings().with_changes(data_dir=data_dir, as_if=as_if)
    with opened_stores(settings, create=False) as stores:
        finish_received(stores)
        changes = take_back(stores, upload, by=by)
        # Only now: judging works loads far more than taking a file back.
        from service.answers.museum import Museum
        from service.notices.follow_up import follow_up_all

        follow_up_all(Museum(stores, settings))
    if json_wanted:
        click.echo(json.dumps(as_json(changes), ensure_ascii=False))
        return 0
    click.echo(
        _(
            "upload {number} ({name}) is taken back; its original stays.",
            number=upload,
            name=changes.upload.name,
        )
    )
    for name, words in changes.lines(done=True):
        click.echo(f"  {name}: {words}")
    return 0
