"""What every request passes first: the host it names, where it comes from, and what goes with it.

A page elsewhere must not be able to post a look or a file here, to frame these pages, or to have
them run its scripts; and nothing between here and the reader may keep a page that is private.
"""

from collections.abc import Iterable
from http import HTTPStatus
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.settings import Settings

LOOPBACK = ("127.0.0.1", "localhost", "::1")
READING = ("GET", "HEAD", "OPTIONS")
# Scripts and style sheets come from here alone; charts carry their styles as attributes.
POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "style-src-attr 'unsafe-inline'",
        "img-src 'self' data: blob:",
        "font-src 'self'",
        "connect-src 'self'",
        "worker-src 'self'",
        "manifest-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


def known_hosts(settings: Settings) -> frozenset[str]:
    """Return the names by which this service may be asked: its own, those set, the loopback's."""
    named = [name.strip().lower() for name in settings.allowed_hosts.split(",")]
    base = urlsplit(settings.base_url).hostname or ""
    return frozenset(filter(None, (*LOOPBACK, settings.host.lower(), base.lower(), *named)))


class Doors:
    """ASGI middleware: refuses foreign hosts and foreign posts, adds the headers.

    Parameters
    ----------
    app : ASGIApp
    hosts : iterable of str
        Names by which the service may be asked, without port.
    """

    def __init__(self, app: ASGIApp, hosts: Iterable[str]) -> None:
        self._app, self._hosts = app, frozenset(hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or answer it here."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        refused = self._refused(scope["method"], Headers(scope=scope))
        if refused is not None:
            status, words = refused
            await PlainTextResponse(words, status)(scope, receive, send)
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
                if not scope["path"].startswith("/static/"):
                    headers.setdefault("Cache-Control", "private, no-cache")
            await send(message)

        await self._app(scope, receive, with_headers)

    def _refused(self, method: str, headers: Headers) -> tuple[HTTPStatus, str] | None:
        host = _host_name(headers.get("host", ""))
        if host not in self._hosts:
            return HTTPStatus.MISDIRECTED_REQUEST, (
                f"This service is not known as “{host}”. Whoever runs it can name the host in "
                "STILLTAUT_ALLOWED_HOSTS.\n"
            )
        if method not in READING and _is_foreign(headers):
            return HTTPStatus.FORBIDDEN, (
                "This was sent from a page elsewhere, so nothing was stored. Open the form here "
                "and send it again.\n"
            )
        return None


def _host_name(host: str) -> str:
    """Return a Host header's name without its port, in small letters.

    Examples
    --------
    >>> _host_name("Museum.example:8000"), _host_name("[::1]:8000"), _host_name("")
    ('museum.example', '::1', '')
    """
    try:
        return urlsplit(f"//{host}").hostname or ""
    except ValueError:
        return ""


def _is_foreign(headers: Headers) -> bool:
    """Tell whether a browser says that a request was made by a page of another origin.

    A program that is no browser says nothing of the kind and carries no one's rights.
    """
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site not in ("same-origin", "none")
    origin = headers.get("origin")
    if origin is None:
        return False
    return urlsplit(origin).netloc.lower() != headers.get("host", "").lower()
