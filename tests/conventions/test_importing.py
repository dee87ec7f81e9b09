"""A command's modules are imported without a look for garbage, which is then on again."""

import gc

import pytest

from service.importing import nothing_thrown_away


def test_garbage_is_looked_for_again_and_not_among_what_was_made() -> None:
    before = gc.get_freeze_count()
    with nothing_thrown_away():
        assert not gc.isenabled()
        made = [[number] for number in range(100)]
    assert gc.isenabled()
    assert gc.get_freeze_count() >= before + len(made)


def test_who_looked_for_none_before_goes_on_so() -> None:
    gc.disable()
    try:
        with nothing_thrown_away():
            pass
        assert not gc.isenabled()
    finally:
        gc.enable()


def test_it_is_on_again_after_an_import_that_failed() -> None:
    with pytest.raises(ModuleNotFoundError), nothing_thrown_away():
        raise ModuleNotFoundError
    assert gc.isenabled()
