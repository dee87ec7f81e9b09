"""Rooms, loggers, works and what is known of them, described on the pages of a new museum."""

import re
import shutil
import time
from collections.abc import Callable, Mapping
from datetime import UTC, datetime, timedelta
from html import unescape
from pathlib import Path

import httpx
import pytest
from fixtures.rounds import round_works
from fixtures.waiting_files import waiting_files

from analysis.records.work_records import Mounting
from analysis.works import Override
from dashboards import links
from service.intake.demo import sample_folder
from service.records.record_parts import OF_A_ROOM, OF_A_WORK, OF_THE_HOUSE
from service.settings import Settings
from service.storage import works
from service.storage.loggers import logger_named, placements
from service.storage.stores import Stores

WHO = {"who": "A. Person"}
PRINT = {
    "work_id": "2021.04",
    "title": "Slipway, low tide",
    "width_mm": "1500",
    "height_mm": "1000",
    "paper": "fibre base",
    "finish": "glossy",
    "grain": "",
    "on_loan": "no",
}
WORK = "/works/2018-02"  # of the small museum: mounted and framed in autumn 2024, hung in 2025
INPUT = re.compile(r'<input (?:type="hidden" )?name="(\w+)"[^>]*? value="([^"]*)"')


@pytest.fixture
def folder(described_museum: Path, tmp_path: Path) -> Path:
    """A copy of the described museum that a test may change."""
    return Path(shutil.copytree(described_museum, tmp_path / "museum"))


@pytest.fixture
def own(folder: Path, serve: Callable[[Path], httpx.Client]) -> httpx.Client:
    """The described museum, served; nothing is judged in it."""
    return serve(folder)


@pytest.fixture
def measured(own_museum: Path, serve: Callable[[Path], httpx.Client]) -> httpx.Client:
    """A museum with readings, served; its works are judged."""
    return serve(own_museum)


def said(page: httpx.Response) -> str:
    """Return what a page says, without tags."""
    text = unescape(re.sub(r"<[^>]+>", " ", page.text))
    return re.sub(r"\s+", " ", text.replace("\N{NO-BREAK SPACE}", " "))


def written(client: httpx.Client, address: str, **sent: str) -> httpx.Response:
    """Send a form that is to be kept, and return the page it leads to."""
    answer = client.post(address, data=WHO | sent)
    assert answer.status_code == 303, said(answer)
    return client.get(answer.headers["location"])


def problems(page: httpx.Response) -> Mapping[str, str]:
    """Return the sentence at each field of a form that came back."""
    found = {}
    for block in page.text.split('<div class="field wrong">')[1:]:
        name = re.findall(r'name="(\w+)"', block)[0]
        found[name] = unescape(re.findall(r'<p class="problem">(.*?)</p>', block, re.DOTALL)[0])
    return {name: words.replace("\N{NO-BREAK SPACE}", " ") for name, words in found.items()}


def test_a_new_museum_from_an_empty_folder_to_the_round(
    tmp_path: Path, serve: Callable[[Path], httpx.Client]
) -> None:
    client = serve(tmp_path / "museum")
    begin = said(client.get("/"))
    assert "Nothing can be said yet. Four steps lead to the first lists" in begin
    assert "Which house is it?" in begin
    assert "No work is written down yet." in said(client.get("/works"))
    first = client.get("/rooms/new")
    assert first.headers["location"] == "/house"
    page = written(client, "/house", name="The house", zone="Europe/Dublin", altitude_m="12")
    assert "Which readings do you bring?" in said(page)  # each file asks for its room
    page = client.get("/rooms/new")
    assert "Which room is it?" in said(page)
    site = dict(INPUT.findall(page.text))["site"]
    page = written(client, "/rooms/new", site=site, room="north", name="North gallery", store="no")
    assert "No logger hangs here yet" in said(page)
    page = written(client, "/rooms/north/record/instrument", logger="n1", zone="Europe/Dublin")
    assert '<option value="n1" selected>' in page.text
    page = written(
        client, "/rooms/north/record/logger", logger="n1", place="room air", from_utc="2026-03-01"
    )
    assert "n1, since Sunday 1 March 2026" in said(page)
    page = written(client, "/works/new", **PRINT)
    assert "Nobody has written down how it is held" in said(page)
    record = "/works/2021.04/record"
    written(
        client,
        f"{record}/mounting",
        mounted_utc="2026-03-02",
        mounted_utc_clock="10:30",
        mounted_rh_pct="45,5",
    )
    written(client, f"{record}/framing", closed_utc="2026-03-03", frame="C", spacer_mm="12")
    page = written(client, f"{record}/hanging", room="north", from_utc="2026-03-04")
    assert "Mounted Monday 2 March 2026, 10:30" in said(page)
    assert "Closed Tuesday 3 March 2026" in said(page)
    assert "no readings yet" in said(client.get("/works"))
    bring_in(client, sample_folder() / "exports" / "north-1_2026-W12.csv", "n1")
    listed = said(client.get("/round"))
    assert "Slipway, low tide" in listed
    judged = round_works(client)
    assert [one["work_id"] for one in judged] == ["2021.04"]
    assert judged[0]["listing"] != "cannot tell"
    assert re.search(rf"{judged[0]['state']} Slipway, low tide", said(client.get("/works")))


def bring_in(client: httpx.Client, file: Path, logger: str) -> None:
    """Send a file as the upload form does, and wait until its readings are judged."""
    sent = {"file": (file.name, file.read_bytes())}
    answer = client.post("/bring-in", files=sent, data={"logger": logger})
    (waiting,) = waiting_files(client.get(answer.headers["location"]))
    answer = waiting.send(client, "confirm", zone="Europe/Dublin")
    for _ in range(200):
        page = client.get(answer.headers["location"])
        if "You may leave this page" not in page.text:
            assert "new readings" in said(page)
            return
        time.sleep(0.1)
    raise TimeoutError(file.name)


FAULTS: list[tuple[str, dict[str, str], str, str]] = [
    ("mounting", {"mounted_rh_pct": "damp"}, "mounted_rh_pct",
     "Found 'damp'; expected a number from 1 to 99 %RH, or a range"),
    ("mounting", {"mounted_rh_pct": "148"}, "mounted_rh_pct", "Found '148'; expected"),
    ("mounting", {"mounted_rh_pct": "0,5"}, "mounted_rh_pct", "Found '0,5'; expected"),
    ("mounting", {"mounted_utc": "5.11.2024"}, "mounted_utc", "a date such as 2026-02-12"),
    ("mounting", {"mounted_utc_clock": "10:30"}, "mounted_utc", "without a date; expected both"),
    ("mounting", {"mounted_utc": "2024-10-21", "mounted_utc_clock": "01:00"}, "mounted_utc",
     "Found one that is there already"),
    ("framing", {"frame": "D", "spacer_mm": "-3"}, "spacer_mm", "a number from 0 to 200 mm"),
    ("framing", {"frame": "D", "spacer_mm": "1,500"}, "spacer_mm",
     "1500 or 1.500: the comma may mean either"),
    ("framing", {"frame": "D", "closed_utc": "2024-10-01"}, "closed_utc",
     "Found framed 2024-09-30 before mounted 2024-10-21"),
    ("framing", {"spacer_mm_low": "8"}, "spacer_mm", "one end of a range, 8; expected both ends"),
    ("hanging", {"room": "court", "from_utc": "2024-01-01", "to_utc": "2024-02-01"}, "from_utc",
     "Found mounted 2024-10-21, hung 2024-01-01; expected mounted before it was hung."),
    ("hanging", {"room": "court", "from_utc": "2025-03-01", "to_utc": "2025-02-01"}, "to_utc",
     "more than from_utc"),
    ("hanging", {"room": "court", "from_utc": "2024-12-01"}, "from_utc",
     "expected one place ended before the next begins"),
    ("hanging", {"room": "court", "from_utc": "2026-03-29", "from_utc_clock": "01:30"},
     "from_utc", "a time that the clocks showed that day"),
]  # fmt: skip


@pytest.mark.parametrize(("part", "sent", "field", "told"), FAULTS)
def test_what_cannot_be_comes_back_with_a_sentence_at_its_field(
    web: httpx.Client, part: str, sent: dict[str, str], field: str, told: str
) -> None:
    before = said(web.get(f"{WORK}/record"))
    choices = {name: value for name, value in sent.items() if name in ("room", "frame")}
    typed = {name: value for name, value in sent.items() if name not in choices}
    page = web.post(f"{WORK}/record/{part}", data=WHO | sent)
    assert page.status_code == 422
    assert list(problems(page)) == [field]
    assert told in problems(page)[field]
    assert "another look. Nothing is stored yet; what you typed is still here." in said(page)
    for name, value in (typed | WHO).items():
        assert re.search(rf'name="{name}"[^>]* value="{re.escape(value)}"', page.text), name
    for value in choices.values():
        assert f'<option value="{value}" selected>' in page.text
    assert said(web.get(f"{WORK}/record")) == before


def test_a_form_without_a_name_is_not_kept(web: httpx.Client) -> None:
    page = web.post(f"{WORK}/record/mounting", data={"mounted_rh_pct": "45", "who": " "})
    assert page.status_code == 422
    assert problems(page) == {"who": "This is needed."}


def test_a_correction_keeps_the_rest_and_says_who(own: httpx.Client, folder: Path) -> None:
    record = own.get(f"{WORK}/record").text
    address = unescape(re.findall(r'href="([^"]*/record/mounting\?was_[^"]*)"', record)[0])
    form = own.get(address).text
    sent = {name: unescape(value) for name, value in INPUT.findall(form)}
    sent |= {
        name: unescape(value)
        for name, value in re.findall(
            r'<select name="(\w+)">(?:(?!</select>).)*?<option value="([^"]*)" selected>',
            form,
            re.DOTALL,
        )
    }
    assert (sent["mounted_utc"], sent["mounted_rh_pct"]) == ("2024-10-21", "51")
    before = held(folder)
    page = written(own, f"{WORK}/record/mounting", **(sent | {"mounted_rh_pct": "49.5"} | WHO))
    after = held(folder)
    assert after.mounted_rh_pct == 49.5
    assert after == Mounting(**(vars(before) | {"mounted_rh_pct": 49.5}))
    assert "humidity of the air when the hinges were set 51 %RH → 49.5 %RH." in said(page)
    assert "A. Person" in said(page)


def held(folder: Path) -> Mounting:
    with Stores.open(Settings(data_dir=folder)) as stores:
        (mounting,) = works.work_record(stores.register, "2018-02").mountings
    return mounting


def test_an_entry_is_taken_out_with_a_reason_and_stays_in_the_changes(own: httpx.Client) -> None:
    written(own, f"{WORK}/record/framing", frame="A", closed_utc="2025-05-01", note="by mistake")
    record = own.get(f"{WORK}/record").text
    newest = unescape(re.findall(r'href="([^"]*/framing/take-out\?[^"]*)"', record)[0])
    form = own.get(newest)
    hidden = {name: unescape(value) for name, value in INPUT.findall(form.text)}
    address = f"{WORK}/record/framing/take-out"
    again = own.post(address, data=hidden | WHO)
    assert problems(again) == {"why": "This is needed."}
    page = written(own, address, **(hidden | WHO | {"why": "wrong work"}))
    assert "A framing taken out: wrong work." in said(page)
    assert "Closed Thursday 1 May 2025" not in said(page)


def test_hanging_a_work_elsewhere_ends_where_it_hung(own: httpx.Client, folder: Path) -> None:
    page = written(own, f"{WORK}/record/hanging", room="court", from_utc="2026-03-10")
    assert "until" in said(page).lower()
    with Stores.open(Settings(data_dir=folder)) as stores:
        first, second = works.work_record(stores.register, "2018-02").hangings
    assert first.to_utc == second.from_utc == datetime(2026, 3, 10, tzinfo=UTC)
    assert (first.room, second.room, second.to_utc) == ("north", "court", None)


def test_a_logger_s_clock_is_corrected(own: httpx.Client, folder: Path) -> None:
    form = own.get("/rooms/north/record/instrument?was_logger=north-1").text
    shown = {name: unescape(value) for name, value in INPUT.findall(form)}
    assert shown["zone"] == "Europe/Dublin"
    wrong = own.post("/rooms/north/record/instrument", data=shown | WHO | {"zone": "Dublin time"})
    assert problems(wrong) == {
        "zone": "Found 'Dublin time'; expected a clock such as Europe/Dublin, UTC or +01:00."
    }
    page = written(own, "/rooms/north/record/instrument", **(shown | WHO | {"zone": "+01:00"}))
    assert "+01:00" in said(page)
    with Stores.open(Settings(data_dir=folder)) as stores:
        logger = logger_named(stores.register, "north-1")
    assert logger is not None
    assert (logger.zone, logger.description) == ("+01:00", "room logger")


def test_a_logger_that_moves_ends_where_it_hung(own: httpx.Client, folder: Path) -> None:
    sent = {"logger": "north-1", "place": "room air", "from_utc": "2026-03-10"}
    written(own, "/rooms/court/record/logger", **sent)
    with Stores.open(Settings(data_dir=folder)) as stores:
        first, second = placements(stores.register, "north-1")
    assert first.to_utc == second.from_utc
    assert (first.room, second.room) == ("north", "court")


def test_a_print_is_corrected_and_a_taken_number_refused(own: httpx.Client) -> None:
    facts = {name: value for name, value in PRINT.items() if name != "work_id"}
    page = written(own, f"{WORK}/record/print", **(facts | {"title": "Orchard & fog <II>"}))
    assert "Orchard & fog <II>" in said(page)
    assert "<II>" not in page.text
    again = own.post("/works/new", data=WHO | PRINT | {"work_id": "2018-02"})
    assert "Found one that is there already" in problems(again)["work_id"]
    page = written(own, "/works/new", **(PRINT | {"work_id": "2018/07 %A", "width_mm": "150 cm"}))
    assert "2018/07 %A" in said(page)
    assert "Width of the sheet, as it hangs 1500 mm" in said(page)
    address = links.work_record("2018/07 %A", "print")
    assert written(own, address, **(facts | {"title": "Quay"})).status_code == 200
    small = own.post("/works/new", data=WHO | PRINT | {"width_mm": "-5"})
    assert problems(small) == {"width_mm": "Found '-5'; expected a number from 10 to 20000 mm."}


def test_a_zone_that_is_none_is_refused(web: httpx.Client) -> None:
    site = dict(INPUT.findall(web.get("/house").text))["site"]
    page = web.post("/house", data=WHO | {"site": site, "name": "House", "zone": "Dublin"})
    assert "a time zone such as Europe/Vienna" in problems(page)["zone"]


def test_works_are_found_by_words(web: httpx.Client) -> None:
    page = said(web.get("/works", params={"search": "orchard 2018-02"}))
    assert "One work of 30 found" in page
    assert "Orchard in fog II" in page
    assert "Net loft" not in page
    assert "No works of 30 found for “nothing”." in said(web.get("/works?search=nothing"))


def test_a_band_is_agreed_and_an_upside_down_one_refused(own: httpx.Client) -> None:
    address = "/rooms/north/record/band"
    page = own.post(
        address, data=WHO | {"band_name": "loans", "rh_low_pct": "55", "rh_high_pct": "45"}
    )
    assert list(problems(page)) == ["rh_high_pct"]
    page = written(own, address, band_name="loans 2026", rh_low_pct="42", band_since="2026-01-01")
    assert "loans 2026, since Thursday 1 January 2026" in said(page)
    assert "An agreed band added: name of the band loans 2026" in said(page)


def test_a_number_is_stated_in_the_unit_people_read_and_withdrawn(
    own: httpx.Client, folder: Path
) -> None:
    address = f"{WORK}/measured/beta_cd"
    form = said(own.get(address))
    assert "Movement across the grain?" in form
    assert "mm per m per %RH" in form
    assert "the tables’ is taken: 0.07 mm per m per %RH (0.04 to 0.11)" in form
    wrong = own.post(address, data=WHO | {"value": "0.09", "low": "0.1", "high": "0.12"})
    assert set(problems(wrong)) == {"value", "origin"}
    page = written(own, address, value="0,09", low="0.08", high="0.10", origin="strips, A. Person")
    assert "Movement across the grain : 0.09 mm per m per %RH (0.08 to 0.1)" in said(page)
    assert overrides(folder)["beta_cd"].value == pytest.approx(9e-5)
    twice = own.post(address, data=WHO | {"value": "1", "low": "1", "high": "1", "origin": "guess"})
    assert "there already" in problems(twice)["from_utc"]
    correct = unescape(re.findall(r'href="([^"]*measured/beta_cd[?][^"]*)"', page.text)[0])
    shown = {name: unescape(value) for name, value in INPUT.findall(own.get(correct).text)}
    assert (shown["value"], shown["low"], shown["high"]) == ("0.09", "0.08", "0.1")
    page = written(own, address, **(shown | WHO | {"value": "0.085"}))
    assert overrides(folder)["beta_cd"] == Override(8.5e-5, 8e-5, 1e-4, "strips, A. Person")
    withdraw = unescape(re.findall(r'href="([^"]*/withdraw[^"]*)"', page.text)[0])
    hidden = dict(INPUT.findall(own.get(withdraw).text))
    page = written(own, withdraw.partition("?")[0], **(hidden | WHO | {"why": "strips swapped"}))
    assert "Withdrawn: it no longer counts." in said(page)
    assert re.search(r"\(withdrawn \w+ .*: strips swapped\)", said(page))
    assert "beta_cd" not in overrides(folder)
    page = written(own, address, value="0.08", low="0.07", high="0.09", origin="strips anew")
    assert overrides(folder)["beta_cd"].value == pytest.approx(8e-5)


def overrides(folder: Path) -> Mapping[str, Override]:
    with Stores.open(Settings(data_dir=folder)) as stores:
        return works.work_at(stores.register, "2018-02").overrides


def test_an_impossible_number_is_refused_at_its_field(web: httpx.Client) -> None:
    page = web.post(
        f"{WORK}/measured/half_time_h",
        data=WHO | {"value": "0", "low": "0", "high": "0", "origin": "guess"},
    )
    assert page.status_code == 422
    assert "Found 0.0 h; expected more than 0 h." in problems(page)["value"]
    assert web.get(f"{WORK}/measured/grain_vertical").status_code == 404
    assert web.get(f"{WORK}/measured/half_life").status_code == 404


STRIPS = {
    "axis": "beta_cd",
    "reading_mm": "0.03",
    "rh_pct": "1",
    "length_mm_1": "300",
    "rh_before_pct_1": "33",
    "rh_after_pct_1": "70",
    "change_mm_1": "0.95",
    "length_mm_2": "300",
    "rh_before_pct_2": "33",
    "rh_after_pct_2": "70",
    "change_mm_2": "0,97",
}


def test_offcut_strips_are_worked_out_before_anything_is_kept(
    own: httpx.Client, folder: Path
) -> None:
    address = f"{WORK}/measured/strip"
    page = own.post(address, data=STRIPS)
    assert page.status_code == 200
    assert "Movement across the grain: 0.0865 mm per m per %RH (0.0822 to 0.0908)" in said(page)
    assert "Each strip by itself: 0.0856 and 0.0874." in said(page)
    assert "The table has 0.07 mm per m per %RH (0.04 to 0.11)" in said(page)
    assert "beta_cd" not in overrides(folder)
    unnamed = own.post(address, data=STRIPS | {"do": "save"})
    assert set(problems(unnamed)) == {"origin", "who"}
    assert 'value="0,97"' in unnamed.text
    page = written(own, address, **(STRIPS | {"do": "save", "origin": "two strips"}))
    assert overrides(folder)["beta_cd"].value == pytest.approx(8.65e-5, rel=1e-3)


@pytest.mark.parametrize(
    ("sent", "field", "told"),
    [
        ({"change_mm_1": "-0.95"}, "change_mm_1", "expected longer in damper air"),
        ({"change_mm_2": ""}, "change_mm_2", "This is needed."),
        ({"length_mm_2": "thirty"}, "length_mm_2", "Found 'thirty'"),
        ({"rh_after_pct_2": "34"}, "rh_after_pct_2", "at least 5 %RH apart"),
        ({"reading_mm": "3"}, "change_mm_1", "misreading alone"),
        ({"axis": ""}, "axis", "Say how the strips were cut."),
    ],
)
def test_strips_that_tell_nothing_come_back(
    web: httpx.Client, sent: dict[str, str], field: str, told: str
) -> None:
    page = web.post(f"{WORK}/measured/strip", data=STRIPS | sent)
    assert page.status_code == 422
    assert list(problems(page)) == [field]
    assert told in problems(page)[field]


def test_board_and_back_give_a_half_time(own: httpx.Client, folder: Path) -> None:
    address = f"{WORK}/measured/board"
    board = {"mass": "1.0", "mass_low": "0.9", "mass_high": "1.1"}
    page = own.post(address, data=board)
    assert "Half-time of the frame: 1.75 h (" in said(page)
    back = {"back": "0.04", "back_low": "0.03", "back_high": "0.06", "unit": "m of still air"}
    page = written(own, address, **(board | back | {"do": "save", "origin": "scales, data sheet"}))
    stated = overrides(folder)
    assert stated["back_permeance"].value == pytest.approx(4.75e-9)
    assert stated["back_permeance"].high == pytest.approx(1.9e-10 / 0.03)
    assert stated["board_mass_kg_m2"].value == 1.0
    wrong = own.post(address, data=board | {"mass_low": "2"})
    assert list(problems(wrong)) == ["mass"]


def test_a_record_changes_the_judgement(measured: httpx.Client) -> None:
    def listing() -> str:
        judged = round_works(measured)
        return next(str(one["listing"]) for one in judged if one["work_id"] == "2018-02")

    before = listing()
    written(
        measured, f"{WORK}/record/hanging", room="court", from_utc="2026-03-10", sun_or_spot="yes"
    )
    assert (before, listing()) == ("look first", "cannot tell")


def test_a_work_mounted_anew_is_judged_before_its_new_frame_is_known(
    measured: httpx.Client,
) -> None:
    written(measured, f"{WORK}/record/mounting", mounted_utc="2026-03-12", mounted_rh_pct="46")
    assert measured.get("/round").status_code == 200
    assert measured.get(WORK).status_code == 200
    assert measured.get("/rooms/north/2026-W11").status_code == 200
    page = written(measured, f"{WORK}/record/framing", frame="D", closed_utc="2026-03-13")
    assert "Closed Friday 13 March 2026" in said(page)
    assert measured.get("/round").status_code == 200


def test_the_parts_have_forms_for_every_column_that_is_not_their_owner() -> None:
    for part in (*OF_A_WORK.values(), *OF_A_ROOM.values(), *OF_THE_HOUSE.values()):
        asked = {one.name for one in part.fields} | {part.owner}
        if part.slug == "hanging":
            asked |= {"left_utc", "arrived_utc", "opened_utc"}  # the form of a crate asks for them
        assert asked - {""} == set(part.kind.__dataclass_fields__), part.slug


def test_a_time_is_that_of_the_house(own: httpx.Client, folder: Path) -> None:
    sent = {"room": "court", "from_utc": "2026-07-10", "from_utc_clock": "14:30"}
    written(own, f"{WORK}/record/hanging", **sent)
    with Stores.open(Settings(data_dir=folder)) as stores:
        hung = works.work_record(stores.register, "2018-02").hangings[-1]
    assert hung.from_utc == datetime(2026, 7, 10, 14, 30, tzinfo=UTC) - timedelta(hours=1)
