"""``stilltaut account``: who may sign in, from the machine that serves."""

from pathlib import Path

import click

from dashboards.links import welcome
from dashboards.text.messages import _
from service.accounts import signing_in
from service.accounts.roles import Role
from service.accounts.second_factor import end_second_factor
from service.accounts.signing_in import account_name, add_user, link_for
from service.settings import load_settings
from service.site_locale import opened_stores
from service.storage.accounts.users import User, users

BY = "command line"


@click.command()
@click.option("--add", help="Make an account of this name.")
@click.option("--full-name", default="", help="How its person signs.")
@click.option(
    "--role",
    type=click.Choice([str(one) for one in Role]),
    default=str(Role.LOOK),
    help="What it may.",
)
@click.option("--reset", help="Make a link by which this account chooses a new password.")
@click.option("--without-code", help="Ask this account for no code of a generator any more.")
@click.option("--erase", help="Take the person of this closed account out of the register.")
@click.option("--data", "data_dir", type=click.Path(path_type=Path), help="Folder of the stores.")
def command(
    add: str | None,
    full_name: str,
    role: str,
    reset: str | None,
    without_code: str | None,
    erase: str | None,
    data_dir: Path | None,
) -> int:
    """List who may sign in, or make the link by which somebody chooses a password.

    Whoever may use this command on the machine that serves can always get in again.
    """
    settings = load_settings().with_changes(data_dir=data_dir)
    home = (settings.base_url or f"http://{settings.host}:{settings.port}").rstrip("/")
    with opened_stores(settings, create=False) as stores:
        register = stores.register
        if add is not None:
            link = add_user(register, User(add, full_name or add, role), by=BY)
            _tell_link(account_name(add), home + welcome(link))
        elif reset is not None:
            link = link_for(register, account_name(reset), by=BY)
            _tell_link(account_name(reset), home + welcome(link))
        elif without_code is not None:
            end_second_factor(register, account_name(without_code), by=BY)
            name = account_name(without_code)
            click.echo(_("{name} signs in without a code.", name=name))
        elif erase is not None:
            signing_in.erase(register, account_name(erase), by=BY)
            click.echo(_("{name} is taken out.", name=account_name(erase)))
        else:
            for one in users(register):
                state = _("may {role}", role=one.role) if one.active else _("is not let in")
                click.echo(f"{one.user}  {one.full_name}  {state}")
    return 0


def _tell_link(name: str, address: str) -> None:
    click.echo(_("for {name}, once, within 24 hours:", name=name))
    click.echo(address)
