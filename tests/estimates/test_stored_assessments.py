"""What is kept between runs: only while it holds, and the same as a run from the start."""

import shutil
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from analysis.records.inspection_records import Inspection
from analysis.results import Listing
from analysis.series import readings_frame
from dashboards.text.judgement_text import reason
from service.answers.museum import Museum
from service.intake.demo import sample_folder
from service.notices.after_arrival import after_arrival
from service.register.register_files import load_register
from service.settings import Settings
from service.storage.inspections import put_inspection, withdraw_inspection
from service.storage.site_clock import Clock
from service.storage.stores import Stores

pytestmark = pytest.mark.slow

ROOM, LOGGER, DRAWS = "north", "north-1", 40
START = pd.Timestamp("2026-01-05", tz="UTC")


def air(weeks: int, shift: float = 0.0, first: int = 0) -> pd.DataFrame:
    """Weeks of a calm gallery, hourly."""
    hours = pd.date_range(START, periods=24 * 7 * weeks, freq="h")[24 * 7 * first :]
    day = np.arange(len(hours)) + 24 * 7 * first
    rh = 48.0 + 2.0 * np.sin(2 * np.pi * day / 24) + shift
    return readings_frame(hours, temp_c=20.0 + 0.3 * np.sin(day / 24), rh_pct=rh)


@pytest.fixture(scope="module")
def described(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of the invented museum before its first readings."""
    folder = tmp_path_factory.mktemp("described") / "museum"
    with Stores.open(Settings(data_dir=folder)) as stores:
        load_register(stores, sample_folder() / "register")
    return folder


@pytest.fixture
def museum(described: Path, tmp_path: Path) -> Iterator[Museum]:
    folder = Path(shutil.copytree(described, tmp_path / "museum"))
    settings = Settings(data_dir=folder, draws=DRAWS)
    with Stores.open(settings) as stores:
        yield Museum(stores, settings)


def bring(museum: Museum, frame: pd.DataFrame) -> None:
    """Store readings as an upload does, and declare the present as the last of them."""
    museum.stores.readings.merge(LOGGER, frame)
    museum.forget()
    museum.time = Clock(frame.index[-1].to_pydatetime())


def judged(museum: Museum) -> dict[str, tuple[float, float, str]]:
    now = museum.now()
    return {
        j.work_id: (j.p_visible_now, j.p_visible_week, reason(j, "UTC"))
        for j in museum.judgements(ROOM, now)
    }


def from_the_start(museum: Museum) -> dict[str, tuple[float, float, str]]:
    shutil.rmtree(museum.stores.results.folder, ignore_errors=True)
    museum.forget()
    return judged(museum)


def test_a_new_week_goes_on_from_a_kept_one_with_the_same_result(museum: Museum) -> None:
    bring(museum, air(7))
    judged(museum)
    kept = museum.stores.results.names("checkpoints")
    assert kept
    bring(museum, air(9, first=7))
    assert repr(judged(museum)) == repr(from_the_start(museum))


def test_a_late_file_is_not_answered_from_what_was_kept(museum: Museum) -> None:
    whole = air(9)
    gap = (whole.index >= START + pd.Timedelta(days=45)) & (
        whole.index < START + pd.Timedelta(days=52)
    )
    bring(museum, whole[~gap])
    judged(museum)
    bring(museum, whole[gap])
    assert repr(judged(museum)) == repr(from_the_start(museum))


def test_results_may_be_deleted_at_any_time(museum: Museum) -> None:
    bring(museum, air(6))
    first = judged(museum)
    assert repr(from_the_start(museum)) == repr(first)


def test_a_bad_grade_sends_a_work_to_the_first_list_until_it_is_withdrawn(museum: Museum) -> None:
    bring(museum, air(6))
    now = museum.now()
    before = {j.work_id: j.listing for j in museum.judgements(ROOM, now)}
    calm = next(w for w, listing in before.items() if listing is Listing.LEAVE_BE)
    seen = now - timedelta(hours=1)
    put_inspection(museum.stores.register, Inspection(calm, seen, 2, by="a technician"))
    after = {j.work_id: j.listing for j in museum.judgements(ROOM, now)}
    assert after[calm] is Listing.LOOK_FIRST
    withdraw_inspection(
        museum.stores.register, calm, seen, "a technician", why="wrong work", by="a technician"
    )
    assert {j.work_id: j.listing for j in museum.judgements(ROOM, now)} == before


def test_a_wet_week_raises_one_notice_and_a_calm_fortnight_ends_it(museum: Museum) -> None:
    bring(museum, air(8))
    assert [n.room for n in after_arrival(museum, [ROOM]).opened if n.kind == "humidity"] == []
    wet = air(9, first=8)
    wet.loc[wet.index[60:72], "rh_pct"] += 18.0
    bring(museum, wet)
    opened = [n for n in after_arrival(museum, [ROOM]).opened if n.kind == "humidity"]
    assert len(opened) == 1
    again = after_arrival(museum, [ROOM])
    assert again.opened == []
    bring(museum, air(11, first=9))
    after_arrival(museum, [ROOM])
    from service.storage.notices import open_notices

    left = [n for n in open_notices(museum.stores.register, ROOM) if n.kind == "humidity"]
    assert left == [] or left[0].details["over_half"]


def test_a_room_without_readings_cannot_tell(museum: Museum) -> None:
    bring(museum, air(2))
    now = museum.now()
    held = [j for j in museum.judgements("tower", now) if j.p_visible_now != j.p_visible_now]
    assert held
    assert all("readings" in reason(j, "UTC") for j in held if j.listing is Listing.CANNOT_TELL)


def test_readings_dated_ahead_of_the_clock_do_not_become_the_present(museum: Museum) -> None:
    bring(museum, air(6))
    ahead = air(1)
    ahead.index = pd.DatetimeIndex(ahead.index + pd.Timedelta(days=36500), name="time_utc")
    museum.stores.readings.merge(LOGGER, ahead)
    museum.forget()
    assert museum.presence(ROOM).known_until_utc == museum.now()
