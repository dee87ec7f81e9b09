"""Serving the pages: one process, or several of one house under one that watches them."""

import os
import tempfile
from typing import Any

from fastapi import FastAPI

from service.engine.engines import shared_engine
from service.importing import nothing_thrown_away
from service.log_lines import begin_logging
from service.settings import Settings, load_settings
from service.web.senders import server_options

FIGURES_IN = "PROMETHEUS_MULTIPROC_DIR"  # where the processes' figures meet, by that library


def app_of_this_process() -> FastAPI:
    """Return the application by the settings of the environment: each worker makes its own."""
    with nothing_thrown_away():
        from service.web.app import create_app

    settings = load_settings()
    begin_logging(settings.log)
    return create_app(settings)


def run(settings: Settings, app: str) -> None:
    """Serve an application until stopped: requests and the job in hand are finished first."""
    import uvicorn

    begin_logging(settings.log)
    if settings.workers > 1:
        settings = settings.with_changes(engine=shared_engine(settings))
    os.environ.update(settings.as_environment())
    with tempfile.TemporaryDirectory(prefix="stilltaut-figures-") as figures:
        if settings.workers > 1:
            os.environ[FIGURES_IN] = figures
        uvicorn.run(app, factory=True, **_options(settings))


def _options(settings: Settings) -> dict[str, Any]:
    return {
        "host": settings.host,
        "port": settings.port,
        "workers": settings.workers,
        "log_config": None,
        "access_log": False,
        "proxy_headers": bool(settings.proxy),
        "forwarded_allow_ips": settings.proxy or None,
        "ssl_certfile": settings.tls_cert or None,
        "ssl_keyfile": settings.tls_key or None,
        **server_options(),
    }
