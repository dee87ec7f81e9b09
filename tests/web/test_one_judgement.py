"""Every surface asked about every work: the same list, state, chances and sentence on all."""

import json
import shutil
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import httpx
import pytest
from click.testing import CliRunner

from analysis.records.inspection_records import Inspection
from service.answers.museum import Museum
from service.cli import stilltaut
from service.notices.after_arrival import facts_of
from service.notices.arrangements import arrangement
from service.settings import Settings
from service.storage.inspections import put_inspection
from service.storage.records import put_record
from service.storage.stores import Stores
from service.storage.works import holding, work_record

pytestmark = pytest.mark.slow

NOW = datetime(2026, 3, 22, 23, tzinfo=UTC)
DRAWS = 60
TAKEN_DOWN, LOOSE, LOOSE_AND_DOWN = "2018-07", "2017-11", "2021-08"
COMPARED = (
    "listing",
    "state",
    "p_visible_now",
    "p_visible_week",
    "p_clearance",
    "p_hinges",
    "reason",
    "known_until_utc",
    "cause",
)
Line = dict[str, Any]


@pytest.fixture(scope="module")
def museum(small_museum: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small museum with a work taken down, one with a loose hinge, and one that is both."""
    folder = Path(shutil.copytree(small_museum, tmp_path_factory.mktemp("judged") / "museum"))
    settings = Settings(data_dir=folder, draws=DRAWS)
    with Stores.open(settings) as stores:
        for work_id in (LOOSE, LOOSE_AND_DOWN):
            at = NOW - timedelta(days=20)
            look = Inspection(work_id, at, 0, by="R. Keeper", released=True)
            put_inspection(stores.register, look)
        for work_id in (TAKEN_DOWN, LOOSE_AND_DOWN):
            record = work_record(stores.register, work_id)
            hung = holding(record.hangings, NOW)
            assert hung is not None
            until = NOW - timedelta(days=3)
            put_record(stores.register, replace(hung, to_utc=until))
    return folder


@cache
def command_lines(folder: Path, at: datetime) -> dict[str, Line]:
    """Return what the command says of every work at a time."""
    arguments = ["round", "--json", "--data", str(folder), "--as-if", at.isoformat()]
    environment = {"STILLTAUT_DRAWS": str(DRAWS)}
    done = CliRunner(env=environment).invoke(stilltaut, arguments, standalone_mode=False)
    return by_work(json.loads(done.stdout))


def by_work(found: Line) -> dict[str, Line]:
    """Return the works of a round by number."""
    works = [work for room in found["rooms"] for work in room["works"]] + found["unplaced"]
    assert len({work["work_id"] for work in works}) == len(works)
    return {work["work_id"]: work for work in works}


def compared(one: Line) -> Line:
    until = one["known_until_utc"]
    instant = None if until is None else datetime.fromisoformat(until)
    return {name: one[name] for name in COMPARED} | {"known_until_utc": instant}


def assert_one_spare(line: Line, why: Line) -> None:
    """Hold that round and why tell one spare, up and down, to the digit that is shown."""
    told = {link["name"]: link["value"] for link in why["links"] if link["known"]}
    for name in {"headroom_up_pct", "headroom_down_pct"} & set(told):
        # the ranges of a history are resolved to a thousandth of the span of all draws
        assert told[name] == pytest.approx(line[name], abs=0.2), (line["work_id"], name)


# The whole house at two further hours is walked by `make test-long`.
@pytest.mark.parametrize(
    "at",
    [
        NOW,
        pytest.param(NOW - timedelta(days=2), marks=pytest.mark.long),
        pytest.param(NOW + timedelta(days=150), marks=pytest.mark.long),
    ],
)
def test_all_surfaces_say_the_same_of_every_work(
    museum: Path, serve: Callable[..., httpx.Client], at: datetime
) -> None:
    said = command_lines(museum, at)
    web = serve(museum, as_if=at.isoformat())
    interface = by_work(web.get("/api/round").json())
    assert interface == said
    spared = 0
    round_page, first_page = web.get("/round").text, web.get("/").text
    for work_id, line in said.items():
        alone = web.get(f"/api/works/{work_id}").json()
        assert compared(alone) == compared(line), work_id
        why = web.get(f"/api/works/{work_id}/why").json()
        assert why["answer"] == line["reason"], work_id
        assert_one_spare(line, why)
        spared += any(link["name"] == "headroom_up_pct" for link in why["links"])
        assert f'href="/works/{work_id}"' in round_page, work_id
        if line["listing"] == "look first":
            assert f'href="/works/{work_id}"' in first_page, work_id
    assert spared > 3
    settings = Settings(data_dir=museum, draws=DRAWS, as_if=at.isoformat())
    with Stores.open(settings) as stores:
        house = Museum(stores, settings)
        for room in house.rooms():
            told = facts_of(house, room.room, arrangement(stores.register))
            assert told.judgements == house.judgements(room.room)
            week = house.room_week(room.room, house.this_week())
            assert {j.work_id: j for j in week.judgements} == {
                j.work_id: j for j in told.judgements
            }


def test_a_work_taken_down_keeps_what_was_seen_of_it(museum: Path) -> None:
    said = command_lines(museum, NOW)
    assert said[LOOSE]["listing"] == said[LOOSE_AND_DOWN]["listing"] == "look first"
    assert said[LOOSE]["state"] == said[LOOSE_AND_DOWN]["state"] == "hinges giving way"
    assert said[LOOSE_AND_DOWN]["reason"].startswith("A hinge was found loose on 2 March 2026")
    assert (said[TAKEN_DOWN]["listing"], said[TAKEN_DOWN]["refusal"]) == ("cannot tell", "not hung")


def test_an_answer_after_the_last_reading_says_what_it_rests_on(museum: Path) -> None:
    later = command_lines(museum, NOW + timedelta(days=150))
    carried = [one for one in later.values() if one["p_visible_now"] is not None]
    assert carried
    for one in carried:
        assert one["known_until_utc"] < one["at_utc"]
        if "graded" not in one["because"]:
            assert "From readings to" in one["reason"] or "loose" in one["reason"]
