"""The option that says what judges many works, and how far a command says it is."""

import click

from dashboards.text.messages import N_
from service.engine.engines import DASK

KEY = "service.commands.engine"
HELP = N_(
    "What judges many works: threads; dask: processes of this machine; dask=ADDRESS: those of a "
    "scheduler, for example dask=tcp://host:8786."
)

engine_option = click.option("--engine", metavar="ENGINE", help=HELP)


def _remember(context: click.Context, _option: click.Parameter, value: str | None) -> None:
    context.meta[KEY] = value


# For commands whose museum is opened by a function of their own: see `engine_given`.
remembered_engine_option = click.option(
    "--engine", metavar="ENGINE", help=HELP, expose_value=False, callback=_remember
)


def engine_given() -> str | None:
    """Return the engine given to the command that runs now, or None."""
    value: str | None = click.get_current_context().meta.get(KEY)
    return value


def says_how_far(engine: str) -> bool:
    """Whether a command says which room is judged: where many processes are asked, it is long."""
    return engine.startswith(DASK)
