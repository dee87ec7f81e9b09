"""The latest week is worked out before anybody asks for it."""

from pathlib import Path

import pytest

from analysis.results import RoomWeek
from service.answers.museum import Museum
from service.answers.warming import warm_up
from service.jobs import Jobs
from service.settings import Settings
from service.storage.stores import Stores


def never() -> RoomWeek:
    pytest.fail("the week was not kept")


def test_the_latest_week_of_every_room_is_kept(own_museum: Path) -> None:
    settings = Settings(data_dir=own_museum, draws=60)
    with Stores.open(settings) as stores:
        museum, jobs = Museum(stores, settings), Jobs()
        job = warm_up(museum, jobs)
        assert job.finished.wait(60.0)
        jobs.close()
        assert job.problem is None
        rooms = [room.room for room in museum.rooms()]
        assert len(rooms) == 3
        for room in rooms:
            week = museum.kept_week("week", room, "2026-W12", never)
            assert week.judgements


def test_an_end_does_not_wait_for_what_nobody_asked_for(own_museum: Path) -> None:
    settings = Settings(data_dir=own_museum, draws=60)
    with Stores.open(settings) as stores:
        jobs = Jobs()
        jobs.closing = True
        job = warm_up(Museum(stores, settings), jobs)
        assert job.finished.wait(60.0)
        jobs.close()
        assert job.step == "waiting"


def test_an_empty_museum_has_nothing_to_work_out(tmp_path: Path) -> None:
    settings = Settings(data_dir=tmp_path)
    with Stores.open(settings) as stores:
        jobs = Jobs()
        job = warm_up(Museum(stores, settings), jobs)
        assert job.finished.wait(60.0)
        jobs.close()
        assert job.problem is None
