"""Notices in the register: raised once, kept up to date, ended, with their letters."""

import email
import json
import math
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from email import policy
from pathlib import Path

import pandas as pd
import pytest

from analysis.records.house_records import CalendarEvent
from analysis.records.room_records import Logger, Placement, Room, Site
from analysis.results import (
    Cause,
    Event,
    Judgement,
    LastLook,
    LeadTime,
    Listing,
    Range,
    State,
)
from analysis.series import readings_frame
from analysis.works import Finish, Paper, Work
from service.answers.as_json import as_plain, noticed
from service.notices.lines import notice_line
from service.notices.state import raise_notices
from service.settings import Settings
from service.storage import outbox
from service.storage.notices import notices, open_notices
from service.storage.records import put_record
from service.storage.stores import Stores

NOW = datetime(2026, 3, 22, 23, tzinfo=UTC)
A_WORK = Work("W1", "Quay", 900.0, 700.0, Paper.FIBRE_BASE, Finish.MATT)
SPIKE = Event(
    "spike",
    "north-1",
    NOW - timedelta(hours=5),
    NOW,
    NOW,
    46.0,
    60.0,
    14.0,
    4.7,
    40.0,
    Cause.MOISTURE_ADDED,
    100.0,
    "",
    False,
)
SILENCE = Event(
    "no data",
    "north-2",
    NOW - timedelta(days=20),
    NOW,
    NOW,
    math.nan,
    math.nan,
    math.nan,
    math.nan,
    math.nan,
    "",
    0.0,
    "",
    False,
)
SLACK = Judgement(
    "2016-03",
    "Breakwater, low sun",
    Listing.LOOK_FIRST,
    State.SLACK,
    NOW,
    0.72,
    0.74,
    0.02,
    math.nan,
    Range(0.0, 0.5, 2.0),
    None,
    Range(52.0, 56.0, 59.0),
    LeadTime(0.0, 0.0, 336.0),
    NOW + timedelta(days=1),
    A_WORK,
    asks=LastLook(datetime(2026, 3, 20, tzinfo=UTC), 2),
    order_key=(0.0, -0.72),
)
WATCHED = replace(
    SLACK,
    work_id="2017-11",
    title="Ferry deck, empty",
    listing=Listing.WATCH,
    state=State.EASING,
    p_visible_now=0.3,
    lead_time=LeadTime(30.0, 12.0, 336.0),
    order_key=(0.0, -0.3),
)
SETTINGS = Settings(
    smtp_host="mail.invalid",
    mail_from="stilltaut@museum.invalid",
    mail_to="duty@museum.invalid, care@museum.invalid",
    base_url="http://museum.invalid:8000/",
)


@pytest.fixture
def stores(tmp_path: Path) -> Iterator[Stores]:
    with Stores.open(Settings(data_dir=tmp_path)) as opened:
        put_record(opened.register, Site("s", "Invented", "Europe/Dublin"))
        put_record(opened.register, Room("north", "s", "North Gallery"))
        for name in ("north-1", "north-2"):
            put_record(opened.register, Logger(name))
            placement = Placement(name, "north", NOW - timedelta(days=400))
            put_record(opened.register, placement)
        yield opened


def settle(
    stores: Stores,
    *events: Event,
    works: tuple[Judgement, ...] = (),
    now: datetime = NOW,
    settings: Settings | None = SETTINGS,
) -> tuple[int, int, int, int]:
    changes = raise_notices(
        stores,
        now,
        room_events={"north": events},
        judgements={"north": works},
        settings=settings,
    )
    return len(changes.opened), len(changes.updated), len(changes.ended), changes.letters


def test_a_spike_is_written_down_with_everything_a_phone_shows(stores: Stores) -> None:
    assert settle(stores, SPIKE, works=(WATCHED, SLACK)) == (1, 0, 0, 2)
    (notice,) = open_notices(stores.register)
    line = notice_line(notice, "North Gallery")
    assert notice.headline == "North Gallery: humidity rose 14 %RH"
    assert line.what.startswith("Room air rose 14 %RH in 5 h from Sunday 18:00")
    assert line.sensor == "north-1"
    assert [work.work_id for work in line.works] == ["2016-03", "2017-11"]
    assert line.works[0] == noticed(as_plain(SLACK, "UTC"))
    assert "Ferry deck" in line.lead
    assert "30 h" in line.lead
    assert "52 to 59 %RH" in line.felt
    assert any("fire rules" in step for step in line.do_now)


def test_the_same_facts_again_change_nothing(stores: Stores) -> None:
    settle(stores, SPIKE, works=(SLACK,))
    before = notices(stores.register), outbox.letters(stores.register)
    assert settle(stores, SPIKE, works=(SLACK,)) == (0, 0, 0, 0)
    assert (notices(stores.register), outbox.letters(stores.register)) == before


def test_a_notice_follows_its_cause_and_ends(stores: Stores) -> None:
    settle(stores, SPIKE)
    later = NOW + timedelta(hours=7)
    grown = replace(SPIKE, peak_value=67.0, size=21.0, end_utc=later, peak_utc=later)
    assert settle(stores, grown, now=later) == (0, 1, 0, 2)
    over = replace(grown, over=True)
    assert settle(stores, over, now=later + timedelta(hours=3)) == (0, 1, 0, 0)
    assert settle(stores, over, now=later + timedelta(hours=8)) == (0, 0, 1, 2)
    assert open_notices(stores.register) == ()
    assert settle(stores, over, now=later + timedelta(hours=9)) == (0, 0, 0, 0)
    subjects = [letter.subject for letter in outbox.letters(stores.register)][::2]
    assert subjects == [
        "North Gallery: humidity rose 14 %RH",
        "Further: North Gallery: humidity rose 21 %RH",
        "Over: North Gallery: humidity rose 21 %RH",
    ]


def test_a_cause_that_vanished_keeps_its_words_when_it_ends(stores: Stores) -> None:
    settle(stores, SPIKE)
    (before,) = notices(stores.register)
    assert settle(stores, now=NOW + timedelta(hours=1)) == (0, 0, 1, 2)
    (after,) = notices(stores.register)
    assert after.headline == before.headline
    assert after.details["what"] == before.details["what"]


def test_silence_names_the_logger_that_is_silent(stores: Stores) -> None:
    assert settle(stores, SILENCE) == (1, 0, 0, 2)
    (notice,) = open_notices(stores.register)
    assert notice.headline == "North Gallery: no readings from north-2"
    assert "Silence is not evidence of safety" in " ".join(notice.details["do_now"])


def test_a_long_excursion_is_said_against_its_band(stores: Stores) -> None:
    start = NOW - timedelta(hours=40)
    damp = replace(
        SPIKE, kind="above band", start_utc=start, from_value=54.0, peak_value=59.0, size=5.0
    )
    assert settle(stores, damp) == (1, 0, 0, 2)
    (notice,) = open_notices(stores.register)
    assert notice.headline == "North Gallery: humidity above its agreed band by 5 %RH"
    assert notice.details["what"] == (
        "Room air is above the 54 %RH of its agreed band, up to 59 %RH, "
        "since 21 March 2026, 07:00. It was still so at the last reading."
    )


def test_a_logger_that_fell_silent_is_found_in_the_readings(stores: Stores) -> None:
    times = pd.date_range(NOW - timedelta(days=30), periods=24, freq="1h")
    stores.readings.merge("north-2", readings_frame(times, temp_c=20.0, rh_pct=50.0))
    recent = pd.date_range(NOW - timedelta(days=7), periods=24, freq="1h")
    stores.readings.merge("north-1", readings_frame(recent, temp_c=20.0, rh_pct=50.0))
    assert settle(stores) == (1, 0, 0, 2)
    (notice,) = open_notices(stores.register)
    assert notice.headline == "North Gallery: no readings from north-2"
    assert notice.since_utc == times[-1]
    assert settle(stores) == (0, 0, 0, 0)
    stores.readings.merge("north-2", readings_frame(recent, temp_c=20.0, rh_pct=50.0))
    assert settle(stores) == (0, 0, 1, 2)


def test_works_without_a_rise_have_their_own_notice(stores: Stores) -> None:
    assert settle(stores, works=(SLACK,)) == (1, 0, 0, 2)
    (notice,) = open_notices(stores.register)
    assert notice.headline == "North Gallery: one print to look at"
    eased = replace(SLACK, p_visible_now=0.1, listing=Listing.LEAVE_BE)
    assert settle(stores, works=(eased,), now=NOW + timedelta(days=1)) == (0, 0, 1, 2)
    (ended,) = notices(stores.register)
    assert ended.headline == "North Gallery: one print to look at"
    assert "no prints" not in ended.details["what"]
    assert str(ended.details["what"]).endswith("Waves are no longer more likely than not.")


def test_what_the_calendar_holds_for_that_time_is_said(stores: Stores) -> None:
    start = NOW - timedelta(hours=6)
    opening = CalendarEvent("s", "opening", start, "Opening of the show", "north", NOW)
    put_record(stores.register, opening)
    settle(stores, SPIKE)
    (notice,) = notices(stores.register)
    assert "Entered for that time: Opening of the show." in notice.details["what"]
    assert notice.details["planned"] == "Opening of the show"
    assert outbox.letters(stores.register) == (), "what was planned is written down, not sent"
    past_it = NOW + timedelta(hours=9)
    settle(stores, SPIKE, now=past_it)
    subjects = {letter.subject for letter in outbox.letters(stores.register)}
    assert subjects == {"North Gallery: humidity rose 14 %RH"}, "still so long after it: told"


def test_a_planned_event_never_quietens_works(stores: Stores) -> None:
    start = NOW - timedelta(hours=6)
    opening = CalendarEvent("s", "opening", start, "Opening of the show", "north", NOW)
    put_record(stores.register, opening)
    settle(stores, SPIKE, works=(SLACK,))
    assert len(outbox.letters(stores.register)) == 2


def test_a_room_about_which_nothing_is_given_keeps_its_notices(stores: Stores) -> None:
    settle(stores, SPIKE)
    before = notices(stores.register)
    later = NOW + timedelta(days=3)
    raise_notices(stores, later, ["north"], room_events={}, judgements={})
    raise_notices(stores, later, ["north"], room_events={"north": ()}, judgements={})
    assert notices(stores.register) == before


def test_no_letters_where_no_mail_server_is_set(stores: Stores) -> None:
    assert settle(stores, SPIKE, settings=None) == (1, 0, 0, 0)
    assert settle(stores, SPIKE, settings=Settings(mail_to="a@b.invalid")) == (0, 0, 0, 0)
    assert outbox.letters(stores.register) == ()


def test_a_failed_change_leaves_neither_notice_nor_letter(
    stores: Stores, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> bool:
        raise OSError("disk full")

    monkeypatch.setattr("service.notices.state.queue_letter", full)
    with pytest.raises(OSError, match="disk full"):
        settle(stores, SPIKE)
    assert notices(stores.register) == ()


def test_the_letter_is_calm_and_complete(stores: Stores) -> None:
    settle(stores, SPIKE, works=(SLACK,))
    letter = outbox.letters(stores.register)[0]
    message = email.message_from_string(letter.body, policy=policy.default)
    assert message["Message-ID"] == letter.message_id
    assert message["Message-ID"].endswith("@museum.invalid>")
    assert message["To"] == letter.recipient == "duty@museum.invalid"
    body = message.get_body(("plain",))
    assert body is not None
    text = body.get_content()
    flat = " ".join(text.replace("\N{NO-BREAK SPACE}", " ").split())
    for part in (
        "North Gallery",
        "Room air rose 14 %RH",
        "north-1",
        "Breakwater, low sun",
        "was graded 2 on 20 March 2026",
        "second instrument",
        "http://museum.invalid:8000/notices/1",
        "A conservator decides",
    ):
        assert part in flat, part
    for word in ("damage", "alarm", "critical", "score", "None", "nan"):
        assert word not in flat.lower().split(), word


def test_a_judgement_survives_being_told() -> None:
    plain = as_plain(replace(SLACK, p_hinges=0.1), "UTC")
    again = noticed(json.loads(json.dumps(plain)))
    assert (again.work_id, again.state, again.reason) == ("2016-03", State.SLACK, plain["reason"])
    assert as_plain(SLACK, "UTC")["p_hinges"] is None
