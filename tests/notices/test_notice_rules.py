"""What to tell and when: one notice a cause, hysteresis, no storms."""

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, strategies as st

from analysis.results import Cause as Likely, Event, Judgement, Listing, State
from analysis.works import Finish, Paper, Work
from service.notices.causes import Kind, NoticeLimits
from service.notices.rules import Action, End, Known, Open, Update, decide, in_order

NOW = datetime(2026, 3, 22, 23, tzinfo=UTC)
A_WORK = Work("W1", "Quay", 900.0, 700.0, Paper.FIBRE_BASE, Finish.MATT)


def h(hours: float) -> timedelta:
    return timedelta(hours=hours)


def event(
    start_h: float,
    length_h: float = 3.0,
    size: float = 12.0,
    *,
    kind: str = "spike",
    over: bool = True,
    channel: str = "north-1",
) -> Event:
    start = NOW + h(start_h)
    end = start + h(length_h)
    return Event(
        kind,
        channel,
        start,
        start + h(length_h / 2),
        end,
        46.0,
        46.0 + size,
        size,
        4.0,
        20.0,
        Likely.MOISTURE_ADDED,
        100.0,
        "",
        over,
    )


def work(work_id: str, p: float, p_clearance: float = 0.0) -> Judgement:
    listing = Listing.LOOK_FIRST if p > 0.5 else Listing.WATCH if p > 0.1 else Listing.LEAVE_BE
    return Judgement(
        work_id,
        f"Title {work_id}",
        listing,
        State.TAUT,
        NOW,
        p,
        p,
        p_clearance,
        0.0,
        None,
        None,
        None,
        None,
        None,
        A_WORK,
    )


def apply(known: list[Known], actions: Sequence[Action], now: datetime) -> list[Known]:
    """Do what the register does with the actions, as far as the rules can see it."""
    notices = {notice.notice_id: notice for notice in known}
    for action in actions:
        cause = action.cause
        if isinstance(action, Open):
            number = len(notices) + 1
            notices[number] = Known(
                number,
                cause.kind,
                cause.room,
                cause.since_utc,
                cause.until_utc,
                cause.shape,
                action.ended_utc,
                cause.over_half,
                now,
                cause.size,
                cause.over_half,
                after_utc=cause.after_utc,
            )
            continue
        old = notices[action.notice_id]
        new = replace(
            old,
            since_utc=cause.since_utc,
            until_utc=cause.until_utc,
            over_half=cause.over_half,
            ended_utc=action.at_utc if isinstance(action, End) else None,
        )
        if isinstance(action, Update) and action.tell:
            new = replace(
                new, reported_utc=now, reported_size=cause.size, reported_works=cause.over_half
            )
        notices[action.notice_id] = new
    return list(notices.values())


def test_a_spike_going_on_opens_one_notice() -> None:
    actions = decide("north", [event(-5, 5, over=False)], [], [], NOW)
    assert len(actions) == 1
    (action,) = actions
    assert isinstance(action, Open)
    assert action.cause.kind is Kind.HUMIDITY
    assert action.ended_utc is None
    assert action.cause.sensors == ("north-1",)


def test_two_sensors_and_an_excursion_are_one_cause() -> None:
    seen = [
        event(-5, 5, 12.0, over=False),
        event(-4.5, 4.5, 14.0, over=False, channel="north-2"),
        event(-4, 7, 3.0, kind="above band", over=False),
    ]
    (action,) = decide("north", seen, [], [], NOW)
    assert action.cause.size == 14.0
    assert action.cause.sensors == ("north-2", "north-1")


def test_a_spike_that_was_over_before_the_readings_came_is_told_once_as_over() -> None:
    thursday = event(-77, 15)
    (action,) = decide("north", [thursday], [], [], NOW)
    assert isinstance(action, Open)
    assert action.ended_utc == thursday.end_utc
    known = apply([], [action], NOW)
    assert decide("north", [thursday], [], known, NOW + h(1)) == []


def test_history_is_not_told() -> None:
    assert decide("north", [event(-24 * 8, 3)], [], [], NOW) == []


def test_temperature_and_short_excursions_are_not_told() -> None:
    told = [
        event(-5, 5, kind="warmer than band"),
        event(-9, 3, kind="above band"),
        event(-9, 3, kind="24-hour swing"),
    ]
    assert decide("north", told, [], [], NOW) == []


def test_the_same_readings_again_tell_nothing_again() -> None:
    spike = event(-5, 5, over=False)
    known = apply([], decide("north", [spike], [work("a", 0.7)], [], NOW), NOW)
    again = decide("north", [spike], [work("a", 0.7)], known, NOW + h(48))
    assert len(again) == 1
    assert isinstance(again[0], Update)
    assert not again[0].tell


def test_the_notice_ends_after_the_quiet_time_and_not_before() -> None:
    known = apply([], decide("north", [event(-5, 5, over=False)], [], [], NOW), NOW)
    over = event(-5, 7)
    (early,) = decide("north", [over], [], known, over.end_utc + h(5.9))
    assert isinstance(early, Update)
    (late,) = decide("north", [over], [], known, over.end_utc + h(6.1))
    assert isinstance(late, End)


def test_a_flicker_within_the_quiet_time_is_the_same_cause() -> None:
    flicker = [event(-20, 3), event(-13, 2), event(-7, 2), event(-1, 1, over=False)]
    (action,) = decide("north", flicker, [], [], NOW)
    assert isinstance(action, Open)
    assert action.cause.since_utc == flicker[0].start_utc


def test_late_readings_that_move_the_start_keep_the_notice() -> None:
    known = apply([], decide("north", [event(-5, 5, over=False)], [], [], NOW), NOW)
    (action,) = decide("north", [event(-6.25, 6.25, over=False)], [], known, NOW)
    assert isinstance(action, Update)
    assert action.notice_id == known[0].notice_id
    assert action.cause.since_utc == NOW - h(6.25)


def test_a_new_spike_after_the_quiet_time_is_a_new_cause() -> None:
    first = event(-60, 3)
    known = apply([], decide("north", [first], [], [], NOW - h(40)), NOW - h(40))
    actions = decide("north", [first, event(-3, 3, over=False)], [], known, NOW)
    assert [type(action) for action in actions] == [Open]


def test_a_spike_that_went_on_after_its_notice_ended_reopens_the_same() -> None:
    first = event(-60, 3)
    known = apply([], decide("north", [first], [], [], NOW - h(40)), NOW - h(40))
    assert known[0].ended_utc is not None
    late = [first, event(-56, 56, over=False)]
    (action,) = decide("north", late, [], known, NOW)
    assert isinstance(action, Update)
    assert action.notice_id == known[0].notice_id


def test_growth_is_told_again_only_in_steps_and_not_at_once() -> None:
    known = apply([], decide("north", [event(-5, 5, 10.0, over=False)], [], [], NOW), NOW)
    grown = [event(-5, 8, 16.0, over=False)]
    (soon,) = decide("north", grown, [], known, NOW + h(3))
    assert isinstance(soon, Update)
    assert not soon.tell
    (later,) = decide("north", grown, [], known, NOW + h(6))
    assert isinstance(later, Update)
    assert later.tell
    (little,) = decide("north", [event(-5, 8, 14.0, over=False)], [], known, NOW + h(6))
    assert isinstance(little, Update)
    assert not little.tell


def test_works_that_pass_one_half_during_a_rise_join_its_notice() -> None:
    actions = decide("north", [event(-5, 5, over=False)], [work("a", 0.6), work("b", 0.3)], [], NOW)
    assert len(actions) == 1
    assert actions[0].cause.over_half == ("a",)


def test_works_that_pass_one_half_without_a_rise_have_one_notice_a_room() -> None:
    fall = event(-5, 5, -12.0, over=False)
    actions = decide("north", [fall], [work("a", 0.6), work("b", 0.51)], [], NOW)
    assert [action.cause.kind for action in actions] == [Kind.HUMIDITY, Kind.WORKS]
    assert actions[1].cause.over_half == ("a", "b")


def test_lost_clearance_counts_as_passing_one_half() -> None:
    (action,) = decide("north", [], [work("a", 0.2, p_clearance=0.55)], [], NOW)
    assert action.cause.over_half == ("a",)


def test_an_unglazed_work_leaves_like_any_other() -> None:
    known = apply([], decide("north", [], [work("a", 0.7, math.nan)], [], NOW), NOW)
    (action,) = decide("north", [], [work("a", 0.1, math.nan)], known, NOW + h(1))
    assert isinstance(action, End)


def test_a_work_leaves_below_the_lower_limit_only() -> None:
    known = apply([], decide("north", [], [work("a", 0.55)], [], NOW), NOW)
    for p in (0.45, 0.52, 0.41, math.nan):
        (action,) = decide("north", [], [work("a", p)], known, NOW + h(1))
        assert isinstance(action, Update)
        assert not action.tell
    (action,) = decide("north", [], [work("a", 0.39)], known, NOW + h(1))
    assert isinstance(action, End)


def test_a_work_that_wavers_about_one_half_is_told_once() -> None:
    known: list[Known] = []
    letters = 0
    for step in range(60):
        now = NOW + h(6 * step)
        actions = decide("north", [], [work("a", 0.5 + 0.05 * (-1) ** step)], known, now)
        letters += sum(isinstance(a, Open) or (isinstance(a, Update) and a.tell) for a in actions)
        known = apply(known, actions, now)
    assert letters == 1


def test_air_that_is_back_ends_its_notice_and_leaves_its_works_to_one_of_their_own() -> None:
    known = apply([], decide("north", [event(-5, 5, over=False)], [work("a", 0.7)], [], NOW), NOW)
    over = event(-5, 7)
    later = NOW + h(30)
    ended, opened = decide("north", [over], [work("a", 0.45)], known, later)
    assert isinstance(ended, End)
    assert isinstance(opened, Open)
    assert (opened.cause.kind, opened.cause.over_half) == (Kind.WORKS, ("a",))
    assert opened.cause.after_utc == ended.cause.since_utc
    known = apply(known, [ended, opened], later)
    (goes_on,) = decide("north", [over], [work("a", 0.45)], known, later + h(1))
    assert isinstance(goes_on, Update)
    assert not goes_on.tell
    (back,) = decide("north", [over], [work("a", 0.2)], known, later + h(2))
    assert isinstance(back, End)
    assert back.cause.kind is Kind.WORKS


def test_a_work_told_of_already_is_not_taken_by_a_later_rise() -> None:
    known = apply([], decide("north", [], [work("a", 0.7)], [], NOW - h(30)), NOW - h(30))
    rise, works = decide("north", [event(-5, 5, over=False)], [work("a", 0.7)], known, NOW)
    assert (rise.cause.kind, rise.cause.over_half) == (Kind.HUMIDITY, ())
    assert isinstance(works, Update)
    assert works.cause.over_half == ("a",)


def test_a_long_excursion_is_told_while_it_goes_on_and_then_ended() -> None:
    going_on = event(-30, 30, 5.0, kind="above band", over=False)
    over = replace(going_on, over=True)
    (told_late,) = decide("tower", [over], [], [], NOW + h(7))
    assert isinstance(told_late, Open)
    assert told_late.ended_utc == over.end_utc
    (opened,) = decide("tower", [going_on], [], [], NOW)
    assert isinstance(opened, Open)
    known = apply([], [opened], NOW)
    (ended,) = decide("tower", [over], [], known, NOW + h(7))
    assert isinstance(ended, End)


def test_a_spike_in_the_midst_of_damp_weeks_is_a_cause_of_its_own() -> None:
    damp = event(-500, 500, 6.0, kind="above band", over=False)
    known = apply([], decide("tower", [damp], [], [], NOW - h(100)), NOW - h(100))
    actions = decide("tower", [damp, event(-5, 5, over=False)], [], known, NOW)
    assert [type(action) for action in actions] == [Update, Open]


def test_a_fall_after_a_rise_is_a_cause_of_its_own() -> None:
    actions = decide("north", [event(-9, 6), event(-2, 2, -12.0, over=False)], [], [], NOW)
    assert [action.cause.rising for action in actions] == [True, False]


def test_two_loggers_that_died_months_apart_are_two_causes() -> None:
    nan = math.nan
    silent = [
        event(-2000, 2000, nan, kind="no data", over=False, channel="a"),
        event(-300, 300, nan, kind="no data", over=False, channel="b"),
        event(-299, 299, nan, kind="no data", over=False, channel="c"),
    ]
    actions = decide("north", silent, [], [], NOW)
    assert [action.cause.sensors for action in actions] == [("a",), ("b", "c")]
    known = apply([], actions, NOW)
    (back, still) = decide("north", silent[:1], [], known, NOW + h(1))
    assert [type(action) for action in (back, still)] == [Update, End]


def test_silence_is_told_while_it_lasts_and_ends_with_the_next_reading() -> None:
    silent = event(-100, 100, math.nan, kind="no data", over=False, channel="tower-2")
    (action,) = decide("tower", [silent], [], [], NOW)
    assert isinstance(action, Open)
    assert action.cause.kind is Kind.NO_DATA
    known = apply([], [action], NOW)
    (ended,) = decide("tower", [replace(silent, over=True)], [], known, NOW + h(1))
    assert isinstance(ended, End)
    assert decide("tower", [replace(silent, over=True)], [], [], NOW) == []


def test_silence_does_not_end_what_was_going_on() -> None:
    spike = event(-5, 5, over=False)
    known = apply([], decide("north", [spike], [], [], NOW), NOW)
    silent = event(0, 40, math.nan, kind="no data", over=False)
    actions = decide("north", [spike, silent], [], known, NOW + h(40))
    assert [type(a) for a in actions] == [Update, Open]


def test_other_rooms_are_left_alone() -> None:
    known = apply([], decide("long", [event(-5, 5, over=False)], [], [], NOW), NOW)
    assert decide("north", [], [], known, NOW + h(100)) == []


def test_a_cause_no_longer_found_ends() -> None:
    known = apply([], decide("north", [event(-5, 5, over=False)], [], [], NOW), NOW)
    (action,) = decide("north", [], [], known, NOW + h(1))
    assert isinstance(action, End)


def test_the_most_pressing_work_comes_first_and_quiet_ones_are_left_out() -> None:
    order = in_order([work("a", 0.2), work("b", 0.05), work("c", 0.6), work("d", 0.9)])
    assert [j.work_id for j in order] == ["d", "c", "a"]


@given(
    starts=st.lists(st.floats(-160, -1), max_size=12),
    p=st.lists(st.floats(0, 1), min_size=8, max_size=8),
    quiet_h=st.floats(0.5, 24),
)
@pytest.mark.parametrize("over", [True, False])
def test_asking_again_never_tells_again(
    starts: list[float], p: list[float], quiet_h: float, over: bool
) -> None:
    limits = NoticeLimits(quiet_h=quiet_h)
    events = [event(start, 2.0, 8.0) for start in starts] + [event(-1, 1, over=over)]
    works = [work(str(i), value) for i, value in enumerate(p)]
    first = decide("north", events, works, [], NOW, limits)
    known = apply([], first, NOW)
    again = decide("north", events, works, known, NOW, limits)
    assert all(isinstance(action, Update) and not action.tell for action in again)
    carried = [w for action in first for w in action.cause.over_half]
    assert set(carried) == {j.work_id for j in works if j.p_visible_now >= 0.5}
    assert len({action.cause.key for action in first}) == len(first)
