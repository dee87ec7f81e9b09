"""What works teach each other: page, button, switch and command, on a served museum."""

import re
from collections.abc import Callable
from datetime import UTC, datetime
from html import unescape
from pathlib import Path

import httpx
from click.testing import CliRunner

from analysis.records.inspection_records import Measured
from analysis.simulation.drawn_parameters import UNITS
from service.commands.classes import command
from service.settings import Settings
from service.storage.records import put_record
from service.storage.stores import Stores
from service.storage.works import as_work, work_records

Serve = Callable[[Path], httpx.Client]
NOW = datetime(2026, 3, 20, tzinfo=UTC)


def said(page: httpx.Response) -> str:
    text = unescape(re.sub(r"<[^>]+>", " ", page.text)).replace("\N{NO-BREAK SPACE}", " ")
    return re.sub(r"\s+", " ", text)


def measured_house(folder: Path) -> str:
    """State a half-time of some works of one build; return another work of that build."""
    with Stores.open(Settings(data_dir=folder)) as stores:
        builds: dict[str, list[str]] = {}
        for key, record in work_records(stores.register).items():
            work = as_work(record, NOW)
            if "frame" not in work.unknown and "half_time_h" not in work.overrides:
                builds.setdefault(work.frame, []).append(key)
        alike = max(builds.values(), key=len)
        for key in alike[:-1]:
            row = Measured(key, "half_time_h", 30.0, 27.0, 33.0, "a logger in the frame")
            put_record(stores.register, row)
        return alike[-1]


def test_renewed_it_stands_on_the_page_of_a_work_that_borrows(
    own_museum: Path, serve: Serve
) -> None:
    work_id = measured_house(own_museum)
    house = serve(own_museum)
    assert "Nothing yet" in said(house.get("/classes"))
    sent = house.post("/classes", data={"by": "A. Person", "what": "renew"})
    assert sent.status_code == 303
    text = said(house.get(sent.headers["location"]))
    assert "Renewed from what is measured now." in text
    assert "version 1" in text
    assert "borrowed from" in said(house.get(f"/works/{work_id}"))
    (lent, *_) = house.get(f"/api/works/{work_id}").json()["borrowed"]
    assert lent["low"] < lent["value"] < lent["high"]
    assert (lent["unit"], work_id in lent["works"]) == (UNITS[lent["name"]], False)
    assert unescape(lent["sentence"]) in said(house.get(f"/works/{work_id}"))
    house.post("/classes", data={"by": "A. Person", "what": "off"})
    assert "it is switched off" in said(house.get("/classes"))
    assert "borrowed from" not in said(house.get(f"/works/{work_id}"))
    assert house.get(f"/api/works/{work_id}").json()["borrowed"] == []


def test_the_command_renews_and_writes_a_file(own_museum: Path, tmp_path: Path) -> None:
    measured_house(own_museum)
    path = tmp_path / "classes.json"
    options = ["--data", str(own_museum), "--renew", "--write", str(path), "--name", "Quay House"]
    answer = CliRunner().invoke(command, options, standalone_mode=False)
    assert answer.return_value == 0
    assert "Half-time of the frame" in answer.output
    assert '"name": "Quay House"' in path.read_text(encoding="utf-8")
