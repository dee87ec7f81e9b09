"""``stilltaut serve``: serve the pages."""

from pathlib import Path

import click

from service.commands.clock_option import as_if_option
from service.settings import Settings, load_settings


@click.command()
@click.option("--data", type=click.Path(path_type=Path), help="Folder of the stores.")
@click.option("--host", help="Address to listen on.")
@click.option("--port", type=int, help="Port to listen on.")
@as_if_option
def command(data: Path | None, host: str | None, port: int | None, as_if: str | None) -> None:
    """Serve the pages and the JSON interface until stopped with Ctrl-C."""
    serve(load_settings().with_changes(data_dir=data, host=host, port=port, as_if=as_if))


def serve(settings: Settings) -> None:
    """Serve a museum's pages."""
    import uvicorn

    from service.web.app import create_app

    click.echo(f"Pages at http://{settings.host}:{settings.port} (stop with Ctrl-C)")
    uvicorn.run(
        create_app(settings),
        host=settings.host,
        port=settings.port,
        log_level="warning",
        proxy_headers=bool(settings.proxy),
        forwarded_allow_ips=settings.proxy or None,
    )
