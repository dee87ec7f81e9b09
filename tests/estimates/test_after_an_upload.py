"""Uploads arrive: notices begin and end, a letter is queued once, silence is told as silence."""

from datetime import timedelta
from typing import Any

import pytest

from dashboards.text.judgement_text import reason
from dashboards.text.wording import scarce_words
from service.answers.museum import Museum
from service.errors import QuestionError
from service.notices.after_arrival import after_arrival, rooms_of
from service.notices.causes import Kind
from service.notices.state import NoticeChanges
from service.storage.notices import open_notices
from service.storage.outbox import letters

MAIL = {"smtp_host": "mail.invalid", "mail_to": "technician@museum.invalid"}


def arrive(small: Any) -> NoticeChanges:
    """Do what follows an upload; a new museum each time, as a new command would."""
    museum = Museum(small.stores, small.settings.with_changes(**MAIL))
    return after_arrival(museum, rooms_of(museum, ["n1", "n2"]))


def kinds(small: Any, room: str = "north") -> list[str]:
    return [notice.kind for notice in open_notices(small.stores.register, room)]


def test_a_wet_event_is_told_once_and_ends_with_dry_weeks(small: Any) -> None:
    small.hang("W-1", frame="E")
    small.bring("n1", 0, 35)
    assert arrive(small).opened == []
    small.bring("n1", 35, 36)
    small.bring("n1", 36, 36.5, wet=16.0)
    first = arrive(small)
    assert [notice.kind for notice in first.opened] == [Kind.HUMIDITY]
    assert kinds(small) == [Kind.HUMIDITY]
    queued = letters(small.stores.register)
    assert [letter.recipient for letter in queued] == ["technician@museum.invalid"]
    again = arrive(small)
    assert (again.opened, again.letters) == ([], 0)
    small.bring("n1", 36.5, 44)
    assert [notice.kind for notice in arrive(small).ended] == [Kind.HUMIDITY]
    assert kinds(small) == []
    assert letters(small.stores.register)[: len(queued)] == queued


def test_the_same_file_again_tells_nothing_again(small: Any) -> None:
    small.bring("n1", 0, 35)
    small.bring("n1", 35, 35.5, wet=16.0)
    arrive(small)
    before = letters(small.stores.register)
    small.bring("n1", 35, 35.5, wet=16.0)
    assert arrive(small).letters == 0
    assert letters(small.stores.register) == before


def test_a_room_that_fell_silent_is_not_told_from_old_numbers(small: Any) -> None:
    small.hang("W-1")
    small.bring("n1", 0, 28)
    small.bring("s1", 0, 70)  # the rest of the museum goes on
    arrive(small)
    assert kinds(small) == [Kind.NO_DATA]
    now = small.museum.now()
    (judgement,) = small.museum.judgements("north", now)
    assert judgement.carried_on
    assert judgement.known_until_utc == small.day(28) - timedelta(hours=1)
    assert "From readings to 1 February 2026" in reason(judgement, "UTC")
    week = small.museum.room_week("north", small.museum.this_week())
    assert scarce_words(week.coverage).startswith("Cannot tell: 0 %")
    (silence,) = week.events
    assert (silence.kind, silence.over) == ("no data", False)
    assert silence.start_utc < small.day(28)


def test_a_logger_that_sends_nonsense_is_silent_too(small: Any) -> None:
    small.bring("n1", 0, 28)
    with pytest.raises(QuestionError, match="cannot be that"):  # no air holds 136 %RH
        small.bring("n1", 28, 56, wet=90.0)
    small.bring("s1", 0, 56)
    arrive(small)
    assert kinds(small) == [Kind.NO_DATA]


def test_a_download_that_is_due_is_no_silence_yet(small: Any) -> None:
    small.bring("n1", 0, 28)
    small.bring("s1", 0, 34)
    arrive(small)
    assert kinds(small) == []
    week = small.museum.room_week("north", small.museum.this_week())
    assert "no data" in [event.kind for event in week.events if not event.over]


def test_readings_that_come_after_all_end_the_silence(small: Any) -> None:
    small.bring("n1", 0, 28)
    small.bring("s1", 0, 56)
    arrive(small)
    small.bring("n1", 28, 56)
    assert [notice.kind for notice in arrive(small).ended] == [Kind.NO_DATA]
    assert kinds(small) == []


@pytest.mark.parametrize("rooms", [None, ["north"], ["yard"], []])
def test_an_empty_museum_has_nothing_to_tell(small: Any, rooms: list[str] | None) -> None:
    assert after_arrival(small.museum, rooms) == NoticeChanges()
