"""Every plan refuses what cannot be, in five parts: no curve, no table, no sheet is made of it."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from analysis.air.room_air import RoomAir
from analysis.errors import OutOfRangeError
from analysis.planning.hanging import look_first_at
from analysis.planning.mount_sheet import mount_sheet
from analysis.planning.mounting import mounting_curve
from analysis.planning.sealing import sealing_comparison
from analysis.planning.seasonal import Schedule, schedule_years
from analysis.planning.spacer import clearance
from analysis.results import Range
from analysis.works import Finish, Override, Panel, Paper, Work
from dashboards.text.plan_text import clearance_answer

WORK = Work(
    "W1",
    "Quay",
    1500.0,
    1000.0,
    Paper.FIBRE_BASE,
    Finish.GLOSSY,
    panel=Panel.METAL_FACED,
    mounted_utc=datetime(2024, 1, 1, tzinfo=UTC),
    mounted_rh_pct=48.0,
    spacer_mm=8.0,
)
HOURS = 24 * 60
TIME = np.datetime64("2025-01-01", "s") + np.arange(HOURS) * np.timedelta64(1, "h")
RH = 48.0 + 6.0 * np.sin(np.arange(HOURS) / 150.0)
TEMP, UNKNOWN = np.full(HOURS, 20.0), np.full(HOURS, np.nan)
AIR = RoomAir(TIME, TEMP, RH, RH, UNKNOWN, np.ones(HOURS, np.bool_), 3600.0, 42.0, 54.0)
N = 8
# Plans that carry the work through its room's year, and plans that only measure and count.
THROUGH_THE_YEAR: dict[str, Callable[[Work], object]] = {
    "mount": lambda work: mounting_curve(work, AIR, n=N, rh_pct=[45.0]),
    "hang": lambda work: look_first_at([work], AIR, n=N),
    "seal": lambda work: sealing_comparison(work, AIR, n=N),
    "setback": lambda work: schedule_years(work, AIR, [Schedule("cooler", 2.0, 20, 6)], n=N),
}
ON_THE_BENCH: dict[str, Callable[[Work], object]] = {
    "spacer": lambda work: clearance(work, Range(1.0, 2.0, 3.0)),
    "sheet": mount_sheet,
}


def stated(name: str, value: float) -> Work:
    return replace(WORK, overrides={name: Override(value, value, value, "entered")})


@pytest.mark.parametrize("plan", list(THROUGH_THE_YEAR))
@pytest.mark.parametrize(
    "work",
    [
        stated("thickness_mm", -0.3),
        stated("half_time_h", 0.0),
        stated("beta_cd", 90.0),
        replace(WORK, width_mm=-1500.0),
        replace(WORK, spacer_mm=-8.0),
        replace(WORK, hinge_coverage=0.0),
    ],
    ids=["thickness", "half-time", "movement", "width", "spacer", "coverage"],
)
def test_no_year_is_planned_for_what_cannot_be(plan: str, work: Work) -> None:
    with pytest.raises(OutOfRangeError) as caught:
        THROUGH_THE_YEAR[plan](work)
    judged = caught.value
    assert all((judged.read, judged.where, judged.found, judged.expected, judged.action))


@pytest.mark.parametrize("plan", list(ON_THE_BENCH))
@pytest.mark.parametrize("size", [-1500.0, 0.0, float("nan"), float("inf")])
def test_no_sheet_and_no_sum_for_a_size_that_cannot_be(plan: str, size: float) -> None:
    with pytest.raises(OutOfRangeError) as caught:
        ON_THE_BENCH[plan](replace(WORK, width_mm=size))
    assert caught.value.where == "width"


def test_what_is_not_known_is_said_and_not_reckoned() -> None:
    unknown = clearance(replace(WORK, spacer_mm=None), Range(1.0, 2.0, 3.0))
    assert unknown.clearance_mm is None
    assert unknown.enough is None
    assert clearance_answer(unknown).startswith("Cannot tell")
    refused = clearance(WORK, None)
    assert refused.clearance_mm is None
    assert clearance_answer(refused).startswith("Cannot tell")


def test_the_plans_themselves_work_for_what_can_be() -> None:
    for plan in (*THROUGH_THE_YEAR.values(), *ON_THE_BENCH.values()):
        assert plan(WORK) is not None
