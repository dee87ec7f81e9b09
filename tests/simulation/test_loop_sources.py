"""The kept machine code of the loop is tied to the sources of all it contains."""

from importlib import import_module

import pytest

from analysis.chain.relaxation import prony
from analysis.simulation import layout
from analysis.simulation.layout import ACROSS, BLOCK, Row, Shared, Sum
from analysis.simulation.loop import SOURCES
from analysis.simulation.packing import constants
from analysis.simulation.step import N_CARRIED, N_FIXED


@pytest.mark.parametrize("name", SOURCES)
def test_all_that_is_compiled_into_the_loop_is_in_its_key(name: str) -> None:
    module = import_module(f"analysis.{name}")
    compiled = [value.py_func for value in vars(module).values() if hasattr(value, "py_func")]
    assert {function.__module__ for function in compiled} <= {f"analysis.{n}" for n in SOURCES}


def test_every_function_of_the_loop_is_found_there() -> None:
    step = vars(import_module("analysis.simulation.step"))
    found = {value.py_func.__module__ for value in step.values() if hasattr(value, "py_func")}
    making = {"analysis.chain.compiled", "analysis.chain.precision", "analysis.simulation.loop"}
    assert found | making == {f"analysis.{name}" for name in SOURCES}


def test_rows_follow_one_another_block_by_block() -> None:
    assert [int(row) for row in Row] == [i * BLOCK for i in range(len(Row))]
    names = [row.name.lower() for row in Row]
    assert [*layout.FIXED, *layout.CARRIED] == names[: N_FIXED + N_CARRIED]
    assert layout.FIXED[-1] == "weight"
    assert (layout.CARRIED[0], layout.CARRIED[-1]) == ("outer_c", "v_cd_5")
    assert layout.STATE[N_CARRIED:] == layout.PAST


def test_what_belongs_to_an_axis_stands_in_pairs() -> None:
    along = [row for row in Row if "_md" in row.name.lower()]
    assert along
    for row in along:
        assert Row[row.name.replace("MD", "CD")] == row + ACROSS
    assert [Row[f"V_MD_{i}"] - Row.V_MD_0 for i in range(6)] == [2 * i * ACROSS for i in range(6)]


def test_shared_numbers_stand_where_they_are_named() -> None:
    k, fit = constants(), prony()
    assert len(k) == len(Shared)
    for first in (Shared.HEAT_0, Shared.K_0, Shared.DECAY_0, Shared.BEGIN_0, Shared.END_0):
        assert Shared[first.name.replace("_0", "_5")] == first + 5
    assert k[Shared.K_0 : Shared.K_0 + 6].tolist() == fit.weights.tolist()
    assert k[Shared.DECAY_5] == pytest.approx(2.718281828 ** (-3600.0 / fit.times_s[5]))
    assert k[Shared.RELEASE_FROM] + 1.0 / k[Shared.RELEASE_PER] == pytest.approx(0.80)


def test_weekly_sums_follow_each_other_as_the_signs_do() -> None:
    weekly = (Sum.VISIBLE_WEEK, Sum.CLEARANCE_WEEK, Sum.HINGES_WEEK)
    assert [int(place) for place in weekly] == [8, 9, 10]
    assert len(layout.SUMS) == 11
