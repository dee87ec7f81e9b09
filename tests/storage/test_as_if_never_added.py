"""Added and taken back again: readings and register are as if the file had never come."""

import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import pandas as pd
from hypothesis import HealthCheck, given, settings, strategies as st

from service.intake.taking_back import take_back
from service.intake.taking_in import PRESENT, remembered_choice, take_in
from service.intake.verification import verify
from service.settings import Settings
from service.storage import loggers
from service.storage.stores import Stores
from service.storage.uploads import uploads


@dataclass(frozen=True)
class Export:
    """A file of hourly readings: from when, how many, how moist, every how many-th row missing."""

    first_h: int
    hours: int
    rh_pct: int
    gap: int

    def data(self) -> bytes:
        """Return the file."""
        start = pd.Timestamp("2025-10-30") + pd.Timedelta(hours=self.first_h)
        times = pd.date_range(start, periods=self.hours, freq="h")
        lines = [
            f"{t:%Y-%m-%d %H:%M},20.{t.hour % 9},{self.rh_pct + t.hour % 4}.5"
            for n, t in enumerate(times)
            if n == 0 or (n + 1) % self.gap
        ]
        return "\n".join(["Time,Temp (C),RH (%)", *lines, ""]).encode()


EXPORTS = st.builds(
    Export, st.integers(0, 60), st.integers(3, 72), st.sampled_from([40, 50, 60]), st.integers(3, 9)
)


def taken_in(folder: Path, files: Sequence[Export], back: int | None) -> tuple[object, ...]:
    """Return what stands in the stores once files came, and one of them was taken back."""
    with Stores.open(Settings(data_dir=folder)) as stores:
        numbers = [
            take_in(stores, one.data(), name="week.csv", logger_id="n1", zone="UTC").upload
            for one in files
        ]
        if back is not None:
            take_back(stores, numbers[back], by="R. Keeper")
        assert verify(stores) == []
        present = sorted(one.sha256 for one in uploads(stores.register, states=PRESENT))
        choice = remembered_choice(stores, "n1")
        known = [one.logger for one in loggers.loggers(stores.register)]
        return stores.readings.load("n1"), present, choice, known


@settings(deadline=None, max_examples=12, suppress_health_check=[HealthCheck.too_slow])
@given(others=st.lists(EXPORTS, min_size=1, max_size=3, unique=True), one=EXPORTS, data=st.data())
def test_what_is_taken_back_has_never_been(
    others: list[Export], one: Export, data: st.DataObject
) -> None:
    others = [other for other in others if other.data() != one.data()]
    if not others:
        return
    place = data.draw(st.integers(0, len(others)))
    every = [*others[:place], one, *others[place:]]
    with tempfile.TemporaryDirectory() as folder:
        frame, *rest = taken_in(Path(folder) / "with", every, place)
        never, *plain = taken_in(Path(folder) / "without", others, None)
    assert isinstance(frame, pd.DataFrame)
    assert isinstance(never, pd.DataFrame)
    pd.testing.assert_frame_equal(frame, never, check_freq=False)
    assert rest == plain
