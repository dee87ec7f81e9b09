"""A group of houses as one web application: the group's own pages, and each house's under its name.

People sign in once, at the group, whose register holds their accounts. What they may do in a house
stands in that house's own register: the account that is let in there and has the same e-mail
address. Who has an account in a house alone signs in at that house's own address.
"""

import contextlib
from collections.abc import AsyncIterator
from datetime import timedelta

from fastapi import APIRouter, FastAPI
from fastapi.staticfiles import StaticFiles
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse
from starlette.types import Receive, Scope, Send

from dashboards.links import houses as address_of
from service.answers.museum import Museum
from service.group import group_pages
from service.group.house_prefix import house_and_path
from service.group.houses_served import HousesServed
from service.log_lines import begin_logging
from service.settings import Settings, load_settings
from service.storage.accounts.sessions import session_user
from service.storage.durable import make_folder
from service.storage.stores import Stores
from service.web.app import made_ready, pass_every_request_through
from service.web.drawn_pages import DrawnPages
from service.web.routes import accounts, house_sign_in, sign_in
from service.web.visitors import (
    CHECKED,
    HOUSE,
    OPEN,
    SESSION,
    VOUCHED,
    Vouched,
    cookie_name,
    require_safe_settings,
)


class Group:
    """ASGI application: hands a request to the house it names, or to the group's own pages.

    Parameters
    ----------
    settings : Settings
        Of the group; its data folder holds the group's register and the houses' files.
    """

    def __init__(self, settings: Settings) -> None:
        require_safe_settings(settings)
        self.houses = HousesServed(settings)
        self.pages = _pages(settings, self.houses)
        self._settings = settings

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request."""
        found = house_and_path(scope["path"]) if scope["type"] == "http" else None
        if found is None:
            await self.pages({**scope, HOUSE: ""}, receive, send)
        elif not found[1]:
            await RedirectResponse(address_of(found[0]))(scope, receive, send)
        else:
            await self._in_house(*found, scope, receive, send)

    async def _in_house(
        self, name: str, within: str, scope: Scope, receive: Receive, send: Send
    ) -> None:
        house, vouched = self.houses.named(name), await run_in_threadpool(self._vouched, scope)
        own = {**scope, HOUSE: name, VOUCHED: vouched}
        if vouched and within == "/sign-out" and not _is_signed_in_there(own):
            await self.pages({**scope, HOUSE: "", "path": within}, receive, send)
        elif house is None or not house.is_open:
            await self.pages({**scope, HOUSE: ""}, receive, send)
        else:
            await house(own, receive, send)

    def _vouched(self, scope: Scope) -> Vouched | None:
        """Return who is signed in at the group, or None."""
        text = Request(scope).cookies.get(cookie_name(scope, SESSION), "")
        if not text or self._settings.access == OPEN:
            return None
        register = self.pages.state.museum.stores.register
        user = session_user(register, text, timedelta(hours=self._settings.signed_in_h))
        return Vouched(user.email, text) if user is not None and user.email.strip() else None


def _is_signed_in_there(scope: Scope) -> bool:
    """Tell whether a browser shows a session of the house itself."""
    return cookie_name(scope, SESSION) in Request(scope).cookies


def _pages(settings: Settings, houses: HousesServed) -> FastAPI:
    """Return the group's own pages: all houses, signing in, and who may."""

    @contextlib.asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        make_folder(settings.data_dir)
        with Stores.open(settings) as stores:
            app.state.museum, app.state.drawn = Museum(stores, settings), DrawnPages()
            houses.start()
            try:
                yield
            finally:
                houses.close()

    app = FastAPI(title="stilltaut", lifespan=lifespan, docs_url=None, redoc_url=None,
                  openapi_url=None)  # fmt: skip
    app.state.houses = houses
    app.mount("/static", StaticFiles(packages=[("dashboards", "static")]), name="static")
    router = APIRouter(dependencies=CHECKED)
    for own in (group_pages.pages, sign_in.router, house_sign_in.router, accounts.router):
        router.include_router(own, include_in_schema=False)
    app.router.routes.extend(made_ready(router))
    app.router.routes.extend(made_ready(group_pages.elsewhere))
    pass_every_request_through(app, settings)
    return app


def app_of_this_process() -> Group:
    """Return the group by the settings of the environment, as the server starts it."""
    settings = load_settings()
    begin_logging(settings.log)
    return Group(settings)
