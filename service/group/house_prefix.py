"""A house's pages under an address of their own: ``/houses/NAME/…``.

The house itself is served as if it were alone, at ``/``. What comes in loses the prefix here; what
goes out gets it: addresses in the attributes of a page, and where a browser is sent on to. Styles,
fonts and scripts are the same for all houses and stay where they are.
"""

import re
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from dashboards.links import HOUSES, houses

SHARED = ("/static/", f"{HOUSES}/")
ADDRESS = re.compile(
    rb'(\s(?:href|src|action|formaction|data-(?:home|part|values|worker))=")(/(?!/)[^"]*)'
)
PATH = re.compile(rf"{HOUSES}/([^/]+)(/.*)?")


def house_and_path(path: str) -> tuple[str, str] | None:
    """Return the house that an address names and the address within it, or None.

    Examples
    --------
    >>> house_and_path("/houses/north/works/17"), house_and_path("/houses/north")
    (('north', '/works/17'), ('north', ''))
    >>> house_and_path("/houses") is None
    True
    """
    found = PATH.fullmatch(path)
    return (found[1], found[2] or "") if found else None


def under(prefix: str, address: str) -> str:
    """Return an address of a house as it stands under its prefix.

    Examples
    --------
    >>> under("/houses/north", "/works"), under("/houses/north", "/static/app.css")
    ('/houses/north/works', '/static/app.css')
    >>> under("/houses/north", "/houses"), under("/houses/north", "https://elsewhere.example/")
    ('/houses', 'https://elsewhere.example/')
    """
    own = address.startswith("/") and not address.startswith("//")
    shared = address == HOUSES or address.startswith(SHARED)
    return prefix + address if own and not shared else address


class UnderPrefix:
    """ASGI wrapper: serves a house's application under its name.

    Parameters
    ----------
    app : ASGIApp
        The house, which knows nothing of it.
    name : str
        The house's name.
    """

    def __init__(self, app: ASGIApp, name: str) -> None:
        self._app, self._prefix = app, houses(name).rstrip("/")

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on without the prefix, and its answer with it."""
        within = scope["path"].removeprefix(self._prefix)
        inner = {
            **scope,
            "path": within,
            "raw_path": scope.get("raw_path", b"").removeprefix(self._prefix.encode()),
            "app_root_path": self._prefix,
            # A page is written into here, so that it must not be packed yet.
            "headers": [one for one in scope["headers"] if one[0] != b"accept-encoding"],
        }
        await self._app(inner, receive, _Answer(self._prefix, scope, send).send)


class _Answer:
    """One answer on its way out; a page is held until it is whole."""

    def __init__(self, prefix: str, scope: Scope, send: Send) -> None:
        self._prefix, self._send = prefix, send
        self._here = f"{scope['scheme']}://{Headers(scope=scope).get('host', '')}"
        self._head: Message | None = None
        self._body = b""

    async def send(self, message: Message) -> None:
        """Take a part of the answer; send it on once it can be sent."""
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            if "location" in headers:
                headers["location"] = self._sent_on(headers["location"])
            if headers.get("content-type", "").startswith("text/html"):
                self._head = message
                return
        elif self._head is not None:
            self._body += message.get("body", b"")
            if not message.get("more_body", False):
                await self._send_page(self._head)
            return
        await self._send(message)

    async def _send_page(self, head: Message) -> None:
        body = ADDRESS.sub(self._prefixed, self._body)
        headers = MutableHeaders(scope=head)
        if body:
            headers["content-length"] = str(len(body))
        else:
            del headers["content-length"]
        await self._send(head)
        await self._send({"type": "http.response.body", "body": body})

    def _prefixed(self, found: re.Match[bytes]) -> bytes:
        return found[1] + under(self._prefix, found[2].decode()).encode()

    def _sent_on(self, location: str) -> str:
        """Return where a browser is sent on to, be it named in full."""
        within = location.removeprefix(self._here) if _is_full(location) else location
        return under(self._prefix, within)


def _is_full(location: str) -> bool:
    return bool(urlsplit(location).netloc)
