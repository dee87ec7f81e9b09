"""Climate statements: met, not met or cannot tell; kept as issued; corrected in sight."""

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import httpx
import pandas as pd
import pytest
from fixtures.paper import pages_of

from analysis.air.coverage import coverage
from analysis.limits.lenders_terms import Kept, kept, lenders_limit
from analysis.limits.published_limits import Definition
from analysis.limits.verdict import judge
from analysis.results import Band
from analysis.series import readings_frame
from service.register.archive import write_archive
from service.register.restore import restore_into
from service.settings import Settings
from service.storage.statements import statements
from service.storage.stores import Stores

START, END = datetime(2030, 1, 1, tzinfo=UTC), datetime(2030, 1, 15, tzinfo=UTC)
HOURS = pd.date_range(START, END, freq="h", inclusive="left")
TERMS = {
    "room": "north",
    "from_utc": "2026-03-09",
    "to_utc": "2026-03-18",
    "lender": "A museum of officials",
    "works": "Five prints, first floor",
    "low_rh_pct": "20",
    "high_rh_pct": "90",
    "low_temp_c": "10",
    "high_temp_c": "30",
    "definition": "range24",
    "who": "R. Registrar",
}


def outcome(rh_pct: float, low: float, high: float, keep: slice = slice(None)) -> Kept:
    air = readings_frame(HOURS[keep], rh_pct=rh_pct, temp_c=20.0)
    limit = lenders_limit(
        Band("terms", low, high),
        change_rh_pct=None,
        change_temp_c=None,
        definition=Definition.RANGE24,
    )
    verdict = judge(limit, air, uncertainty_rh_pct=2.0)
    return kept(verdict, [coverage(air, START, END)])


def test_met_needs_every_moment_inside_by_more_than_the_uncertainty() -> None:
    assert outcome(50.0, 45.0, 55.0) is Kept.MET
    assert outcome(54.0, 45.0, 55.0) is Kept.CANNOT_TELL
    assert outcome(58.0, 45.0, 55.0) is Kept.NOT_MET


def test_a_record_that_ends_early_cannot_tell_though_all_of_it_is_inside() -> None:
    assert outcome(50.0, 45.0, 55.0, slice(0, 24 * 5)) is Kept.CANNOT_TELL


def test_what_was_surely_outside_is_not_met_however_little_was_measured() -> None:
    assert outcome(58.0, 45.0, 55.0, slice(0, 24)) is Kept.NOT_MET


@pytest.fixture
def house(own_museum: Path, serve: Callable[..., httpx.Client]) -> httpx.Client:
    return serve(own_museum)


def issued(house: httpx.Client, **changes: str) -> str:
    sent = house.post("/statements", data=TERMS | changes)
    assert sent.status_code == 303, sent.text
    return sent.headers["location"]


def test_a_statement_is_numbered_kept_and_corrected_in_sight(
    house: httpx.Client, own_museum: Path, tmp_path: Path
) -> None:
    first = issued(house)
    assert first == "/statements/1"
    page, sheet = house.get(first).text, house.get(f"{first}.pdf").content
    assert re.search("North Gallery kept to the lender’s terms, 9 March 2026", page)
    text = " ".join(pages_of(sheet))
    for words in ("Climate statement 1", "A museum of officials", "Five prints, first floor",
                  "highest minus lowest reading", "±", "Signature"):  # fmt: skip
        assert words in text
    second = issued(house, corrects="1", high_rh_pct="46", why="The lender’s band was misread.")
    assert "did not keep" in house.get(second).text
    said = " ".join(pages_of(house.get(f"{second}.pdf").content))
    assert "in place of 1" in said
    assert "Why: The lender’s band was misread." in said
    assert "was “Humidity, outer limits: 20 to 90 %RH, ends included" in said
    assert "Before: “Met at every moment measured" in said
    assert "no longer stands" in house.get(first).text
    assert house.get(f"{first}.pdf").content == sheet  # as it was issued
    again = house.post("/statements", data=TERMS | {"corrects": "1", "why": "again"})
    assert again.status_code == 422
    assert "statement 2 in its place already" in again.text
    comes_back(own_museum, tmp_path, sheet)


def comes_back(folder: Path, tmp_path: Path, sheet: bytes) -> None:
    archive, back = tmp_path / "archive", tmp_path / "back"
    with Stores.open(Settings(data_dir=folder)) as stores:
        write_archive(stores, archive)
        before = statements(stores.register)
    assert (archive / "statements" / "statement-1.pdf").read_bytes() == sheet
    restore_into(Settings(data_dir=back), archive)
    with Stores.open(Settings(data_dir=back)) as stores:
        assert statements(stores.register) == before


def test_a_room_that_was_silent_cannot_be_told(house: httpx.Client) -> None:
    where = issued(house, from_utc="2024-01-01", to_utc="2024-01-31")
    assert "Cannot tell whether North Gallery kept" in house.get(where).text


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"high_rh_pct": "10"}, "a lower end below its upper end"),
        ({"to_utc": "2026-03-01"}, "a last day not before it"),
        ({"low_rh_pct": ""}, "This is needed."),
        ({"lender": ""}, "This is needed."),
    ],
)
def test_terms_that_cannot_be_are_asked_again(
    web: httpx.Client, changes: dict[str, str], words: str
) -> None:
    sent = web.post("/statements", data=TERMS | changes)
    assert sent.status_code == 422
    assert words in sent.text
    assert TERMS["works"] in sent.text


def test_the_form_stands_where_the_list_stands(web: httpx.Client) -> None:
    for address in ("/statements", "/statements/new"):
        row = web.get(address).text.split("</header>")[0]
        assert re.findall(r'<a href="([^"]+)" aria-current="page"', row) == ["/limits"], address


def test_days_to_come_are_no_gap_of_the_loggers(house: httpx.Client) -> None:
    where = issued(house, to_utc="2026-04-30")
    page = house.get(where).text
    assert "Cannot tell" in page


def test_a_wide_enough_silence_is_listed() -> None:
    from analysis.air.coverage import silences

    air = readings_frame(HOURS.delete(range(30, 40)), rh_pct=50.0)
    (gap,) = silences(air, START, END, least_h=2.0)
    assert gap == (START + timedelta(hours=29), START + timedelta(hours=40))
