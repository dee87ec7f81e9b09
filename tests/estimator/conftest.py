"""Rooms and works with exactly known parameters, for tests of the estimator."""

from collections.abc import Callable
from datetime import UTC, datetime

import numpy as np
import pandas as pd
import pytest

from analysis.air.room_air import RoomAir, hourly_air
from analysis.chain.isotherm import shift_per_k
from analysis.results import Floats
from analysis.series import readings_frame
from analysis.simulation.priors import Draws, draw
from analysis.works import Finish, FrameBuild, Panel, Paper, Work

START = datetime(2025, 1, 1, tzinfo=UTC)
Knowing = Callable[..., tuple[Work, Draws]]
AirOf = Callable[..., RoomAir]

# Every source of spread set to one value: no lag but the frame's, no relaxation, no hinges' give.
EXACT: dict[str, float] = {
    "beta_md": 40e-6,
    "beta_cd": 80e-6,
    "modulus_md_gpa": 6.0,
    "modulus_cd_gpa": 4.0,
    "thickness_mm": 0.3,
    "grammage_g_m2": 255.0,
    "moisture_slope": 0.105,
    "softening_per_pct": 0.0,
    "core_half_time_h": 0.022,
    "image_half_time_h": 0.022,
    "image_share": 0.0,
    "gelatin_share": 0.0,
    "gelatin_outside_factor": 1.0,
    "relax_per_decade": 1e-9,
    "mechano_sorptive_per_pct": 0.0,
    "alpha_md": 0.0,
    "alpha_cd": 0.0,
    "shrinkage_md": 0.0,
    "shrinkage_cd": 0.0,
    "hysteresis_rh_pct": 11.0,
    "hysteresis_offset_rh_pct": 0.0,
    "poisson": 0.3,
    "grain_vertical": 0.0,
    "panel_beta_along_md": 0.0,
    "panel_beta_along_cd": 0.0,
    "panel_alpha_along_md": 0.0,
    "panel_alpha_along_cd": 0.0,
    "panel_half_time_h": 1.0,
    "hinge_stiffness_n_m": 1e15,
    "hinge_free_length_mm": 1e-6,
    "hinge_coverage": 1.0,
    "hinge_capacity_n_m": 1000.0,
    "hinge_sustained_n_m": 1000.0,
    "hinge_creep_days": 1e9,
    "hinge_week_strain": 2e-4,
    "prestrain": 3e-4,
    "mounted_rh_pct": 50.0,
    "mounted_temp_c": 20.0,
    "mounted_years": 1.0,
    "half_time_h": 24.0,
    "thermal_time_h": 0.01,
    "shift_per_k": shift_per_k(),
    "closing_rh_pct": 50.0,
    "gap_fill": 0.5,
    "sensor_offset_pct": 0.0,
    "wall_factor": 0.0,
    "outdoor_temp_c": 10.0,
    "visible_slope_mrad": 8.0,
    "wavelength_m": 0.25,
    "gap_mm": 8.0,
}


@pytest.fixture(scope="session")
def knowing() -> Knowing:
    """Return (work, draws) with exactly known parameters: arrays, or numbers for all draws."""

    def make(work: Work | None = None, n: int = 8, **values: object) -> tuple[Work, Draws]:
        known = work or Work(
            "W1",
            "Quay",
            1500.0,
            1000.0,
            Paper.FIBRE_BASE,
            Finish.GLOSSY,
            panel=Panel.METAL_FACED,
            frame=FrameBuild.C,
            mounted_utc=datetime(2024, 1, 1, tzinfo=UTC),
            mounted_rh_pct=50.0,
            spacer_mm=8.0,
        )
        drawn = draw(known, n)
        exact = {**EXACT, **values}
        arrays = {
            k: np.broadcast_to(np.asarray(v, dtype=float), n).copy() for k, v in exact.items()
        }
        return known, drawn.replace(**arrays)

    return make


@pytest.fixture(scope="session")
def air_of() -> AirOf:
    """Return the air of a room from hourly arrays (or one number for all hours)."""

    def make(
        temp_c: float | Floats,
        rh_pct: float | Floats,
        hours: int = 0,
        *,
        first: tuple[float, float] | None = None,
        outdoor_c: float | Floats = np.nan,
    ) -> RoomAir:
        n = hours or max(np.size(rh_pct), np.size(temp_c))
        time = np.datetime64(START.replace(tzinfo=None), "s") + np.arange(n) * np.timedelta64(
            1, "h"
        )
        rh = np.broadcast_to(np.asarray(rh_pct, dtype=float), n).copy()
        low, high = first or (float(rh[0]), float(rh[0]))
        return RoomAir(
            time_utc=time,
            temp_c=np.broadcast_to(np.asarray(temp_c, dtype=float), n).copy(),
            rh_low_pct=rh,
            rh_high_pct=rh.copy(),
            outdoor_temp_c=np.broadcast_to(np.asarray(outdoor_c, dtype=float), n).copy(),
            measured=np.ones(n, dtype=bool),
            interval_s=3600.0,
            first_low_pct=low,
            first_high_pct=high,
        )

    return make


def _noise(n: int, seed: int, memory: float, size: float) -> np.ndarray:
    rng = np.random.default_rng(seed)
    steps = rng.standard_normal(n) * size
    out = np.zeros(n)
    for i in range(1, n):
        out[i] = memory * out[i - 1] + steps[i]
    return out


@pytest.fixture(scope="session")
def museum() -> pd.DataFrame:
    """Hourly readings of a made-up room through fourteen months: seasons, days, spikes, a drift."""
    n = 425 * 24 + 1
    hour = np.arange(n)
    year, day = 2 * np.pi * (hour / 24 - 115) / 365, 2 * np.pi * (hour - 9) / 24
    temp = 20.5 + 3.0 * np.sin(year) + 0.7 * np.sin(day) + _noise(n, 1, 0.9, 0.1)
    rh = 48 + 9 * np.sin(year) + 1.0 * np.sin(day) + _noise(n, 2, 0.97, 0.7)
    rng = np.random.default_rng(3)
    for at in rng.integers(0, n - 48, 45):
        rh[at : at + 48] += rng.uniform(-10, 14) * np.exp(-np.arange(48) / rng.uniform(3, 12))
    index = pd.date_range(START, periods=n, freq="h", tz="UTC")
    return readings_frame(index, temp_c=temp, rh_pct=np.clip(rh, 5, 95))


@pytest.fixture(scope="session")
def house() -> pd.DataFrame:
    """Hourly readings of an unheated house through 120 days: cold, damp, heated at times."""
    n = 120 * 24 + 1
    hour = np.arange(n)
    day = 2 * np.pi * (hour - 9) / 24
    temp = (
        9 + 6 * np.sin(2 * np.pi * hour / (24 * 240)) + 2.0 * np.sin(day) + _noise(n, 4, 0.97, 0.3)
    )
    rh = 64 + _noise(n, 5, 0.97, 1.6) - 2.0 * np.sin(day)
    rng = np.random.default_rng(6)
    for at in rng.integers(0, n - 24, 12):
        warm = 9 * np.exp(-np.arange(24) / 8)
        temp[at : at + 24] += warm
        rh[at : at + 24] *= np.exp(-0.062 * warm)  # heated air keeps its vapour
    index = pd.date_range(START, periods=n, freq="h", tz="UTC")
    return readings_frame(index, temp_c=np.clip(temp, 0.5, 30), rh_pct=np.clip(rh, 20, 88))


@pytest.fixture(scope="session")
def museum_air(museum: pd.DataFrame) -> RoomAir:
    """The made-up room on the hourly grid."""
    first, last = museum.index[0].to_pydatetime(), museum.index[-1].to_pydatetime()
    return hourly_air(museum, start_utc=first, end_utc=last)
