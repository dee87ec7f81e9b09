"""Killed at any step of a restore: there is a whole house or none, and what is left is told."""

import json
import subprocess
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from click.testing import CliRunner
from fixtures.processes import killed_process

from analysis.records.room_records import Room, Site
from service.cli import stilltaut
from service.errors import StoreError
from service.intake.taking_in import take_in
from service.intake.verification import verify
from service.register import restore
from service.register.archive import write_archive
from service.register.register_files import load_register
from service.register.restore import clear_unfinished, restore_into
from service.settings import Settings
from service.storage import places
from service.storage.objects.marks import BEING_RESTORED, FORMAT
from service.storage.records import put_record
from service.storage.stores import Stores, objects_of, restored_beside

KILLED = -9
TIMES = pd.date_range("2026-01-20", periods=30, freq="12h", tz="UTC")  # of two months
EXPORT = "Time,Temp (C),RH (%)\n" + "".join(f"{time:%Y-%m-%d %H:%M},20.1,50\n" for time in TIMES)
WHERE = ["folder", "bucket", "server", "server and bucket"]
UNFINISHED = "an unfinished restore of archive, begun "


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("archived")
    with Stores.open(Settings(data_dir=folder / "house")) as stores:
        put_record(stores.register, Site("main", "The house", "UTC"))
        put_record(stores.register, Room("north", "main", "North Gallery"))
        take_in(stores, EXPORT.encode(), name="a.csv", logger_id="n1", zone="UTC")
        stores.forecasts.put({"2000-01-01.csv": lambda: b"of no use here\n"})
        write_archive(stores, folder / "archive")
    return folder / "archive"


@pytest.fixture(params=["folder", "bucket"])
def kept_anywhere(request: pytest.FixtureRequest, tmp_path: Path) -> Settings:
    if request.param == "bucket":
        return request.getfixturevalue("in_a_bucket")  # type: ignore[no-any-return]
    return Settings(data_dir=tmp_path / "data")


@pytest.fixture
def kept(request: pytest.FixtureRequest, where: str, tmp_path: Path) -> Settings:
    settings = Settings(data_dir=tmp_path / "data")
    if "bucket" in where:
        settings = request.getfixturevalue("in_a_bucket")
    if "server" in where:
        url = request.getfixturevalue("empty_database")
        settings = settings.with_changes(register_url=url)
    return settings


def killed_at(process: subprocess.Popen[str], settings: Settings, archive: Path, step: int) -> int:
    """Restore in the process, which dies before a step; return how it ended."""
    assert process.stdin is not None and process.stdout is not None
    asked = {"settings": settings.as_environment(), "archive": str(archive)}
    process.stdin.write(json.dumps(asked | {"after_s": None, "at_step": step}) + "\n")
    process.stdin.flush()
    return int(process.stdout.readline().split()[0])


def require_whole(settings: Settings) -> None:
    with Stores.open(settings, create=False) as stores:
        assert verify(stores) == []
        assert pd.DatetimeIndex(stores.readings.load("n1").index).equals(TIMES)
        assert [room.name for room in places.rooms(stores.register)] == ["North Gallery"]
        assert len(list(stores.originals.all())) == 1
        assert BEING_RESTORED not in stores.objects.names()
    assert not (settings.data_dir / BEING_RESTORED).exists()
    assert not restored_beside(settings.data_dir).exists()


def is_whole(settings: Settings) -> bool:
    """Open what a kill left, as a command and as a service that may make a house anew.

    It is refused in words, or it is whole; or nothing had begun, and nothing is there.
    """
    objects = objects_of(settings)
    begun = BEING_RESTORED in objects.names() or restored_beside(settings.data_dir).is_dir()
    try:
        with Stores.open(settings, create=False) as stores:
            there = bool(places.rooms(stores.register))
    except StoreError as told:
        assert UNFINISHED in str(told) or not begun or "no such folder" in str(told), told
        if UNFINISHED not in str(told):
            return False
        with pytest.raises(StoreError, match=UNFINISHED):
            Stores.open(settings)
        assert "stilltaut restore --clear" in told.action
        return False
    if there:
        require_whole(settings)
    else:
        assert settings.register_url  # a server's, in which nobody has begun a house
    return there


@pytest.mark.long
@pytest.mark.slow
@pytest.mark.parametrize("where", WHERE)
def test_there_is_a_whole_house_or_none(kept: Settings, archive: Path, where: str) -> None:
    told, step, status = 0, 0, KILLED
    with killed_process() as process:
        while status == KILLED and not is_whole(kept):
            step += 1
            status = killed_at(process, kept, archive, step)  # over what the last one left
            told += is_told(kept)
    assert told >= 3, "killed too seldom between the first file and the last row"
    require_whole(kept)
    with pytest.raises(StoreError, match="expected a new or empty folder"):
        restore_into(kept, archive)
    with pytest.raises(StoreError, match="no unfinished restore"):
        clear_unfinished(kept)
    require_whole(kept)


def is_told(settings: Settings) -> bool:
    try:
        Stores.open(settings, create=False).close()
    except StoreError as told:
        return UNFINISHED in str(told)
    return False


@pytest.mark.long
@pytest.mark.parametrize("where", WHERE)
def test_what_is_left_is_cleared_away(
    kept: Settings, archive: Path, where: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    with killed_process() as process:
        for step in range(1, 100):
            assert killed_at(process, kept, archive, step) == KILLED
            if any(list(objects_of(one).listed("readings")) for one in (kept, beside(kept))):
                break
    assert is_told(kept)
    monkeypatch.setattr("service.commands.restore.load_settings", lambda: kept)
    told = CliRunner().invoke(stilltaut, ["restore", "--clear"])
    assert "The unfinished restore of archive, begun " in told.output
    assert told.exit_code == 0
    assert not kept.data_dir.exists()
    assert not restored_beside(kept.data_dir).exists()
    assert list(objects_of(kept).listed()) == []
    with pytest.raises(StoreError, match="no unfinished restore"):
        clear_unfinished(kept)
    restore_into(kept, archive)
    require_whole(kept)


def beside(settings: Settings) -> Settings:
    return settings.with_changes(data_dir=restored_beside(settings.data_dir))


def test_of_two_restores_into_one_place_one_is_given_up(
    in_a_bucket: Settings, archive: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Two machines know nothing of each other; the later one clears what the first has put."""
    there = in_a_bucket.with_changes(data_dir=tmp_path / "another machine")
    load, begun = load_register, list[Settings]()

    def other_first(*given: Any, **named: Any) -> dict[str, int]:
        if not begun:
            begun.append(there)
            restore_into(there, archive)
        return load(*given, **named)

    monkeypatch.setattr(restore, "load_register", other_first)
    with pytest.raises(StoreError, match="another restore into the same place, begun meanwhile"):
        restore_into(in_a_bucket, archive)
    require_whole(there)


def test_files_of_a_later_release_are_left_alone(kept_anywhere: Settings) -> None:
    with Stores.open(kept_anywhere) as stores:
        take_in(stores, EXPORT.encode(), name="a.csv", logger_id="n1", zone="UTC")
    with Stores.open(kept_anywhere) as stores:
        assert f"format-{FORMAT}" in stores.objects.names()
        stores.objects.put({f"format-{FORMAT + 1}": lambda: b"stilltaut 99.0"})
    with pytest.raises(StoreError, match=r"files made by a later release: stilltaut 99\.0") as told:
        Stores.open(kept_anywhere)
    assert told.value.action.startswith("Install that release or a newer one")
