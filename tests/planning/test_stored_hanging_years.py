"""Where works would hang, kept on disk: only what has changed is worked out again."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from bench.calibration import START

from analysis.air.room_air import RoomAir
from analysis.learning.posterior import Inspection, learn
from analysis.planning.hanging import look_first_at
from analysis.works import Mount, Wall, Work
from service.answers.planning import Candidate, RoomYear, hanging_years, result_name
from service.settings import Settings
from service.storage.results import Result
from service.storage.stores import Stores

N = 20
NAME = result_name("north", Wall.INSIDE)
Damper = Callable[[RoomAir, float], RoomAir]


@pytest.fixture
def stores(tmp_path: Path) -> Stores:
    return Stores.open(Settings(data_dir=tmp_path))


@pytest.fixture(scope="module")
def candidates(print_on_metal: Work) -> list[Candidate]:
    return [
        Candidate(print_on_metal, "north", None),
        Candidate(replace(print_on_metal, work_id="P2", mounted_rh_pct=44.0), "south", None),
        Candidate(replace(print_on_metal, work_id="P3", mount=Mount.BONDED), "north", None),
        Candidate(replace(print_on_metal, work_id="P4", conditioned=True), "", None),
    ]


def year(air: RoomAir) -> RoomYear:
    """Return the room's year, all of its hours counted."""
    return RoomYear("north", air, START, N)


def kept(stores: Stores, air: RoomAir) -> Mapping[str, Any]:
    """Return what is kept of the works in the room, by work."""
    found = stores.results.load(NAME, year(air).inputs)
    assert found is not None
    return found.facts


def doctored(stores: Stores, air: RoomAir, work_id: str, share: float) -> None:
    """Change a kept share, so that it shows whether it is used."""
    facts = {key: dict(value) for key, value in kept(stores, air).items()}
    facts[work_id]["share"] = share
    stores.results.save(NAME, year(air).inputs, Result(facts=facts))


def test_kept_years_are_the_years(
    stores: Stores, candidates: list[Candidate], air: RoomAir
) -> None:
    first = hanging_years(stores.results, candidates, year(air), Wall.INSIDE)
    again = hanging_years(stores.results, candidates, year(air), Wall.INSIDE)
    held = [one.work for one in candidates]
    assert list(first) == ["P1", "P2", "P4"]
    direct = look_first_at(held, air, Wall.INSIDE, n=N, at_home=["P1"])
    for work_id in ("P1", "P2"):
        assert first[work_id] == again[work_id] == direct[work_id]
    assert not again["P4"].judged
    assert again["P4"].refused == first["P4"].refused


def test_only_the_work_that_changed_is_worked_out_again(
    stores: Stores, candidates: list[Candidate], air: RoomAir
) -> None:
    first = hanging_years(stores.results, candidates, year(air), Wall.INSIDE)
    for work_id in ("P1", "P2"):
        doctored(stores, air, work_id, 0.123)
    drier = replace(candidates[1], work=replace(candidates[1].work, mounted_rh_pct=38.0))
    again = hanging_years(stores.results, [candidates[0], drier], year(air), Wall.INSIDE)
    assert again["P1"].share == 0.123
    assert again["P2"].visible > first["P2"].visible
    assert "P4" in kept(stores, air)  # works that were not asked for stay


def test_an_inspection_or_a_move_makes_a_work_another(
    stores: Stores, candidates: list[Candidate], air: RoomAir
) -> None:
    hanging_years(stores.results, candidates[:1], year(air), Wall.INSIDE)
    seen = [Inspection(START + timedelta(days=200), 0)]
    learned = learn([candidates[0].work], {"P1": seen}, air, N)["P1"]
    for changed in (
        replace(candidates[0], learned=learned),
        replace(candidates[0], room_id="south"),
    ):
        doctored(stores, air, "P1", 0.123)
        again = hanging_years(stores.results, [changed], year(air), Wall.INSIDE)
        assert again["P1"].share != 0.123


def test_new_readings_make_every_work_another(
    stores: Stores, candidates: list[Candidate], air: RoomAir, damper: Damper
) -> None:
    first = hanging_years(stores.results, candidates, year(air), Wall.INSIDE)
    other = hanging_years(stores.results, candidates, year(damper(air, 8.0)), Wall.INSIDE)
    assert other["P1"].visible > first["P1"].visible
