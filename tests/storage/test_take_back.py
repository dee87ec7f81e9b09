"""An upload taken back: what it gave goes, what it hid returns, its original stays."""

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from analysis.errors import UnknownNameError
from service.cli import main
from service.intake.taking_back import take_back, what_changes
from service.intake.taking_in import take_in
from service.intake.verification import verify
from service.settings import Settings
from service.storage.stores import Stores
from service.storage.uploads import UploadState, upload_numbered


def export(first: str, hours: int, rh: float) -> bytes:
    times = pd.date_range(first, periods=hours, freq="h")
    lines = [f"{t:%Y-%m-%d %H:%M},20.{n % 9},{rh + n % 4:.1f}" for n, t in enumerate(times)]
    return "\n".join(["Time,Temp (C),RH (%)", *lines]).encode()


def added(stores: Stores, name: str, data: bytes, logger: str = "n1") -> int:
    return take_in(stores, data, name=name, logger_id=logger, zone="UTC").upload


def test_where_it_held_the_first_value_the_other_returns(stores: Stores) -> None:
    wrong = added(stores, "wrong.csv", export("2025-10-30", 72, 60.0))
    right = added(stores, "right.csv", export("2025-10-31", 72, 40.0))
    changes = what_changes(stores, upload_numbered(stores.register, wrong))
    assert [(c.logger_id, c.gone, c.returning) for c in changes.loggers] == [("n1", 24, 48)]
    assert "24 readings of wrong.csv would go, and 48 other values would return" in str(
        changes.sentence()
    )
    take_back(stores, wrong, by="R. Keeper")
    found = stores.readings.load("n1")
    alone = take_in_alone(stores, export("2025-10-31", 72, 40.0))
    pd.testing.assert_frame_equal(found, alone, check_freq=False)
    assert not found["flags"].any()
    assert upload_numbered(stores.register, wrong).state == UploadState.WITHDRAWN
    assert stores.originals.has(upload_numbered(stores.register, wrong).sha256)
    assert upload_numbered(stores.register, right).state == UploadState.STORED
    assert verify(stores) == []


def take_in_alone(stores: Stores, data: bytes) -> pd.DataFrame:
    added(stores, "alone.csv", data, "alone")
    return stores.readings.load("alone")


def test_all_sensors_go_and_the_other_loggers_stay(stores: Stores) -> None:
    hours = pd.date_range("2025-11-01", periods=30, freq="h")
    both = "\n".join(
        ["Time,A Temp (C),A RH (%),B Temp (C),B RH (%)"]
        + [f"{t:%Y-%m-%d %H:%M},20.1,{50 + n % 5},18.2,{60 + n % 5}" for n, t in enumerate(hours)]
    ).encode()
    number = added(stores, "both.csv", both)
    added(stores, "other.csv", export("2025-11-01", 10, 45.0), "other")
    loggers = {one.logger_id for one in take_back(stores, number, by="x").loggers}
    assert len(loggers) == 2
    assert all(stores.readings.load(name).empty for name in loggers)
    assert len(stores.readings.load("other")) == 10
    assert stores.readings.loggers() == ["other"]


def test_taken_back_and_brought_in_again(stores: Stores) -> None:
    data = export("2025-11-01", 10, 45.0)
    number = added(stores, "a.csv", data)
    take_back(stores, number, by="x")
    take_back(stores, number, by="x")  # again changes nothing
    assert stores.readings.load("n1").empty
    assert added(stores, "a.csv", data) == number
    assert len(stores.readings.load("n1")) == 10
    with pytest.raises(UnknownNameError):
        take_back(stores, 99, by="x")


def test_what_other_files_say_too_stays(stores: Stores) -> None:
    first = added(stores, "a.csv", export("2025-11-01", 48, 45.0))
    added(stores, "b.csv", export("2025-11-01", 60, 45.0))
    changes = take_back(stores, first, by="x")
    assert changes.lines() == [("n1", "nothing changes: other files say the same")]
    assert len(stores.readings.load("n1")) == 60


def test_the_command_takes_the_number_that_add_gave(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "a.csv"
    file.write_bytes(export("2025-11-01", 24, 45.0))
    data = str(tmp_path / "data")
    asked = ["add", str(file), "--logger", "n1", "--zone", "UTC", "--json", "--data", data]
    assert ended(asked) == 0
    number = json.loads(capsys.readouterr().out)["upload"]
    assert ended(["take-back", str(number), "--data", data]) == 0
    assert "24 readings went" in capsys.readouterr().out
    with Stores.open(Settings(data_dir=tmp_path / "data")) as stores:
        assert stores.readings.load("n1").empty
    assert ended(["take-back", "77", "--data", data]) == 2
    assert np.char.find(capsys.readouterr().err, "77") >= 0


def ended(arguments: list[str]) -> int:
    with pytest.raises(SystemExit) as end:
        main(arguments)
    assert isinstance(end.value.code, int)
    return end.value.code
