"""Killed again and again while files and batches come in: what was acknowledged is there, once.

``python -m bench kills`` kills a serving process 200 times at random instants while pages, the JSON
interface, a gateway and the watched folder bring readings; then everything is counted.
"""

import contextlib
import json
import os
import random
import re
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import httpx
import pandas as pd

from analysis.records.room_records import Logger, Placement, Room, Site
from service.answers.museum import Museum
from service.intake.verification import verify
from service.notices.follow_up import due_rooms
from service.settings import Settings
from service.storage.job_records import JobState, jobs_of
from service.storage.records import put_record
from service.storage.stores import Stores
from service.storage.tokens import make_token
from service.storage.uploads import UploadState, uploads

KILLS = 200
ROOT = Path(__file__).parents[2]
WAYS = ("page", "interface", "gateway", "folder")
ROWS = 24
FORM = re.compile(r'formaction="(/bring-in/\w+/(\w+)/confirm)"')


@dataclass
class House:
    """A museum that is served, killed, and served again; and what it has acknowledged."""

    folder: Path
    port: int
    token: str
    forker: subprocess.Popen[str]
    child: int = 0
    sent: dict[str, int] = field(default_factory=lambda: dict.fromkeys(WAYS, 0))
    acknowledged: dict[str, list[int]] = field(default_factory=lambda: {way: [] for way in WAYS})

    def start(self) -> None:
        """Start serving, and wait until it answers."""
        command = {
            "data": str(self.folder / "data"),
            "port": self.port,
            "watched": str(self.folder / "watched"),
        }
        assert self.forker.stdin is not None and self.forker.stdout is not None
        self.forker.stdin.write(json.dumps(command) + "\n")
        self.forker.stdin.flush()
        self.child = int(self.forker.stdout.readline())
        for _ in range(1200):
            with contextlib.suppress(httpx.TransportError), self.client() as client:
                if client.get("/gateways").status_code == 200:
                    return
            time.sleep(0.05)
        raise TimeoutError("the pages were not served within a minute")

    def kill(self) -> None:
        """Kill the process that serves, at once."""
        os.kill(self.child, signal.SIGKILL)
        assert self.forker.stdout is not None
        assert self.forker.stdout.readline() == "gone\n"

    def client(self) -> httpx.Client:
        """Return a client of the pages."""
        return httpx.Client(base_url=f"http://127.0.0.1:{self.port}", timeout=30.0)

    def bring(self, way: str, stop: threading.Event) -> None:
        """Bring one file after the other in one way, until told to stop or the process is gone."""
        ways: dict[str, Callable[[httpx.Client, int], bool]] = {
            "page": self._page,
            "interface": self._interface,
            "gateway": self._gateway,
            "folder": self._folder,
        }
        with self.client() as client:
            while not stop.is_set():
                number = self.sent[way] = self.sent[way] + 1
                try:
                    taken = ways[way](client, number)
                except httpx.TransportError:
                    return
                if taken:
                    self.acknowledged[way].append(number)

    def _page(self, client: httpx.Client, number: int) -> bool:
        file = {"file": (f"page-{number}.csv", export("page", number))}
        sent = client.post("/bring-in", files=file, data={"logger": "page"})
        preview = client.get(sent.headers["location"])
        found = FORM.search(preview.text)
        assert found is not None, preview.text[:2000]
        said = {"logger": "page", "zone": "UTC", "sure": "yes"}
        answer = client.post(found[1], data={f"{found[2]}.{k}": v for k, v in said.items()})
        return answer.status_code == 303

    def _interface(self, client: httpx.Client, number: int) -> bool:
        file = {"file": (f"interface-{number}.csv", export("interface", number))}
        said = {"logger": "interface", "zone": "UTC"}
        return client.post("/api/uploads", files=file, data=said).status_code == 200

    def _gateway(self, client: httpx.Client, number: int) -> bool:
        headers = {"Authorization": f"Bearer {self.token}", "Content-Type": "text/csv"}
        batch = export("gateway", number)
        return client.post("/api/readings", content=batch, headers=headers).status_code == 200

    def _folder(self, _: httpx.Client, number: int) -> bool:
        """Put a file down as any program does; that it lies there whole is the acknowledgement."""
        folder = self.folder / "watched" / "folder"
        folder.mkdir(parents=True, exist_ok=True)
        part = folder / f"{number}.csv.part"
        part.write_bytes(export("folder", number))
        os.utime(part, (time.time() - 60,) * 2)
        part.rename(folder / f"{number}.csv")
        time.sleep(0.2)
        return True


def times_of(number: int) -> pd.DatetimeIndex:
    """Return the times of a file: each has its own day."""
    start = pd.Timestamp("2000-01-01", tz="UTC") + pd.Timedelta(days=number)
    return pd.date_range(start, periods=ROWS, freq="h")


def export(way: str, number: int) -> bytes:
    """Return a file of its own for each way and number."""
    shift = WAYS.index(way) / 10
    lines = [
        f"{t:%Y-%m-%d %H:%M},{18 + n % 7 / 10 + shift:.2f},{45 + n % 5:.1f}"
        for n, t in enumerate(times_of(number))
    ]
    return "\n".join(["Time,Temp (C),RH (%)", *lines, ""]).encode()


@contextlib.contextmanager
def house(folder: Path) -> Iterator[House]:
    """Make a museum with a room and a logger for each way."""
    with Stores.open(Settings(data_dir=folder / "data")) as stores:
        put_record(stores.register, Site("main", "The museum", "UTC"))
        for way in WAYS:
            put_record(stores.register, Room(way, "main", way))
            put_record(stores.register, Logger(way, zone="UTC"))
            put_record(stores.register, Placement(way, way))
        _, token = make_token(stores.register, "gateway", by="bench", per_hour=3600)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = int(free.getsockname()[1])
    command = [sys.executable, str(Path(__file__).with_name("serving_process.py"))]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(
        command,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        cwd=ROOT,
        env=environment,
    ) as forker:
        yield House(folder, port, token, forker)
        assert forker.stdin is not None
        forker.stdin.close()


def kill_again_and_again(place: House, kills: int, dice: random.Random) -> None:
    """Serve and kill so many times, while all ways bring readings; then let it finish in peace."""
    for _ in range(kills):
        place.start()
        stop = threading.Event()
        threads = [threading.Thread(target=place.bring, args=(way, stop)) for way in WAYS]
        for thread in threads:
            thread.start()
        time.sleep(dice.uniform(0.05, 3.0))
        place.kill()
        stop.set()
        for thread in threads:
            thread.join()
    place.start()
    finished(place)
    place.kill()


def finished(place: House) -> None:
    """Wait until nothing is in hand any more."""
    settings = Settings(data_dir=place.folder / "data")
    with Stores.open(settings) as stores:
        museum = Museum(stores, settings)
        for _ in range(1200):
            open_jobs = jobs_of(stores.register, states=[JobState.WAITING, JobState.RUNNING])
            received = uploads(stores.register, states=(UploadState.RECEIVED,))
            lying = list((place.folder / "watched" / "folder").glob("*.csv"))
            if not (open_jobs or received or lying or due_rooms(museum)):
                return
            time.sleep(0.25)
    raise TimeoutError("something is still in hand")


def counted(place: House) -> dict[str, Any]:
    """Return, by way, how many were acknowledged, how many of these are lost, how many doubled."""
    found: dict[str, Any] = {}
    with Stores.open(Settings(data_dir=place.folder / "data")) as stores:
        for way in WAYS:
            frame = stores.readings.load(way)
            there = set(pd.DatetimeIndex(frame.index))
            files = Counter(one.sha256 for one in uploads(stores.register, logger=way))
            wanted = place.acknowledged[way]
            found[way] = {
                "acknowledged": len(wanted),
                "lost": sum(not set(times_of(number)) <= there for number in wanted),
                "doubled": len(frame) - len(there) + sum(many > 1 for many in files.values()),
                "in conflict": int((frame["flags"] != 0).sum()),
            }
        found["faults"] = [str(one) for one in verify(stores)]
    return found


def run() -> list[str]:
    """Return the lines of the report."""
    with tempfile.TemporaryDirectory() as folder, house(Path(folder)) as place:
        start = time.perf_counter()
        kill_again_and_again(place, KILLS, random.Random(20261126))
        lasted_s = time.perf_counter() - start
        found = counted(place)
    lines = [f"killed {KILLS} times in {lasted_s:.0f} s"]
    lines += [f"{way}: {found[way]}" for way in WAYS]
    return [*lines, f"found wrong by the check: {found['faults'] or 'nothing'}"]


if __name__ == "__main__":
    KILLS = int(sys.argv[1]) if len(sys.argv) > 1 else KILLS
    print("\n".join(run()))
