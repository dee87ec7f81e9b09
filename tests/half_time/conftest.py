"""A museum with one room, its logger, and a second logger that is put into a frame."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd
import pytest
from scipy.signal import lfilter

from analysis.learning.half_time import simulator
from analysis.learning.paired_loggers import paired
from analysis.records.room_records import Logger, Place, Placement, Room, Site
from analysis.records.work_records import Framing, Hanging, Mounting, Print
from analysis.series import readings_frame
from analysis.works import FrameBuild
from service.estimates.half_times import FrameRecord, frame_records
from service.intake.demo import delivered_last_utc, deliveries, sample_folder
from service.intake.taking_in import take_in
from service.register.register_files import load_register
from service.settings import Settings
from service.storage.loggers import placements
from service.storage.records import put_record
from service.storage.site_clock import declare
from service.storage.stores import Stores
from service.storage.works import work_record

Floats = npt.NDArray[np.float64]
START = pd.Timestamp("2025-09-01", tz="UTC")
DAY = timedelta(days=1)
HALF_TIME_H, OFFSET_PCT = 18.0, 1.5
IN_THE_FRAME = 5  # days after the start, when the logger went from the wall into the frame


def day(number: float) -> datetime:
    """Return an instant so many days after the start."""
    at: datetime = (START + number * DAY).to_pydatetime()
    return at


def room_air(days: int) -> pd.DataFrame:
    """Hourly readings of a room whose humidity wanders, with a daily swing."""
    rng, n = np.random.default_rng(4), 24 * days
    t = np.arange(n)
    wander = np.asarray(lfilter([1.0], [1.0, -0.985], rng.normal(0.0, 0.9, n)))
    temp = 20.5 + 1.2 * np.sin(2 * np.pi * t / 24) + rng.normal(0.0, 0.02, n)
    index = pd.date_range(START, periods=n, freq="h")
    return readings_frame(
        index, temp_c=temp, rh_pct=48.0 - 2.0 * np.sin(2 * np.pi * t / 24) + wander
    )


def in_frame(room: pd.DataFrame, half_time_h: float = HALF_TIME_H) -> pd.DataFrame:
    """Return what a logger in a frame of that half-time would read, with noise and an offset."""
    humidity = simulator(paired(room, room))(np.array([half_time_h]), np.array([50.0]))[:, 0]
    noise = np.random.default_rng(5).normal(0.0, 0.15, len(room))
    return room.assign(rh_pct=np.round(humidity + OFFSET_PCT + noise, 2))


def beside(room: pd.DataFrame) -> pd.DataFrame:
    """Return what the same logger reads beside the room's."""
    noise = np.random.default_rng(6).normal(0.0, 0.15, len(room))
    return room.assign(rh_pct=np.round(room["rh_pct"] + OFFSET_PCT + noise, 2))


@dataclass
class FramedWork:
    """Stores with work W1 in the room north, and what a test does with them."""

    stores: Stores
    days: int
    half_time_h: float = HALF_TIME_H
    offset_pct: float = OFFSET_PCT

    @staticmethod
    def day(number: float) -> datetime:
        """Return an instant so many days after the start."""
        return day(number)

    @property
    def now(self) -> datetime:
        """The end of the record."""
        return day(self.days)

    def place(self, first: float, last: float | None, place: Place, logger: str = "f1") -> None:
        """Place a logger from a day to another."""
        end = None if last is None else day(last)
        work_id = "W1" if place is Place.IN_FRAME else None
        placement = Placement(logger, "north", day(first), end, place, work_id)
        put_record(self.stores.register, placement)

    def frame(self, at: float, build: FrameBuild = FrameBuild.D) -> None:
        """Close the frame of the work anew."""
        put_record(self.stores.register, Framing("W1", build, day(at)))

    def room(self) -> pd.DataFrame:
        """Return the readings of the room's logger."""
        return room_air(self.days)

    @staticmethod
    def inside(room: pd.DataFrame, half_time_h: float) -> pd.DataFrame:
        """Return what a logger in a frame of that half-time would read."""
        return in_frame(room, half_time_h)

    def records(self) -> list[FrameRecord]:
        """Return the undisturbed spans of the frame, as far as the register knows."""
        register = self.stores.register
        return list(frame_records(work_record(register, "W1"), placements(register), self.now))

    def bring(self, inside: pd.DataFrame, logger: str = "f1") -> None:
        """Store readings of a logger."""
        self.stores.readings.merge(logger, inside)


def framed_work(stores: Stores, days: int) -> FramedWork:
    """Return a museum whose room was measured for so many days."""
    register = stores.register
    put_record(register, Site("quay", "Quay House", "Europe/Oslo"))
    put_record(register, Room("north", "quay", "North Gallery"))
    for name in ("n1", "f1"):
        put_record(register, Logger(name))
    sheet = Print("W1", "Kite over the weir", 1200, 900, "fibre base", "matt")
    put_record(register, sheet)
    mounting = Mounting("W1", day(-200), mounted_rh_pct=48.0)
    put_record(register, mounting)
    put_record(register, Framing("W1", FrameBuild.D, day(-100)))
    hung = Hanging("W1", "north", day(-90), position="place 3", wall="inside wall")
    put_record(register, hung)
    made = FramedWork(stores, days)
    made.place(0, None, Place.ROOM_AIR, "n1")
    made.bring(room_air(days), "n1")
    return made


@pytest.fixture
def work(tmp_path: Path) -> Iterator[FramedWork]:
    """Sixty days of room air, and no logger in the frame yet."""
    with Stores.open(Settings(data_dir=tmp_path / "museum")) as stores:
        yield framed_work(stores, 60)


@pytest.fixture
def paired_work(work: FramedWork) -> FramedWork:
    """The same with a logger that hung beside the room's first, and is in the frame since."""
    room = room_air(work.days)
    moved = pd.Timestamp(day(IN_THE_FRAME))
    early, late = room[room.index < moved], room[room.index >= moved]
    work.place(0, IN_THE_FRAME, Place.ROOM_AIR)
    work.place(IN_THE_FRAME, None, Place.IN_FRAME)
    work.bring(beside(early))
    work.bring(in_frame(late))
    return work


NORTH = (
    "frames_long.psv",
    "north-1_to-february.csv",
    "north-1_2026-W10.csv",
    "north-1_2026-W11.csv",
    "north-1_2026-W12.csv",
)
LONG = ("frames_long.psv", "long-1_newest-first.csv")


@pytest.fixture(scope="session")
def north_museum(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of the invented museum with the year of a room and of a logger in a frame there."""
    return brought_in(tmp_path_factory.mktemp("frames") / "museum", NORTH)


@pytest.fixture(scope="session")
def long_museum(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same of another room, with a tighter frame."""
    return brought_in(tmp_path_factory.mktemp("frames") / "museum", LONG)


def brought_in(folder: Path, files: Sequence[str]) -> Path:
    """Take the register and some files of the invented museum in, and return the folder."""
    samples = sample_folder()
    with Stores.open(Settings(data_dir=folder)) as stores:
        declare(stores.register, delivered_last_utc(samples))
        load_register(stores, samples / "register")
        for one in deliveries(samples):
            if one.file in files:
                take_in(
                    stores,
                    samples / "exports" / one.file,
                    name=one.file,
                    logger_id=next(iter(one.sensors.values())),
                    zone=one.zone,
                    sensors={sensor: logger for sensor, logger in one.sensors.items() if sensor},
                )
    return folder
