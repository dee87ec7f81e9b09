"""A small museum with real stores: two rooms, an outdoor place, files taken in as uploads."""

import shutil
from collections.abc import Iterator
from dataclasses import dataclass, fields
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import pytest

import service.estimates.checkpoints
from analysis.records.room_records import Logger, Place, Placement, Room, Site
from analysis.records.work_records import Framing, Hanging, Mounting, Print
from analysis.simulation.estimator import Run, run
from analysis.works import Finish, FrameBuild, Mount, Paper
from service.answers.museum import Museum
from service.estimates.assessments import Assessed
from service.intake.receipts import UploadReceipt
from service.intake.taking_in import take_in
from service.settings import Settings
from service.storage import loggers
from service.storage.records import put_record
from service.storage.site_clock import Clock
from service.storage.stores import Stores

ZONE = "Europe/Vienna"
START = pd.Timestamp("2026-01-04 23:00", tz="UTC")  # Monday 5 January, 00:00 in Vienna
DAY = timedelta(days=1)

Floats = npt.NDArray[np.float64]


def calm(hours: pd.DatetimeIndex) -> Floats:
    """Humidity of a calm gallery, the same for the same hours [%RH]."""
    since_h = (hours - START).total_seconds().to_numpy() / 3600.0
    quarter = 0.25 * np.sin(since_h)  # a sensor that stands still would be doubted
    return np.asarray(46.0 + 2.0 * np.sin(2 * np.pi * since_h / 24) + quarter)


@dataclass
class SmallMuseum:
    """Stores, and what a test does with them."""

    stores: Stores
    settings: Settings
    museum: Museum

    @staticmethod
    def day(number: float) -> datetime:
        """Return an instant so many days after the Monday on which the record begins."""
        at: datetime = (START + number * DAY).to_pydatetime()
        return at

    @staticmethod
    def calm(hours: pd.DatetimeIndex) -> Floats:
        """Return the humidity that `bring` writes for these hours [%RH]."""
        return calm(hours)

    def bring(
        self, logger: str, first: float, last: float, wet: float = 0.0, **said: Any
    ) -> UploadReceipt:
        """Upload hourly readings of the days ``first`` to ``last``; ``wet`` is added to RH."""
        hours = pd.date_range(START + first * DAY, START + last * DAY, freq="h", inclusive="left")
        rh = calm(hours) + wet
        temp = 20.0 + 0.4 * np.sin(np.arange(len(hours)) / 5.0)
        lines = [
            f"{at:%Y-%m-%d %H:%M},{t:.2f},{h:.2f}" for at, t, h in zip(hours, temp, rh, strict=True)
        ]
        data = "\n".join(["Time,Temperature (°C),RH (%)", *lines, ""]).encode()
        name = f"{logger}-{first}-{last}-{wet}.csv"
        taken = take_in(self.stores, data, name=name, logger_id=logger, zone="UTC", **said)
        self.set_clock(max(self.museum.clock(), hours[-1].to_pydatetime()))
        return taken

    def set_clock(self, at_utc: datetime) -> None:
        """Declare the present: that of the last reading brought, where a test says nothing."""
        self.settings = self.settings.with_changes(as_if=at_utc.isoformat())
        self.museum.time = Clock(at_utc)

    def hang(self, work_id: str, room: str = "north", **facts: Any) -> None:
        """Hang a resin-coated print, mounted at 45 %RH, long before the record."""
        register, long_ago = self.stores.register, datetime(2025, 6, 1, tzinfo=START.tz)
        sheet = Print(work_id, f"Work {work_id}", 1000, 800, Paper.RESIN_COATED, Finish.SEMI_MATT)
        put_record(register, sheet)
        mount = facts.pop("mount", Mount.TENSION_HELD)
        mounting = Mounting(work_id, long_ago, mount, mounted_rh_pct=45.0)
        put_record(register, mounting)
        build = facts.pop("frame", FrameBuild.C)
        put_record(register, Framing(work_id, build, spacer_mm=8.0))
        put_record(register, Hanging(work_id, room, **({"from_utc": None} | facts)))

    def place(self, logger: str, room: str, **facts: Any) -> None:
        """Put a logger in a room."""
        loggers.ensure_logger(self.stores.register, Logger(logger))
        put_record(self.stores.register, Placement(logger, room, **facts))

    def from_the_start(self) -> tuple[Assessed, ...]:
        """Throw away what was kept, and judge the north gallery's works anew."""
        shutil.rmtree(self.stores.results.folder, ignore_errors=True)
        museum = Museum(self.stores, self.settings)
        return museum.assessed("north")

    @staticmethod
    def same_to_the_bit(one: tuple[Assessed, ...], other: tuple[Assessed, ...]) -> bool:
        """Tell whether judgements, and every hour of every history, are identical."""
        for a, b in zip(one, other, strict=True):
            assert a.history is not None
            assert b.history is not None
            for f in fields(a.history):
                x, y = (
                    np.asarray(getattr(a.history, f.name)),
                    np.asarray(getattr(b.history, f.name)),
                )
                if not np.array_equal(x, y, equal_nan=x.dtype.kind == "f"):
                    return False
        return repr([a.judgement for a in one]) == repr([b.judgement for b in other])


@pytest.fixture
def small(tmp_path: Path) -> Iterator[SmallMuseum]:
    settings = Settings(data_dir=tmp_path / "data", draws=40, as_if=START.isoformat())
    with Stores.open(settings) as stores:
        put_record(stores.register, Site("main", "The museum", ZONE, 180.0))
        for room, walls in (("north", "north"), ("south", "none"), ("yard", "")):
            name = f"{room.title()} gallery"
            put_record(stores.register, Room(room, "main", name, walls))
        museum = SmallMuseum(stores, settings, Museum(stores, settings))
        museum.place("n1", "north")
        museum.place("s1", "south")
        museum.place("out", "yard", place=Place.OUTDOORS)
        yield museum


@pytest.fixture
def begun(monkeypatch: pytest.MonkeyPatch) -> list[datetime | None]:
    """Where each run began: at a kept week, or None, the start. The runs are real."""
    seen: list[datetime | None] = []

    def noted(*given: Any, **named: Any) -> Run:
        since = named["since"]
        seen.append(None if since is None else since.time_utc)
        return run(*given, **named)

    monkeypatch.setattr(service.estimates.checkpoints, "run", noted)
    return seen
