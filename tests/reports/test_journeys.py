"""A work away: judged by the air it really had, told where nobody measured, in no room's week."""

import json
import re
from collections.abc import Callable
from datetime import datetime, timedelta
from html import unescape
from pathlib import Path

import httpx
import numpy as np
import pytest
from click.testing import CliRunner
from fixtures.paper import pages_of
from fixtures.serving import DRAWS
from fixtures.short_museum import DAY, HOUR, START, Clock, add_work, bring, kinds

from analysis.records.room_records import Logger, Placement, Room, Site
from analysis.records.work_records import Hanging, Mounting
from analysis.results import History, Listing
from analysis.simulation.checkpoints import instant
from analysis.works import Mount
from dashboards.forms.form import CLOCK
from service.answers.museum import Museum
from service.answers.rounds import museum_round, round_json
from service.cli import stilltaut
from service.notices.due import do_what_is_due
from service.register.archive import write_archive
from service.register.restore import restore_into
from service.reports.journey import Journey, answer_of, journey_sentences, journeys
from service.reports.period import period_named
from service.reports.period_report import period_report
from service.settings import Settings
from service.storage.places import sites
from service.storage.records import put_record, take_out_line
from service.storage.register import Register
from service.storage.stores import Stores
from service.storage.works import work_record

PACKED, UNPACKED = START + 20 * DAY, START + 23 * DAY
PACKED_BACK, UNPACKED_BACK = START + 40 * DAY, START + 42 * DAY


def add_places(register: Register) -> None:
    """Another house with a hall, whose name comes before ours, and a crate with a logger."""
    put_record(register, Site("a-house", "House by the Pond", "Europe/Vienna", borrower=True))
    put_record(register, Room("hall", "a-house", "Pond Hall"))
    put_record(register, Room("crate", "s", "Crate 2", crate=True))
    for logger, room in (("hall-1", "hall"), ("crate-1", "crate")):
        put_record(register, Logger(logger))
        put_record(register, Placement(logger, room, START - DAY))


def send_away(museum: Museum) -> None:
    """Send the work out and back; the logger in the crate runs on the way out alone."""
    register = museum.stores.register
    add_places(register)
    add_work(museum)
    put_record(register, Mounting("W-1", START - 30 * DAY, Mount.TENSION_HELD, mounted_rh_pct=48.0))
    put_record(register, Hanging("W-1", "north", START, PACKED))
    put_record(
        register,
        Hanging("W-1", "crate", PACKED, UNPACKED, left_utc=PACKED + 5 * HOUR,
                arrived_utc=PACKED + DAY, opened_utc=PACKED + DAY + 26 * HOUR),
    )  # fmt: skip
    put_record(register, Hanging("W-1", "hall", UNPACKED, PACKED_BACK))
    put_record(
        register,
        Hanging("W-1", "crate", PACKED_BACK, UNPACKED_BACK, arrived_utc=PACKED_BACK + DAY,
                opened_utc=PACKED_BACK + DAY + 3 * HOUR),
    )  # fmt: skip
    put_record(register, Hanging("W-1", "north", UNPACKED_BACK))
    bring(museum, "north-1", (60, 48.0), start=START)
    bring(museum, "crate-1", (3, 55.0), start=PACKED)
    bring(museum, "hall-1", (17, 72.0), start=UNPACKED)


@pytest.fixture
def away(museum: Museum, clock: Clock) -> Museum:
    send_away(museum)
    clock.now = START + 60 * DAY
    museum.forget()
    return museum


def only(museum: Museum) -> Journey:
    (journey,) = journeys(museum, "W-1")
    return journey


def plain(text: str) -> str:
    return text.replace("\N{NO-BREAK SPACE}", " ")


def test_a_journey_is_room_crate_house_crate_room(away: Museum) -> None:
    journey = only(away)
    assert [one.kind for one in journey.said] == ["home", "crate", "away", "crate", "home"]
    assert [one.name for one in journey.away] == ["Crate 2", "Pond Hall", "Crate 2"]
    out, hall, back = journey.away
    assert out.measured_pct > 99.0 and hall.measured_pct > 99.0 and back.measured_pct == 0.0
    assert (round(out.air_rh_pct[0]), round(hall.air_rh_pct[1])) == (55, 72)
    assert (out.untold_h, hall.untold_h) == (0, 0)
    assert back.untold_h >= 47 and np.isnan(back.highest)
    assert hall.waves_h > 0  # 72 %RH for weeks after 48
    assert journey.over


def test_what_nobody_measured_and_how_long_a_crate_rested_is_told(away: Museum) -> None:
    said = [plain(one) for one in journey_sentences(away, only(away))]
    assert any("No reading in Crate 2 from 10 February 2026" in one and "cannot tell" in one
               for one in said)  # fmt: skip
    assert "Crate 2 stood shut for 26 h after it arrived; common practice is 24 h or more." in said
    assert any(one.startswith("Crate 2 was opened 3 h after it arrived; common practice is to "
                              "leave it shut") for one in said)  # fmt: skip
    assert any("arrived 22 January 2026, 00:00 (01:00 there)" in one for one in said)
    assert any("Not written down: when it left." in one for one in said)
    assert plain(answer_of(only(away))).startswith("In Crate 2 and Pond Hall waves were likelier")


def test_it_is_judged_as_if_all_that_air_had_been_one_room(away: Museum) -> None:
    """Hung in one room that had the same air, the same work is told the same, hour by hour."""
    history = only(away).history
    assert history is not None
    register = away.stores.register
    for begins in (PACKED, UNPACKED, PACKED_BACK, UNPACKED_BACK):
        key = {"work_id": "W-1", "from_utc": begins}
        take_out_line(register, "hangings.csv", key, why="a test", by="A. Person")
    put_record(register, Hanging("W-1", "east", START))
    bring(away, "east-1", (20, 48.0), start=START)
    bring(away, "east-1", (3, 55.0), start=PACKED)
    bring(away, "east-1", (17, 72.0), start=UNPACKED)
    (alone,) = away.assessed_over(PACKED_BACK, only_since(history), ["W-1"])
    assert alone.history is not None
    until = np.datetime64(int((PACKED_BACK - HOUR).timestamp()), "s")
    for name in ("frame_rh_pct", "print_rh_pct", "p_visible"):
        mine, other = (
            getattr(one, name)[one.time_utc.astype("datetime64[s]") <= until]
            for one in (history, alone.history)
        )
        count = min(len(mine), len(other))
        assert count > 400
        np.testing.assert_allclose(mine[-count:], other[-count:], atol=0.02)


def only_since(history: History) -> datetime:
    """Return when a history begins."""
    return instant(history.time_utc[0])


def test_air_away_is_in_no_week_of_this_house(away: Museum) -> None:
    assert away.site.name == "Invented House"  # though the other stands first by name
    assert [room.room for room in away.rooms()] == ["north"]
    assert sites(away.stores.register)[0].site == "s"
    report = period_report(away, period_named("2026-01", away.zone))
    assert [one.room.room for one in report.rooms] == ["north"]
    assert {one.room.room for one in report.excursions} <= {"north"}


def test_a_work_away_stands_on_the_round_as_away(away: Museum, clock: Clock) -> None:
    clock.now = START + 39 * DAY
    away.forget()
    found = round_json(museum_round(away), away.zone)
    assert [one["room"] for one in found["rooms"]] == ["north"]
    (hall,) = [one for one in found["away"] if one["works"]]
    assert hall["room"] == "hall"
    assert hall["works"][0]["listing"] == Listing.LOOK_FIRST.value
    assert hall["works"][0]["p_visible_now"] > 0.5


def test_where_no_readings_come_from_nothing_is_told_but_the_last_answer(
    away: Museum, clock: Clock
) -> None:
    """The air of a lorry is never carried on from what the room did."""
    clock.now = PACKED_BACK + DAY  # in the crate whose logger does not run
    away.forget()
    (crate,) = [one for one in museum_round(away).away if one.works]
    (work,) = crate.works
    assert crate.room.room == "crate"
    assert np.isnan(work.judgement.p_visible_now)
    assert work.judgement.listing is Listing.CANNOT_TELL
    assert work.last is not None and work.last.p_visible_now > 0.5
    (said,) = [one["works"][0]["last_answer"] for one in round_json(
        museum_round(away), away.zone)["away"] if one["works"]]  # fmt: skip
    assert "The last answer from readings is of 9 February 2026, 23:00" in plain(said)


def test_hours_that_nobody_measured_may_have_been_anything(away: Museum) -> None:
    (found,) = away.assessed_over(START + 60 * DAY, START, ["W-1"])
    assert found.air is not None
    inside = (found.air.time_utc > np.datetime64("2026-02-10T02")) & ~found.air.measured
    inside &= found.air.time_utc < np.datetime64("2026-02-11T20")
    assert inside.sum() > 30
    assert (found.air.rh_low_pct[inside] <= 20.0).all()
    assert (found.air.rh_high_pct[inside] >= 80.0).all()


def test_a_work_is_told_of_its_air_and_its_logger_away_are_not(away: Museum, clock: Clock) -> None:
    clock.now = START + 39 * DAY
    away.forget()
    do_what_is_due(away)
    assert ("works", "hall") in kinds(away)  # the work is this house's wherever it is
    assert not [kind for kind, room in kinds(away) if room in ("hall", "crate") and kind != "works"]
    clock.now = START + 59 * DAY  # both loggers away have said nothing for weeks
    away.forget()
    do_what_is_due(away)
    assert not [kind for kind, room in kinds(away) if room in ("hall", "crate") and kind != "works"]


def test_a_journey_comes_back_from_the_archive(away: Museum, tmp_path: Path) -> None:
    before = work_record(away.stores.register, "W-1").hangings
    assert before[1].opened_utc is not None
    write_archive(away.stores, tmp_path / "archive")
    restore_into(Settings(data_dir=tmp_path / "back"), tmp_path / "archive")
    with Stores.open(Settings(data_dir=tmp_path / "back")) as stores:
        assert work_record(stores.register, "W-1").hangings == before
        assert [one.borrower for one in sites(stores.register)] == [False, True]


def at(name: str, day: str, clock: str) -> dict[str, str]:
    """Return a time as a form sends it."""
    return {name: day, name + CLOCK: clock}


FORM = {
    "room": "crate",
    **at("from_utc", "2026-03-02", "09:00"),
    **at("left_utc", "2026-03-02", "11:00"),
    "who": "A. Person",
}  # fmt: skip


@pytest.fixture
def web(own_museum: Path, serve: Callable[..., httpx.Client]) -> httpx.Client:
    with Stores.open(Settings(data_dir=own_museum)) as stores:
        register = stores.register
        put_record(register, Site("a-house", "House by the Pond", "Europe/Vienna", borrower=True))
        put_record(register, Room("hall", "a-house", "Pond Hall"))
        put_record(register, Room("crate", "sallowmere", "Crate 2", crate=True))
    return serve(own_museum)


def assert_told_alike(web: httpx.Client, folder: Path, page: str, sheet: str) -> None:
    """What the interface answers is what the command prints, and stands on page and sheet."""
    (told,) = web.get("/api/works/2018-02/journeys").json()
    run = CliRunner().invoke(stilltaut, ["journey", "2018-02", "--data", str(folder), "--json"],
                             env={"STILLTAUT_DRAWS": str(DRAWS)})  # fmt: skip
    assert run.exit_code == 0, run.output
    assert json.loads(run.output.replace('+00:00"', 'Z"')) == [told]
    lines = CliRunner().invoke(stilltaut, ["journey", "2018-02", "--data", str(folder)],
                               env={"STILLTAUT_DRAWS": str(DRAWS)})  # fmt: skip
    said = [told["answer"], *told["sentences"]]
    said += [cell for row in told["table"]["rows"] for cell in row]
    for one in map(plain, said):
        assert one in plain(lines.output)
        assert one in page
        assert re.sub(r"\s+", "", one) in re.sub(r"\s+", "", plain(sheet))
    assert [one["kind"] for one in told["stays"]] == ["home", "crate", "away"]
    assert told["stays"][1]["arrived_utc"] == "2026-03-03T10:00:00Z"
    assert told["stays"][1]["measured_pct"] == 0.0 and told["stays"][1]["highest_chance"] is None


def words(page: httpx.Response) -> str:
    return " ".join(plain(unescape(re.sub(r"<[^>]+>", " ", page.text))).split())


def test_a_crate_is_written_down_on_one_form_in_two_goes(
    web: httpx.Client, own_museum: Path
) -> None:
    empty = web.get("/works/2018-02/journey")
    assert "It has not been away in what is written down." in words(empty)
    asked = web.get("/works/2018-02/journey/crate").text
    rooms = asked.split('name="next_room"', 1)[1].split("</select>", 1)[0]
    assert re.findall(r'<option value="([^"]*)" selected', rooms) == [""]  # no room by itself
    sent = web.post("/works/2018-02/journey/crate", data=FORM)
    assert sent.status_code == 303, words(sent)
    assert sent.headers["location"].startswith("/works/2018-02/journey?saved")
    page = web.get("/works/2018-02/journey")
    assert "No logger in Crate 2 from 2 March 2026, 09:00" in words(page)
    assert "Not written down: when it arrived, when it was opened and when it was unpacked." in (
        words(page)
    )
    (address,) = re.findall(r'href="(/works/2018-02/journey/crate\?was=[^"]+)"', page.text)
    form = web.get(unescape(address))
    assert 'value="2026-03-02"' in form.text and 'value="11:00"' in form.text
    was = re.findall(r'name="was" value="([^"]+)"', form.text)[0]
    more = {
        **FORM,
        "was": was,
        **at("arrived_utc", "2026-03-03", "10:00"),
        **at("opened_utc", "2026-03-04", "12:00"),
        **at("to_utc", "2026-03-04", "15:00"),
        "next_room": "hall",
    }
    late = web.post("/works/2018-02/journey/crate",
                    data=more | {**at("opened_utc", "2026-03-03", "08:00")})  # fmt: skip
    assert late.status_code == 422
    assert "not before arrived_utc" in words(late)
    assert web.post("/works/2018-02/journey/crate", data=more).status_code == 303
    again = web.post("/works/2018-02/journey/crate", data=more)
    assert again.status_code == 303
    with Stores.open(Settings(data_dir=own_museum)) as stores:
        stays = work_record(stores.register, "2018-02").hangings
    assert [one.room for one in stays] == ["north", "crate", "hall"]
    assert stays[0].to_utc == stays[1].from_utc
    assert stays[1].to_utc == stays[2].from_utc
    assert stays[1].to_utc is not None and stays[1].arrived_utc is not None
    assert stays[1].to_utc - stays[1].arrived_utc == timedelta(hours=29)
    page = web.get("/works/2018-02/journey")
    assert "Crate 2 stood shut for 26 h after it arrived" in words(page)
    assert "a conservator decides" in words(page)
    sheet = " ".join(pages_of(web.get("/works/2018-02/journey/1.pdf").content))
    for said in ("What did", "Crate 2, in a crate", "Pond Hall, in another house", "cannot tell"):
        assert said in sheet
    assert web.get("/works/2018-02/journey/2.pdf").status_code == 404
    assert_told_alike(web, own_museum, words(page), sheet)
    first = words(web.get("/"))
    assert "Pond Hall" not in first.split("Look first", 1)[0] and "Crate 2:" not in first
    assert web.get("/rooms/hall").status_code == 200
