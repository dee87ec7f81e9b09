"""``stilltaut notices``: calm text, JSON for scripts, and sending."""

import json
import socket
import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from aiosmtpd.controller import Controller

from analysis.records.room_records import Room, Site
from analysis.results import Cause, Event, Judgement, LastLook, LeadTime, Listing, Range, State
from analysis.works import Finish, Paper, Work
from service.answers.museum import Museum
from service.cli import main
from service.notices.due import Watch
from service.notices.state import raise_notices
from service.settings import Settings
from service.storage.notices import mark_seen, open_notices
from service.storage.outbox import letters
from service.storage.records import put_record
from service.storage.stores import Stores

NOW = datetime(2026, 3, 22, 23, tzinfo=UTC)
A_WORK = Work("W1", "Quay", 900.0, 700.0, Paper.FIBRE_BASE, Finish.MATT)
JUDGEMENT = Judgement(
    "2020-06",
    "Car park, level four",
    Listing.LOOK_FIRST,
    State.SLACK,
    NOW,
    0.6,
    0.6,
    0.0,
    0.0,
    None,
    None,
    Range(48.0, 53.0, 58.0),
    LeadTime(0.0, 0.0, 336.0),
    None,
    A_WORK,
    asks=LastLook(datetime(2026, 3, 20, tzinfo=UTC), 2),
)


def spike(start_h: float) -> Event:
    start = NOW + timedelta(hours=start_h)
    return Event(
        "spike",
        "rh_pct",
        start,
        NOW,
        NOW,
        43.0,
        58.0,
        15.0,
        4.0,
        60.0,
        Cause.MOISTURE_ADDED,
        100.0,
        "",
        False,
    )


@pytest.fixture
def data(tmp_path: Path) -> Path:
    settings = Settings(
        data_dir=tmp_path / "data", smtp_host="127.0.0.1", mail_to="duty@museum.invalid"
    )
    with Stores.open(settings) as stores:
        put_record(stores.register, Site("s", "Invented", "Europe/Dublin"))
        for room, name in (("court", "Court Gallery"), ("north", "North Gallery")):
            put_record(stores.register, Room(room, "s", name))
        raise_notices(
            stores,
            NOW,
            room_events={"court": [spike(-8)], "north": [spike(-3)]},
            judgements={"court": [JUDGEMENT], "north": []},
            settings=settings,
        )
    return settings.data_dir


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as ended:
        main(["notices", *arguments])
    told = capsys.readouterr()
    assert isinstance(ended.value.code, int)
    return ended.value.code, told.out, told.err


def test_open_notices_are_listed_newest_first(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = run(capsys, "--data", str(data))
    assert code == 1
    assert out.startswith("Two notices are open; nobody has seen")
    assert out.index("North Gallery") < out.index("Court Gallery")
    assert "1. Car park, level four: It was graded 2 on 20 March 2026" in out
    assert "Two letters wait to be sent." in out
    assert max(map(len, out.splitlines())) <= 100


def test_nothing_needs_a_person_once_all_are_seen(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with Stores.open(Settings(data_dir=data), create=False) as stores:
        for notice in open_notices(stores.register):
            mark_seen(stores.register, notice.id, by="technician")
    assert run(capsys, "--data", str(data))[0] == 0


def test_json_for_scripts(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, "--data", str(data), "--json")
    told = json.loads(out)["open"]
    assert [notice["room"] for notice in told] == ["north", "court"]
    assert told[1]["works"][0]["work_id"] == "2020-06"
    assert told[1]["since_utc"] == "2026-03-22T15:00:00+00:00"


def test_a_missing_folder_is_said_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, err = run(capsys, "--data", str(tmp_path / "nowhere"))
    assert (code, out) == (2, "")
    assert len(err.strip().splitlines()) == 1


def test_sending_without_a_server_says_so(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, _, err = run(capsys, "--data", str(data), "--send")
    assert code == 1
    assert "STILLTAUT_SMTP_HOST" in err


class Mailbox:
    def __init__(self) -> None:
        self.arrived = threading.Event()
        self.count = 0

    async def handle_DATA(self, server: object, session: object, envelope: object) -> str:
        self.count += 1
        self.arrived.set()
        return "250 taken"


def test_sending_empties_the_outbox(
    data: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    box = Mailbox()
    office = Controller(box, hostname="127.0.0.1", port=free_port())
    office.start()
    try:
        monkeypatch.setenv("STILLTAUT_SMTP_HOST", "127.0.0.1")
        monkeypatch.setenv("STILLTAUT_SMTP_PORT", str(office.port))
        _, out, err = run(capsys, "--data", str(data), "--send")
    finally:
        office.stop()
    assert box.count == 2
    assert "Letters sent: 2; waiting: 0." in err
    assert "wait to be sent" not in out


def test_the_watch_sends_when_called(data: Path) -> None:
    box = Mailbox()
    office = Controller(box, hostname="127.0.0.1", port=free_port())
    office.start()
    try:
        settings = Settings(data_dir=data, smtp_host="127.0.0.1", smtp_port=office.port)
        with Stores.open(settings, create=False) as stores:
            watch = Watch(Museum(stores, settings), 60.0)
            watch.start()
            watch.call()
            assert box.arrived.wait(10.0)
            watch.stop()
            assert box.count == 2
            assert letters(stores.register, only_waiting=True) == ()
    finally:
        office.stop()


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port
