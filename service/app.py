"""The web application: `create_app(settings)`; importing this reads nothing and opens nothing."""

import asyncio
import contextlib
from collections.abc import AsyncIterator

from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles

from service.jobs import Jobs
from service.museum import Museum
from service.notices.outbox import mail_server, send_due
from service.problems import install_problem_pages
from service.routes import (
    air,
    api,
    bring_in,
    guides,
    inspections,
    notices,
    planning,
    rooms,
    week,
    works,
)
from service.settings import Settings
from service.storage.stores import Stores
from service.uploads import finish_received

SEND_EVERY_S = 30.0


def create_app(settings: Settings) -> FastAPI:
    """Return the application for one museum's stores."""

    @contextlib.asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        with Stores.open(settings) as stores:
            finish_received(stores)
            app.state.museum = Museum(stores, settings)
            app.state.jobs = Jobs()
            sender = asyncio.create_task(_send_letters(app.state.museum))
            try:
                yield
            finally:
                sender.cancel()
                with contextlib.suppress(asyncio.CancelledError):
                    await sender
                app.state.jobs.close()

    app = FastAPI(
        title="stilltaut",
        description="Is it still taut? From room air to an answer for each work.",
        lifespan=lifespan,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
    )
    app.mount("/static", StaticFiles(packages=[("dashboards", "static")]), name="static")
    for pages in (week, rooms, works, inspections, bring_in, notices, air, planning, guides):
        app.include_router(pages.router, include_in_schema=False)
    app.include_router(api.router)
    install_problem_pages(app)
    return app


async def _send_letters(museum: Museum) -> None:
    """Send waiting letters now and then; a server that is down is tried again later."""
    server = mail_server(museum.settings)
    while server is not None:
        await asyncio.to_thread(send_due, museum.stores.register, server)
        await asyncio.sleep(SEND_EVERY_S)
