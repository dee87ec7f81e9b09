"""A page that is as it was is not sent again: ETag and If-None-Match (RFC 9110, 8.8.3 and 13.1.2).

The browser asks each time, so that nobody sees an old page or one they may no longer see. What was
sent lately is compressed already for the next who asks.
"""

import gzip
import hashlib
from collections import OrderedDict
from http import HTTPStatus

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

KEPT, LEVEL, LEAST_BYTES = 32, 5, 1000
OURS = 'W/"'  # a file's own mark tells its size and time, which two may share
COMPRESSED = ("text/", "application/json", "image/svg")
Packed = OrderedDict[str, bytes]  # mark → compressed; used by the one thread that sends


class Unchanged:
    """Gives every whole answer to GET its mark, and answers 304 to who holds it already."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app
        self._packed: Packed = OrderedDict()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on; hold its answer's head back until its body is known."""
        if scope["type"] != "http" or scope["method"] not in ("GET", "HEAD"):
            await self._app(scope, receive, send)
            return
        asked = Headers(scope=scope)
        held = asked.get("if-none-match", "")
        packed = self._packed if "gzip" in asked.get("accept-encoding", "") else None
        head: Message | None = None

        async def marked(message: Message) -> None:
            nonlocal head
            if message["type"] == "http.response.start":
                head = message
                return
            if head is not None:
                for one in _answered(head, message, held, packed):
                    await send(one)
                head = None
                return
            await send(message)

        await self._app(scope, receive, marked)


def _answered(head: Message, body: Message, held: str, packed: Packed | None) -> list[Message]:
    """Return what is sent in place of an answer's head and its first piece.

    ``packed`` are the answers that were compressed lately; None where they are not understood.
    """
    headers = MutableHeaders(scope=head)
    whole = not body.get("more_body", False) and body.get("body", b"")
    given = headers.get("etag", "")
    if head["status"] != HTTPStatus.OK or not whole or (given and not given.startswith(OURS)):
        return [head, body]
    mark = given or f'{OURS}{hashlib.sha256(body["body"]).hexdigest()[:32]}"'
    headers["ETag"] = mark
    if not is_held(mark, held):
        return [head, body] if packed is None else _packed(head, body["body"], mark, packed)
    for name in ("content-length", "content-type"):
        del headers[name]
    return [
        {**head, "status": int(HTTPStatus.NOT_MODIFIED)},
        {"type": "http.response.body", "body": b""},
    ]


def is_held(mark: str, held: str) -> bool:
    """Return whether a mark is among those that somebody holds, as If-None-Match names them."""
    return mark in (one.strip() for one in held.split(","))


def _packed(head: Message, body: bytes, mark: str, packed: Packed) -> list[Message]:
    """Return an answer compressed, from what was compressed lately where it is the same."""
    headers = MutableHeaders(scope=head)
    words = headers.get("content-type", "").startswith(COMPRESSED)
    if len(body) < LEAST_BYTES or not words or "content-encoding" in headers:
        return [head, {"type": "http.response.body", "body": body}]
    if mark not in packed:
        packed[mark] = gzip.compress(body, LEVEL, mtime=0)
        if len(packed) > KEPT:
            packed.popitem(last=False)
    packed.move_to_end(mark)
    headers["Content-Encoding"] = "gzip"
    headers["Content-Length"] = str(len(packed[mark]))
    headers.add_vary_header("Accept-Encoding")
    return [head, {"type": "http.response.body", "body": packed[mark]}]
