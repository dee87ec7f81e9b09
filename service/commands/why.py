"""``stilltaut why``: the chain behind one work at one hour."""

import json
from pathlib import Path

import click

from dashboards.text import wording
from dashboards.text.messages import _
from dashboards.text.reasons import account, account_words, few_draws_words, reason_text
from service.answers.museum import Museum
from service.answers.reasons import Reasons, as_json, hour_asked, reasons
from service.commands.clock_option import as_if_option
from service.settings import load_settings
from service.site_locale import opened_stores


@click.command()
@click.argument("work_id", metavar="WORK")
@click.option("--at", help="Hour, in the site's zone: 2026-03-20T14:00; default: now.")
@click.option("--json", "as_plain", is_flag=True, help="Print one JSON object.")
@as_if_option
@click.option("--data", type=click.Path(path_type=Path), help="Folder of the stores.")
def command(
    work_id: str, at: str | None, as_plain: bool, as_if: str | None, data: Path | None
) -> int:
    """Why WORK is as it is: room, frame, print, tension, surface, and what decides each most.

    Exit code 1: nothing can be told of that hour, or nothing rests on it; the answer says why.
    """
    settings = load_settings().with_changes(data_dir=data, as_if=as_if)
    with opened_stores(settings, create=False) as stores:
        museum = Museum(stores, settings)
        zone = museum.zone
        explained = reasons(museum, work_id, hour_asked(at, zone) if at else None)
        if as_plain:
            click.echo(json.dumps(as_json(explained), indent=2, ensure_ascii=False))
        else:
            _say(explained, zone)
    return int(explained.chain is None or bool(explained.chain.refused))


def _say(explained: Reasons, zone: str) -> None:
    at = wording.date_time(explained.at_utc, zone)
    title = f"{explained.work.title}, {explained.work.work_id}"
    click.echo(_("{title}: why, at {time}", title=title, time=at))
    click.echo(explained.answer)
    if explained.mend:
        click.echo(explained.mend)
    if explained.chain is None:
        return
    click.echo("\n".join(reason_text(explained.chain)))
    if few := few_draws_words(explained.chain):
        click.echo(few)
    if (table := account(explained.chain)) is not None:
        click.echo(account_words(explained.chain))
        click.echo(_("since mounting ({caption})", caption=table.caption))
        for words, across, along in table.rows:
            said = _("{across} across the grain, {along} along it", across=across, along=along)
            click.echo(f"  {words}: {said}")
