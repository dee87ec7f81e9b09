"""What an ordinary change costs in a museum that has lived for years: one look, one weekly file.

``python -m bench living_museum`` makes ten rooms with ten years at five minutes and 170 works, and
prints processor seconds and ratios. ``--rooms 3 --years 2 --works 20`` makes a smaller one.
"""

import argparse
import multiprocessing
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from analysis.records.inspection_records import Inspection
from analysis.records.room_records import Logger, Placement, Room, Site
from analysis.records.work_records import Framing, Hanging, Mounting, Print
from analysis.series import readings_frame
from analysis.works import Finish, FrameBuild, Mount, Paper
from service.answers.museum import Museum
from service.intake.taking_in import take_in
from service.notices.after_arrival import after_arrival
from service.settings import Settings
from service.storage import inspections
from service.storage.records import put_record
from service.storage.stores import Stores

END = datetime(2026, 3, 23, tzinfo=UTC)
WEEK = timedelta(days=7)
MORNING = END + timedelta(hours=9)


@dataclass(frozen=True)
class Size:
    """How large the museum is."""

    rooms: int = 10
    years: float = 10.0
    minutes: int = 5
    works: int = 170
    draws: int = 200


def room_name(number: int) -> str:
    """Return the name of a room."""
    return f"room-{number:02d}"


def air(start: datetime, end: datetime, minutes: int, seed: int) -> pd.DataFrame:
    """Return invented readings of a gallery: a year's swing, weather, days, and noise."""
    index = pd.date_range(start, end, freq=f"{minutes}min", inclusive="left")
    since_h = np.asarray((index - pd.Timestamp("2016-01-01", tz="UTC")).total_seconds()) / 3600
    dice = np.random.default_rng(seed + int(since_h[0]))
    year, day = 2 * np.pi * since_h / 8766, 2 * np.pi * since_h / 24
    weather = sum(np.sin(2 * np.pi * since_h / h + seed + h) for h in (97.0, 171.0, 413.0))
    rh = 48 - 7 * np.cos(year) + 1.6 * weather + 1.5 * np.sin(day)
    temp = 20 - 1.5 * np.cos(year) + 0.4 * np.sin(day)
    noise = dice.normal(0, 0.15, (2, len(index)))
    return readings_frame(
        index, temp_c=np.round(temp + noise[0] / 3, 2), rh_pct=np.round(rh + noise[1], 2)
    )


def build(folder: Path, size: Size) -> None:
    """Make the museum."""
    begin = END - timedelta(days=365.25 * size.years)
    with Stores.open(Settings(data_dir=folder, as_if=MORNING.isoformat())) as stores:
        register = stores.register
        put_record(register, Site("main", "The museum", "Europe/Vienna", 180.0))
        for n in range(size.rooms):
            room = room_name(n)
            put_record(register, Room(room, "main", f"Gallery {n}"))
            put_record(register, Logger(f"log-{n:02d}", zone="UTC"))
            put_record(register, Placement(f"log-{n:02d}", room))
            stores.readings.merge(f"log-{n:02d}", air(begin, END, size.minutes, n))
        for n in range(size.works):
            hang(stores, f"W-{n:03d}", room_name(n % size.rooms))


def hang(stores: Stores, work_id: str, room: str) -> None:
    """Hang a tension-held print, mounted four years ago."""
    register, mounted = stores.register, END - timedelta(days=1400)
    sheet = Print(work_id, work_id, 1200, 900, Paper.RESIN_COATED, Finish.MATT)
    put_record(register, sheet)
    held = Mounting(work_id, mounted, Mount.TENSION_HELD, mounted_rh_pct=46.0)
    put_record(register, held)
    put_record(register, Framing(work_id, FrameBuild.C, spacer_mm=8.0))
    put_record(register, Hanging(work_id, room, mounted))


def weekly_file(number: int, minutes: int, weeks_after: int = 0) -> bytes:
    """Return the next week's export of one room."""
    begin = END + weeks_after * WEEK
    frame = air(begin, begin + WEEK, minutes, number)
    lines = [
        f"{at:%Y-%m-%d %H:%M},{t:.2f},{h:.2f}"
        for at, t, h in zip(frame.index, frame["temp_c"], frame["rh_pct"], strict=True)
    ]
    return "\n".join(["Time,Temperature (°C),RH (%)", *lines, ""]).encode()


def this_week(museum: Museum) -> object:
    """Answer the first page, as the service does; what follows up a file loads no page."""
    from service.web.routes import week

    return week.this_week(museum)


def cpu_s(work: Callable[[], object]) -> float:
    """Return the processor seconds that something takes, all threads together."""
    start = time.process_time()
    work()
    return time.process_time() - start


def look(museum: Museum, hours: int) -> list[str]:
    """Write down a look at one work and follow it up, as the form does."""
    seen = Inspection("W-000", END - timedelta(hours=hours), 1, by="bench")
    inspections.put_inspection(museum.stores.register, seen)
    after_arrival(museum, [room_name(0)])
    return [room_name(0)]


def on(folder: Path, size: Size, weeks_after: int = 0) -> Settings:
    """Return the settings of a museum on the morning after its last readings, or weeks later."""
    morning = MORNING + weeks_after * WEEK
    return Settings(data_dir=folder, draws=size.draws, as_if=morning.isoformat())


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
    """Return the most memory this process has held [MB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


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
    for name, kind in Size.__annotations__.items():
        parser.add_argument(f"--{name}", type=kind, default=getattr(Size(), name))
    given = parser.parse_args(sys.argv[1:] if Path(sys.argv[0]).stem == "living_museum" else [])
    size = Size(**vars(given))
    with tempfile.TemporaryDirectory() as folder:
        head = f"{size.rooms} rooms, {size.years:g} years at {size.minutes} min, {size.works} works"
        return [head, *measured(Path(folder) / "data", size)]


if __name__ == "__main__":
    print("\n".join(run()))
