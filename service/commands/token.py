"""``stilltaut token``: what a gateway shows to send one logger's readings."""

from pathlib import Path

import click

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
            click.echo(f"token {made.number} for {logger_id}, not to be seen again:\n{text}")
        elif revoke is not None:
            click.echo(f"token {revoke_token(stores.register, revoke, by=by).number} is revoked.")
        else:
            for one in tokens(stores.register):
                state = "revoked" if one.revoked_utc else f"{one.per_hour} an hour"
                click.echo(f"{one.number}  {one.logger}  {state}  made {one.made_utc.date()}")
    return 0
