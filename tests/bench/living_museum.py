"""What an ordinary change costs in a museum that has lived for years: one look, one weekly file.

``python -m bench living_museum`` makes ten rooms with ten years at five minutes and 170 works, and
prints processor seconds and ratios. ``--rooms 3 --years 2 --works 20`` makes a smaller one. The
museum is that of `bench.full_museum`.
"""

import argparse
import multiprocessing
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

from analysis.records.inspection_records import Inspection
from bench.full_museum import (
    END,
    Size,
    build,
    on,
    room_name,
    size_of,
    sizes,
    weekly_file,
    work_name,
)
from service.answers.museum import Museum
from service.intake.taking_in import take_in
from service.notices.after_arrival import after_arrival
from service.storage import inspections
from service.storage.stores import Stores


def this_week(museum: Museum) -> object:
    """Answer the first page, as the service does; what follows up a file loads no page."""
    from dashboards.render import page_html
    from service.web.routes import week

    return page_html(week.first_page(museum))


def cpu_s(work: Callable[[], object]) -> float:
    """Return the processor seconds that something takes, all threads together."""
    start = time.process_time()
    work()
    return time.process_time() - start


def look(museum: Museum, hours: int) -> list[str]:
    """Write down a look at one work and follow it up, as the form does."""
    seen = Inspection(work_name(0), END - timedelta(hours=hours), 1, by="bench")
    inspections.put_inspection(museum.stores.register, seen)
    after_arrival(museum, [room_name(0)])
    return [room_name(0)]


def serving(folder: Path, size: Size) -> dict[str, float]:
    """Return what pages cost in a process that serves: cold, kept, after a look, after a file."""
    settings = on(folder, size)
    found: dict[str, float] = {}
    with Stores.open(settings) as stores:
        museum = Museum(stores, settings)
        found["first page, nothing kept"] = cpu_s(lambda: this_week(museum))
        found["first page, kept in memory"] = cpu_s(lambda: this_week(museum))
        again = Museum(stores, settings)
        found["first page, new process"] = cpu_s(lambda: this_week(again))
        week = str(museum.this_week())
        look(museum, 30)  # the first look makes what all later ones go on from
        this_week(museum)
        found["a look, followed up"] = cpu_s(lambda: look(museum, 20))
        found["first page after a look"] = cpu_s(lambda: this_week(museum))
        look(museum, 10)
        found["the room remade after a look"] = cpu_s(
            lambda: Museum(stores, settings).room_week(room_name(0), week)
        )
    return found


def following_up(folder: Path, size: Size) -> dict[str, float]:
    """Return what a weekly file costs in a process of its own."""
    settings = on(folder, size, 1)
    found: dict[str, float] = {}
    with Stores.open(settings) as stores:
        museum = Museum(stores, settings)

        def arrive() -> None:
            data = weekly_file(1, size.minutes)
            take_in(stores, data, name="week.csv", logger_id="log-01", zone="UTC")
            after_arrival(museum, [room_name(1)])

        found["weekly file, followed up"] = cpu_s(arrive)
        found["of it, memory [MB]"] = peak_mb()
    return found


def judged_alone(folder: Path, size: Size) -> dict[str, float]:
    """Return what the next week of a room costs to be judged, in a process of its own too."""
    settings = on(folder, size, 2)
    with Stores.open(settings) as stores:
        data = weekly_file(1, size.minutes, 1)
        take_in(stores, data, name="next.csv", logger_id="log-01", zone="UTC")
        museum = Museum(stores, settings)
        return {"the room judged alone": cpu_s(lambda: museum.judgements(room_name(1)))}


def page_after_file(folder: Path, size: Size) -> dict[str, float]:
    """Return what the first page costs after a weekly file, in a process that has served it."""
    settings = on(folder, size, 1)
    with Stores.open(settings) as stores:
        museum = Museum(stores, settings)
        this_week(museum)
        data = weekly_file(2, size.minutes)
        take_in(stores, data, name="week.csv", logger_id="log-02", zone="UTC")
        found = {"first page after a file": cpu_s(lambda: this_week(museum))}
    settings = on(folder, size, 2)
    with Stores.open(settings) as stores:
        data = weekly_file(2, size.minutes, 1)
        take_in(stores, data, name="next.csv", logger_id="log-02", zone="UTC")
        alone = Museum(stores, settings)
        week = str(alone.this_week())
        found["the room remade after a file"] = cpu_s(lambda: alone.room_week(room_name(2), week))
    return found


def peak_mb() -> float:
    """Return the most memory this process has held [MB], not what the one that began it held."""
    lines = Path("/proc/self/status").read_text().splitlines()
    held = dict(line.split(":", 1) for line in lines)
    return int(held["VmHWM"].split()[0]) / 1024


def alone(work: Callable[..., dict[str, float]], *given: Any) -> dict[str, float]:
    """Run a step in a process of its own."""
    with multiprocessing.get_context("spawn").Pool(1) as pool:
        return pool.apply(work, given)


def measured(folder: Path, size: Size) -> list[str]:
    """Return the lines of the report."""
    found: dict[str, float] = {}
    alone(_built, folder, size)
    for step in (serving, following_up, judged_alone, page_after_file):
        found |= alone(step, folder, size)
    lines = [f"{name}: {value:.2f}" for name, value in found.items()]
    one, room = found["first page after a look"], found["the room remade after a look"]
    lines.append(f"first page after a look / the room remade: {one / room:.2f} (wanted: at most 2)")
    one, room = found["first page after a file"], found["the room remade after a file"]
    lines.append(f"first page after a file / the room remade: {one / room:.2f} (wanted: at most 2)")
    beyond = found["weekly file, followed up"] - found["the room judged alone"]
    lines.append(f"weekly file beyond the judged room: {beyond:.2f} s (wanted: at most 1)")
    return lines


def _built(folder: Path, size: Size) -> dict[str, float]:
    build(folder, size)
    return {}


def run() -> list[str]:
    """Return the lines of the report, of a museum as large as the arguments say."""
    parser = argparse.ArgumentParser(prog="living_museum")
    sizes(parser)
    given = parser.parse_args(sys.argv[1:] if Path(sys.argv[0]).stem == "living_museum" else [])
    size = size_of(given)
    with tempfile.TemporaryDirectory() as folder:
        head = f"{size.rooms} rooms, {size.years:g} years at {size.minutes} min, {size.works} works"
        return [head, *measured(Path(folder) / "data", size)]


if __name__ == "__main__":
    print("\n".join(run()))
