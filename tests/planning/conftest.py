"""A room's invented year, and one print in it, for the planning tests."""

from collections.abc import Callable
from dataclasses import replace

import pytest
from bench.calibration import MOUNTED, room_year

from analysis.air.room_air import RoomAir
from analysis.works import Finish, Panel, Paper, Work


@pytest.fixture(scope="session")
def air() -> RoomAir:
    """Return a year of a temperate gallery."""
    return room_year()


@pytest.fixture(scope="session")
def print_on_metal() -> Work:
    """Return a fibre-base print on a panel that hardly moves."""
    return Work(
        "P1",
        "Ferry",
        1500.0,
        1000.0,
        Paper.FIBRE_BASE,
        Finish.GLOSSY,
        panel=Panel.METAL_FACED,
        mounted_utc=MOUNTED,
        mounted_rh_pct=48.0,
        spacer_mm=12.0,
    )


@pytest.fixture(scope="session")
def damper() -> Callable[[RoomAir, float], RoomAir]:
    """Return a function that makes a room's air damper by so many %RH."""

    def made(air: RoomAir, by_pct: float) -> RoomAir:
        low, high = air.rh_low_pct + by_pct, air.rh_high_pct + by_pct
        return replace(air, rh_low_pct=low, rh_high_pct=high)

    return made
