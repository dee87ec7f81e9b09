"""Killed while pages, programs, a gateway and a folder bring readings: nothing lost or doubled."""

import random
from pathlib import Path

import pytest
from bench.kills import WAYS, counted, house, kill_again_and_again


@pytest.mark.slow
@pytest.mark.long
def test_what_was_acknowledged_is_there_once(tmp_path: Path) -> None:
    with house(tmp_path) as place:
        kill_again_and_again(place, 4, random.Random(8))
        found = counted(place)
    assert found["faults"] == []
    assert sum(found[way]["acknowledged"] for way in WAYS) > 8
    for way in WAYS:
        assert found[way] | {"acknowledged": 0} == {
            "acknowledged": 0,
            "lost": 0,
            "doubled": 0,
            "in conflict": 0,
        }
