"""The invented truths that obey the program's own law are its own, reckoned a second way.

The truths of the validation share the tables with the program and no step of its loop. What they
call its own law has to give what the loop gives, draw by draw: else the ranges are tried on
works of an eleventh law that nobody chose.
"""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from bench.foreign_truths import LAWS, LoggedAir, Member, lived, rooms_through_years

from analysis.air.room_air import RoomAir
from analysis.results import Floats
from analysis.simulation.estimator import run
from analysis.simulation.priors import Draws, draw
from analysis.works import Adhesive, Finish, FrameBuild, Paper, Wall, Work

START = datetime(2025, 1, 1, tzinfo=UTC)
DAYS, N = 70, 12
# What no truth does by its own law: see `analysis.simulation.discrepancy`, and the frame's air.
LEFT_OUT = (
    "frame_minus_logger_k",
    "logger_drift_pct_a",
    "season_cos_pct",
    "season_sin_pct",
    "path_share",
)


@pytest.fixture(scope="module")
def air() -> LoggedAir:
    return rooms_through_years(1, 0.0, seed=3, record_days=DAYS + 1)


def recorded(air: LoggedAir) -> RoomAir:
    """Return the same air as the program takes it."""
    rh, temp = air.rh_pct[0], air.temp_c[0]
    first = np.datetime64("2025-01-01T00", "s")
    return RoomAir(
        first + np.arange(len(rh)) * np.timedelta64(3600, "s"),
        temp,
        rh,
        rh.copy(),
        np.full(len(rh), np.nan),
        np.ones(len(rh), dtype=np.bool_),
        3600.0,
        float(rh.min()),
        float(rh.max()),
    )


def hung(adhesive: Adhesive, wall: Wall) -> tuple[Work, Draws]:
    work = Work(
        f"own law, {adhesive}",
        "Harbour wall",
        1200.0,
        900.0,
        Paper.FIBRE_BASE,
        Finish.GLOSSY,
        frame=FrameBuild.B,
        adhesive=adhesive,
        wall=wall,
        mounted_utc=START,
        mounted_rh_pct=52.0,
        closed_utc=START,
        closing_rh_pct=52.0,
    )
    draws = draw(work, N)
    return work, draws.replace(**{name: np.zeros(N) for name in LEFT_OUT})


@pytest.mark.parametrize("adhesive", [Adhesive.PASTED, Adhesive.PRESSURE_SENSITIVE])
@pytest.mark.parametrize("wall", [Wall.INSIDE, Wall.OUTSIDE_MASONRY])
def test_truths_of_the_own_law_are_what_the_loop_finds(
    adhesive: Adhesive, wall: Wall, air: LoggedAir
) -> None:
    work, draws = hung(adhesive, wall)
    hours = [24 * day for day in (7, 30, 50, DAYS)]
    times = [START + timedelta(hours=hour) for hour in hours]
    found = run([work], {work.work_id: draws}, recorded(air), detail_from=times[-1],
                probe={work.work_id: times}).probes[work.work_id]  # fmt: skip
    members = [Member(work, draws.take(np.array([j])), 0, LAWS["own"]) for j in range(N)]
    true = lived(members, air, 0, hours)

    def apart(name: str) -> Floats:
        return np.abs(true[name] - found[name])

    assert apart("print_rh_pct").max() < 0.6
    assert np.median(apart("print_rh_pct")) < 0.15
    # beyond 25 to 70 %RH the loop's spare goes on in a straight line, the truth's bends
    assert np.median(apart("headroom_up_pct")) < 0.3
    assert np.quantile(apart("headroom_up_pct"), 0.9) < 1.0
    assert np.median(apart("headroom_down_pct")) < 0.3
    assert np.quantile(apart("headroom_down_pct"), 0.9) < 1.0
    assert np.median(apart("slope_mrad")) < 0.3
    load = np.maximum(found["tension_md"], found["tension_cd"])
    assert np.median(np.abs(load - true["load_n_m"]) / np.maximum(true["load_n_m"], 20.0)) < 0.03
    # some are slack and some are not: something is compared
    assert 0.05 < np.mean(true["slope_mrad"] > 0.0) < 0.95
