"""``stilltaut serve``: serve the pages."""

from pathlib import Path

import click

from dashboards.links import welcome
from dashboards.text.messages import _
from service.accounts.signing_in import first_link
from service.commands.clock_option import as_if_option
from service.commands.engine_option import engine_option
from service.settings import Settings, load_settings
from service.storage.stores import Stores

HOUSE_APP = "service.web.serving:app_of_this_process"


@click.command()
@click.option("--data", type=click.Path(path_type=Path), help="Folder of the stores.")
@click.option("--host", help="Address to listen on.")
@click.option("--port", type=int, help="Port to listen on.")
@click.option("--workers", type=click.IntRange(1, 32), help="Processes that serve them.")
@engine_option
@as_if_option
def command(
    data: Path | None,
    host: str | None,
    port: int | None,
    workers: int | None,
    engine: str | None,
    as_if: str | None,
) -> None:
    """Serve the pages and the JSON interface until stopped with Ctrl-C."""
    settings = load_settings().with_changes(data_dir=data, host=host, port=port, workers=workers)
    serve(settings.with_changes(engine=engine, as_if=as_if))


def serve(settings: Settings) -> None:
    """Serve a museum's pages."""
    serve_as(settings, HOUSE_APP)


def serve_as(settings: Settings, app: str) -> None:
    """Serve an application, named by module and factory; say where, and how to come in first."""
    from service.web.serving import run
    from service.web.visitors import SIGN_IN, require_safe_settings

    require_safe_settings(settings)
    scheme = "https" if settings.tls_cert else "http"
    address = f"{scheme}://{settings.host}:{settings.port}"
    if settings.access == SIGN_IN:
        with Stores.open(settings) as stores:
            if link := first_link(stores.register):
                home = (settings.base_url or address).rstrip("/")
                click.echo(_("Nobody administers this service yet."))
                click.echo(_("Open this address once, within 24 hours, and choose a password:"))
                click.echo(f"{home}{welcome(link)}")
    click.echo(_("Pages at {address} (stop with Ctrl-C)", address=address))
    run(settings, app)
