"""A month's report: one set of facts on the page, on paper and in JSON, counted as weeks count."""

import json
import re
import shutil
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from html import unescape
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pytest
from click.testing import CliRunner
from fixtures.paper import BROKEN, pages_of
from fixtures.serving import DRAWS

from analysis.errors import OutOfRangeError
from analysis.records.inspection_records import Inspection
from service.answers.museum import Museum
from service.cli import stilltaut
from service.reports.period import (
    last_whole_month,
    period_between,
    period_named,
    usual_periods,
)
from service.reports.report_words import ORDER
from service.reports.works_hours import HALF, works_hours
from service.settings import Settings
from service.storage.inspections import put_inspection
from service.storage.notices import notices
from service.storage.stores import Stores

ZONE = "Europe/Dublin"
Told = dict[str, Any]
DATES = {"from": "2026-03-16", "to": "2026-03-22"}
NOW = datetime(2026, 3, 22, 23, 15, tzinfo=UTC)


def plain(html: str) -> str:
    words = unescape(re.sub(r"<[^>]+>", " ", html)).replace("\N{NO-BREAK SPACE}", " ")
    return " ".join(words.split())


def squeezed(text: str) -> str:
    """Return text without white space: a PDF breaks lines where it likes."""
    return re.sub(r"\s+", "", text)


def told(report: Told) -> list[str]:
    """Return everything that a report says in words."""
    said = [report["question"], report["answer"], *report["summary"], *report["cautions"]]
    said += [words for pair in report["asks"] for words in pair]
    for part in report["parts"]:
        said += [part["heading"], *part["sentences"], part["how"]]
        table = part["table"]
        if table is not None and table["rows"]:
            said += [*table["headings"], *(cell for row in table["rows"] for cell in row)]
    return [one for one in said if one]


@pytest.fixture(scope="module")
def report(web: httpx.Client) -> Told:
    answer = web.get("/api/report", params=DATES)
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


def test_page_paper_and_json_say_the_same(web: httpx.Client, report: Told) -> None:
    page = plain(web.get("/report", params=DATES).text)
    paper = web.get("/report.pdf", params=DATES)
    assert paper.headers["content-type"] == "application/pdf"
    sheet = squeezed(" ".join(pages_of(paper.content)))
    assert not BROKEN.search(sheet)
    every = told(report)
    assert len(every) > 60
    assert [one for one in every if " ".join(one.split()) not in page] == []
    assert [one for one in every if squeezed(one) not in sheet] == []


def test_the_command_prints_what_the_interface_answers(
    web: httpx.Client, report: Told, small_museum: Path
) -> None:
    asked = ["report", "--data", str(small_museum), "--from", DATES["from"], "--to", DATES["to"]]
    printed = CliRunner().invoke(stilltaut, [*asked, "--json"], env={"STILLTAUT_DRAWS": str(DRAWS)})
    assert printed.exit_code == 0, printed.output
    assert json.loads(printed.output.replace('+00:00"', 'Z"')) == report


def test_two_readers_have_one_set_of_facts(web: httpx.Client, report: Told) -> None:
    other = web.get("/api/report", params={**DATES, "for": "facilities"}).json()
    keys = [[part["key"] for part in one["parts"]] for one in (report, other)]
    assert keys == [list(ORDER["director"]), list(ORDER["facilities"])]
    assert sorted(report["asks"]) == sorted(other["asks"])
    assert other["asks"][0][0] == "Facilities"
    for name in ("parts", "asks", "for"):
        report, other = ({k: v for k, v in one.items() if k != name} for one in (report, other))
    assert report == other
    assert web.get("/report", params={**DATES, "for": "nobody"}).status_code == 404


def test_hours_are_those_of_the_weeks(small_museum: Path) -> None:
    """What a room's week shows of each work, counted by hand, is what the report counts."""
    settings = Settings(data_dir=small_museum, draws=DRAWS)
    with Stores.open(settings) as stores:
        museum = Museum(stores, settings)
        dates = period_between(DATES["from"], DATES["to"], museum.zone, museum.clock())
        over = {one.work_id: one for one in works_hours(museum, dates.start_utc, NOW)}
        week = museum.room_week("north", "2026-W12")
        until = museum.presence("north").known_until_utc
        assert until is not None
        compared = 0
        for work_id, history in week.histories.items():
            times = history.time_utc.astype("datetime64[s]")
            inside = times > np.datetime64(int(dates.start_utc.timestamp()), "s")
            inside &= times <= np.datetime64(int(until.timestamp()), "s")
            inside &= history.refused == ""
            chances = history.p_visible[inside & np.isfinite(history.p_visible)]
            assert over[work_id].waves_h == int((chances > HALF).sum())
            assert over[work_id].told_h == len(chances)
            compared += over[work_id].waves_h > 0
        assert compared  # the wet opening night slackened some
        for judgement in week.judgements:
            assert over[judgement.work_id].listing is judgement.listing


def test_the_opening_stands_on_record_and_costs_hours(report: Told) -> None:
    rise = next(one for one in report["excursions"] if one["in_the_calendar"])
    assert (rise["room"], rise["in_the_calendar"]) == ("north", "Opening of the spring show")
    assert sum(rise["hours_by_work"].values()) > 0
    counted = sum(sum(one["hours_by_work"].values()) for one in report["excursions"])
    assert counted == report["excursion_work_hours"]
    elsewhere = report["other_work_hours"] + report["away_work_hours"]
    assert counted + elsewhere == sum(one["waves_h"] for one in report["works"])


def test_a_year_that_is_missing_is_said(report: Told) -> None:
    trend = next(part for part in report["parts"] if part["key"] == "trend")
    rooms = {room["room"]: room for room in report["rooms"]}
    assert rooms["north"]["a_year_before"]["mean_rh_pct"] is None
    assert rooms["north"]["a_year_before"]["outside_pct"] is None
    assert any("North Gallery cannot be compared: 0 % of 16 to 22 March 2025 was measured" in one
               for one in trend["sentences"])  # fmt: skip
    assert not [row for row in trend["table"]["rows"] if row[0] == "North Gallery"]


def test_days_without_readings_are_no_kept_band(web: httpx.Client) -> None:
    quiet = web.get("/api/report", params={"from": "2025-05-01", "to": "2025-05-31"}).json()
    assert {room["outcome"] for room in quiet["rooms"]} == {"cannot tell"}
    assert "kept to" not in quiet["summary"][0] + quiet["answer"]
    assert dict(quiet["asks"])["Whoever reads the loggers"].startswith("Close the gaps")
    assert all(work["told_h"] == 0 for work in quiet["works"])


def test_an_incident_waits_for_its_lesson_then_tells_it(
    own_museum: Path, serve: Callable[..., httpx.Client]
) -> None:
    web = serve(own_museum)
    with Stores.open(Settings(data_dir=own_museum)) as stores:
        notice = next(n for n in notices(stores.register, "court") if n.kind == "humidity")
    where = web.post(f"/notices/{notice.id}/incident", data={"by": "A. Person"})
    number = where.headers["location"].rsplit("/", 1)[1]
    line = {"part": "actions", "text": "humidifier switched off", "by": "A. Person"}
    web.post(f"/incidents/{number}/lines", data=line)
    open_ = plain(web.get("/report", params=DATES).text)
    assert f"Incident {number} (Court Gallery) is still open" in open_
    assert f"Write down cause and lesson of incident {number} (Court Gallery)." in open_
    assert "Written down in incidents: humidifier switched off." in open_
    assert "A. Person" not in open_  # a report goes far; names stay in the incident
    closed = {"cause": "the humidifier stuck", "state": "known", "lesson": "check its valve",
              "by": "A. Person"}  # fmt: skip
    web.post(f"/incidents/{number}/close", data=closed)
    after = plain(web.get("/report", params=DATES).text)
    assert f"Incident {number} (Court Gallery): check its valve" in after
    assert "is still open" not in after
    assert "the humidifier stuck" in after  # on record for the excursion


@pytest.mark.parametrize(
    ("first", "last"),
    [("2026-03-20", "2026-03-01"), ("2026-13-01", "2026-03-01"), ("2026-04-20", "2026-04-30"),
     ("2020-01-01", "2026-03-01"), ("", "2026-03-01"), ("٢٠٢٦-03-01", "2026-03-02")],
)  # fmt: skip
def test_dates_that_cannot_be_are_said(web: httpx.Client, first: str, last: str) -> None:
    page = web.get("/report", params={"from": first, "to": last})
    assert page.status_code == 422
    assert "the dates of the report" in page.text


def test_months_quarters_and_the_year_before() -> None:
    quarter = period_named("2026-Q1", ZONE)
    assert (quarter.first, quarter.last) == (date(2026, 1, 1), date(2026, 3, 31))
    assert (quarter.end_utc - quarter.start_utc).total_seconds() == (90 * 24 - 1) * 3600  # clocks
    leap = period_between("2028-02-01", "2028-02-29", ZONE, datetime(2028, 5, 1, tzinfo=UTC))
    assert leap.a_year_before(ZONE).last == date(2027, 2, 28)
    assert last_whole_month(ZONE, datetime(2026, 1, 3, tzinfo=UTC)).first == date(2025, 12, 1)
    names = [(one.first.isoformat(), one.last.isoformat()) for one in usual_periods(ZONE, NOW)]
    assert names == [("2026-03-01", "2026-03-31"), ("2026-02-01", "2026-02-28"),
                     ("2026-01-01", "2026-03-31"), ("2025-10-01", "2025-12-31")]  # fmt: skip
    so_far = period_named("2026-03", ZONE).so_far(NOW, ZONE)
    assert (so_far.last, so_far.end_utc, so_far.over) == (date(2026, 3, 22), NOW, False)
    with pytest.raises(OutOfRangeError, match="2026-Q1"):
        period_named("March", ZONE)


def test_hours_are_kept_on_disk_until_what_they_rest_on_changes(
    own_museum: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another process asks for them; a look at one work; an older register put back."""
    shutil.rmtree(own_museum / "results" / "hours over dates", ignore_errors=True)
    settings, worked_out = Settings(data_dir=own_museum, draws=DRAWS), list[str]()
    from_scratch = Museum.room_over

    def counted(museum: Museum, room_id: str, *asked: Any) -> Any:
        found = from_scratch(museum, room_id, *asked)
        worked_out.extend([room_id] if found else [])
        return found

    def asked_by_another(look: Inspection | None = None) -> tuple[str, list[str]]:
        worked_out.clear()
        with Stores.open(settings) as stores:
            if look is not None:
                put_inspection(stores.register, look)
            museum = Museum(stores, settings)
            dates = period_between(DATES["from"], DATES["to"], museum.zone, museum.clock())
            return repr(works_hours(museum, dates.start_utc, NOW)), list(worked_out)

    monkeypatch.setattr(Museum, "room_over", counted)
    first, rooms = asked_by_another()
    assert "north" in rooms
    assert asked_by_another() == (first, [])
    register, older = own_museum / "register.db", tmp_path / "older.db"
    shutil.copyfile(register, older)
    work_id = re.findall(r"WorkHours\(work_id='([^']+)'", first.split("room='north'")[0])[-1]
    look = Inspection(work_id, NOW - timedelta(hours=2), 3, by="R. Keeper")
    second, rooms = asked_by_another(look)
    assert rooms == ["north"]
    assert second != first
    assert asked_by_another() == (second, [])
    shutil.copyfile(older, register)
    third, rooms = asked_by_another(replace(look, grade=0))
    assert rooms == ["north"]
    assert third not in (first, second)
