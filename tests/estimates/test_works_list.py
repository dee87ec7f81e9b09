"""The list of all works: found by words, judged only where a judgement is at hand."""

from typing import Any

from dashboards.pages.register_pages import WorkLine
from service.answers.museum import Museum
from service.records.record_pages import (
    NO_READINGS,
    NOWHERE,
    WAITING,
    found_lines,
    list_answer,
    room_lines,
    waiting,
    with_judgements,
    work_lines,
)


def judged(museum: Museum) -> tuple[WorkLine, ...]:
    return with_judgements(museum, work_lines(museum))


def test_the_list_shows_what_is_at_hand_and_never_judges_by_itself(small: Any) -> None:
    small.hang("W-1")
    small.hang("W-2", "south")
    small.hang("W-3", to_utc=small.day(-30))
    before = {line.work_id: line.words for line in judged(small.museum)}
    assert before == {"W-1": NO_READINGS, "W-2": NO_READINGS, "W-3": NOWHERE}
    small.bring("n1", 0, 9)
    lines = judged(small.museum)
    assert [line.words for line in lines] == [WAITING, WAITING, NOWHERE]
    assert waiting(lines)
    small.museum.judgements("north", small.museum.now())
    lines = judged(small.museum)
    assert lines[0].judgement is not None
    assert (lines[0].words, lines[1].words) == ("", WAITING)
    small.hang("W-4")
    assert judged(small.museum)[0].judgement is None, "a change makes every judgement old"


def test_works_are_found_by_number_title_and_room_together(small: Any) -> None:
    small.hang("W-1")
    small.hang("W-2", "south")
    every = work_lines(small.museum)
    for search, found in (("", 2), ("w-2", 1), ("WORK gallery", 2), ("south w-1", 0)):
        assert len(found_lines(every, search)) == found, search
    assert list_answer(1, 2, "w-2") == "One work of 2 found for “w-2”."
    assert list_answer(0, 0, "").startswith("No work is written down yet.")


def test_rooms_say_whether_they_are_measured(small: Any) -> None:
    small.bring("n1", 0, 2)
    small.bring("out", 0, 2)
    lines = {line.room_id: (line.words, line.measured) for line in room_lines(small.museum)}
    assert lines == {
        "north": ("one logger", True),
        "south": ("one logger", False),
        "yard": ("one logger", False),
    }
