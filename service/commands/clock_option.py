"""The option by which a command answers for a declared time."""

import click

from dashboards.text.messages import N_

KEY = "service.commands.as_if"
HELP = N_("Answer as if it were TIME (ISO; the site's zone without an offset).")

as_if_option = click.option("--as-if", metavar="TIME", help=HELP)


def _remember(context: click.Context, _option: click.Parameter, value: str | None) -> None:
    context.meta[KEY] = value


# For commands whose museum is opened by a function of their own: see `as_if_given`.
remembered_as_if_option = click.option(
    "--as-if", metavar="TIME", help=HELP, expose_value=False, callback=_remember
)


def as_if_given() -> str | None:
    """Return the time given to the command that runs now, or None."""
    value: str | None = click.get_current_context().meta.get(KEY)
    return value
