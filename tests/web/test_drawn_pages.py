"""The first page is drawn once for many readers, and shows nothing that is no longer so."""

import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pandas as pd
import pytest
from sqlalchemy import event

from analysis.records.inspection_records import Inspection
from analysis.series import readings_frame
from dashboards.render import page_html
from dashboards.visitor import Visitor, visited_by
from service.accounts.roles import Role
from service.answers.museum import Museum
from service.settings import Settings
from service.storage import places
from service.storage.forecasts import Forecast, keep_forecast
from service.storage.inspections import put_inspection
from service.storage.notices import mark_seen, open_notices, take_back_seen
from service.storage.records import put_record
from service.storage.register import Register
from service.storage.stores import Stores
from service.storage.versions import versions
from service.web.drawn_pages import DrawnPages
from service.web.routes import week
from service.web.visitors import Caller


@pytest.fixture
def draws(monkeypatch: pytest.MonkeyPatch) -> list[object]:
    """Each time the first page was drawn; the drawing is real."""
    seen: list[object] = []
    real = week.first_page

    def noted(*given: Any) -> Any:
        seen.append(given)
        return real(*given)

    monkeypatch.setattr(week, "first_page", noted)
    return seen


@pytest.fixture
def museum(own_museum: Path) -> Iterator[Museum]:
    settings = Settings(data_dir=own_museum, draws=40, as_if="2026-03-22T21:00+00:00")
    with Stores.open(settings) as stores:
        yield Museum(stores, settings)


def test_it_is_drawn_once_and_again_as_soon_as_anything_has_changed(
    museum: Museum, draws: list[object]
) -> None:
    drawn, register = DrawnPages(), museum.stores.register
    shown: set[bytes] = set()

    def ask() -> bytes:
        draws.clear()
        body = bytes(week.this_week(museum, drawn).body)
        assert body.decode() == page_html(week.first_page(museum))
        shown.add(body)
        return body

    first = ask()
    assert len(draws) == 2, "by the page, and by this test"
    assert ask() == first
    assert len(draws) == 1, "by this test alone"
    notice = open_notices(register)[0].id
    work = museum.judgements("north")[0].work_id
    now = museum.now()
    air = pd.date_range(now, periods=48, freq="h")
    outdoors = readings_frame(
        air, temp_c=np.full(48, 8.0), rh_pct=np.full(48, 80.0), flags=np.zeros(48, dtype="int32")
    )
    for change in (
        lambda: mark_seen(register, notice, by="A. Person", reason="on the way"),
        lambda: take_back_seen(register, notice),
        lambda: put_inspection(
            register, Inspection(work, now - timedelta(hours=3), 1, by="A. Person")
        ),
        lambda: put_record(register, replace(museum.room("north"), name="Long gallery")),
        lambda: keep_forecast(museum.stores, Forecast(now, outdoors)),
    ):
        change()
        ask()
        assert len(draws) == 2
    assert any(b"Long gallery" in body for body in shown)
    assert any(b"on the way" in body or b"A. Person" in body for body in shown)


def test_each_reader_gets_a_page_of_his_own(museum: Museum, draws: list[object]) -> None:
    drawn = DrawnPages()

    def reader(role: Role, name: str, token: str) -> Visitor:
        needs = Caller(role).needs
        return Visitor(name.lower(), name, str(role), open=False, form_token=token, needs=needs)

    pages = {}
    for one in (
        reader(Role.LOOK, "Ann 3 h & <Co>", "t1"),
        reader(Role.LOOK, "Ben", "t2"),
        reader(Role.ADMINISTER, "Cleo", "t3"),
        Visitor(),
    ):
        with visited_by(one):
            whole = page_html(week.first_page(museum))
            draws.clear()
            pages[one.name] = bytes(week.this_week(museum, drawn).body).decode()
        assert pages[one.name] == whole
        assert len(draws) == (0 if one.name == "Ben" else 1)
    assert len(set(pages.values())) == 4
    assert "t1" in pages["Ann 3 h & <Co>"]
    assert "<Co>" not in pages["Ann 3 h & <Co>"]


def test_many_who_ask_at_once_wait_for_one_drawing(
    own_museum: Path, serve: Callable[..., httpx.Client], draws: list[object]
) -> None:
    web = serve(own_museum, as_if="2026-03-22T21:00+00:00")
    found: list[tuple[int, str, bytes]] = []

    def read() -> None:
        with httpx.Client(base_url=web.base_url, timeout=60.0, verify=False) as reader:
            for _ in range(3):
                answer = reader.get("/")
                found.append((answer.status_code, answer.headers["etag"], answer.content))

    readers = [threading.Thread(target=read) for _ in range(8)]
    for one in readers:
        one.start()
    for one in readers:
        one.join()
    assert len(found) == 24
    assert len(set(found)) == 1
    assert len(draws) == 1
    plain = web.get("/", headers={"Accept-Encoding": "identity"})
    assert plain.content == found[0][2]
    assert "content-encoding" not in plain.headers
    held = web.get("/", headers={"If-None-Match": found[0][1]})
    assert (held.status_code, held.content) == (304, b"")


def test_within_one_moment_the_register_is_asked_once(museum: Museum) -> None:
    register: Register = museum.stores.register
    asked: list[str] = []

    def note(*given: Any) -> None:
        asked.extend([given[2]] * given[2].startswith("SELECT"))

    event.listen(register.engine, "before_cursor_execute", note)
    try:
        with register.one_moment():
            for _ in range(5):
                (site, *_others), before = places.sites(register), versions(register)
            assert len(asked) == 2
            put_record(register, replace(site, name="Another name"))
            assert places.sites(register)[0].name == "Another name", "what was written is seen"
            assert versions(register).newest > before.newest
        asked.clear()
        assert places.sites(register) and places.sites(register)
        assert len(asked) == 2
    finally:
        event.remove(register.engine, "before_cursor_execute", note)


def test_what_still_holds_is_sent_without_asking_the_register(
    own_museum: Path, serve: Callable[..., httpx.Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []
    real = Register.reading

    def noted(register: Register) -> Any:
        asked.extend([] if register._moment.get() is None else ["for a request"])
        return real(register)

    monkeypatch.setattr(Register, "reading", noted)
    web = serve(own_museum, as_if="2026-03-22T21:00+00:00")
    for address in ("/", "/round", "/round?room=north", "/api/round"):
        for _ in range(20):  # what the service does of itself may change the register between
            first = web.get(address)
            asked.clear()
            again = web.get(address)
            held = web.get(address, headers={"If-None-Match": first.headers["etag"]})
            if not asked:
                break
        assert (again.content, again.headers["etag"]) == (first.content, first.headers["etag"])
        assert again.headers["content-type"] == first.headers["content-type"]
        assert again.headers["cache-control"] == "private, no-cache"
        assert (held.status_code, held.content) == (304, b"")
        assert asked == [], address
    changed = {address: web.get(address).headers["etag"] for address in ("/", "/round")}
    work = web.get("/api/round").json()["rooms"][0]["works"][0]["work_id"]
    web.post(f"/works/{work}/inspections", data={"grade": "2", "by": "A. Person"})
    for address, mark in changed.items():
        assert web.get(address, headers={"If-None-Match": mark}).status_code == 200, address
