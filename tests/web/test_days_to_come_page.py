"""The page of the days to come: with the season's weeks, with a forecast, with a what-if."""

import json
import shutil
import time
from collections.abc import Callable
from pathlib import Path

import httpx
import pandas as pd
import pytest
from fixtures.waiting_files import waiting_files

from analysis.errors import StilltautError
from service.answers.days_ahead import WHAT_IF
from service.answers.museum import Museum
from service.cli import main
from service.ingest.read import read_bytes
from service.intake.demo import deliveries, sample_folder
from service.intake.forecast_files import forecast_of
from service.intake.taking_in import take_in
from service.settings import Settings
from service.storage.forecasts import forecast_faults, forecast_names, newest_forecast
from service.storage.objects.folder import Folder
from service.storage.stores import Stores

pytestmark = pytest.mark.slow

NEEDED = ("north-1_to-february.csv", "out-1_epoch.csv")
NOW = pd.Timestamp("2026-03-22T21:00", tz="UTC")


@pytest.fixture(scope="module")
def with_outdoors(small_museum: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small museum with a year of the north room and of the air outdoors."""
    folder = Path(shutil.copytree(small_museum, tmp_path_factory.mktemp("outdoors") / "museum"))
    samples = sample_folder()
    with Stores.open(Settings(data_dir=folder)) as stores:
        for one in deliveries(samples):
            if one.file in NEEDED:
                take_in(
                    stores,
                    samples / "exports" / one.file,
                    name=one.file,
                    logger_id=next(iter(one.sensors.values())),
                    zone=one.zone,
                    sensors={sensor: logger for sensor, logger in one.sensors.items() if sensor},
                )
        for logger in stores.readings.loggers():  # before a service does, among the tests
            stores.readings.compact(logger, NOW.to_pydatetime())
    return folder


@pytest.fixture
def outdoors(with_outdoors: Path, tmp_path: Path) -> Path:
    """A copy of it that a test may change."""
    return Path(shutil.copytree(with_outdoors, tmp_path / "museum"))


def forecast_file(
    start: pd.Timestamp, hours: int = 120, *, temp_c: float = 8.0, rh_pct: float = 80.0
) -> bytes:
    times = pd.date_range(start, periods=hours, freq="h").strftime("%Y-%m-%dT%H:%M:%SZ")
    rows = ["time UTC,temperature °C,relative humidity %"]
    rows += [f"{when},{temp_c + i % 5},{rh_pct - i % 7}" for i, when in enumerate(times)]
    return "\n".join(rows).encode()


def run(*arguments: str) -> int:
    with pytest.raises(SystemExit) as end:
        main(list(arguments))
    return int(end.value.code or 0)


def bring_in(web: httpx.Client, data: bytes) -> str:
    """Send a file from the page of the days to come, look at its preview, keep it as it stands."""
    sent = web.post(
        "/bring-in", files={"file": ("weather.csv", data)}, data={"logger": "+forecast"}
    )
    assert sent.status_code == 303
    preview = web.get(sent.headers["location"])
    assert "It would be kept as a forecast of outdoor air" in preview.text
    (file,) = waiting_files(preview)
    assert file.fields["logger"] == "+forecast"
    kept = file.send(web, "confirm")
    assert kept.status_code == 303
    for _ in range(100):
        page = web.get(kept.headers["location"])
        if "You may leave this page" not in page.text:
            return page.text
        time.sleep(0.1)
    raise TimeoutError


def test_season_then_forecast_then_what_if(
    outdoors: Path, serve: Callable[..., httpx.Client]
) -> None:
    web = serve(outdoors, draws=60)
    page = web.get("/plan/days", params={"room": "north"})
    assert page.status_code == 200, page.text
    assert "<h1>What will the next days do to North Gallery?</h1>" in page.text
    assert "There is no forecast: this is what an ordinary week of this season" in page.text
    assert "is likely to stay at" in page.text

    readings = sorted((outdoors / "readings").rglob("*.parquet"))
    before = [path.read_bytes() for path in readings]
    receipt = bring_in(web, forecast_file(NOW + pd.Timedelta("1h")))
    assert "kept as a forecast" in receipt
    assert "none of it became a reading" in receipt
    # A forecast is never a reading: it lies in a store of its own.
    assert [path.read_bytes() for path in readings] == before
    assert sorted((outdoors / "readings").rglob("*.parquet")) == readings
    kept = newest_forecast(
        Folder(outdoors / "forecasts"), (NOW + pd.Timedelta("9D")).to_pydatetime()
    )
    assert kept is not None
    assert len(kept.frame) == 120

    page = web.get("/plan/days", params={"room": "north"})
    assert "By the forecast of outdoor air made" in page.text
    told = web.get("/api/rooms/north/days").json()
    assert told["forecast_made_utc"] is not None
    assert 110 < len(told["air"]["time_utc"]) == len(told["air"]["rh_pct"]) <= 120
    here = web.get("/api/round", params={"room": "north"}).json()["rooms"][0]["works"]
    assert {work["work"] for work in told["works"]} <= {work["work_id"] for work in here}
    assert told["works"]
    for what in ("off", "door", "45"):
        changed = web.get("/plan/days", params={"room": "north", "what": what})
        assert changed.status_code == 200, changed.text
        assert "What is changed was not learned" in changed.text
        assert f'<p class="answer">{WHAT_IF[what].capitalize()[:8]}' in changed.text
    assert web.get("/plan/days", params={"room": "north", "what": "boil"}).status_code == 404


@pytest.mark.long
def test_what_a_forecast_says_of_the_works_stands_on_their_pages_and_is_taken_back(
    outdoors: Path,
    serve: Callable[..., httpx.Client],
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    web = serve(outdoors, draws=60)
    words = "waves are more likely than not to show on"
    assert words not in web.get("/").text
    start = NOW + pd.Timedelta("1h")
    bring_in(web, forecast_file(start, hours=160, temp_c=24.0, rh_pct=99.0))
    told = web.get("/api/rooms/north/days").json()
    here = web.get("/api/round", params={"room": "north"}).json()["rooms"][0]["works"]
    flat = {work["work_id"] for work in here if (work["p_visible_now"] or 1.0) < 0.5}
    likely = [w["work"] for w in told["works"] if w["p_worst"] > 0.5 and w["work"] in flat]
    assert likely
    for address in ("/", f"/works/{likely[0]}"):
        assert words in web.get(address).text

    # The command prints what the interface answers; an archive holds the forecast; check reads it.
    data = ("--data", str(outdoors))
    monkeypatch.setenv("STILLTAUT_DRAWS", "60")
    assert run("plan", "days", "--room", "north", "--json", *data) == 0
    assert json.loads(capsys.readouterr().out) == told
    (name,) = forecast_names(Folder(outdoors / "forecasts"))
    path = outdoors / "forecasts" / name
    archive = outdoors.parent / "archive"
    assert run("archive", str(archive), *data) == 0
    assert (archive / "forecasts" / path.name).read_bytes() == path.read_bytes()
    assert "forecasts" in (archive / "README.txt").read_text()
    assert list(forecast_faults(Folder(outdoors / "forecasts"))) == []
    path.write_bytes(path.read_bytes().replace(b"24.0", b"34.0"))
    (fault,) = forecast_faults(Folder(outdoors / "forecasts"))
    assert fault.where == path.name

    back = web.post(f"/plan/forecasts/{path.name}/take-back")
    assert back.status_code == 303
    assert "There is no forecast" in web.get("/plan/days", params={"room": "north"}).text
    assert words not in web.get("/").text
    assert (outdoors / "forecasts" / "taken-back" / path.name).exists()


def test_a_file_that_is_no_forecast_is_refused_and_nothing_is_kept(
    own_museum: Path, serve: Callable[..., httpx.Client]
) -> None:
    web = serve(own_museum)
    only_warmth = (
        b"time UTC,temperature in degrees C\n2026-03-22T23:00:00Z,8.0\n2026-03-23T00:00:00Z,8.5\n"
    )
    sent = web.post(
        "/bring-in", files={"file": ("weather.csv", only_warmth)}, data={"logger": "+forecast"}
    )
    page = web.get(sent.headers["location"])
    assert "no column of temperature or none of humidity" in page.text
    assert "It could not be read. Nothing was stored" in page.text
    assert not (own_museum / "forecasts").exists()


@pytest.mark.parametrize(
    ("issued", "found"),
    [
        ("2031-01-01T00:00", "not ahead"),
        ("yesterday", "such as 2026-03-22T06:00"),
        ("2026-03-22T20:00", ""),
    ],
)
def test_when_a_forecast_was_made_is_said_or_taken_from_its_first_time(
    own_museum: Path, issued: str, found: str
) -> None:
    with Stores.open(Settings(data_dir=own_museum)) as stores:
        museum = Museum(stores, Settings(data_dir=own_museum))
        reading = read_bytes("weather.csv", forecast_file(NOW + pd.Timedelta("6h")))
        # Its first time lies ahead: it was made now at the latest.
        assert forecast_of(museum, reading).issued_utc == museum.clock()
        earlier = read_bytes("weather.csv", forecast_file(NOW - pd.Timedelta("6h")))
        assert forecast_of(museum, earlier).issued_utc == NOW - pd.Timedelta("7h")
        if found:
            with pytest.raises(StilltautError, match=found):
                forecast_of(museum, reading, issued)
        else:
            told = forecast_of(museum, reading, issued).issued_utc
            assert told == pd.Timestamp(issued, tz=museum.zone)


def test_a_forecast_is_kept_by_the_command_too(
    small_museum: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = Path(shutil.copytree(small_museum, tmp_path / "museum"))
    weather = tmp_path / "weather.csv"
    weather.write_bytes(forecast_file(NOW + pd.Timedelta("1h")))
    where = ("--data", str(folder), "--as-if", "2026-03-22T21:30Z")
    made = ("--issued", "2026-03-22T20:00")
    assert run("add", str(weather), "--forecast", *made, "--json", *where) in (0, 1)
    told = json.loads(capsys.readouterr().out.splitlines()[-1])
    assert (told["new"], told["logger_id"]) == (120, "")
    (name,) = forecast_names(Folder(folder / "forecasts"))
    kept = newest_forecast(Folder(folder / "forecasts"), (NOW + pd.Timedelta("9D")).to_pydatetime())
    assert kept is not None
    assert len(kept.frame) == 120
    with Stores.open(Settings(data_dir=folder)) as stores:
        assert stores.originals.read(told["sha256"]) == weather.read_bytes()
    # the same file again is kept once; in words, with what it is; one that is none is refused
    assert run("add", str(weather), "--forecast", *made, *where) in (0, 1)
    assert "none of it became a reading" in capsys.readouterr().out
    assert forecast_names(Folder(folder / "forecasts")) == [name]
    (tmp_path / "warmth.csv").write_text("time UTC,temperature °C\n2026-03-23T00:00:00Z,8.0\n")
    assert run("add", str(tmp_path / "warmth.csv"), "--forecast", *where) == 2
    assert "no column of temperature or none of humidity" in capsys.readouterr().err
    for wrong in (("--forecast", "--logger", "north-1"), (), ("--logger", "x", *made)):
        assert run("add", str(weather), *wrong, *where) == 2
    assert forecast_names(Folder(folder / "forecasts")) == [name]


@pytest.mark.long
def test_outdoors_read_a_month_ago_does_not_keep_the_days_waiting(
    outdoors: Path, serve: Callable[..., httpx.Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = Museum.outdoor
    read = NOW - pd.Timedelta("30D")

    def a_month_ago(self: Museum) -> pd.DataFrame | None:
        frame = whole(self)
        return None if frame is None else frame.loc[:read]

    monkeypatch.setattr(Museum, "outdoor", a_month_ago)
    web = serve(outdoors, draws=20)
    page = web.get("/plan/days", params={"room": "north"})
    assert page.status_code == 200, page.text
    assert "The air outdoors was last read" in page.text
    assert "what it usually does at this time of the year stands in" in page.text
    told = web.get("/api/rooms/north/days").json()
    assert pd.Timestamp(told["outdoors_until_utc"]) <= read
    assert pd.Timestamp(told["from_utc"]) > NOW - pd.Timedelta("2D")
    assert pd.Timestamp(told["air"]["time_utc"][0]) > pd.Timestamp(told["from_utc"])
