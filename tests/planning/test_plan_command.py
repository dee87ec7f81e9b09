"""``stilltaut plan`` on a small register with a season of readings."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

from analysis.records.inspection_records import Inspection
from analysis.records.room_records import Logger, Placement, Room, Site
from analysis.records.work_records import Framing, Hanging, Mounting, Print
from analysis.series import readings_frame
from service.answers.museum import Museum
from service.answers.planning import plan_hanging, posterior_of, posteriors
from service.cli import stilltaut
from service.settings import Settings
from service.storage import inspections
from service.storage.records import put_record
from service.storage.stores import Stores

START = datetime(2025, 3, 1, tzinfo=UTC)
DAYS = 70


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("museum")
    with Stores.open(Settings(data_dir=folder)) as stores:
        register = stores.register
        put_record(register, Site("quay", "Quay House", "Europe/Oslo"))
        for room in ("north", "empty"):
            put_record(register, Room(room, "quay", room.title()))
        put_record(register, Logger("n1"))
        put_record(register, Placement("n1", room="north", from_utc=START))
        for number, mount in (("W1", "tension-held"), ("W2", "bonded overall")):
            put_record(
                register,
                Print(number, f"Sheet {number}", 1500, 1000, "fibre base", "glossy"),
            )
            put_record(
                register,
                Mounting(number, START - timedelta(days=90), mount, mounted_rh_pct=47.0),
            )
            put_record(register, Framing(number, "C", spacer_mm=12.0))
            put_record(register, Hanging(number, "north", START))
        seen = Inspection("W1", START + timedelta(days=40), 0, by="A. N.")
        inspections.put_inspection(register, seen)
        stores.readings.merge("n1", readings())
    return folder


def readings() -> pd.DataFrame:
    index = pd.date_range(START, periods=24 * DAYS, freq="h")
    t = np.arange(len(index))
    rh = 46.0 + 6.0 * np.sin(2 * np.pi * t / (24 * 30)) + 2.0 * np.sin(2 * np.pi * t / 24)
    return readings_frame(index, temp_c=20.0 + np.sin(2 * np.pi * t / 24), rh_pct=np.round(rh, 1))


def judged(data: Path, *words: str) -> str:
    answer = CliRunner().invoke(stilltaut, ["plan", *words, "--data", str(data)])
    assert answer.exit_code == 0, answer.output
    return answer.output


@pytest.fixture(autouse=True)
def few_draws(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("STILLTAUT_DRAWS", "40")


def test_mount(data: Path, tmp_path: Path) -> None:
    out = tmp_path / "curve.svg"
    page = judged(data, "mount", "--work", "W1", "--out", str(out))
    assert "Mounted at 35 % it would have been slack" in page.splitlines()[0]
    assert "60.0 %RH: months slack" in page
    assert "not a published rule" in page
    assert out.read_bytes().startswith(b"<?xml")


def test_hang(data: Path) -> None:
    page = judged(data, "hang")
    assert "Sheet W1: North (now) " in page
    assert "Left out: Sheet W2: bonded overall." in page
    assert "Empty" not in page


def test_seal(data: Path) -> None:
    page = judged(data, "seal", "--work", "W1", "--target", "30")
    assert "glazed, board back, not taped (as it is now): half-time" in page
    assert "keeps the humidity of the day it is closed" in page
    assert "above its target of 30 %RH" in page


def test_spacer(data: Path) -> None:
    page = judged(data, "spacer", "--work", "W1", "--spacer", "40", "--minimum", "2")
    assert "at the worst still the agreed 2 mm or more" in page
    assert "less bow of the panel:" in page
    assert "Depth needed for the clearance agreed:" in page


def test_plans_rest_on_what_the_pages_show(data: Path) -> None:
    settings = Settings(data_dir=data, draws=40)
    with Stores.open(settings, create=False) as stores:
        for _ in range(2):  # worked out, then as it was kept
            museum = Museum(stores, settings)
            now = museum.now()
            page = next(one for one in museum.assessed("north", now) if one.work.work_id == "W1")
            plan = posterior_of(museum, "W1")
            assert plan is not None
            assert page.learned is not None
            assert np.array_equal(plan.weights, page.learned.weights)
            assert set(plan.levels) == set(page.learned.levels) != set()
            for name, level in plan.levels.items():
                assert np.array_equal(level, page.learned.levels[name])
        assert posterior_of(museum, "W2") is None


def test_where_to_hang_asks_for_no_judgement(data: Path) -> None:
    with Stores.open(Settings(data_dir=data, draws=40), create=False) as stores:
        museum = Museum(stores, Settings(data_dir=data, draws=40))
        table = plan_hanging(museum)
        assert [row.work.work_id for row in table.rows] == ["W1"]
        assert museum.assessed_before("north") == ()
        now = museum.now()
        pages = {one.work.work_id: one for one in museum.assessed("north", now)}
        assert {key: room for key, (room, _) in posteriors(museum).items()} == {
            "W1": "north",
            "W2": "north",
        }
        learned, shown = posteriors(museum)["W1"][1], pages["W1"].learned
        assert learned is not None
        assert shown is not None
        assert np.array_equal(learned.weights, shown.weights)
        assert np.array_equal(learned.levels["prestrain"], shown.levels["prestrain"])
        assert posteriors(museum)["W2"][1] is None


@pytest.mark.parametrize("name", ["sheet.pdf", "sheet.svg", "sheet.txt"])
def test_sheet_in_a_file(data: Path, tmp_path: Path, name: str) -> None:
    out = tmp_path / name
    judged(data, "sheet", "--work", "W1", "--out", str(out))
    assert out.stat().st_size > 1000


def test_sheet_on_screen(data: Path) -> None:
    page = judged(data, "sheet", "--work", "W1", "--pitch", "100")
    assert "Mount sheet: Sheet W1 (W1)" in page
    assert "Hinges in all                   54" in page  # 2 (16 + 11)


def test_seasons_and_night(data: Path, tmp_path: Path) -> None:
    out = tmp_path / "seasons.svg"
    page = judged(
        data, "seasons", "--work", "W1", "--setback", "3", "--summer", "-4", "--out", str(out)
    )
    assert "As it was: a day in the room" in page
    assert "3 K cooler from 20 to 6 h: a day in the room" in page
    assert "Plant and its controls are the engineer's" in page
    assert out.stat().st_size > 1000


def test_seasons_without_a_change_asks_for_one(data: Path) -> None:
    answer = CliRunner().invoke(stilltaut, ["plan", "seasons", "--work", "W1", "--data", str(data)])
    assert answer.exit_code == 2
    assert "--winter, --summer or --setback" in answer.output


def test_walls_can_be_chosen(data: Path) -> None:
    page = judged(data, "hang", "--wall", "inside wall", "--wall", "outside wall, solid masonry")
    assert "North, inside wall (now) " in page
    assert "North, outside wall, solid masonry " in page


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["mount", "--work", "W9"], "W1, W2"),
        (["mount", "--work", "W2"], "held by tension"),
        (["mount", "--work", "W1", "--room", "empty"], "Take in a file"),
        (["spacer", "--work", "W1", "--spacer", "-3"], "spacer"),
        (["sheet", "--work", "W1", "--target", "140"], "between 0 and 100"),
    ],
)
def test_what_cannot_be_planned_is_said_in_five_parts(
    data: Path, words: list[str], expected: str
) -> None:
    answer = CliRunner().invoke(stilltaut, ["plan", *words, "--data", str(data)])
    assert answer.exception is not None
    assert expected in str(answer.exception)


def test_a_missing_folder_is_an_error_and_not_an_empty_museum(tmp_path: Path) -> None:
    nowhere = tmp_path / "nowhere"
    answer = CliRunner().invoke(
        stilltaut, ["plan", "sheet", "--work", "W1", "--data", str(nowhere)]
    )
    assert "no such folder" in str(answer.exception)
    assert not nowhere.exists()
