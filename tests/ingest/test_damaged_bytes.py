"""Two hundred files with bytes changed at random; the bench damages a hundred thousand."""

import pytest
from bench.damaged_bytes import WRONG, damaged

STRETCH = 20


@pytest.mark.parametrize("first", range(0, 200, STRETCH))
def test_no_change_of_bytes_breaks_the_reading_or_another_row_unsaid(first: int) -> None:
    found = {number: damaged(number) for number in range(first, first + STRETCH)}
    assert {number: why for number, (verdict, why) in found.items() if verdict in WRONG} == {}
