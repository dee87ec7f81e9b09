"""Two machines serve one house: one register on a database server, one bucket, nothing else shared.

Each has a data folder of its own and a name of its own, so that neither knows whether a process of
the other lives: only leases tell.
"""

import contextlib
import shutil
import signal
import threading
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import httpx
import pandas as pd
import pytest
from fixtures.processes import Mailbox, Serving, serving, until

from service.intake.verification import verify
from service.register.archive import write_archive
from service.register.restore import restore_into
from service.settings import Settings
from service.storage.job_records import JobState, jobs_of, put_job
from service.storage.notices import notices
from service.storage.outbox import Letter, letters, queue_letter
from service.storage.stores import Stores
from service.storage.uploads import UploadState, uploads

pytestmark = [pytest.mark.slow, pytest.mark.long]
LETTER = "From: s@example.org\nTo: a@example.org\nSubject: S\nMessage-ID: {name}\n\nA letter.\n"


def export(start: str, hours: int) -> bytes:
    """Return hourly readings; two exports agree on what they share."""
    times = pd.date_range(start, periods=hours, freq="h")
    lines = [f"{t:%Y-%m-%d %H:%M},{20 + t.hour / 10:.1f},{45 + t.day % 9}" for t in times]
    return "\n".join(["Time,Temperature (°C),Relative humidity (%)", *lines]).encode()


@pytest.fixture
def house(
    small_museum: Path, in_a_bucket: Settings, empty_database: str, tmp_path: Path
) -> Settings:
    """The small museum with its register on the server and its files in the bucket."""
    copy = Path(shutil.copytree(small_museum, tmp_path / "museum"))
    with Stores.open(Settings(data_dir=copy)) as stores:
        write_archive(stores, tmp_path / "archive")
    settings = in_a_bucket.with_changes(register_url=empty_database)
    restore_into(settings, tmp_path / "archive")
    return settings


@contextlib.contextmanager
def opened(house: Settings, folder: Path) -> Iterator[Stores]:
    """Open the stores as a third machine would."""
    with Stores.open(house.with_changes(data_dir=folder), create=False) as stores:
        yield stores


def served_on(house: Settings, name: str, folder: Path, **more: Any) -> Any:
    shared = {key: getattr(house, key) for key in SHARED}
    return serving(folder / f"{name}.log", host=name, data_dir=folder / name, **shared, **more)


SHARED = ("register_url", "store", "store_endpoint", "store_region")


def sent(client: httpx.Client, name: str, content: bytes, logger: str) -> dict[str, Any]:
    data = {"logger": logger, "zone": "UTC"}
    answer = client.post("/api/uploads", files={"file": (name, content)}, data=data)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def test_what_one_takes_in_the_other_shows_and_nothing_is_told_or_kept_twice(
    house: Settings, tmp_path: Path, mailbox: tuple[Mailbox, int]
) -> None:
    box, port = mailbox
    mail = {"smtp_host": "127.0.0.1", "smtp_port": port, "mail_to": "a@example.org"}
    with opened(house, tmp_path / "third") as stores:
        for number in range(20):
            name = f"<{number}@example.org>"
            body = LETTER.format(name=name)
            queue_letter(
                stores.register,
                Letter(f"key {number}", "a@example.org", "S", body, message_id=name),
            )
    with (
        served_on(house, "one", tmp_path, **mail) as one,
        served_on(house, "two", tmp_path, **mail) as two,
    ):
        sent(one.client, "of-one.csv", export("2026-03-23 00:00", 60), "north-1")
        assert "of-one.csv" in two.client.get("/bring-in").text
        same_pages(one, two)
        (same,) = {answer["upload"] for answer in the_same_at_once(one, two)}
        assert same
        receipts = overlapping_at_once(one, two)
        rows = {f"spare-{n}": 24 * 6 for n in range(3)}
        with opened(house, tmp_path / "third") as stores:
            for logger, count in rows.items():
                frame = stores.readings.load(logger)
                assert len(frame) == count
                assert frame.index.is_unique
                assert not frame["flags"].any()
            new = Counter[str]()
            for logger, receipt in receipts:
                new[logger] += receipt["added"]
            assert new == rows  # none told as new by both, none by neither
            until(lambda: not letters(stores.register, only_waiting=True), "letters wait")
            assert verify(stores) == []
            keys = [one.cause_key for one in notices(stores.register)]
            assert len(keys) == len(set(keys))
            queued = [one.message_id for one in letters(stores.register)]
        assert sorted(box.taken) == sorted(queued)
        same_pages(one, two)


def same_pages(one: Serving, two: Serving) -> None:
    for address in ("/api/round", "/api/notices", "/api/rooms"):
        assert one.client.get(address).json() == two.client.get(address).json(), address


def overlapping_at_once(one: Serving, two: Serving) -> list[tuple[str, dict[str, Any]]]:
    """Send files that overlap to both at the same moment, three times; return the receipts."""
    start = threading.Barrier(2)

    def all_of(side: Serving, begin: str, hours: int) -> list[tuple[str, dict[str, Any]]]:
        found = []
        for number in range(3):
            start.wait()
            logger = f"spare-{number}"
            found.append((logger, sent(side.client, f"{begin}.csv", export(begin, hours), logger)))
        return found

    with ThreadPoolExecutor(2) as both:
        first = both.submit(all_of, one, "2026-02-26", 24 * 4)
        second = both.submit(all_of, two, "2026-02-28", 24 * 4)
        return first.result() + second.result()


def the_same_at_once(one: Serving, two: Serving) -> list[dict[str, Any]]:
    """Send one file to both at the same moment."""
    start, content = threading.Barrier(2), export("2026-03-01", 50)

    def send(side: Serving) -> dict[str, Any]:
        start.wait()
        return sent(side.client, "the-same.csv", content, "spare-9")

    with ThreadPoolExecutor(2) as both:
        return list(both.map(send, (one, two)))


def test_one_killed_in_the_midst_changes_nothing_but_time(house: Settings, tmp_path: Path) -> None:
    begins = [f"2026-02-{day:02d}" for day in range(1, 9)]
    with opened(house, tmp_path / "third") as stores:
        for number, begin in enumerate(begins):
            sha256 = stores.originals.keep(export(begin, 24 * 3))
            said = {"logger": "spare-1", "zone": "UTC"}
            arguments = {"sha256": sha256, "name": f"{number}.csv", "said": said}
            put_job(stores.register, "take in", f"{number}.csv", arguments)
        with served_on(house, "one", tmp_path) as one:
            until(lambda: running(stores, "one-"), "no job was taken on")
            one.process.send_signal(signal.SIGKILL)
            one.process.wait()
        left = [job for job in jobs_of(stores.register) if job.state == JobState.RUNNING]
        assert left, "it had nothing in hand when it was killed"
        with served_on(house, "two", tmp_path) as two:
            until(lambda: all(job.over for job in jobs_of(stores.register)), "jobs wait")
            assert two.client.get("/").status_code == 200
        assert {job.state for job in jobs_of(stores.register)} == {JobState.DONE}
        brought = [one for one in uploads(stores.register) if one.logger == "spare-1"]
        assert sorted(one.name for one in brought) == [f"{n}.csv" for n in range(len(begins))]
        assert {one.state for one in brought} == {UploadState.STORED}
        frame = stores.readings.load("spare-1")
        assert len(frame) == 24 * (len(begins) + 2)
        assert not frame["flags"].any()
        assert verify(stores) == []


def running(stores: Stores, owner: str) -> bool:
    jobs = jobs_of(stores.register, states=[JobState.RUNNING])
    return any(job.owner.startswith(owner) for job in jobs)
