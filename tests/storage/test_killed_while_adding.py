"""Killed at any instant while adding: after a restart nothing is lost and nothing doubled."""

import json
import random
import subprocess
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd
import pytest
from fixtures.processes import killed_process

from service.intake.taking_in import finish_received, take_in
from service.intake.verification import verify
from service.settings import Settings
from service.storage import uploads
from service.storage.stores import Stores

KILLED = -9
KILLS = 50
ROWS = 40
Floats = npt.NDArray[np.float64]


def export(number: int) -> tuple[pd.DatetimeIndex, bytes]:
    """Return times and bytes of a twelve-hourly export that overlaps the one before it."""
    start = pd.Timestamp("2000-01-01", tz="UTC") + pd.Timedelta(days=14 * number)
    times = pd.date_range(start, periods=ROWS, freq="12h")
    written = times.strftime("%Y-%m-%d %H:%M")
    lines = [f"{t},{c:.1f},50.0" for t, c in zip(written, temperature(times), strict=True)]
    return times, "\n".join(["Time,Temp (C),RH (%)", *lines]).encode()


def temperature(times: pd.DatetimeIndex) -> Floats:
    return np.asarray(15 + times.day_of_year % 7 + times.hour / 10, float)


@dataclass
class Museum:
    """A museum to which a process adds files, and what must be in it."""

    folder: Path
    settings: Settings
    adder: subprocess.Popen[str]
    files: int = 0
    checked: int = 0
    lasted_s: float = 0.0
    expected: pd.DatetimeIndex = field(default_factory=lambda: pd.DatetimeIndex([], tz="UTC"))
    found: Counter[str] = field(default_factory=Counter)

    def add(self, *, after_s: float | None = None, at_step: int | None = None) -> int:
        """Let the process add the next file; return how it ended."""
        times, data = export(self.files)
        file = self.folder / f"export-{self.files}.csv"
        file.write_bytes(data)
        command = {"settings": self.settings.as_environment(), "file": str(file)}
        assert self.adder.stdin is not None and self.adder.stdout is not None
        text = json.dumps(command | {"after_s": after_s, "at_step": at_step})
        self.adder.stdin.write(text + "\n")
        self.adder.stdin.flush()
        status, lasted_s = self.adder.stdout.readline().split()
        self.files += 1
        self.lasted_s = float(lasted_s)
        self.expected = self.expected.union(times)
        return int(status)

    def note_state(self) -> None:
        """Count how far the newest file had come when the process ended."""
        name = f"export-{self.files - 1}.csv"
        with Stores.open(self.settings) as stores:
            known = [u for u in uploads.uploads(stores.register) if u.name == name]
        self.found[known[0].state if known else "unknown"] += 1

    def restart(self) -> None:
        """Start again as a person would: open, add once more what was asked for, look."""
        with Stores.open(self.settings) as stores:
            finish_received(stores)
            for number in range(self.checked, self.files):
                file = self.folder / f"export-{number}.csv"
                take_in(stores, file, name=file.name, logger_id="n1", zone="UTC")
            self.checked = self.files
            frame = stores.readings.load("n1")
            times = pd.DatetimeIndex(frame.index)
            assert times.equals(self.expected), "lost, invented or doubled"
            assert not frame["flags"].any()
            np.testing.assert_allclose(frame["temp_c"], temperature(times), atol=1e-9)
            states = [upload.state for upload in uploads.uploads(stores.register)]
            assert states == ["stored"] * self.files
            assert len(list(stores.originals.all())) == self.files


@pytest.fixture
def kept(request: pytest.FixtureRequest, tmp_path: Path) -> Settings:
    """Return where what the museum has is kept: a bucket for tests whose ``where`` says so."""
    if "[bucket]" in request.node.name:
        return request.getfixturevalue("in_a_bucket")  # type: ignore[no-any-return]
    return Settings(data_dir=tmp_path / "data")


@pytest.fixture
def museum(kept: Settings, tmp_path: Path) -> Iterator[Museum]:
    with killed_process() as adder:
        yield Museum(tmp_path, kept, adder)


@pytest.mark.long
@pytest.mark.parametrize("where", ["folder", "bucket"])
def test_killed_before_each_durable_step(museum: Museum, where: str) -> None:
    assert bool(museum.settings.store) == (where == "bucket")
    assert museum.add() == 0
    museum.restart()
    step, status = 0, KILLED
    while status == KILLED:
        step += 1
        status = museum.add(at_step=step)
        museum.note_state()
        museum.restart()
    assert status == 0
    steps = {"folder": 10, "bucket": 7}[where]
    assert step > steps, "fewer durable steps than an upload has"
    assert museum.found["unknown"] > 2
    assert museum.found["received"] > 2
    with Stores.open(museum.settings) as stores:
        assert verify(stores) == []


@pytest.mark.slow
@pytest.mark.long
def test_killed_at_fifty_random_instants(museum: Museum) -> None:
    assert museum.add() == 0
    assert museum.add() == 0
    whole_s = museum.lasted_s
    dice = random.Random(20250311)
    kills = 0
    while kills < KILLS:
        assert museum.files < 4 * KILLS, "the process is done before it can be killed"
        kills += museum.add(after_s=dice.uniform(0, whole_s)) == KILLED
        if dice.random() < 0.4:  # else the next process has to finish it, and may be killed too
            museum.restart()
    museum.restart()
    with Stores.open(museum.settings) as stores:
        assert verify(stores) == []
