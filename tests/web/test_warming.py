"""The latest week is worked out before anybody asks for it."""

from pathlib import Path

import pytest

from analysis.results import RoomWeek
from service.answers.museum import Museum
from service.settings import Settings
from service.storage.stores import Stores
from service.web.app import WarmingUp


def never() -> RoomWeek:
    pytest.fail("the week was not kept")


def test_the_latest_week_of_every_room_is_kept(own_museum: Path) -> None:
    settings = Settings(data_dir=own_museum, draws=60)
    with Stores.open(settings) as stores:
        museum = Museum(stores, settings)
        WarmingUp(museum)(lambda: False)
        rooms = [room.room for room in museum.rooms()]
        assert len(rooms) == 3
        for room in rooms:
            week = museum.cached_week("week", room, "2026-W12", never)
            assert week.judgements


def test_what_somebody_asks_for_comes_first(own_museum: Path) -> None:
    settings = Settings(data_dir=own_museum, draws=60)
    with Stores.open(settings) as stores:
        museum = Museum(stores, settings)
        WarmingUp(museum)(lambda: True)
        assert museum.assessed_before("north") == ()


def test_an_empty_museum_has_nothing_to_work_out(tmp_path: Path) -> None:
    settings = Settings(data_dir=tmp_path)
    with Stores.open(settings) as stores:
        WarmingUp(Museum(stores, settings))(lambda: False)


def test_whoever_asks_right_after_the_start_is_not_held_up(own_museum: Path) -> None:
    settings = Settings(data_dir=own_museum, draws=60)
    with Stores.open(settings) as stores:
        museum = Museum(stores, settings)
        WarmingUp(museum, after_s=3600.0)(lambda: False)
        assert museum.assessed_before("north") == ()
