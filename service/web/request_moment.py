"""Requests are answered in the house's way of numbers and dates, from one moment of its register.

What was read of the register for the requests before is not read again while it is as it was
(`service.storage.moments`).
"""

from starlette.concurrency import run_in_threadpool
from starlette.types import ASGIApp, Receive, Scope, Send

from analysis.errors import StilltautError
from dashboards.text.messages import BRITISH, in_the_way_of
from service.answers.museum import Museum
from service.site_locale import site_locale
from service.storage.moments import Moment
from service.storage.places import SITES
from service.storage.register import Register
from service.storage.versions import NUMBERS


class RequestsInSiteLocale:
    """ASGI middleware: a request is answered in the house's way of numbers and dates.

    What only asks is answered from one moment of the register.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on; styles, fonts and scripts hold no words of ours."""
        if scope["type"] != "http" or scope["path"].startswith("/static/"):
            await self._app(scope, receive, send)
            return
        museum: Museum = scope["app"].state.museum
        if scope["method"] not in ("GET", "HEAD"):
            with in_the_way_of(await run_in_threadpool(_way, museum)):
                await self._app(scope, receive, send)
            return
        register = museum.stores.register
        with register.one_moment(await _moment(register)):
            known = register.knows(NUMBERS) and register.knows(SITES)
            way = _way(museum) if known else await run_in_threadpool(_way, museum)
            with in_the_way_of(way):
                await self._app(scope, receive, send)


async def _moment(register: Register) -> Moment:
    """Return the register's moment; a server elsewhere is asked beside the requests in hand."""
    state = register.state
    return state.moment() if state.at_hand else await run_in_threadpool(state.moment)


def _way(museum: Museum) -> str:
    """Return the site's way; a register that cannot be read is told of by the answer itself.

    The numbers of what has changed are read before anything else of a moment: nothing older can
    then be kept under them.
    """
    try:
        museum.versions()
        return site_locale(museum.stores.register)
    except StilltautError:
        return BRITISH
