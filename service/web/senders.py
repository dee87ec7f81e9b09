"""How long the service waits for what a browser or a program sends, and how much of it is taken.

A request that is begun and never ended costs its sender nothing; without limits enough of them
would leave no room for anybody else. Headers must be there within `HEADERS_S`; a body within
`BODY_S` and a second more for every `SLOWEST_B_S` bytes that have come, which a poor radio link
manages. What is refused is not stored.
"""

import asyncio
from http import HTTPStatus
from typing import Any

from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from uvicorn.protocols.http.h11_impl import H11Protocol

HEADERS_S = 20.0
BODY_S = 30.0
SLOWEST_B_S = 2000.0
LONGEST_HEADERS_B = 32 * 1024
MOST_AT_ONCE = 300  # connections and requests in hand; more are told to come back
FILES_AT_ONCE = 4  # of the largest size that is taken
FORM_MB = 8  # a form or a batch without files


class Senders:
    """ASGI middleware: refuses a body that is too long or does not come to its end.

    Parameters
    ----------
    app : ASGIApp
    upload_limit_mb : int
        Largest file taken [MB].
    """

    def __init__(self, app: ASGIApp, upload_limit_mb: int) -> None:
        self._app = app
        self._files_mb = upload_limit_mb * FILES_AT_ONCE + FORM_MB

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on with a body that ends."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        body = _Body(receive, _most(Headers(scope=scope), self._files_mb))
        await self._app(scope, body.receive, send)


class _Body:
    """A body as it comes in: counted, and waited for only so long."""

    def __init__(self, receive: Receive, most_b: int) -> None:
        self._receive, self._most_b = receive, most_b
        self._size, self._ended = 0, False
        self._began = asyncio.get_running_loop().time()

    async def receive(self) -> Message:
        """Return the next part.

        Raises
        ------
        HTTPException
            408 where it does not come, 413 where it is too much.
        """
        if self._ended:
            return await self._receive()  # the end of the connection: that may take its time
        until = self._began + BODY_S + self._size / SLOWEST_B_S
        try:
            async with asyncio.timeout_at(until):
                message = await self._receive()
        except TimeoutError as problem:
            raise _refused(
                HTTPStatus.REQUEST_TIMEOUT, "a request that did not come to its end"
            ) from problem
        self._size += len(message.get("body", b""))
        self._ended = not message.get("more_body", False)
        if self._size > self._most_b:
            raise _refused(
                HTTPStatus.REQUEST_ENTITY_TOO_LARGE,
                f"more than {self._most_b // 2**20} MB in one request",
            )
        return message


def _most(headers: Headers, files_mb: int) -> int:
    """Return how many bytes a request may have [B]."""
    with_files = headers.get("content-type", "").startswith("multipart/form-data")
    return (files_mb if with_files else FORM_MB) * 2**20


def _refused(status: HTTPStatus, found: str) -> HTTPException:
    return HTTPException(status, found, headers={"Connection": "close"})


class ImpatientProtocol(H11Protocol):
    """Uvicorn's HTTP/1.1 protocol, with a limit on how long headers may take."""

    headers_s = HEADERS_S
    _headers_due: asyncio.TimerHandle | None = None

    def connection_made(self, transport: Any) -> None:
        """Begin to wait for the first headers."""
        super().connection_made(transport)
        self._wait_for_headers()

    def data_received(self, data: bytes) -> None:
        """Take what came; wait on as long as the headers are not whole."""
        super().data_received(data)
        if self._in_hand():
            self._stop_waiting()
        elif self._headers_due is None:
            self._wait_for_headers()

    def connection_lost(self, exc: Exception | None) -> None:
        """End the waiting."""
        self._stop_waiting()
        super().connection_lost(exc)

    def _in_hand(self) -> bool:
        cycle: Any = self.cycle
        return cycle is not None and not cycle.response_complete

    def _wait_for_headers(self) -> None:
        self._headers_due = self.loop.call_later(self.headers_s, self._too_late)

    def _stop_waiting(self) -> None:
        if self._headers_due is not None:
            self._headers_due.cancel()
            self._headers_due = None

    def _too_late(self) -> None:
        self._headers_due = None
        if not self._in_hand() and not self.transport.is_closing():
            self.transport.close()


def server_options() -> dict[str, Any]:
    """Return the options under which the server runs, wherever it is started."""
    return {
        "http": ImpatientProtocol,
        "h11_max_incomplete_event_size": LONGEST_HEADERS_B,
        "limit_concurrency": MOST_AT_ONCE,
        "timeout_graceful_shutdown": 30,
        "timeout_worker_healthcheck": 120,  # a busy machine is no reason to end a process
        "server_header": False,
        "ws": "none",
    }
