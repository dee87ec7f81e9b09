"""``stilltaut token``: what a gateway shows to send one logger's readings."""

from pathlib import Path

import click

from dashboards.text.messages import _
from service.settings import load_settings
from service.site_locale import opened_stores
from service.storage.tokens import PER_HOUR, make_token, revoke_token, tokens


@click.command()
@click.option("--logger", "logger_id", help="Make a token for this logger and print it, once.")
@click.option("--per-hour", default=PER_HOUR, help="Batches an hour that it lets in.")
@click.option("--revoke", type=int, help="Let the token of this number count no more.")
@click.option("--by", default="command line", help="Who does it, for the audit trail.")
@click.option("--data", "data_dir", type=click.Path(path_type=Path), help="Folder of the stores.")
def command(
    logger_id: str | None, per_hour: int, revoke: int | None, by: str, data_dir: Path | None
) -> int:
    """Make or revoke a gateway's token, or list those there are.

    A token is shown once, when it is made; only a hash of it is kept.
    """
    settings = load_settings().with_changes(data_dir=data_dir)
    with opened_stores(settings, create=False) as stores:
        if logger_id is not None:
            made, text = make_token(stores.register, logger_id, by=by, per_hour=per_hour)
            said = _(
                "token {number} for {logger}, not to be seen again:",
                number=made.number,
                logger=logger_id,
            )
            click.echo(f"{said}\n{text}")
        elif revoke is not None:
            ended = revoke_token(stores.register, revoke, by=by)
            click.echo(_("token {number} is revoked.", number=ended.number))
        else:
            for one in tokens(stores.register):
                state = _("revoked") if one.revoked_utc else _("{many} an hour", many=one.per_hour)
                made_on = _("made {date}", date=one.made_utc.date())
                click.echo(f"{one.number}  {one.logger}  {state}  {made_on}")
    return 0
