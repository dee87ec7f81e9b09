"""Three hundred known series, written in random ways and read back; the bench has ten thousand."""

import pytest
from bench.reading_back import WRONG, outcome
from bench.written_files import written

STRETCH = 20


@pytest.mark.parametrize("first", range(0, 300, STRETCH))
def test_a_series_comes_back_or_a_question_whose_answer_gives_it(first: int) -> None:
    found = {number: outcome(written(number)) for number in range(first, first + STRETCH)}
    assert {number: why for number, (verdict, why) in found.items() if verdict == WRONG} == {}
