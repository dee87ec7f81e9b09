"""Several processes serve one house: one sends, one follows up; a killed one costs time alone."""

import os
import signal
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import httpx
import pytest
from fixtures.processes import Mailbox, is_ready, lines, serving, until

from service.settings import Settings
from service.storage.outbox import Letter, letters, queue_letter
from service.storage.stores import Stores

EXPORT = "Time,Temperature (°C),Relative humidity (%)\n" + "".join(
    f"2026-04-{day:02d} {hour:02d}:00,20.{hour % 5},4{hour % 8}.5\n"
    for day in range(1, 20)
    for hour in range(24)
)


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
    mail: dict[str, Any] = {"smtp_host": "127.0.0.1", "smtp_port": port, "mail_to": "a@example.org"}
    with serving(log, data_dir=folder, workers=3, register_url=url, **mail) as house:
        client = house.client
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
