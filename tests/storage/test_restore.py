"""An archive read back into an empty folder gives the same museum."""

import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner
from fixtures.serving import DRAWS

from service.cli import stilltaut
from service.errors import StoreError
from service.intake.taking_in import take_in
from service.intake.verification import verify
from service.register.archive import write_archive
from service.register.restore import restore_archive, restore_into
from service.settings import Settings
from service.storage import uploads
from service.storage.accounts.users import User, put_user, users
from service.storage.audit import trail
from service.storage.notices import mark_seen, notices
from service.storage.stores import Stores

pytestmark = pytest.mark.slow

KEEPER = User("keeper", "A. Keeper", "keep", "keeper@house.invalid", "a hash of a password")
EXPORT = b"Time,Temp (C),RH (%)\n2025-10-31 23:00,20.5,50\n2025-11-01 00:00,20.6,51\n"


def asked(data: Path, *command: str) -> str:
    told = CliRunner().invoke(
        stilltaut, [*command, "--data", str(data)], env={"STILLTAUT_DRAWS": str(DRAWS)}
    )
    assert told.exit_code in (0, 1), (command, told.output, told.exception)
    return told.stdout


@pytest.fixture(scope="module")
def museum(small_museum: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A museum with a notice that somebody has seen."""
    folder = tmp_path_factory.mktemp("archived") / "museum"
    shutil.copytree(small_museum, folder)
    with Stores.open(Settings(data_dir=folder)) as stores:
        first = notices(stores.register)[0]
        assert first.id is not None
        mark_seen(stores.register, first.id, by="A. Person", reason="went to look")
        put_user(stores.register, KEEPER, by="A. Person")
    return folder


@pytest.fixture(scope="module")
def archive(museum: Path) -> Path:
    folder = museum.parent / "archive"
    with Stores.open(Settings(data_dir=museum)) as stores:
        write_archive(stores, folder)
    return folder


@pytest.mark.long
def test_the_same_answers_and_notices_come_back(
    museum: Path, archive: Path, tmp_path: Path
) -> None:
    """Once, a museum put together again by hand told seven notices for three."""
    back = tmp_path / "back"
    asked(back, "restore", str(archive))
    with Stores.open(Settings(data_dir=museum)) as first:
        before = trail(first.register, limit=10_000)
    questions = (("round", "--json"), ("notices", "--json"), ("due",), ("notices", "--json"))
    for question in questions:
        assert asked(back, *question) == asked(museum, *question), question
    with (
        Stores.open(Settings(data_dir=museum)) as first,
        Stores.open(Settings(data_dir=back)) as then,
    ):
        assert verify(then) == []
        assert users(then.register) == (replace(KEEPER, password_hash="", recovery_hashes=[]),), (
            "till a new link"
        )
        assert notices(then.register) == notices(first.register)
        assert uploads.uploads(then.register) == uploads.uploads(first.register)
        after = trail(then.register, limit=10_000)
        assert [line for line in before if line not in after] == []
        since = {line.by for line in after if line not in before}
        assert since <= {"restored from an archive", "nightly"}


def test_it_goes_on_from_there(archive: Path, tmp_path: Path) -> None:
    with Stores.open(Settings(data_dir=tmp_path / "back")) as stores:
        restore_archive(stores, archive)
        assert take_in(stores, EXPORT, name="a.csv", logger_id="new-1", zone="UTC").added == 2
        assert verify(stores) == []


def test_nothing_is_mixed_or_written_over(museum: Path, archive: Path) -> None:
    with Stores.open(Settings(data_dir=museum)) as stores:
        held = uploads.uploads(stores.register)
        with pytest.raises(StoreError, match="originals and readings and a register"):
            restore_archive(stores, archive)
        assert uploads.uploads(stores.register) == held


def test_another_folder_is_no_archive(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    with (
        Stores.open(Settings(data_dir=tmp_path / "back")) as stores,
        pytest.raises(StoreError, match=r"no README.txt, no originals.csv"),
    ):
        restore_archive(stores, tmp_path / "a")


def test_an_original_that_changed_is_told(archive: Path, tmp_path: Path) -> None:
    copy = tmp_path / "archive"
    shutil.copytree(archive, copy)
    original = next((copy / "originals").iterdir())
    original.write_bytes(original.read_bytes() + b" ")
    with (
        Stores.open(Settings(data_dir=tmp_path / "back")) as stores,
        pytest.raises(StoreError, match="another file than was archived"),
    ):
        restore_archive(stores, copy)


def test_it_comes_back_on_a_database_server(
    archive: Path, empty_database: str, tmp_path: Path
) -> None:
    settings = replace(Settings(data_dir=tmp_path / "back"), register_url=empty_database)
    with Stores.open(settings) as stores:
        restore_archive(stores, archive)
        assert take_in(stores, EXPORT, name="a.csv", logger_id="new-1", zone="UTC").added == 2
        assert verify(stores) == []


def test_a_cell_that_was_changed_is_named_and_no_folder_appears(
    archive: Path, tmp_path: Path
) -> None:
    copy, back = tmp_path / "archive", tmp_path / "back"
    shutil.copytree(archive, copy)
    journal = copy / "journal" / "uploads.csv"
    journal.write_text(journal.read_text().replace("\n1,", "\nfirst,", 1))
    with pytest.raises(StoreError, match=r"uploads\.csv, row 1, column id: found 'first'"):
        restore_into(Settings(data_dir=back), copy)
    assert not back.exists()
    restore_into(Settings(data_dir=back), archive)
    assert not back.with_name("back.part").exists()


def test_a_damaged_month_is_told_by_the_command(archive: Path, tmp_path: Path) -> None:
    copy = tmp_path / "archive"
    shutil.copytree(archive, copy)
    month = next((copy / "readings").glob("*/*.parquet"))
    month.write_bytes(month.read_bytes()[:200])
    told = CliRunner().invoke(
        stilltaut,
        ["restore", str(copy), "--data", str(tmp_path / "back")],
        standalone_mode=False,
    )
    assert told.return_value == 1
    assert f"{month.stem}_" in told.stdout
