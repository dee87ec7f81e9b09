"""What follows from a change is done once, for its rooms alone, and never forgotten."""

from datetime import datetime
from typing import Any

import pytest

import service.notices.follow_up
from analysis.records.inspection_records import Inspection
from service.answers.museum import Museum
from service.notices.follow_up import FollowingUp, due_rooms, follow_up, follow_up_all
from service.notices.state import NoticeChanges
from service.storage.inspections import put_inspection


def test_only_rooms_in_which_something_changed_are_due(small: Any) -> None:
    small.hang("W-1", "north")
    small.hang("W-2", "south")
    small.bring("n1", 0, 9)
    small.bring("s1", 0, 9)
    assert set(due_rooms(small.museum)) == {"north", "south", "yard"}
    follow_up_all(small.museum)
    assert due_rooms(small.museum) == ()
    put_inspection(small.stores.register, Inspection("W-2", small.day(8), 0, by="R. Keeper"))
    assert due_rooms(small.museum) == ("south",)
    small.bring("n1", 9, 10)
    assert due_rooms(small.museum) == ("north", "south")
    small.bring("n1", 9, 10)  # the same again changes nothing
    follow_up(small.museum, ["north"])
    assert due_rooms(small.museum) == ("south",)


def test_what_was_due_when_a_process_ended_is_due_for_the_next(small: Any) -> None:
    small.hang("W-1")
    small.bring("n1", 0, 9)
    again = Museum(small.stores, small.settings)
    assert "north" in due_rooms(again)
    follow_up_all(again)
    assert due_rooms(Museum(small.stores, small.settings)) == ()


def test_a_late_file_is_followed_up_from_its_first_new_reading(
    small: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[datetime | None] = []

    def noted(*_: object, from_utc: datetime | None = None) -> NoticeChanges:
        asked.append(from_utc)
        return NoticeChanges()

    small.bring("n1", 5, 9)
    follow_up_all(small.museum)
    monkeypatch.setattr(service.notices.follow_up, "after_arrival", noted)
    small.bring("n1", 2, 7)
    follow_up_all(small.museum)
    put_inspection_anyhow(small)
    follow_up_all(small.museum)
    assert asked == [small.day(2), None]


def put_inspection_anyhow(small: Any) -> None:
    small.hang("W-1")


def test_a_room_that_fails_holds_up_no_other(small: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    done: list[str] = []

    def fails(_: Museum, rooms: list[str], **__: object) -> NoticeChanges:
        if rooms == ["north"]:
            raise ZeroDivisionError
        done.extend(rooms)
        return NoticeChanges()

    monkeypatch.setattr(service.notices.follow_up, "after_arrival", fails)
    following = FollowingUp(small.museum)
    following(lambda: False)
    assert set(done) == {"south", "yard"}
    assert due_rooms(small.museum) == ("north",)
    following(lambda: False)
    assert set(done) == {"south", "yard"}
