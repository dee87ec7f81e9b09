"""What was read of a register holds as long as nothing was written, by whomever."""

from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy.exc import OperationalError

from analysis.records.room_records import Room, Site
from service.accounts.roles import Role
from service.storage import places
from service.storage.accounts.sessions import (
    begin_session,
    end_session,
    session_at_hand,
    session_user,
)
from service.storage.accounts.users import User, put_user
from service.storage.notices import Notice, mark_of_open, mark_seen, raise_notice
from service.storage.records import put_record
from service.storage.register import Register, open_register
from service.storage.versions import NUMBERS, versions

HOUSE = Site("main", "The house", "Europe/Vienna")


@pytest.fixture
def other(database: str, register: Register) -> Iterator[Register]:
    """The same register as another process has it."""
    with closing(open_register(database)) as opened:
        yield opened


def test_what_was_read_serves_the_next_moment_until_anybody_writes(
    register: Register, other: Register
) -> None:
    put_record(register, HOUSE)
    read: list[str] = []

    def ask() -> Site:
        with register.one_moment(register.state.moment()):
            read.extend([] if register.knows(places.SITES) else ["read"])
            versions(register)
            return places.sites(register)[0]

    assert [ask().name for _ in range(3)] == ["The house"] * 3
    assert len(read) == 1
    for writer, name in ((other, "By another"), (register, "By this one")):
        put_record(writer, replace(HOUSE, name=name))
        assert [ask().name for _ in range(2)] == [name] * 2
    assert len(read) == 3


def test_what_is_written_within_a_moment_is_seen_in_it_and_after(register: Register) -> None:
    put_record(register, HOUSE)
    with register.one_moment(register.state.moment()):
        before = versions(register)
        put_record(register, Room("north", "main", "North"))
        assert not register.knows(NUMBERS)
        assert versions(register).newest > before.newest
    with register.one_moment(register.state.moment()):
        assert [room.room for room in places.rooms(register)] == ["north"]


def test_a_change_that_is_undone_changes_nothing(register: Register) -> None:
    put_record(register, HOUSE)

    def failing() -> None:
        with register.writing():
            put_record(register, replace(HOUSE, name="Never"))
            raise RuntimeError

    with pytest.raises(RuntimeError):
        failing()
    with register.one_moment(register.state.moment()):
        assert places.sites(register)[0].name == "The house"


def test_a_moment_of_which_nothing_can_be_known_is_asked_anew(
    register: Register, monkeypatch: pytest.MonkeyPatch
) -> None:
    put_record(register, HOUSE)
    with register.one_moment(register.state.moment()):
        places.sites(register)

    def lost() -> object:
        raise OperationalError("", {}, RuntimeError("gone"))

    with monkeypatch.context() as patch:
        patch.setattr(register.state, "_looked", lost)
        assert register.state.moment().known == {}
    put_record(register, replace(HOUSE, name="Since then"))
    with register.one_moment(register.state.moment()):
        assert places.sites(register)[0].name == "Since then"


def test_notices_have_another_mark_as_soon_as_one_is_seen(
    register: Register, other: Register
) -> None:
    put_record(register, HOUSE)
    put_record(register, Room("north", "main", "North"))
    raised, _new = raise_notice(
        register, Notice("a", "swing", "north", "A swing", datetime(2026, 3, 1, tzinfo=UTC))
    )

    def mark() -> str:
        with register.one_moment(register.state.moment()):
            return mark_of_open(register)

    first = mark()
    assert mark() == first
    mark_seen(other, raised.id, by="A. Person")
    assert mark() != first


def test_who_signed_out_elsewhere_is_signed_in_no_more(register: Register, other: Register) -> None:
    put_user(register, User("ann", "Ann", str(Role.LOOK)), by="test")
    text, idle = begin_session(register, "ann"), timedelta(hours=1)

    def known() -> tuple[bool, bool]:
        with register.one_moment(register.state.moment()):
            at_hand = session_at_hand(register, text, idle) is not None
            return at_hand, session_user(register, text, idle) is not None

    assert [known(), known()] == [(False, True), (True, True)]
    with register.one_moment(register.state.moment()):
        assert session_at_hand(register, text, timedelta(0)) is None, "idle for too long"
        assert session_user(register, "another text", idle) is None
        assert session_at_hand(register, "another text", idle) is None
    end_session(other, text)
    assert known() == (False, False)
