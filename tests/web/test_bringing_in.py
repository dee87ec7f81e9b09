"""An upload from the file to the receipt, with everything a person may get wrong."""

import hashlib
import io
import re
import time
import zipfile
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from html import unescape
from pathlib import Path

import httpx
import pandas as pd
import pytest
from fixtures.waiting_files import waiting_files

from service.intake.arrivals import Asked, by_logger, reading_key
from service.settings import Settings
from service.storage.places import room_named
from service.storage.stores import Stores
from service.storage.uploads import receive, uploads

JPEG = bytes.fromhex("ffd8ffe000104a46494600010101004800480000") + bytes(range(256)) * 40


@pytest.fixture
def own(own_museum: Path, serve: Callable[..., httpx.Client]) -> httpx.Client:
    """A museum of its own, served."""
    return serve(own_museum, as_if="2026-04-10T12:00+00:00")


def rows(first: str, hours: int, time_format: str = "%Y-%m-%d %H:%M") -> str:
    """Return an export of hourly readings: time, temperature, relative humidity."""
    times = pd.date_range(first, periods=hours, freq="h")
    lines = [
        f"{time:{time_format}},{20 + n % 5 / 10:.1f},{47 + n % 7 / 10:.1f}"
        for n, time in enumerate(times)
    ]
    return "\n".join(["Time,Temperature (°C),Relative humidity (%)", *lines]) + "\n"


def send(client: httpx.Client, name: str, data: str | bytes, logger: str = "") -> httpx.Response:
    """Send a file as the upload form does, and go on to its preview."""
    content = data.encode() if isinstance(data, str) else data
    sent = client.post("/bring-in", files={"file": (name, content)}, data={"logger": logger})
    assert sent.status_code in (303, 422)
    return client.get(sent.headers["location"]) if sent.status_code == 303 else sent


def changed(client: httpx.Client, preview: httpx.Response, **changes: str) -> httpx.Response:
    """Send a preview's form to be looked at again, as it stands but for ``changes``."""
    (file,) = waiting_files(preview)
    page = file.send(client, "look", **changes)
    assert page.status_code == 303
    return client.get(page.headers["location"])


def confirmed(client: httpx.Client, preview: httpx.Response, **changes: str) -> httpx.Response:
    """Send a preview's form as it stands but for ``changes``, and wait for the receipt."""
    (file,) = waiting_files(preview)
    page = file.send(client, "confirm", **changes)
    if page.status_code != 303:
        return page
    return finished(client, page.headers["location"])


def finished(client: httpx.Client, address: str) -> httpx.Response:
    """Look at a page of files until none is in hand."""
    for _ in range(200):
        page = client.get(address)
        if "You may leave this page" not in page.text:
            return page
        time.sleep(0.1)
    raise TimeoutError(address)


def said(page: httpx.Response) -> str:
    """Return what a page says, without tags."""
    text = unescape(re.sub(r"<[^>]+>", " ", page.text))
    return re.sub(r"\s+", " ", text.replace("\N{NO-BREAK SPACE}", " "))


def stored(folder: Path) -> Mapping[str, str]:
    """Return the state of every upload by the name of its file."""
    with Stores.open(Settings(data_dir=folder)) as stores:
        return {one.name: one.state for one in uploads(stores.register)}


def kept(folder: Path, data: bytes) -> bool:
    """Return whether exactly these bytes are kept as they were received."""
    sha256 = hashlib.sha256(data).hexdigest()
    with Stores.open(Settings(data_dir=folder)) as stores:
        return stores.originals.has(sha256) and stores.originals.read(sha256) == data


def readings(folder: Path, logger: str) -> pd.DataFrame:
    """Return a logger's whole record."""
    with Stores.open(Settings(data_dir=folder)) as stores:
        return stores.readings.load(logger)


def test_a_good_file_from_preview_to_receipt(own: httpx.Client, own_museum: Path) -> None:
    before = len(readings(own_museum, "north-1"))
    preview = send(own, "week 13.csv", rows("2026-03-23 01:00", 48), "north-1")
    assert preview.status_code == 200
    assert "48 readings would be stored" in said(preview)
    assert "temperature, °C" in said(preview)
    assert len(readings(own_museum, "north-1")) == before
    receipt = confirmed(own, preview, zone="Europe/Dublin")
    assert "48 new readings from week 13.csv" in said(receipt)
    assert "23 March 2026, 01:00 to 25 March 2026, 00:00" in said(receipt)
    assert len(readings(own_museum, "north-1")) == before + 48
    assert "23 to 29 March 2026" in said(own.get("/?week=2026-W13"))
    assert "week 13.csv" in own.get("/bring-in").text


def test_the_same_file_again_was_here_already(own: httpx.Client, own_museum: Path) -> None:
    data = rows("2026-03-23 01:00", 30)
    confirmed(own, send(own, "a.csv", data, "north-1"))
    before = readings(own_museum, "north-1")
    again = send(own, "a.csv", data, "north-1")
    assert "north-1 has all of these readings already" in said(again)
    assert "No reading of it is new" in said(again)
    longer = said(send(own, "b.csv", rows("2026-03-23 01:00", 40), "north-1"))
    assert "Ten readings would be stored; for 30 times there is a value already" in longer
    receipt = confirmed(own, again)
    assert re.search(r"All of these came in on [^;]+; nothing new", said(receipt))
    pd.testing.assert_frame_equal(readings(own_museum, "north-1"), before)


def test_a_file_that_only_disagrees_is_not_called_stored(
    own: httpx.Client, own_museum: Path
) -> None:
    data = rows("2026-03-23 01:00", 30)
    confirmed(own, send(own, "a.csv", data, "north-1"), zone="Europe/Dublin")
    before = readings(own_museum, "north-1")
    preview = send(own, "b.csv", data.replace(",4", ",5"), "north-1")
    receipt = confirmed(own, preview, zone="Europe/Dublin", sure="yes")
    with Stores.open(Settings(data_dir=own_museum)) as stores:
        north = room_named(stores.register, "north")
    assert north.rhythm is None  # its files show how often it is read: a form does not say it
    assert "b.csv: nothing new" in said(receipt)
    assert "b.csv: stored" not in said(receipt)
    assert "it says something else than what is kept, and what came first was kept" in said(receipt)
    values = ["temp_c", "rh_pct"]
    pd.testing.assert_frame_equal(readings(own_museum, "north-1")[values], before[values])


def test_a_file_read_wrongly_is_taken_back(own: httpx.Client, own_museum: Path) -> None:
    data = rows("2026-03-24 00:00", 30)
    before = len(readings(own_museum, "north-1"))
    confirmed(own, send(own, "a.csv", data, "north-1"), zone="UTC")
    refused = confirmed(own, send(own, "a.csv", data, "north-1"), zone="Etc/GMT+5", sure="yes")
    assert "read differently" in said(refused)
    receipt = confirmed(own, refused, zone="Etc/GMT+5", instead="yes", sure="yes")
    assert "30 new readings" in said(receipt)
    found = readings(own_museum, "north-1")
    assert len(found) == before + 30
    assert found.index[-1] == pd.Timestamp("2026-03-25 10:00", tz="UTC")


@pytest.mark.parametrize(("answer", "first"), [("yes", "2026-04-03"), ("no", "2026-03-04")])
def test_an_ambiguous_date_asks_and_the_answer_counts(
    own: httpx.Client, own_museum: Path, answer: str, first: str
) -> None:
    data = "Time,Temp °C,RH %\n03/04/2026 10:00,20.1,47\n03/04/2026 11:00,20.2,48\n"
    asked = send(own, "dates.csv", data, "spare-1")
    assert "It can be read in more than one way" in said(asked)
    assert "--" not in said(asked)
    preview = changed(own, asked, day_first=answer)
    receipt = confirmed(own, preview, zone="UTC")
    assert "two new readings" in said(receipt).lower()
    assert readings(own_museum, "spare-1").index[0] == pd.Timestamp(f"{first} 10:00", tz="UTC")


SWAPPED = "Time,Temp °C,Dew point °C\n" + "".join(
    f"2026-03-24 {hour:02d}:00,{9 + hour / 10:.1f},{20 + hour / 10:.1f}\n" for hour in range(9)
)


def test_columns_may_be_corrected(own: httpx.Client, own_museum: Path) -> None:
    preview = send(own, "swapped.csv", SWAPPED, "spare-1")
    (file,) = waiting_files(preview)
    fields = file.fields
    assert {fields["column_1"], fields["column_2"]} == {"temp_c|°C", "dew_point_c|°C"}
    swapped = {"column_1": fields["column_2"], "column_2": fields["column_1"]}
    preview = changed(own, preview, **swapped)
    receipt = confirmed(own, preview, zone="UTC")
    assert "nine new readings" in said(receipt).lower()
    assert readings(own_museum, "spare-1")["temp_c"].tolist()[:2] == [20.0, 20.1]


def test_a_unit_may_be_corrected(own: httpx.Client, own_museum: Path) -> None:
    data = "Time,Temp °C,RH %\n" + "".join(
        f"2026-03-24 {hour:02d}:00,{68 + hour / 10:.1f},{45 + hour}\n" for hour in range(9)
    )
    preview = send(own, "warm.csv", data, "spare-1")
    if "Please look at this first" in said(preview):
        assert "temperature reaches 68.8 °C" in said(preview)
    preview = changed(own, preview, column_1="temp_c|°F")
    assert "Please look at this first" not in said(preview)
    confirmed(own, preview, zone="UTC")
    assert readings(own_museum, "spare-1")["temp_c"].iloc[0] == pytest.approx(20.0)


def test_one_quantity_cannot_stand_in_two_columns(own: httpx.Client, own_museum: Path) -> None:
    preview = send(own, "twice.csv", SWAPPED, "spare-1")
    page = confirmed(own, preview, column_1="temp_c|°C", column_2="temp_c|°C", zone="UTC")
    assert "both taken for temp_c" in said(page)
    assert "twice.csv" not in stored(own_museum)


def test_an_open_question_is_answered_on_a_form(own: httpx.Client, own_museum: Path) -> None:
    body = "\n".join(f"2026-03-24 {hour:02d}:00;{20 + hour / 10};{45 + hour}" for hour in range(9))
    asked = send(own, "bare.csv", body + "\n", "spare-1")
    assert asked.status_code == 200
    assert "columns without headings" in said(asked)
    assert "--column" not in said(asked)
    preview = changed(own, asked, column_1="temp_c|°C", column_2="rh_pct|%")
    assert "nine readings would be stored" in said(preview).lower()
    receipt = confirmed(own, preview, zone="UTC")
    assert "nine new readings" in said(receipt).lower()
    assert readings(own_museum, "spare-1")["rh_pct"].tolist() == [45.0 + n for n in range(9)]


def test_what_was_typed_for_the_others_comes_back_without_script(
    own: httpx.Client, own_museum: Path
) -> None:
    names = ("first.csv", "second.csv", "third.csv")
    files = [
        ("file", (name, rows(f"2026-03-2{4 + n} 00:00", 5).encode()))
        for n, name in enumerate(names)
    ]
    page = own.get(own.post("/bring-in", files=files).headers["location"])
    first, second, third = waiting_files(page)
    typed = {
        f"{second.job_id}.logger": "+new",
        f"{second.job_id}.new_logger": "Attic, by the window",
        f"{second.job_id}.zone": "UTC",
        f"{second.job_id}.column_2": "",
        f"{third.job_id}.logger": "store-1",
        f"{third.job_id}.start": "2026-03-16 09:00",
    }
    whole = replace(first, form={**first.form, **typed})
    sent = whole.send(own, "confirm", logger="spare-1", zone="UTC")
    page = finished(own, sent.headers["location"])
    assert "first.csv: stored" in said(page)
    second, third = waiting_files(page)
    assert second.fields["logger"] == "+new"
    assert second.fields["new_logger"] == "Attic, by the window"
    assert second.fields["zone"] == "UTC"
    assert "Left aside Relative humidity" in said(page)
    assert third.fields["logger"] == "store-1"
    assert third.fields["start"] == "2026-03-16 09:00"
    assert len(readings(own_museum, "spare-1")) == 5
    assert set(stored(own_museum)) & set(names) == {"first.csv"}

    page = own.get(third.send(own, "drop", new_room="Print room").headers["location"])
    (second,) = waiting_files(page)
    assert second.fields["new_logger"] == "Attic, by the window"
    page = own.get(second.send(own, "look").headers["location"])
    assert waiting_files(page)[0].fields["new_logger"] == "Attic, by the window"


def test_a_file_without_its_logger_is_asked_for_it_and_nothing_typed_is_lost(
    own: httpx.Client, own_museum: Path
) -> None:
    before = stored(own_museum)
    files = [
        ("file", (name, rows(f"2026-03-24 0{n}:00", 5).encode()))
        for n, name in enumerate(("a.csv", "b.csv"))
    ]
    page = own.get(own.post("/bring-in", files=files).headers["location"])
    sent = waiting_files(page)[0].send(own, "confirm", logger="", zone="UTC+1")
    page = own.get(sent.headers["location"])
    assert "Please choose the logger first." in said(page)
    assert waiting_files(page)[0].fields["zone"] == "UTC+1"
    assert stored(own_museum) == before


def test_what_is_typed_beside_a_confirmed_file_does_not_take_its_promise_back(
    own: httpx.Client, own_museum: Path
) -> None:
    files = [
        ("file", (name, rows(f"2026-03-2{n}", 5).encode()))
        for n, name in enumerate(("a.csv", "b.csv"))
    ]
    page = own.get(own.post("/bring-in", files=files).headers["location"])
    first, second = waiting_files(page)
    finished(own, first.send(own, "confirm", logger="spare-1", zone="UTC").headers["location"])
    # A page that was open before sends the first file along with the second.
    for button in ("look", "confirm"):
        sent = second.send(own, button, logger="spare-1", zone="UTC")
        page = finished(own, sent.headers["location"])
        assert "a.csv: stored" in said(page)
    assert "two stored" in said(page).lower()
    assert len(readings(own_museum, "spare-1")) == 10


BAD = {
    "photograph.csv": JPEG,
    "empty.csv": b"",
    "nothing.csv": b"\0" * 5000,
    "header.csv": b"Time,Temperature (\xc2\xb0C),Relative humidity (%)\n",
    "letter.txt": b"Dear colleague,\nplease find the readings below.\nKind regards\n",
}


@pytest.mark.parametrize("name", BAD)
def test_what_is_no_export_is_said_and_only_the_original_kept(
    own: httpx.Client, own_museum: Path, name: str
) -> None:
    before = stored(own_museum)
    page = send(own, name, BAD[name], "north-1")
    assert page.status_code == 200
    for part in (name, "Found", "Needed", "the file is kept as received"):
        assert part in said(page)
    assert "Traceback" not in page.text
    assert stored(own_museum) == before
    assert kept(own_museum, BAD[name])


def test_a_file_over_the_limit_is_refused(
    own_museum: Path, serve: Callable[..., httpx.Client]
) -> None:
    client = serve(own_museum, upload_limit_mb=1)
    large = b"9" * (1024 * 1024 + 1)
    page = send(client, "large.csv", large, "north-1")
    assert page.status_code == 422
    assert "more than 1 MB" in said(page)
    assert not kept(own_museum, large)
    other = client.post("/api/uploads", files={"file": ("l", large)}, data={"logger": "north-1"})
    assert other.status_code == 422
    assert other.json()["expected"] == "at most 1 MB"


def test_a_wrong_clock_is_said(own: httpx.Client, own_museum: Path) -> None:
    data = rows("2026-03-24 00:00", 5)
    before = stored(own_museum)
    page = confirmed(own, send(own, "a.csv", data, "north-1"), zone="Europe/Atlantis")
    assert "Europe/Atlantis" in said(page)
    assert "kept as received" in said(page)
    assert stored(own_museum) == before
    assert kept(own_museum, data.encode())


@pytest.mark.parametrize("changes", [{"logger": ""}, {"interval_min": "often"}])
def test_a_spoilt_form_stores_nothing(
    own: httpx.Client, own_museum: Path, changes: Mapping[str, str]
) -> None:
    before = stored(own_museum)
    confirmed(own, send(own, "a.csv", rows("2026-03-24 00:00", 5), "north-1"), **changes)
    assert stored(own_museum) == before


@pytest.mark.parametrize("address", ["/bring-in/nothing", "/bring-in/..%2f..%2fetc/passwd"])
def test_files_that_never_came_are_not_there(own: httpx.Client, address: str) -> None:
    assert own.get(address).status_code == 404


def test_a_name_that_cannot_be_printed_does_no_harm(own: httpx.Client) -> None:
    preview = send(own, "<b>w\n1</b>.csv", rows("2026-03-24 00:00", 5), "north-1")
    assert preview.status_code == 200
    assert "<b>w" not in preview.text
    assert "five new readings" in said(confirmed(own, preview)).lower()


def test_two_uploads_at_once_both_arrive(own: httpx.Client, own_museum: Path) -> None:
    def whole(task: tuple[str, str]) -> httpx.Response:
        moist, logger = task
        data = rows("2026-04-01", 200).replace(",47.", f",{moist}.")
        return confirmed(own, send(own, f"{logger}.csv", data, logger), zone="UTC")

    tasks = [("47", "spare-1"), ("58", "tower-1")]
    with ThreadPoolExecutor(2) as pool:
        receipts = list(pool.map(whole, tasks))
    assert all("200 new readings" in said(receipt) for receipt in receipts)
    for _, logger in tasks:
        assert len(readings(own_museum, logger)) == 200


def test_another_program_takes_a_file_in(own: httpx.Client, own_museum: Path) -> None:
    def sent() -> httpx.Response:
        file = {"file": ("a.csv", rows("2026-03-24 00:00", 24).encode())}
        return own.post("/api/uploads", files=file, data={"logger": "north-1", "zone": "UTC"})

    before = len(readings(own_museum, "north-1"))
    assert sent().json()["outcome"] == "stored"
    assert sent().json()["outcome"] == "already there"
    assert len(readings(own_museum, "north-1")) == before + 24


def test_a_start_finishes_what_was_received(
    own_museum: Path, serve: Callable[[Path], httpx.Client]
) -> None:
    data = rows("2026-03-24 00:00", 24)
    with Stores.open(Settings(data_dir=own_museum)) as stores:
        interrupt(stores, data.encode())
    assert stored(own_museum)["cut-short.csv"] == "received"
    page = said(serve(own_museum).get("/bring-in"))
    assert re.search(r"cut-short.csv north-1 24 stored", page)
    assert readings(own_museum, "north-1").index[-1] == pd.Timestamp("2026-03-24 23:00", tz="UTC")


def interrupt(stores: Stores, data: bytes) -> None:
    """Leave an upload as a crash leaves it: the original kept, the row *received*, no reading."""
    asked = Asked(zone="UTC")
    reading = asked.read("cut-short.csv", data)
    receive(
        stores.register,
        sha256=stores.originals.keep(data),
        name="cut-short.csv",
        logger="north-1",
        reading_key=reading_key(by_logger(reading, "north-1", {})),
        choice=asked.as_json(),
        understanding=reading.understanding.as_json(),
        by="page",
    )


def packed(**files: str | bytes) -> bytes:
    """Return an archive of files by their names, ``_`` standing for the point."""
    archive = io.BytesIO()
    with zipfile.ZipFile(archive, "w") as written:
        for name, data in files.items():
            written.writestr(name.replace("_", "."), data)
    return archive.getvalue()


def sent_archive(client: httpx.Client, data: bytes, **fields: str) -> httpx.Response:
    """Send an archive as another program does."""
    stated = {"logger": "spare-1", "zone": "UTC", **fields}
    return client.post("/api/uploads", files={"file": ("weeks.zip", data)}, data=stated)


def test_every_file_of_an_archive_is_taken_in(own: httpx.Client, own_museum: Path) -> None:
    weeks = packed(a_csv=rows("2026-03-02", 24), b_csv=rows("2026-03-09", 24), c_txt="Dear all\n")
    answer = sent_archive(own, weeks)
    assert answer.status_code == 200
    found = answer.json()
    assert [one["file"] for one in (*found["earlier"], found)] == [
        "weeks.zip/a.csv",
        "weeks.zip/b.csv",
    ]
    assert found["left_aside"] == ["weeks.zip/c.txt"]
    assert len(readings(own_museum, "spare-1")) == 48
    assert kept(own_museum, weeks)
    assert sent_archive(own, weeks).json()["outcome"] == "already there"


def test_files_of_two_sensors_in_an_archive_are_not_merged(
    own: httpx.Client, own_museum: Path
) -> None:
    other = rows("2026-03-02", 24).replace(",47.", ",61.")
    both = packed(a_csv=rows("2026-03-02", 24), b_csv=other)
    answer = sent_archive(own, both)
    assert answer.status_code == 422
    assert "run side by side" in answer.json()["found"]
    assert readings(own_museum, "spare-1").empty
    assert sent_archive(own, both, part="b.csv").json()["added"] == 24
    assert readings(own_museum, "spare-1")["rh_pct"].min() >= 61.0


def test_a_second_question_keeps_the_answer_to_the_first(
    own: httpx.Client, own_museum: Path
) -> None:
    body = "".join(f"03/04/2026 {h:02d}:00,{60 + h / 10:.1f},{45 + h}\n" for h in range(24))
    page = send(own, "two.csv", "Time,Temp °C,RH %\n" + body, "spare-1")
    for words in ("the month comes first", "°F"):
        answers = re.findall(r'name="\w+.answer" value="([^"]+)"[^>]*> ([^<]+)<', page.text)
        (right,) = [unescape(value) for value, text in answers if words in unescape(text)]
        page = changed(own, page, answer=right)
    assert "24 readings would be stored" in said(page)
    confirmed(own, page, zone="UTC")
    found = readings(own_museum, "spare-1")
    assert found.index[0] == pd.Timestamp("2026-03-04 00:00", tz="UTC")
    assert found["temp_c"].iloc[0] == pytest.approx(15.56, abs=0.01)


WIDE = "Time,Hall Temp °C,Hall RH %,Attic Temp °C,Attic RH %\n" + "".join(
    f"2026-03-24 {hour:02d}:00,{68 + hour / 10:.1f},{45 + hour},{20 + hour / 10:.1f},{50 + hour}\n"
    for hour in range(9)
)


def test_a_column_among_several_sensors_may_be_corrected(
    own: httpx.Client, own_museum: Path
) -> None:
    page = send(own, "wide.csv", WIDE, "spare-1")
    if "one of the answers" in said(page) or "°C or °F" in said(page):
        answers = re.findall(r'name="\w+.answer" value="([^"]+)"[^>]*> ([^<]+)<', page.text)
        page = changed(own, page, answer=unescape(answers[-1][0]))
    page = changed(own, page, column_1="temp_c|°F", column_3="")
    assert "Left aside Attic Temp" in said(page)
    confirmed(own, page, zone="UTC", sure="yes")
    assert readings(own_museum, "spare-1.hall")["temp_c"].iloc[0] == pytest.approx(20.0)
    assert readings(own_museum, "spare-1.attic")["temp_c"].isna().all()


def test_sensors_wrongly_told_apart_are_put_together(own: httpx.Client, own_museum: Path) -> None:
    node = "".join(
        f"2026-03-24 {hour:02d}:00,{'AB'[hour % 2]},{20 + hour / 10:.1f},{45 + hour}\n"
        for hour in range(24)
    )
    page = send(own, "long.csv", "Time,Sensor,Temp °C,RH %\n" + node, "spare-1")
    assert "Sensors are told apart" in said(page)
    assert "--" not in said(page)
    page = changed(own, page, told_apart="none")
    confirmed(own, page, zone="UTC", sure="yes")
    assert len(readings(own_museum, "spare-1")) == 24


def test_lines_of_fixed_width_are_cut_as_a_person_says(own: httpx.Client, own_museum: Path) -> None:
    lines = "".join(f"2026032410{m:02d}{200 + m}{450 + m}\n" for m in range(40))
    page = send(own, "fixed.txt", lines, "spare-1")
    assert "lines of 18 characters" in said(page)
    assert "--" not in said(page)
    page = changed(own, page, widths="12,3,3")
    assert re.search(r"column 3", said(page))
