"""A house that writes as in Germany: pages, letters and commands do; JSON and CSV do not."""

import email
import re
import shutil
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from email import policy
from html import unescape
from pathlib import Path

import httpx
import numpy as np
import pandas as pd
import pytest
from babel.dates import format_date
from babel.numbers import format_decimal
from click.testing import CliRunner
from fixtures.languages import english_in, texts_of
from matplotlib.figure import Figure

from analysis.records.locales import LOCALE_WORDS
from analysis.records.room_records import Logger, Placement, Room, Site
from analysis.series import readings_frame
from dashboards.charts.style import Sheet, drawn, inline_svg
from dashboards.text import wording
from dashboards.text.messages import in_the_way_of
from service.cli import stilltaut
from service.settings import Settings
from service.storage.outbox import letters
from service.storage.records import put_record
from service.storage.site_clock import declare
from service.storage.stores import Stores

START = datetime(2026, 6, 18, tzinfo=UTC)
READ_OUT = START + timedelta(days=3)
LATER = "2026-06-24T12:00+00:00"


@pytest.fixture(scope="module")
def german(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of a house with one room, three days of its air in June, then silence."""
    folder = tmp_path_factory.mktemp("german") / "museum"
    with Stores.open(Settings(data_dir=folder)) as stores:
        declare(stores.register, READ_OUT)
        put_record(stores.register, Site("s", "Haus am Kai", "UTC", locale="de_DE"))
        put_record(stores.register, Room("north", "s", "North", rhythm="by itself"))
        put_record(stores.register, Logger("north-1"))
        put_record(stores.register, Placement("north-1", "north", START))
        times = pd.date_range(START, READ_OUT, freq="30min")
        still = 0.2 * np.sin(np.arange(len(times)))
        frame = readings_frame(times, temp_c=20.4 + still, rh_pct=48.0 + still)
        stores.readings.merge("north-1", frame)
    return folder


@pytest.fixture
def house(german: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(german, tmp_path / "museum"))


def words_of(html: str) -> str:
    text = unescape(re.sub(r"<[^>]+>", " ", html)).replace("\N{NO-BREAK SPACE}", " ")
    return re.sub(r"\s+", " ", text)


@pytest.mark.parametrize("way", LOCALE_WORDS)
def test_a_way_is_written_as_the_form_says(way: str) -> None:
    """The example beside each choice is what Babel (CLDR) makes of that language and country."""
    example = re.sub(r"\s", " ", LOCALE_WORDS[way].split(": ", 1)[1])
    with in_the_way_of(way):
        shown = (
            wording.number(12_345.6, 1),
            wording.month_day(date(2026, 6, 21)),
            wording.clock(datetime(2026, 6, 21, 14, 5, tzinfo=UTC), "UTC"),
        )
    assert re.sub(r"\s", " ", " · ".join(shown)) == example


def test_a_page_is_written_in_the_way_of_the_house(
    house: Path, serve: Callable[..., httpx.Client]
) -> None:
    client = serve(house, as_if=LATER)
    page = client.get("/rooms/north/2026-W25")
    assert page.status_code == 200
    assert "21. Juni 2026" in words_of(page.text)
    air = words_of(client.get("/rooms/north/air").text)
    assert re.search(r"\d,\d °C", air)


def test_the_way_is_changed_on_the_page_of_the_house(
    house: Path, serve: Callable[..., httpx.Client]
) -> None:
    client = serve(house, as_if=LATER)
    assert "21. Juni 2026" in words_of(client.get("/rooms/north/2026-W25").text)
    sent = {"was.site": "s", "site": "s", "name": "Haus am Kai", "zone": "UTC", "who": "A. Person"}
    answer = client.post("/house", data=sent | {"locale": "en_IE"})
    assert answer.status_code == 303, words_of(answer.text)
    assert "21 June 2026" in words_of(client.get("/rooms/north/2026-W25").text)


def test_json_stays_in_machine_form(house: Path, serve: Callable[..., httpx.Client]) -> None:
    found = serve(house, as_if=LATER).get("/api/rooms/north/weeks/2026-W25").json()
    assert found["week"] == "2026-W25"
    assert 40.0 < found["coverage_pct"] < 50.0


def test_a_letter_and_a_command_are_written_in_the_way_of_the_house(
    house: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, value in (("HOST", "127.0.0.1"), ("PORT", "9")):  # nobody listens there
        monkeypatch.setenv(f"STILLTAUT_SMTP_{name}", value)
    monkeypatch.setenv("STILLTAUT_MAIL_TO", "a.person@museum.invalid")
    options = ["--data", str(house), "--as-if", LATER]
    assert CliRunner().invoke(stilltaut, ["due", *options]).exception is None
    with Stores.open(Settings(data_dir=house), create=False) as stores:
        (letter,) = letters(stores.register)
    message = email.message_from_string(letter.body, policy=policy.default)
    body = message.get_body(("plain",))
    assert body is not None
    day = format_date(READ_OUT.date(), "long", "de_DE")
    assert day == "21. Juni 2026"
    assert day in body.get_content().replace("\N{NO-BREAK SPACE}", " ")
    page = message.get_body(("html",))
    assert page is not None
    words = (*body.get_content().splitlines(), *texts_of(page.get_content()))
    assert english_in(words) == []
    listed = CliRunner().invoke(stilltaut, ["notices", *options])
    assert english_in(listed.output.splitlines()) == []
    assert day in listed.output.replace("\N{NO-BREAK SPACE}", " ")


def test_a_chart_is_written_in_the_way_of_the_house() -> None:
    @drawn
    def chart() -> Figure:
        sheet = Sheet.new(60.0, 40.0)
        sheet.axes(10.0, 5.0, 45.0, 30.0).set_ylim(0.0, 1.0)
        return sheet.figure

    with in_the_way_of("de_DE"):
        shown = str(inline_svg(chart()))
    assert f">{format_decimal(0.4, '0.0', 'de_DE')}<" in shown
    assert ">0.4<" not in shown
    assert ">0.4<" in str(inline_svg(chart()))
