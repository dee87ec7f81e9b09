"""A wave height in the register reaches the draws, is kept, and withdrawn leaves no trace."""

from typing import Any

import numpy as np

from analysis.learning.posterior import Learned
from analysis.records.inspection_records import Inspection
from service.storage.inspections import put_inspection, withdraw_inspection

BY = "a technician"


def learned(small: Any) -> Learned:
    museum = small.museum
    museum.forget()
    found = next(iter(museum.assessed("north", museum.now())))
    assert found.learned is not None
    taught: Learned = found.learned
    return taught


def look(small: Any, day: float, wave_mm: float | None) -> None:
    put_inspection(small.stores.register, Inspection("W-1", small.day(day), 1, wave_mm, by=BY))


def test_a_wave_height_teaches_and_withdrawn_it_leaves_no_trace(small: Any) -> None:
    small.hang("W-1", frame="C")
    small.bring("n1", 0, 40, wet=14.0)
    look(small, 20, None)
    plain = learned(small)
    look(small, 30, 4.0)
    measured = learned(small)
    assert [one.wave_mm for one in measured.used] == [None, 4.0]
    assert measured.after["wavelength_m"].mid > plain.after["wavelength_m"].mid
    kept = learned(small)
    assert kept.wave_after_mm == measured.wave_after_mm is not None
    assert kept.p_released_after == measured.p_released_after is not None
    withdraw_inspection(small.stores.register, "W-1", small.day(30), BY, why="slip", by=BY)
    again = learned(small)
    assert np.array_equal(again.weights, plain.weights)
    assert again.after == plain.after


def test_another_height_is_another_question(small: Any) -> None:
    small.hang("W-1", frame="C")
    small.bring("n1", 0, 40, wet=14.0)
    look(small, 20, 1.0)
    low = learned(small)
    look(small, 20, 6.0)
    assert learned(small).after["wavelength_m"].mid > low.after["wavelength_m"].mid
