"""Requests that are begun and not ended, by raw sockets at the real server."""

import contextlib
import socket
import time
from collections.abc import Iterator
from urllib.parse import urlsplit

import httpx
import pytest

from service.web import senders

FORM = "Content-Type: application/x-www-form-urlencoded\r\n"


@pytest.fixture
def soon_closed(monkeypatch: pytest.MonkeyPatch) -> None:
    """A connection that sends no further headers is closed soon enough for a test."""
    monkeypatch.setattr(senders.ImpatientProtocol, "headers_s", 0.5)


@pytest.fixture
def patience(soon_closed: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """Limits short enough for a test."""
    monkeypatch.setattr(senders, "BODY_S", 0.5)


@contextlib.contextmanager
def connected(web: httpx.Client) -> Iterator[socket.socket]:
    where = urlsplit(str(web.base_url))
    assert where.hostname and where.port
    with socket.create_connection((where.hostname, where.port), timeout=60.0) as line:
        yield line


def answer(line: socket.socket) -> bytes:
    """Return everything until the other side closes the connection."""
    parts = []
    while part := line.recv(65536):
        parts.append(part)
    return b"".join(parts)


def head(method: str, address: str, more: str) -> bytes:
    return f"{method} {address} HTTP/1.1\r\nHost: 127.0.0.1\r\n{more}\r\n".encode()


@pytest.mark.parametrize("begun", [b"", b"GET / HTTP/1.1\r\nHost: 127.0", b"GET /gu"])
def test_headers_that_never_end_are_not_waited_for(
    patience: None, web: httpx.Client, begun: bytes
) -> None:
    with connected(web) as line:
        line.sendall(begun)
        assert answer(line) == b""


def test_headers_that_drip_are_not_waited_for(patience: None, web: httpx.Client) -> None:
    with connected(web) as line, contextlib.suppress(BrokenPipeError, ConnectionResetError):
        for letter in b"GET / HTTP/1.1\r\nX-Long: " + b"a" * 400:
            line.sendall(bytes([letter]))
            time.sleep(0.05)
        pytest.fail("a request was dripped for twenty seconds")


def test_a_second_request_on_a_line_is_waited_for_as_the_first(
    patience: None, web: httpx.Client
) -> None:
    with connected(web) as line:
        line.sendall(head("GET", "/form-token", ""))
        assert line.recv(65536).startswith(b"HTTP/1.1 200")
        line.sendall(b"GET / HT")
        assert answer(line).find(b"HTTP/1.1 200") == -1


@pytest.mark.parametrize("kind", [FORM, "Content-Type: multipart/form-data; boundary=x\r\n"])
def test_a_body_that_never_ends_is_refused_and_nothing_is_stored(
    patience: None, web: httpx.Client, kind: str
) -> None:
    with connected(web) as line:
        line.sendall(head("POST", "/bring-in", f"{kind}Content-Length: 5000\r\n") + b"--x\r\n")
        said = answer(line)
    assert said.startswith(b"HTTP/1.1 408 ")
    assert b"did not come to its end" in said
    assert web.get("/form-token").status_code == 200


def test_a_form_without_an_end_is_cut(soon_closed: None, web: httpx.Client) -> None:
    with connected(web) as line:
        line.sendall(head("POST", "/notices/1/seen", FORM + "Content-Length: 99000000\r\n"))
        with contextlib.suppress(BrokenPipeError, ConnectionResetError):
            for _ in range(99):
                line.sendall(b"by=" + b"a" * 999_997)
        said = b""
        with contextlib.suppress(ConnectionResetError):
            said = answer(line)
    assert said == b"" or said.split()[1] in (b"400", b"413")
    assert web.get("/notices/1").status_code == 200


def test_headers_without_an_end_are_cut(web: httpx.Client) -> None:
    with connected(web) as line, contextlib.suppress(BrokenPipeError, ConnectionResetError):
        line.sendall(b"GET / HTTP/1.1\r\nX-Long: " + b"a" * (4 * senders.LONGEST_HEADERS_B))
        assert answer(line).startswith(b"HTTP/1.1 400 ")
