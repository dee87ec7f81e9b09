"""A page that is as it was is not sent again: ETag and If-None-Match (RFC 9110, 8.8.3 and 13.1.2).

The browser asks each time, so that nobody sees an old page or one they may no longer see.
"""

import hashlib
from http import HTTPStatus

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send


class Unchanged:
    """Gives every whole answer to GET its mark, and answers 304 to who holds it already."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on; hold its answer's head back until its body is known."""
        if scope["type"] != "http" or scope["method"] not in ("GET", "HEAD"):
            await self._app(scope, receive, send)
            return
        held = Headers(scope=scope).get("if-none-match", "")
        head: Message | None = None

        async def marked(message: Message) -> None:
            nonlocal head
            if message["type"] == "http.response.start":
                head = message
                return
            if head is not None:
                for one in _answered(head, message, held):
                    await send(one)
                head = None
                return
            await send(message)

        await self._app(scope, receive, marked)


def _answered(head: Message, body: Message, held: str) -> list[Message]:
    """Return what is sent in place of an answer's head and its first piece."""
    headers = MutableHeaders(scope=head)
    whole = not body.get("more_body", False) and body.get("body", b"")
    if head["status"] != HTTPStatus.OK or not whole or "etag" in headers:
        return [head, body]
    mark = f'W/"{hashlib.sha256(body["body"]).hexdigest()[:32]}"'
    headers["ETag"] = mark
    if mark not in (one.strip() for one in held.split(",")):
        return [head, body]
    for name in ("content-length", "content-type"):
        del headers[name]
    return [
        {**head, "status": int(HTTPStatus.NOT_MODIFIED)},
        {"type": "http.response.body", "body": b""},
    ]
