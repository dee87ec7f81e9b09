"""Taking files in: once, twice, overlapping, wrongly read, unreadable, interrupted."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pandas as pd
import pytest
from fixtures.kept_files import month_path, original_path

from analysis.errors import UnknownNameError
from analysis.series import Flag
from service.errors import NotUnderstoodError, QuestionError
from service.intake.receipts import Outcome, UploadReceipt
from service.intake.taking_in import finish_received, take_in, withdraw
from service.intake.verification import verify
from service.settings import Settings
from service.storage import audit, loggers, uploads
from service.storage.stores import Stores
from service.storage.uploads import UploadState


def export(start: str, rows: int, *, temp: float = 20.0, zone: str = "") -> bytes:
    """Return an hourly export whose values depend on the hour alone."""
    times = pd.date_range(start, periods=rows, freq="h")
    lines = [f"Time{zone},Temperature (°C),RH (%)"]
    lines += [
        f"{time:%Y-%m-%d %H:%M:%S},{temp + time.hour / 10:.1f},{50 + time.hour / 5:.1f}"
        for time in times
    ]
    return ("\n".join(lines) + "\n").encode()


def test_a_file_is_kept_merged_and_noted(stores: Stores) -> None:
    data = export("2025-10-30", 72)
    receipt = take_in(stores, data, name="north.csv", logger_id="n1", zone="UTC", by="R. Keeper")
    assert receipt.outcome is Outcome.STORED
    assert (receipt.rows, receipt.added, receipt.same, receipt.conflicts) == (72, 72, 0, 0)
    (sensor,) = receipt.sensors
    assert sensor.merged.months == ("2025-10", "2025-11")
    assert sensor.first_utc == datetime(2025, 10, 30, tzinfo=UTC)
    assert stores.originals.read(receipt.sha256) == data
    frame = stores.readings.load("n1")
    assert frame["temp_c"].iloc[:3].tolist() == [20.0, 20.1, 20.2]
    (upload,) = uploads.uploads(stores.register)
    assert (upload.state, upload.by) == (UploadState.STORED, "R. Keeper")
    assert upload.understanding["time"]["zone"] == "UTC"
    assert loggers.logger_named(stores.register, "n1") is not None
    assert {line.what for line in audit.trail(stores.register)} >= {"uploads", "loggers"}
    assert verify(stores) == []


def test_the_same_file_again_changes_nothing(stores: Stores, tmp_path: Path) -> None:
    data = export("2025-10-30", 72)
    first = take_in(stores, data, name="north.csv", logger_id="n1", zone="UTC")
    lines = len(audit.trail(stores.register))
    digest = stores.readings.digest("n1", "2025-10")
    path = tmp_path / "copy of north.csv"
    path.write_bytes(data)
    again = take_in(stores, path, name=path.name, logger_id="n1", zone="UTC")
    assert again.outcome is Outcome.ALREADY_THERE
    assert again.sensors == first.sensors
    assert stores.readings.digest("n1", "2025-10") == digest
    assert len(uploads.uploads(stores.register)) == 1
    assert len(audit.trail(stores.register)) == lines


def test_the_same_file_for_another_logger_is_another_upload(stores: Stores) -> None:
    data = export("2025-10-30", 72)
    for logger in ("n1", "n2"):
        receipt = take_in(stores, data, name="north.csv", logger_id=logger, zone="UTC")
        assert receipt.added == 72
    assert len(list(stores.originals.all())) == 1


def test_overlapping_exports_are_joined_and_conflicts_shown(stores: Stores) -> None:
    take_in(stores, export("2025-10-30", 72), name="a.csv", logger_id="n1", zone="UTC")
    same = take_in(stores, export("2025-11-01", 72), name="b.csv", logger_id="n1", zone="UTC")
    assert (same.added, same.same, same.conflicts) == (48, 24, 0)
    assert not same.needs_person
    other = export("2025-11-03", 48, temp=25.0)
    clash = take_in(stores, other, name="c.csv", logger_id="n1", zone="UTC")
    assert (clash.added, clash.same, clash.conflicts) == (24, 0, 24)
    assert clash.needs_person
    assert any("kept 20, this file says 25" in line for line in clash.lines())
    frame = stores.readings.load("n1")
    flagged = frame[(frame["flags"] & int(Flag.CONFLICT)) != 0]
    assert len(flagged) == 24
    assert flagged["temp_c"].iloc[0] == 20.0
    assert verify(stores) == []


def test_a_choice_is_remembered_and_used_the_next_time(stores: Stores) -> None:
    first = export("2025-07-01", 24)
    take_in(stores, first, name="a.csv", logger_id="n1", zone="Europe/Vienna")
    assert stores.readings.load("n1").index[0] == pd.Timestamp("2025-06-30 22:00", tz="UTC")
    known = loggers.remembered_choice(stores.register, "n1")
    assert known is not None and known["zone"] == "Europe/Vienna"
    take_in(stores, export("2025-07-02", 24), name="b.csv", logger_id="n1")
    frame = stores.readings.load("n1")
    assert len(frame) == 48
    assert frame.index[-1] == pd.Timestamp("2025-07-02 21:00", tz="UTC")
    again = take_in(stores, first, name="a.csv", logger_id="n1")
    assert again.outcome is Outcome.ALREADY_THERE


def test_without_a_clock_nothing_is_stored(stores: Stores) -> None:
    with pytest.raises(QuestionError, match="--zone"):
        take_in(stores, export("2025-10-30", 72), name="north.csv", logger_id="n1")
    assert_nothing_stored(stores)


def test_a_wrong_clock_is_not_stored_twice_but_can_be_taken_back(stores: Stores) -> None:
    before = export("2025-09-01", 24)
    take_in(stores, before, name="before.csv", logger_id="n1", zone="UTC")
    data = export("2025-10-01", 72)
    take_in(stores, data, name="north.csv", logger_id="n1", zone="UTC")
    with pytest.raises(QuestionError, match="--instead"):
        take_in(stores, data, name="north.csv", logger_id="n1", zone="UTC+1")
    assert len(stores.readings.load("n1")) == 96
    right = take_in(
        stores, data, name="north.csv", logger_id="n1", zone="UTC+1", instead=True, by="R. Keeper"
    )
    assert (right.outcome, right.added) == (Outcome.STORED, 72)
    frame = stores.readings.load("n1")
    assert len(frame) == 96
    assert frame.index[24] == pd.Timestamp("2025-09-30 23:00", tz="UTC")
    states = [upload.state for upload in uploads.uploads(stores.register)]
    assert states == ["stored", "withdrawn", "stored"]
    assert verify(stores) == []
    back = take_in(stores, data, name="north.csv", logger_id="n1", zone="UTC", instead=True)
    assert back.added == 72
    assert stores.readings.load("n1").index[24] == pd.Timestamp("2025-10-01", tz="UTC")


def test_an_interrupted_withdrawal_is_finished(stores: Stores) -> None:
    take_in(stores, export("2025-09-01", 24), name="a.csv", logger_id="n1", zone="UTC")
    take_in(stores, export("2025-10-01", 24), name="b.csv", logger_id="n1", zone="UTC")
    second = uploads.uploads(stores.register)[1]
    uploads.mark(stores.register, second.id, UploadState.WITHDRAWING)
    assert len(verify(stores)) == 1
    finish_received(stores)
    assert stores.readings.months("n1") == ["2025-09"]
    assert uploads.uploads(stores.register)[1].state == UploadState.WITHDRAWN
    assert verify(stores) == []


def test_what_was_received_is_finished_at_the_start(stores: Stores) -> None:
    data = export("2025-10-30", 72)
    take_in(stores, data, name="north.csv", logger_id="n1", zone="UTC")
    (upload,) = uploads.uploads(stores.register)
    uploads.mark(stores.register, upload.id, UploadState.RECEIVED)
    month_path(stores.readings, "n1", "2025-11").unlink()
    stores.readings.note_all()
    (receipt,) = finish_received(stores)
    assert (receipt.outcome, receipt.added, receipt.same) == (Outcome.COMPLETED, 24, 48)
    assert finish_received(stores) == ()
    assert len(stores.readings.load("n1")) == 72
    assert verify(stores) == []


def test_what_cannot_be_finished_is_named_and_stops_nothing(stores: Stores) -> None:
    for name, start in (("a.csv", "2025-09-01"), ("b.csv", "2025-10-01")):
        receipt = take_in(stores, export(start, 24), name=name, logger_id="n1", zone="UTC")
    for upload in uploads.uploads(stores.register):
        uploads.mark(stores.register, upload.id, UploadState.RECEIVED)
    original_path(stores.originals, uploads.uploads(stores.register)[0].sha256).unlink()
    (finished,) = finish_received(stores)
    assert finished.sha256 == receipt.sha256
    (problem,) = verify(stores)
    assert "a.csv" in str(problem) or "a.csv" in problem.found


BAD = {
    "empty.csv": b"",
    "header.csv": b"Time,Temperature (C),RH (%)\n",
    "photograph.jpg": b"\xff\xd8\xff\xe0\x00\x10JFIF" + bytes(range(256)) * 40,
    "zeros.csv": b"\x00" * 10_000,
}


@pytest.mark.parametrize("name", BAD)
def test_an_unreadable_file_stores_nothing(stores: Stores, name: str) -> None:
    with pytest.raises(NotUnderstoodError):
        take_in(stores, BAD[name], name=name, logger_id="n1", zone="UTC")
    assert_nothing_stored(stores)


def test_an_unreadable_upload_by_page_keeps_the_original_alone(stores: Stores) -> None:
    data = BAD["photograph.jpg"]
    with pytest.raises(NotUnderstoodError) as problem:
        take_in(stores, data, name="p.jpg", logger_id="n1", zone="UTC", keep_unread=True)
    (sha256,) = stores.originals.all()
    assert stores.originals.read(sha256) == data
    assert sha256 in vars(problem.value)["kept"]
    assert uploads.uploads(stores.register) == ()
    assert stores.readings.loggers() == []


def test_a_caller_may_stop_after_seeing_what_was_understood(stores: Stores) -> None:
    @dataclass
    class Refused(Exception):
        file: str

    def refuse(reading: object) -> None:
        raise Refused(str(reading))

    with pytest.raises(Refused):
        take_in(
            stores,
            export("2025-10-30", 24),
            name="a.csv",
            logger_id="n1",
            zone="UTC",
            on_read=refuse,
        )
    assert_nothing_stored(stores)


WIDE = b"""Time,North Temp (C),North RH (%),South Temp (C),South RH (%)
2025-10-30 00:00,20.0,50,21.0,55
2025-10-30 01:00,20.1,51,21.1,56
2025-10-30 02:00,20.2,52,21.2,57
2025-10-30 03:00,20.3,53,21.3,58
"""


def test_sensors_of_one_file_become_loggers_of_their_own(stores: Stores) -> None:
    receipt = take_in(stores, WIDE, name="wide.csv", logger_id="rig", zone="UTC")
    names = [sensor.logger_id for sensor in receipt.sensors]
    assert names == stores.readings.loggers() == ["rig.north", "rig.south"]
    assert stores.readings.load("rig.south")["temp_c"].iloc[0] == 21.0


def test_sensors_go_where_they_are_told_also_the_next_time(stores: Stores) -> None:
    receipt = take_in(
        stores, WIDE, name="wide.csv", logger_id="rig", zone="UTC", sensors={"North": "n1"}
    )
    assert {sensor.sensor: sensor.logger_id for sensor in receipt.sensors} == {
        "North": "n1",
        "South": "rig.south",
    }
    later = WIDE.replace(b"10-30", b"10-31")
    assert take_in(stores, later, name="later.csv", logger_id="rig").added == 8
    assert stores.readings.loggers() == ["n1", "rig.south"]
    assert verify(stores) == []


def test_two_sensors_for_one_logger_are_refused(stores: Stores) -> None:
    with pytest.raises(NotUnderstoodError, match="a second sensor for logger n1"):
        both = {"North": "n1", "South": "n1"}
        take_in(stores, WIDE, name="w.csv", logger_id="rig", zone="UTC", sensors=both)
    with pytest.raises(UnknownNameError, match="North, South"):
        take_in(stores, WIDE, name="w.csv", logger_id="r", zone="UTC", sensors={"East": "e1"})
    assert_nothing_stored(stores)


def test_withdrawing_one_of_two_files_leaves_the_other(stores: Stores) -> None:
    take_in(stores, WIDE, name="wide.csv", logger_id="rig", zone="UTC")
    take_in(stores, export("2025-10-30", 24), name="a.csv", logger_id="rig.south", zone="UTC")
    first = uploads.uploads(stores.register)[0]
    withdraw(stores, first)
    assert stores.readings.load("rig.north").empty
    south = stores.readings.load("rig.south")
    assert len(south) == 24
    assert not south["flags"].any(), "no conflict is left when its other side is gone"
    assert verify(stores) == []


def test_a_receipt_comes_back_from_the_register(stores: Stores) -> None:
    take_in(stores, export("2025-10-30", 72), name="a.csv", logger_id="n1", zone="UTC")
    clash = export("2025-10-31", 24, temp=30)
    first = take_in(stores, clash, name="b.csv", logger_id="n1", zone="UTC")
    again = take_in(stores, clash, name="b.csv", logger_id="n1", zone="UTC")
    assert isinstance(again, UploadReceipt)
    assert again.sensors[0].merged.conflicts == first.sensors[0].merged.conflicts
    assert again.as_json() | {"outcome": ""} == first.as_json() | {"outcome": ""}


def test_damage_is_found_and_mended_from_the_originals(stores: Stores) -> None:
    receipt = take_in(stores, export("2025-10-30", 72), name="a.csv", logger_id="n1", zone="UTC")
    path = month_path(stores.readings, "n1", "2025-11")
    content = path.read_bytes()
    path.unlink()
    (missing,) = verify(stores)
    assert missing.found == "24 readings missing or changed"
    path.write_bytes(content[:200])
    assert any("2025-11_" in str(problem) for problem in verify(stores))
    path.write_bytes(content)
    original = original_path(stores.originals, receipt.sha256)
    original.chmod(0o644)
    original.write_bytes(original.read_bytes().replace(b"20.0", b"99.0"))
    assert any("other bytes than when it was received" in str(p) for p in verify(stores))


def assert_nothing_stored(stores: Stores) -> None:
    assert list(stores.originals.all()) == []
    assert stores.readings.loggers() == []
    assert uploads.uploads(stores.register) == ()
    assert loggers.remembered_choice(stores.register, "n1") is None


def test_what_files_brought_is_found_by_any_logger_s_name(stores: Stores) -> None:
    found_by_any_name(stores)


def test_a_server_finds_it_too(tmp_path: Path, empty_database: str) -> None:
    with Stores.open(Settings(data_dir=tmp_path, register_url=empty_database)) as stores:
        found_by_any_name(stores)


def found_by_any_name(stores: Stores) -> None:
    """Take files of loggers with awkward names in, and look for them by each."""
    names = ("n1", "n1_b", "Süd_1 100%", "nX1", "n1")
    for number, name in enumerate(names):
        data = export(f"2025-11-{number + 1:02d}", 24)
        taken = take_in(stores, data, name=f"{number}.csv", logger_id=name, zone="UTC")
    register, day = stores.register, datetime(2025, 11, 1, tzinfo=UTC)
    assert [one.logger for one in uploads.brought(register)] == list(names)
    for name in names:
        found = uploads.brought(register, [name])
        assert [one.logger for one in found] == [name] * names.count(name)
    assert uploads.brought(register, ["n_"]) == uploads.brought(register, []) == []
    first, last = uploads.brought(register, ["n1"])
    assert (first.first_utc, last.first_utc) == (day, day + timedelta(days=4))
    withdraw(stores, uploads.upload_numbered(register, taken.upload))
    assert uploads.brought(register, ["n1"]) == [first]
    present = (UploadState.STORED, UploadState.WITHDRAWN)
    kept = uploads.uploads(register)
    assert uploads.latest_uploads(register, 2) == kept[-2:]
    assert uploads.names_and_loggers(register, present) == [(one.name, one.logger) for one in kept]
