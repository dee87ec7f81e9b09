"""The kept machine code of the loop is tied to the sources of all it contains."""

from importlib import import_module

import pytest

from analysis.simulation.step import SOURCES


@pytest.mark.parametrize("name", SOURCES)
def test_all_that_is_compiled_into_the_loop_is_in_its_key(name: str) -> None:
    module = import_module(f"analysis.{name}")
    compiled = [value.py_func for value in vars(module).values() if hasattr(value, "py_func")]
    assert {function.__module__ for function in compiled} <= {f"analysis.{n}" for n in SOURCES}


def test_the_links_are_found_there() -> None:
    loop = ("room_to_print", "print_to_tension", "tension_to_surface", "ranges", "weeks")
    links = {f"simulation.{name}" for name in loop}
    assert links <= set(SOURCES)
    step = vars(import_module("analysis.simulation.step"))
    assert {value.py_func.__module__ for value in step.values() if hasattr(value, "py_func")} == {
        f"analysis.{name}" for name in (*links, "simulation.step")
    }
