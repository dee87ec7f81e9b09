"""``stilltaut due``: once, what the service does by the clock; for cron."""

from pathlib import Path

import click

from dashboards.text.messages import _
from service.answers.museum import Museum
from service.commands.clock_option import as_if_option
from service.notices.due import Done, do_what_is_due
from service.settings import load_settings
from service.site_locale import opened_stores


@click.command()
@click.option("--data", type=click.Path(path_type=Path), help="Folder of the stores.")
@as_if_option
def command(data: Path | None, as_if: str | None) -> int:
    """Raise and end notices by the clock, remind those who come next, send what waits.

    `stilltaut serve` does the same by itself while it runs; they never both do it at once. The
    exit code is 1 where a letter could not be sent.
    """
    settings = load_settings().with_changes(data_dir=data, as_if=as_if)
    with opened_stores(settings, create=False) as stores:
        return int(not do_and_say(Museum(stores, settings)))


def do_and_say(museum: Museum) -> bool:
    """Do what is due and say what was done; return whether all letters could be sent."""
    done = do_what_is_due(museum)
    for line in _lines(done):
        click.echo(line, err=True)
    return done.elsewhere or (done.sending is not None and not done.sending.last_error)


def _lines(done: Done) -> list[str]:
    if done.elsewhere:
        return [_("Another process is doing it at this moment.")]
    changes, sending = done.changes, done.sending
    lines = [
        _(
            "Notices opened: {opened}; ended: {ended}; reminders: {reminders}.",
            opened=len(changes.opened),
            ended=len(changes.ended),
            reminders=done.reminders,
        )
    ]
    if sending is None:
        return [*lines, _("No mail server is set (STILLTAUT_SMTP_HOST); nothing was sent.")]
    many = {"sent": sending.sent, "waiting": sending.waiting}
    lines.append(_("Letters sent: {sent}; waiting: {waiting}.", **many))
    if sending.last_error:
        lines.append(_("Not sent: {reason}.", reason=sending.last_error))
    return lines
