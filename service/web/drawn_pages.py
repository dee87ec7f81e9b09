"""Pages that many read: drawn once while nothing has changed, whoever asks.

What differs from one reader to another of the same role, the name and what forms send back, is put
into its places afterwards. A page rests on everything that the register has a number for, on the
notices that are open, and on the minute: no older one is ever shown. One that still holds is sent
without a thread of its own, and without asking the register more than whether it is as it was.
"""

import secrets
from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, replace
from http import HTTPStatus
from typing import Annotated, cast

from fastapi import Depends, Request
from fastapi.responses import Response
from markupsafe import escape
from starlette.datastructures import Headers
from starlette.types import ASGIApp, Receive, Scope, Send

from dashboards.render import Page, page_html, units_unbroken
from dashboards.text.messages import way
from dashboards.visitor import Visitor, needs_nothing, visited_by, visitor
from service.answers.cache import AnswerCache
from service.answers.museum import Museum
from service.storage.notices import OPEN_NOTICES, mark_of_open
from service.storage.versions import NUMBERS, Stamp
from service.web.page_pieces import PagePieces
from service.web.unchanged import LEAST_BYTES, is_held

MOST_BYTES = 32 * 2**20
MOST_ADDRESSES = 1000
MINUTE_S = 60
HTML, JSON = "text/html; charset=utf-8", "application/json"
NAME, TOKEN = "name", "token"
Address = tuple[str, bytes]  # path and query
_asked: ContextVar[Address | None] = ContextVar("address that was asked", default=None)


@dataclass(frozen=True)
class _Place:
    """Where a page is kept: which it is, and for whom, in which way of words."""

    name: Hashable
    way: str
    reader: Visitor


class NotYetError(Exception):
    """A page that lacks what is still being worked out: shown as it is, and not kept."""

    def __init__(self, page: Page) -> None:
        super().__init__()
        self.page = page


class DrawnPages:
    """The pages of one house as they were drawn last, for each role."""

    def __init__(self) -> None:
        self._pages = AnswerCache(MOST_BYTES)
        self._names: OrderedDict[tuple[Address, str, Visitor], Hashable] = OrderedDict()
        # What nobody who writes into the register can know stands where a reader's own goes.
        self._name, self._token = secrets.token_hex(16), secrets.token_hex(16)

    def shown(self, museum: Museum, name: Hashable, make: Callable[[], Page]) -> Response:
        """Return a page as a response; ``name`` tells which, whoever asks and by what address."""
        return self._sent(museum, name, lambda: page_html(make()), HTML)

    def told(self, museum: Museum, name: Hashable, make: Callable[[], str]) -> Response:
        """Return JSON as a response, as `shown` does a page."""
        return self._sent(museum, name, make, JSON)

    def at_hand(self, museum: Museum, address: Address) -> PagePieces | None:
        """Return the page of an address for who asks, where it still holds; waits for nothing."""
        place = (address, way(), self._anybody())
        name = self._names.get(place)
        stamp = None if name is None else _at_hand(museum)
        if stamp is None:
            return None
        found = self._pages.at_hand(_Place(name, *place[1:]), stamp)
        return cast(PagePieces | None, found)

    def _sent(
        self, museum: Museum, name: Hashable, make: Callable[[], str], media: str
    ) -> Response:
        anybody = self._anybody()

        def drawn() -> PagePieces:
            with visited_by(replace(anybody, needs=visitor().needs)):
                return PagePieces.of(make(), {self._name: NAME, self._token: TOKEN}, media)

        place = _Place(name, way(), anybody)
        pieces = self._pages.get(place, _rests_on(museum), drawn)
        if address := _asked.get():
            self._names[(address, place.way, anybody)] = name
            while len(self._names) > MOST_ADDRESSES:
                self._names.popitem(last=False)
        own = readers_own(visitor())
        headers = {"ETag": pieces.mark_of(own), "Content-Type": media}
        return Response(pieces.body(own), headers=headers)

    def _anybody(self) -> Visitor:
        """Return a reader of the same role; what one may use hangs on the role alone."""
        reader = visitor()
        return replace(
            reader,
            account=self._name if reader.account else "",
            name=self._name if reader.name else "",
            form_token=self._token if reader.form_token else "",
            needs=needs_nothing,
        )


def readers_own(reader: Visitor) -> Mapping[str, str]:
    """Return what stands on a page for one reader alone."""
    return {NAME: str(escape(units_unbroken(reader.name))), TOKEN: reader.form_token}


def _rests_on(museum: Museum) -> Stamp:
    """Return what a page rests on; equal means that it would be drawn the same."""
    minute = int(museum.clock().timestamp() // MINUTE_S)
    return (*museum.versions().whole(), (mark_of_open(museum.stores.register), minute))


def _at_hand(museum: Museum) -> Stamp | None:
    """Return what a page rests on where nobody need be waited for to know it, else None."""
    register = museum.stores.register
    known = register.knows(NUMBERS) and register.knows(OPEN_NOTICES)
    return _rests_on(museum) if known else None


class AsDrawn:
    """ASGI middleware: sends a page that still holds as it was drawn."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request from what was drawn, or pass it on."""
        if scope["type"] != "http" or scope["method"] != "GET":
            await self._app(scope, receive, send)
            return
        address, state = (scope["path"], scope["query_string"]), scope["app"].state
        found = state.drawn.at_hand(state.museum, address)
        if found is not None:
            await _answer(found, Headers(scope=scope))(scope, receive, send)
            return
        with _asked_for(address):
            await self._app(scope, receive, send)


@contextmanager
def _asked_for(address: Address) -> Iterator[None]:
    """Let what is drawn within be known by its address."""
    token = _asked.set(address)
    try:
        yield
    finally:
        _asked.reset(token)


def _answer(page: PagePieces, asked: Headers) -> Response:
    """Return a page for who asks: that it is as they have it, or all of it."""
    own = readers_own(visitor())
    headers = {"ETag": page.mark_of(own)}
    if is_held(headers["ETag"], asked.get("if-none-match", "")):
        return Response(status_code=HTTPStatus.NOT_MODIFIED, headers=headers)
    headers["Content-Type"] = page.media
    if "gzip" not in asked.get("accept-encoding", ""):
        return Response(page.body(own), headers=headers)
    body = page.gzipped(own)
    if len(body) >= LEAST_BYTES:
        headers |= {"Content-Encoding": "gzip", "Vary": "Accept-Encoding"}
        return Response(body, headers=headers)
    return Response(page.body(own), headers=headers)


def _drawn_pages(request: Request) -> DrawnPages:
    drawn: DrawnPages = request.app.state.drawn
    return drawn


DrawnDep = Annotated[DrawnPages, Depends(_drawn_pages)]
