"""Plans and judgements start a work with the same years before the record."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from analysis.air.room_air import RoomAir, hourly_air
from analysis.planning.hanging import look_first_at
from analysis.planning.sealing import sealing_comparison
from analysis.planning.year import history_of
from analysis.records.room_records import Logger, Placement, Room, Site
from analysis.records.work_records import Framing, Hanging, Mounting, Print
from analysis.series import readings_frame
from analysis.simulation.estimator import run
from analysis.simulation.pasts import pasts_of
from analysis.simulation.priors import draw
from analysis.works import Finish, FrameBuild, Panel, Paper, Wall, Work
from service.answers.museum import Museum
from service.answers.planning import last_year
from service.settings import Settings
from service.storage.places import is_southern
from service.storage.records import put_record
from service.storage.stores import Stores

START = datetime(2025, 3, 1, tzinfo=UTC)
DRAWS = 40


def readings(days: int = 60) -> pd.DataFrame:
    index = pd.date_range(START, periods=24 * days, freq="h")
    t = np.arange(len(index))
    rh = 47.0 + 7.0 * np.sin(2 * np.pi * t / (24 * 40)) + 2.0 * np.sin(2 * np.pi * t / 24)
    return readings_frame(index, temp_c=20.0 + np.sin(2 * np.pi * t / 24), rh_pct=np.round(rh, 1))


@pytest.fixture(scope="module")
def air() -> RoomAir:
    frame = readings()
    return hourly_air(frame, start_utc=frame.index[0], end_utc=frame.index[-1])


WORK = Work("W1", "Quay", 1500.0, 1000.0, Paper.FIBRE_BASE, Finish.GLOSSY, panel=Panel.METAL_FACED,
            frame=FrameBuild.C, mounted_utc=START - timedelta(days=1200), mounted_rh_pct=47.0,
            spacer_mm=12.0)  # fmt: skip


def test_a_plan_for_the_work_as_it_hangs_is_the_judgement_of_its_year(air: RoomAir) -> None:
    draws = {"W1": draw(WORK, DRAWS)}
    judged = run([WORK], draws, air, pasts=pasts_of(air)).histories["W1"]
    planned = history_of(WORK, air, DRAWS)
    np.testing.assert_array_equal(planned.p_visible_week, judged.p_visible_week)
    np.testing.assert_array_equal(planned.headroom_up_pct, judged.headroom_up_pct)
    # Held since the first hour, as plans once began, it would be another print.
    held = run([WORK], draws, air).histories["W1"]
    assert abs(held.headroom_up_pct[-1, 1] - planned.headroom_up_pct[-1, 1]) > 1.0

    there = look_first_at([WORK], air, Wall.INSIDE, n=DRAWS, at_home=["W1"])["W1"]
    visible = judged.p_visible_week[judged.refused == ""] > 0.5
    assert there.visible == pytest.approx(visible.mean())


def test_a_build_is_closed_after_the_years_in_the_frame_as_it_is(air: RoomAir) -> None:
    found = {one.build: one for one in sealing_comparison(WORK, air, n=DRAWS).builds}
    now, package = found[FrameBuild.C].history, found[FrameBuild.F].history
    # In the hour before it is closed the package is still the present frame.
    np.testing.assert_allclose(package.tension_n_m[0], now.tension_n_m[0])
    # The same lived years: without them it would start with all its pre-strain.
    young = replace(WORK, mounted_utc=START)
    anew = sealing_comparison(young, air, n=DRAWS).builds
    first = next(one for one in anew if one.build is FrameBuild.F).history
    assert package.tension_n_m[48, 1] < 0.9 * first.tension_n_m[48, 1]


@pytest.fixture(scope="module")
def southern(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("south")
    with Stores.open(Settings(data_dir=folder)) as stores:
        register = stores.register
        put_record(register, Site("quay", "Quay House", "Australia/Hobart"))
        put_record(register, Room("north", "quay", "North"))
        put_record(register, Logger("n1"))
        put_record(register, Placement("n1", room="north", from_utc=START))
        put_record(register, Print("W1", "Quay", 1500, 1000, "fibre base", "glossy"))
        put_record(register, Mounting("W1", START - timedelta(days=1200), mounted_rh_pct=47.0))
        put_record(register, Framing("W1", "C", spacer_mm=12.0))
        put_record(register, Hanging("W1", "north", START))
        stores.readings.merge("n1", readings())
    return folder


def test_a_house_in_the_south_gets_southern_pasts_in_judgement_and_plan_alike(
    southern: Path,
) -> None:
    settings = Settings(data_dir=southern, draws=DRAWS)
    with Stores.open(settings) as stores:
        museum = Museum(stores, settings)
        assert museum.readings("north").southern
        year = last_year(museum, "north")
        at = START + timedelta(days=59, hours=23)
        (judged,) = museum.assessed_over(at, at - timedelta(days=1))
        assert judged.air is not None
        assert year.southern
        assert judged.air.southern
        assert pasts_of(year).digest == pasts_of(judged.air).digest
        assert pasts_of(year).digest != pasts_of(replace(year, southern=False)).digest
        assert judged.history is not None
        planned = history_of(judged.work, year, DRAWS, judged.learned)
        same = np.isin(planned.time_utc, judged.history.time_utc)
        ours = np.isin(judged.history.time_utc, planned.time_utc)
        assert same.any()
        np.testing.assert_allclose(
            planned.p_visible[same], judged.history.p_visible[ours], atol=1e-9
        )


def test_the_register_goes_before_the_zone(tmp_path: Path) -> None:
    with Stores.open(Settings(data_dir=tmp_path)) as stores:
        for name, zone, latitude, found in (
            ("a", "Australia/Hobart", None, True),
            ("b", "Australia/Hobart", 10.0, False),
            ("c", "UTC", -41.3, True),
            ("d", "UTC", None, False),
            ("e", "Europe/Oslo", None, False),
        ):
            put_record(stores.register, Site(name, name, zone, latitude_deg=latitude))
            assert is_southern(stores.register, name) is found
