"""What one of each costs: the figures on which `bench.paper_plan` rests, measured anew.

``python -m bench unit_costs`` makes a house of 10 rooms, two years at five minutes and 40 works,
and a group of small houses, and prints one line a figure: its name as in ``unit_costs.toml``, its
value and unit. ``python -m bench.unit_costs --group FOLDER`` opens a group of `bench.group_set` and
prints what each house costs. Processor seconds are those of all threads; memory is what a process
holds.
"""

import argparse
import socket
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import httpx
from aiosmtpd.controller import Controller
from aiosmtpd.handlers import Sink
from fixtures.serving import served_app

from bench.full_museum import Size, build, logger_name, on, room_name, size_of, sizes, weekly_file
from bench.group_set import GroupSize, build_group, group_on
from bench.living_museum import alone, cpu_s, this_week
from service.answers.kept_answers import KEEP_WEEKS
from service.answers.museum import Museum
from service.group.group_app import Group
from service.group.house_files import every_house
from service.intake.taking_in import take_in
from service.notices.due import do_what_is_due
from service.notices.follow_up import follow_up_all
from service.notices.sending import SmtpServer, send_due
from service.settings import Settings
from service.storage.outbox import Letter, queue_letter
from service.storage.site_clock import Clock
from service.storage.stores import Stores
from service.web.app import create_app

READINGS_A_YEAR = 365.25 * 24 * 12
TIMES = 40  # pages and letters, each measured over so many
Found = dict[str, float]


def held_mb() -> float:
    """Return the memory that this process holds now [MB]."""
    lines = Path("/proc/self/status").read_text().splitlines()
    held = dict(line.split(":", 1) for line in lines)
    return int(held["VmRSS"].split()[0]) / 1024


def size_b(folder: Path, pattern: str = "*") -> int:
    """Return how many bytes the files of a folder take."""
    return sum(one.stat().st_size for one in folder.rglob(pattern) if one.is_file())


def built(folder: Path, size: Size) -> Found:
    """Make the house; return what its readings and its register take."""
    build(folder, size)
    readings = size.rooms * size.years * READINGS_A_YEAR * 5 / size.minutes
    return {
        "reading_b": size_b(folder / "readings", "*.parquet") / readings,
        "register_kb": size_b(folder, "register.db*") / 1e3,
    }


def told_in(folder: Path) -> Path:
    """Return where what was told of rooms is kept."""
    return folder / "results" / "answers"


def first_judging(folder: Path, size: Size) -> Found:
    """Open the house in a new process and judge it for the first time."""
    started = time.process_time()  # the imports, and what of the loop is loaded from disk
    settings = on(folder, size)
    with Stores.open(settings) as stores:
        museum = Museum(stores, settings)
        first = cpu_s(lambda: this_week(museum))
    # What was told of a room's weeks is kept of the latest few; one is there now.
    kept = size_b(folder / "results") + (KEEP_WEEKS - 1) * size_b(told_in(folder))
    return {
        "start_s": started,
        "work_first_judged_s": first / size.works,
        "work_kept_kb": kept / 1e3 / size.works,
    }


def monday(folder: Path, size: Size) -> Found:
    """Take in a weekly file for every room and judge what follows; then an hour without any."""
    settings = on(folder, size, 1)
    with Stores.open(settings) as stores:
        museum = Museum(stores, settings)
        this_week(museum)
        kept = size_b(folder / "results") - size_b(told_in(folder))
        originals = size_b(folder / "originals")
        files = [weekly_file(number, size.minutes) for number in range(size.rooms)]

        def taken() -> None:
            for number, data in enumerate(files):
                name = f"{room_name(number)}.csv"
                take_in(stores, data, name=name, logger_id=logger_name(number), zone="UTC")

        stored = cpu_s(taken)
        judged = cpu_s(lambda: (follow_up_all(museum), this_week(museum)))
        grown = size_b(folder / "results") - size_b(told_in(folder)) - kept
        museum.time = Clock(museum.clock() + timedelta(hours=1))
        hour = cpu_s(lambda: do_what_is_due(museum))
        page = cpu_s(lambda: this_week(museum))
        anew = Museum(stores, settings)  # holds nothing of hours that have gone
        this_week(anew)
        answers_mb = anew._cache.size_bytes / 2**20
    return {
        "file_taken_in_s": stored / size.rooms,
        "file_original_kb": (size_b(folder / "originals") - originals) / 1e3 / size.rooms,
        "work_week_judged_s": judged / size.works,
        "work_week_kept_kb": grown / 1e3 / size.works,
        "work_hour_judged_s": (hour + page) / size.works,
        "work_answers_mb": answers_mb / size.works,
    }


def pages(folder: Path, size: Size) -> Found:
    """Ask a real server for pages that are at hand; what the asking costs is counted too."""
    app = create_app(on(folder, size, 1))
    with served_app(app) as home, httpx.Client(base_url=home, timeout=600.0) as reader:
        reader.get("/")
        page = cpu_s(lambda: [reader.get("/") for _ in range(TIMES)]) / TIMES
    return {"page_s": page}


def letters(folder: Path) -> Found:
    """Queue letters and hand them to a real mail server."""
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    server = Controller(Sink(), hostname="127.0.0.1", port=port)
    server.start()
    try:
        with Stores.open(Settings(data_dir=folder)) as stores:

            def sent() -> None:
                for number in range(TIMES):
                    body = "From: a@house.example\nTo: b@house.example\nSubject: damp\n\nText\n" * 9
                    key = f"letter {number}"
                    queue_letter(stores.register, Letter(key, "b@house.example", "damp", body))
                send_due(stores.register, SmtpServer("127.0.0.1", port))

            return {"letter_s": cpu_s(sent) / TIMES}
    finally:
        server.stop()


def small_group(folder: Path, houses: int) -> Found:
    """Make small houses and serve them together."""
    build_group(folder, GroupSize(houses, 2 * houses, 2 * houses, years=0.2, kinds=1))
    return group(folder, judged=True)


def group(folder: Path, *, judged: bool) -> Found:
    """Serve houses together: what an open house costs, and its line of the first page."""
    group, houses = Group(group_on(folder)), len(every_house(group_on(folder)))
    before, threads, start = held_mb(), threading.active_count(), time.process_time()
    with served_app(group) as home, httpx.Client(base_url=home, timeout=600.0) as reader:
        until(lambda: all(one.is_open for one in group.houses.every()))
        opened = time.process_time() - start
        found = {
            "house_open_mb": (held_mb() - before) / houses,
            "house_open_s": opened / houses,
            "house_threads": (threading.active_count() - threads) / houses,
        }
        if not judged:
            return found
        until(lambda: "is still asked" not in reader.get("/houses").text)
        page = cpu_s(lambda: [reader.get("/houses") for _ in range(5)]) / 5
    return found | {"group_line_s": page / houses, "program_mb": before}


def until(what: Callable[[], bool]) -> None:
    """Wait until something is so."""
    while not what():
        time.sleep(0.2)


def run() -> list[str]:
    """Return the lines of the report."""
    parser = argparse.ArgumentParser(prog="unit_costs")
    parser.add_argument("--houses", type=int, default=20)
    parser.add_argument("--group", type=Path, help="Measure how a group that is there is opened.")
    sizes(parser)
    parser.set_defaults(rooms=10, years=2.0, works=40)
    given = parser.parse_args(sys.argv[1:] if Path(sys.argv[0]).stem == "unit_costs" else [])
    size, found = size_of(given), Found()
    if given.group:
        return lines_of(group(given.group, judged=False))
    with tempfile.TemporaryDirectory() as base:
        for step in (built, first_judging, monday, pages):
            found |= alone(step, Path(base) / "house", size)
        found |= alone(letters, Path(base) / "letters")
        found |= alone(small_group, Path(base) / "group", given.houses)
    return lines_of(found)


def lines_of(found: Found) -> list[str]:
    """Return the figures, one a line."""
    return [f"{name} = {value:.3g}" for name, value in found.items()]


if __name__ == "__main__":
    print("\n".join(run()))
