"""A Monday in a large museum: a weekly file for every room to the first page, and pages after it.

``python -m bench.monday_and_pages --rooms 100 --years 10 --works 1000`` makes the museum of
`bench.full_museum` and prints processor seconds and, where that is what is wanted, seconds on the
wall (which say little on a machine that others use), each with its target for 100 rooms. The many
readers run in a process of their own, on the same processor.
"""

import argparse
import multiprocessing
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path

import httpx
import uvicorn

from bench.full_museum import Size, build, logger_name, on, room_name, size_of, sizes, weekly_file
from bench.living_museum import alone, peak_mb, this_week
from bench.readers import p95_ms, read_all
from service.answers.museum import Museum
from service.intake.taking_in import take_in
from service.notices.follow_up import follow_up_all
from service.settings import Settings
from service.storage.stores import Stores
from service.web.app import create_app
from service.web.senders import server_options

READERS, EACH = 50, 20
PAGES = {"/": "first page", "/works": "works", "/round": "round", "/api/round": "round as JSON"}


def timed(work: Callable[[], object]) -> tuple[float, float]:
    """Return the processor seconds of all threads, and those on the wall, that something takes."""
    processor, wall = time.process_time(), time.perf_counter()
    work()
    return time.process_time() - processor, time.perf_counter() - wall


def monday(folder: Path, size: Size, week: int = 0) -> dict[str, float]:
    """Take a weekly file in for every room, bring the notices up to date, answer the first page.

    The first week is that of a museum of which nothing has been worked out yet.
    """
    settings = on(folder, size, week + 1)
    found: dict[str, float] = {}
    with Stores.open(settings) as stores:
        files = [weekly_file(number, size.minutes, week) for number in range(size.rooms)]
        museum = Museum(stores, settings)

        def taken() -> None:
            for number, data in enumerate(files):
                name = f"{room_name(number)} {week}.csv"
                take_in(stores, data, name=name, logger_id=logger_name(number), zone="UTC")

        for step, work in (
            ("files taken in", taken),
            ("notices", lambda: follow_up_all(museum)),
            ("first page after them", lambda: this_week(museum)),
        ):
            name = f"{'Monday' if week else 'first Monday'}, {step}"
            found[f"{name}: processor [s]"], found[f"{name}: wall [s]"] = timed(work)
    found["Monday, memory [MB]"] = peak_mb()
    return found


def room_week(folder: Path, size: Size) -> dict[str, float]:
    """Answer the week of a room in a process that has answered nothing yet."""
    settings = on(folder, size, 2)
    with Stores.open(settings) as stores:
        museum = Museum(stores, settings)
        week = str(museum.week_of_room(room_name(1)))
        processor, wall = timed(lambda: museum.room_week(room_name(1), week))
    return {"room's week, cold: processor [s]": processor, "room's week, cold: wall [s]": wall}


def pages(folder: Path, size: Size, requests: int) -> dict[str, float]:
    """Ask a real server for pages: once alone, then by many readers in another process."""
    found: dict[str, float] = {}
    others = multiprocessing.get_context("spawn").Pool(1)
    with _Served(on(folder, size, 2)) as home, others as readers:
        for path, name in PAGES.items():
            with httpx.Client(base_url=home, timeout=3600.0, verify=False) as reader:
                reader.get(path).raise_for_status()
                processor, wall = timed(lambda: reader.get(path))  # noqa: B023 called at once
                found[f"{name}, at hand: wall [ms]"] = 1e3 * wall
                found[f"{name}, at hand: processor [ms]"] = 1e3 * processor
                sent = reader.get(path)
                found[f"{name}: sent [kB]"] = int(sent.headers["content-length"]) / 1e3
                found[f"{name}: unpacked [kB]"] = len(sent.content) / 1e3
        for held, words in ((False, ""), (True, ", unchanged")):
            begun = time.process_time()
            found[f"first page{words}, p95 of {READERS} readers [ms]"] = readers.apply(
                p95_ms, (home, "/", READERS, EACH), {"held": held}
            )
            each = (time.process_time() - begun) / (READERS * (EACH + held))
            found[f"first page{words}, processor for each of them [ms]"] = 1e3 * each
        first, step = held_mb(), max(requests // 10, 1)
        found["serving, memory before [MB]"] = first
        for tenth in range(1, 11):
            readers.apply(read_all, (home, list(PAGES)[:3], 4, step))
            if tenth in (1, 5, 10):
                found[f"serving, memory after {tenth * step:,} requests [MB]"] = held_mb()
        found["serving, most memory [MB]"] = peak_mb()
    return found


def held_mb() -> float:
    """Return the memory that this process holds [MB]."""
    lines = Path("/proc/self/status").read_text().splitlines()
    held = dict(line.split(":", 1) for line in lines)
    return int(held["VmRSS"].split()[0]) / 1024


class _Served:
    """A museum behind the program's own server, in a thread of this process."""

    def __init__(self, settings: Settings) -> None:
        config = uvicorn.Config(
            create_app(settings), port=0, log_level="error", lifespan="on", **server_options()
        )
        self.server = uvicorn.Server(config)
        self.thread = threading.Thread(target=self.server.run)

    def __enter__(self) -> str:
        self.thread.start()
        while not self.server.started:
            time.sleep(0.05)
        port = self.server.servers[0].sockets[0].getsockname()[1]
        return f"http://127.0.0.1:{port}"

    def __exit__(self, *_raised: object) -> None:
        self.server.should_exit = True
        self.thread.join()


WANTED = {
    "Monday, all of it: wall [s]": 180.0,
    "room's week, cold: wall [s]": 0.3,
    "first page: sent [kB]": 300.0,
    **{f"{name}, at hand: wall [ms]": 300.0 for name in PAGES.values()},
    f"first page, p95 of {READERS} readers [ms]": 300.0,
    f"first page, unchanged, p95 of {READERS} readers [ms]": 30.0,
    "serving, most memory [MB]": 1000.0,
}


def measured(folder: Path, size: Size, requests: int) -> list[str]:
    """Return the lines of the report, each with what is wanted of 100 rooms where that is said."""
    found: dict[str, float] = {}
    alone(_built, folder, size)
    for week in (0, 1):
        found |= alone(monday, folder, size, week)
    found |= alone(room_week, folder, size)
    found |= pages(folder, size, requests)
    found["Monday, all of it: wall [s]"] = sum(
        value for name, value in found.items() if name.startswith("Monday") and "wall" in name
    )
    return [
        f"{name}: {value:.2f}" + (f" (wanted: at most {WANTED[name]:g})" if name in WANTED else "")
        for name, value in found.items()
    ]


def _built(folder: Path, size: Size) -> dict[str, float]:
    build(folder, size)
    return {}


def main() -> None:
    """Print the report of a museum as large as the arguments say."""
    parser = argparse.ArgumentParser(prog="monday_and_pages")
    parser.add_argument("--requests", type=int, default=10_000)
    sizes(parser)
    given = parser.parse_args(sys.argv[1:])
    size = size_of(given)
    print(f"{size.rooms} rooms, {size.years:g} years at {size.minutes} min, {size.works} works")
    with tempfile.TemporaryDirectory() as folder:
        print("\n".join(measured(Path(folder) / "data", size, given.requests)))


if __name__ == "__main__":
    main()
