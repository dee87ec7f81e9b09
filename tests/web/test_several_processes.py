"""Several processes serve one house: one sends, one follows up; a killed one costs time alone."""

import contextlib
import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx
import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.handlers import Message

from service.settings import Settings
from service.storage.outbox import Letter, letters, queue_letter
from service.storage.stores import Stores

EXPORT = "Time,Temperature (°C),Relative humidity (%)\n" + "".join(
    f"2026-04-{day:02d} {hour:02d}:00,20.{hour % 5},4{hour % 8}.5\n"
    for day in range(1, 20)
    for hour in range(24)
)
LONG_S = 1200.0  # a slow machine is no fault of the program


class Mailbox(Message):
    """Keeps the Message-ID of every letter that it takes."""

    def __init__(self) -> None:
        super().__init__()
        self.taken: list[str] = []

    def handle_message(self, message: object) -> None:
        self.taken.append(str(message["Message-ID"]))  # type: ignore[index]


@pytest.fixture
def mailbox() -> Iterator[tuple[Mailbox, int]]:
    box = Mailbox()
    with contextlib.closing(socket.socket()) as free:
        free.bind(("127.0.0.1", 0))
        port = int(free.getsockname()[1])
    server = Controller(box, hostname="127.0.0.1", port=port)
    server.start()
    yield box, port
    server.stop()


@contextlib.contextmanager
def workers(folder: Path, log: Path, many: int, **settings: object) -> Iterator[httpx.Client]:
    """Serve a house by a command of its own, as it is done in earnest."""
    with contextlib.closing(socket.socket()) as free:
        free.bind(("127.0.0.1", 0))
        port = int(free.getsockname()[1])
    given = {"data_dir": folder, "port": port, "workers": many, "draws": 20, "log": "json"}
    environment = {f"STILLTAUT_{name.upper()}": str(v) for name, v in (given | settings).items()}
    command = [sys.executable, "-c", "from service.cli import main; main(['serve'])"]
    with (
        log.open("w") as said,
        subprocess.Popen(command, env=os.environ | environment, stderr=said) as process,
        httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=LONG_S) as client,
    ):
        try:
            until(lambda: is_ready(client), "the pages were not served")
            yield client
        finally:
            process.send_signal(signal.SIGTERM)
            assert process.wait(LONG_S) in (0, -signal.SIGTERM)


def is_ready(client: httpx.Client) -> bool:
    with contextlib.suppress(httpx.TransportError):
        return client.get("/ready").status_code == 200
    return False


def until(done: Callable[[], bool], otherwise: str) -> None:
    ends = time.monotonic() + LONG_S
    while not done():
        assert time.monotonic() < ends, otherwise
        time.sleep(0.2)


def lines(log: Path) -> list[dict[str, object]]:
    return [json.loads(line) for line in log.read_text(encoding="utf-8").splitlines()]


@pytest.mark.slow
@pytest.mark.long
@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_one_killed_of_three_costs_time_alone(
    kind: str, request: pytest.FixtureRequest, tmp_path: Path, mailbox: tuple[Mailbox, int]
) -> None:
    box, port = mailbox
    url = str(request.getfixturevalue("empty_database")) if kind == "postgresql" else ""
    folder, log = tmp_path / "museum", tmp_path / "log"
    with Stores.open(Settings(data_dir=folder, register_url=url)) as stores:
        for number in range(30):
            name = f"<{number}@example.org>"
            body = f"{LETTER}Message-ID: {name}\n\nA letter.\n"
            one = Letter(f"key {number}", "a@example.org", "S", body, message_id=name)
            queue_letter(stores.register, one)
    mail = {"smtp_host": "127.0.0.1", "smtp_port": port, "mail_to": "a@example.org"}
    with workers(folder, log, 3, register_url=url, **mail) as client:
        sent = {"logger": "north-1", "zone": "UTC"}
        answer = client.post("/api/uploads", files={"file": ("a.csv", EXPORT)}, data=sent)
        assert answer.status_code == 200, answer.text
        until(lambda: all_answered(client, log), "not all of them answered")
        killed = processes(log)[0]
        os.kill(killed, signal.SIGKILL)
        until(lambda: is_ready(client), "no other took its place")
        with Stores.open(Settings(data_dir=folder, register_url=url)) as stores:
            until(lambda: not letters(stores.register, only_waiting=True), "letters wait")
            assert sorted(set(box.taken)) == sorted(
                one.message_id for one in letters(stores.register)
            )
        figures = client.get("/metrics").text
        assert "stilltaut_letters_waiting 0.0" in figures
        assert 'stilltaut_requests_total{address="/api/uploads"' in figures
    again = len(box.taken) - len(set(box.taken))
    assert again <= 1  # what the killed one had handed in and not yet marked
    assert all("request" in line for line in lines(log) if line["logger"] == "service.requests")


def all_answered(client: httpx.Client, log: Path) -> bool:
    def ask(_: int) -> int:
        return client.get("/ready", headers={"Connection": "close"}).status_code

    with ThreadPoolExecutor(12) as together:  # one alone would always be taken by the same process
        list(together.map(ask, range(24)))
    return len(processes(log)) == 3


def processes(log: Path) -> list[int]:
    noted = [one for one in lines(log) if one["logger"] == "service.requests"]
    return sorted({int(str(line["process"])) for line in noted})


LETTER = "From: s@example.org\nTo: a@example.org\nSubject: S\n"
