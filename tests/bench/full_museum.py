"""The set: an invented museum as large as asked for, made in minutes and kept out of git.

``python -m bench.full_museum FOLDER --rooms 100 --years 10 --works 1000`` makes it in a folder that
is not there yet, for other measurements to be made on. Readings go to the store by the program's
own merging, the register by its own records; a room's next week is an export to be read.

The air: outdoors a year, days and weather; indoors its moisture at the room's temperature, damped
by the walls. Two rooms of three have a plant that holds humidity within a band and fails for six
days a year.
"""

import argparse
import time
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pandas as pd

from analysis.air.moist_air import rh_from_vapour_pressure, saturation_pressure_pa
from analysis.records.inspection_records import Inspection
from analysis.records.room_records import Logger, Placement, Room, Site
from analysis.records.work_records import Framing, Hanging, Mounting, Print
from analysis.results import Floats
from analysis.series import readings_frame
from analysis.works import NEEDS_CLOSING_RH, Finish, FrameBuild, Mount, Paper
from service.settings import Settings
from service.storage.inspections import put_inspection
from service.storage.records import put_record
from service.storage.register import Register
from service.storage.stores import Stores

END = datetime(2026, 3, 23, tzinfo=UTC)
WEEK = timedelta(days=7)
MORNING = END + timedelta(hours=9)
YEAR_H = 8766.0
FAILS_H = 6 * 24.0  # of every year, the plant of a room is off for so long


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


def work_name(number: int) -> str:
    """Return the number of a work."""
    return f"W-{number:03d}"


def air(start: datetime, end: datetime, minutes: int, seed: int) -> pd.DataFrame:
    """Return invented readings of a gallery; of the same hours the same air."""
    index = pd.date_range(start, end, freq=f"{minutes}min", inclusive="left")
    since_h = np.asarray((index - pd.Timestamp("2010-01-01", tz="UTC")).total_seconds()) / 3600
    dice = np.random.default_rng(seed + int(since_h[0]))
    noise = dice.normal(0, 0.15, (2, len(index)))
    year, day = 2 * np.pi * since_h / YEAR_H, 2 * np.pi * since_h / 24
    temp = 20.5 - (1.0 + seed % 3) * np.cos(year) + 0.5 * np.sin(day + seed % 5)
    rh = _indoors(since_h, temp, seed)
    return readings_frame(
        index,
        temp_c=np.round(temp + noise[0] / 3, 2),
        rh_pct=np.round(np.clip(rh + noise[1], 3.0, 97.0), 2),
    )


def _indoors(since_h: Floats, temp_c: Floats, seed: int) -> Floats:
    """Return the humidity of a room: that of the air from outdoors, held where there is a plant."""
    free = rh_from_vapour_pressure(temp_c, _moisture_pa(since_h, seed))
    damped = 47.0 + (0.55 + 0.05 * (seed % 4)) * (free - 47.0)
    damped += 1.2 * np.sin(2 * np.pi * since_h / 24 + 1)
    if seed % 3 == 2:
        return np.asarray(damped)
    low, high = 44.0 + seed % 4, 52.0 + seed % 4
    held = np.clip(damped, low, high) + 0.15 * (damped - np.clip(damped, low, high))
    off = (since_h - 500.0 * (seed % 17)) % YEAR_H < FAILS_H
    return np.where(off, damped, held)


def _moisture_pa(since_h: Floats, seed: int) -> Floats:
    """Return the vapour pressure in a room of the air that comes from outdoors, and of visitors."""
    year, day = 2 * np.pi * since_h / YEAR_H, 2 * np.pi * since_h / 24
    weather = sum(np.sin(2 * np.pi * since_h / h + h) for h in (61.0, 97.0, 171.0, 413.0))
    outdoors_c = 10.0 - 9.0 * np.cos(year) + 2.0 * weather + 1.5 * np.sin(day)
    rh_outdoors = np.clip(76.0 + 5.0 * np.cos(year) - 2.0 * weather, 30.0, 99.0)
    visitors = 60.0 * np.maximum(np.sin(day), 0.0) * (1 + seed % 2)
    inside_pa = 220.0 + visitors
    return np.asarray(inside_pa + rh_outdoors / 100.0 * saturation_pressure_pa(outdoors_c))


def build(folder: Path, size: Size, seed: int = 0) -> None:
    """Make the museum in a folder; with another seed its rooms have other air."""
    build_in(Settings(data_dir=folder), size, seed)


def build_in(settings: Settings, size: Size, seed: int = 0) -> None:
    """Make the museum wherever the settings keep it."""
    begin = END - timedelta(days=round(365.25 * size.years))
    with Stores.open(settings.with_changes(as_if=MORNING.isoformat())) as stores:
        with stores.register.writing():
            put_rooms(stores.register, size)
            for number in range(size.works):
                hang(stores.register, number, size)
        for number in range(size.rooms):
            readings = air(begin, END, size.minutes, number + seed)
            stores.readings.merge(logger_name(number), readings)


def logger_name(number: int) -> str:
    """Return the name of the logger in a room."""
    return f"log-{number:02d}"


def put_rooms(register: Register, size: Size) -> None:
    """Write the house, its rooms and their loggers down."""
    put_record(register, Site("main", "The museum", "Europe/Vienna", 180.0))
    for number in range(size.rooms):
        put_record(register, Room(room_name(number), "main", f"Gallery {number}"))
        put_record(register, Logger(logger_name(number), zone="UTC"))
        put_record(register, Placement(logger_name(number), room_name(number)))


def hang(register: Register, number: int, size: Size) -> None:
    """Write a print down: one of many kinds, mounted within eight years, seen by some."""
    work_id, room = work_name(number), room_name(number % size.rooms)
    mounted = END - timedelta(days=200 + number * 37 % 2700)
    build_ = tuple(FrameBuild)[number % 5]
    sheet = Print(
        work_id,
        f"Plate {number} of the invented series",
        800.0 + number * 7 % 900,
        600.0 + number * 11 % 700,
        tuple(Paper)[number // 3 % 4],
        tuple(Finish)[number // 2 % 3],
    )
    put_record(register, sheet)
    mount = Mount.BONDED if number % 29 == 28 else Mount.TENSION_HELD
    at_rh = None if number % 7 == 6 else 49.0 + number * 5 % 9
    put_record(register, Mounting(work_id, mounted, mount, mounted_rh_pct=at_rh))
    closed = 48.0 if build_ in NEEDS_CLOSING_RH else None
    glazed = build_ not in (FrameBuild.A, FrameBuild.B)
    framing = Framing(
        work_id, build_, mounted, closing_rh_pct=closed, spacer_mm=8.0 if glazed else None
    )
    put_record(register, framing)
    place = f"wall {number // size.rooms % 4 + 1}, place {number // size.rooms // 4 + 1}"
    put_record(register, Hanging(work_id, room, mounted, position=place))
    if number % 8 == 7:
        seen = Inspection(work_id, END - timedelta(days=3 + number % 60), number % 3, by="bench")
        put_inspection(register, seen)


def weekly_file(number: int, minutes: int, weeks_after: int = 0) -> bytes:
    """Return the next week's export of one room."""
    begin = END + weeks_after * WEEK
    frame = air(begin, begin + WEEK, minutes, number)
    lines = [
        f"{at:%Y-%m-%d %H:%M},{t:.2f},{h:.2f}"
        for at, t, h in zip(frame.index, frame["temp_c"], frame["rh_pct"], strict=True)
    ]
    return "\n".join(["Time,Temperature (°C),RH (%)", *lines, ""]).encode()


def on(folder: Path, size: Size, weeks_after: int = 0) -> Settings:
    """Return the settings of a museum on the morning after its last readings, or weeks later."""
    morning = MORNING + weeks_after * WEEK
    return Settings(data_dir=folder, draws=size.draws, as_if=morning.isoformat())


def sizes(parser: argparse.ArgumentParser) -> None:
    """Let a command line say how large the museum is."""
    for name, kind in Size.__annotations__.items():
        parser.add_argument(f"--{name}", type=kind, default=getattr(Size(), name))


def size_of(given: argparse.Namespace) -> Size:
    """Return the size that a command line says."""
    return Size(**{name: getattr(given, name) for name in Size.__annotations__})


def main() -> None:
    """Make the set that the command line says, and say what it came to."""
    parser = argparse.ArgumentParser(prog="full_museum")
    parser.add_argument("folder", type=Path, help="A folder that is not there yet.")
    sizes(parser)
    given = parser.parse_args()
    if given.folder.exists():
        parser.error(f"{given.folder} is there already")
    size = size_of(given)
    start, processor = time.perf_counter(), time.process_time()
    build(given.folder, size)
    wall, processor = time.perf_counter() - start, time.process_time() - processor
    stored = sum(one.stat().st_size for one in given.folder.rglob("*") if one.is_file())
    many = round(size.rooms * size.years * 365.25 * 24 * 60 / size.minutes)
    print(
        f"{size.rooms} rooms, {size.years:g} years at {size.minutes} min, {size.works:,} works: "
        f"{many:,} readings, {stored / 1e6:.0f} MB, {wall:.0f} s ({processor:.0f} s of processor)"
    )


if __name__ == "__main__":
    main()
