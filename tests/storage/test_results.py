"""Results: kept with the key of their inputs; anything else counts as not there."""

from pathlib import Path

import numpy as np
import pytest

from service.storage.results import Result, Results

NAME = "checkpoints/W-1/2025-W11"


@pytest.fixture
def results(tmp_path: Path) -> Results:
    return Results(tmp_path / "results")


def test_arrays_and_facts_come_back(results: Results) -> None:
    arrays = {"slack": np.arange(6.0).reshape(2, 3), "time": np.array(["2025"], "M8[s]")}
    results.save(NAME, "key", Result(arrays, {"why": ["dämp", None, 1.5]}))
    found = results.load(NAME, "key")
    assert found is not None
    assert found.facts == {"why": ["dämp", None, 1.5]}
    for name, array in arrays.items():
        np.testing.assert_array_equal(found.arrays[name], array)
        assert found.arrays[name].dtype == array.dtype


def test_other_inputs_are_not_there(results: Results) -> None:
    results.save(NAME, "key", Result(facts={"x": 1}))
    assert results.load(NAME, "another") is None
    results.save(NAME, "another", Result(facts={"x": 2}))
    assert results.load(NAME, "key") is None
    assert results.names() == [NAME]


@pytest.mark.parametrize("keep", [0, 10, 150, -1])
def test_a_damaged_result_is_not_there(results: Results, keep: int) -> None:
    results.save(NAME, "key", Result({"x": np.arange(100)}))
    (path,) = results.folder.rglob("*.npz")
    path.write_bytes(path.read_bytes()[:keep])
    assert results.load(NAME, "key") is None


def test_names_are_kept_apart_and_inside_the_folder(results: Results) -> None:
    for name in ("week/W-1", "week/W 1/ä", "../outside", "week/.."):
        results.save(name, "key", Result(facts={"name": name}))
        found = results.load(name, "key")
        assert found is not None and found.facts["name"] == name
    assert sorted(results.names()) == ["../outside", "week/..", "week/W 1/ä", "week/W-1"]
    assert results.names("week") == ["week/..", "week/W 1/ä", "week/W-1"]
    assert not list(results.folder.parent.glob("*.npz"))
    results.forget("week/W-1")
    results.forget("week/W-1")
    assert results.load("week/W-1", "key") is None
