"""Numbers, times and sentences as people read them."""

import doctest
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from types import ModuleType

import pytest

from analysis.results import Event, Judgement, Listing, RoomWeek, State
from dashboards import render
from dashboards.charts import places, strips
from dashboards.pages import record_facts
from dashboards.text import event_words, sentences, wording
from dashboards.text.judgement_text import condition, reason

ZONE = "Europe/Amsterdam"


@pytest.mark.parametrize(
    "module", [wording, sentences, event_words, render, places, strips], ids=lambda m: m.__name__
)
def test_examples_in_the_docstrings_hold(module: ModuleType) -> None:
    result = doctest.testmod(
        module, optionflags=doctest.NORMALIZE_WHITESPACE | doctest.ELLIPSIS, report=True
    )
    assert result.attempted > 0
    assert result.failed == 0


@pytest.mark.parametrize(
    ("utc", "said"),
    [
        (datetime(2026, 3, 29, 0, 59, tzinfo=UTC), "Sunday 01:59"),
        (datetime(2026, 3, 29, 1, 0, tzinfo=UTC), "Sunday 03:00"),
        (datetime(2026, 10, 25, 0, 30, tzinfo=UTC), "Sunday 02:30"),
        (datetime(2026, 10, 25, 1, 30, tzinfo=UTC), "Sunday 02:30"),
    ],
)
def test_times_are_local_through_the_change_of_clocks(utc: datetime, said: str) -> None:
    assert wording.day_time(utc, ZONE) == said


@pytest.mark.parametrize(
    ("kind", "start", "peak", "said"),
    [
        ("step", 60.0, 41.0, "Room air fell 19 %RH in 2 h"),
        ("above band", 55.0, 61.0, "was above the band (55 %RH) for 8 h, up to 61 %RH"),
        ("below band", 40.0, 33.0, "was below the band (40 %RH) for 8 h, down to 33 %RH"),
        ("warmer than band", 24.0, 26.5, "warmer than the band (24.0 °C) for 8 h, up to 26.5 °C"),
        ("sustained dry", 30.0, 22.0, "stayed dry (below 30 %RH) for 8 h, down to 22 %RH"),
        ("24-hour swing", 42.0, 55.0, "rose 13 %RH within 24 h"),
        ("day–night cycling", 44.0, 51.0, "went up and down by about 7 %RH each day for 8 h"),
        ("no data", 44.0, float("nan"), "No readings to rely on came for 8 h"),
    ],
)
def test_each_kind_of_event_has_its_sentence(
    kind: str, start: float, peak: float, said: str
) -> None:
    at = datetime(2026, 3, 17, 15, 10, tzinfo=UTC)
    quantity = "temp_c" if kind == "warmer than band" else "rh_pct"
    event = Event(kind, "N1", at, at + timedelta(hours=2), at + timedelta(hours=8), start, peak,
                  peak - start, 1.0, 1.0, "", 100.0, quantity=quantity)  # fmt: skip
    assert said in event_words.event_note(event, ZONE)


def test_the_week_in_plain_words(week: RoomWeek) -> None:
    assert sentences.week_sentence(week) == (
        "Room air rose 14 %RH in 3.2 h from Tuesday 16:10, probably moist air or water coming in; "
        "the logger by the door shows it too. The air inside the glazed frames moved by 4 %RH at "
        "most. Look first at three prints; watch three; the other three can be left until Friday; "
        "for one we cannot tell; no estimate covers one."
    )


def test_a_quiet_week_says_its_range(week: RoomWeek) -> None:
    quiet = replace(week, events=[], judgements=[])
    said = sentences.week_sentence(quiet)
    assert said.startswith("Room air kept at 41 to 5")
    assert said.endswith("No prints hang here.")


def by_list(week: RoomWeek, listing: Listing, many: int) -> list[Judgement]:
    """Return so many judgements of one list."""
    first = next(j for j in week.judgements if j.listing == listing)
    return [first] * many


@pytest.mark.parametrize(
    ("first", "watch", "leave", "unsure", "said"),
    [
        (2, 0, 9, 0, "Look first at two prints; the other nine can be left until Friday."),
        (0, 0, 11, 0, "No print needs looking at first; all eleven prints can be left until "
                      "Friday."),
        (0, 3, 1, 0, "No print needs looking at first; watch three prints; the other can be left "
                     "until Friday."),
        (1, 0, 0, 2, "Look first at one print; for two we cannot tell."),
    ],
)  # fmt: skip
def test_the_round_in_one_sentence(
    week: RoomWeek, first: int, watch: int, leave: int, unsure: int, said: str
) -> None:
    judgements = [
        *by_list(week, Listing.LOOK_FIRST, first),
        *by_list(week, Listing.WATCH, watch),
        *by_list(week, Listing.LEAVE_BE, leave),
        *by_list(week, Listing.CANNOT_TELL, unsure),
    ]
    assert sentences.round_sentence(judgements, ZONE) == said


@pytest.mark.parametrize("state", State)
def test_a_work_is_answered_without_overclaiming(week: RoomWeek, state: State) -> None:
    line = next(j for j in week.judgements if j.state == state)
    said = sentences.work_answer(line, ZONE)
    assert sentences.without_lead(reason(line, ZONE)) in said
    if state in (State.NEAR_GLAZING, State.HINGES, State.SLACK):
        assert "%" in said


def test_a_doubtful_slack_is_said_with_may(week: RoomWeek) -> None:
    line = next(j for j in week.judgements if j.state == State.SLACK)
    said = sentences.work_answer(replace(line, p_visible_now=0.55, p_visible_week=0.55), ZONE)
    assert "it may have waves (55 %)" in said and "waves may show (55 %)" in said


def test_the_record_names_what_nobody_wrote_down(week: RoomWeek) -> None:
    sealed = week.works["W10"]
    unknown = {fact.label for fact in record_facts.unknown_facts(sealed, ZONE)}
    assert {"RH at closing", "Spacer"} <= unknown
    known = {
        fact.label for fact in record_facts.mount_record(week.works["W02"], ZONE) if fact.known
    }
    assert {"RH at mounting", "Frame", "Grain", "Wall"} <= known


def test_a_bonded_print_has_no_hinges_in_its_record(week: RoomWeek) -> None:
    labels = {fact.label for fact in record_facts.mount_record(week.works["W11"], ZONE)}
    assert "Hinges" not in labels


def test_the_answer_names_the_works_to_watch(week: RoomWeek) -> None:
    watched = [one.title for one in week.judgements if one.listing is Listing.WATCH]
    assert len(watched) == 3
    said = sentences.week_answer(week.judgements, ZONE, [])
    assert f"To watch: “{watched[0]}”, “{watched[1]}” and “{watched[2]}”." in said
    many = by_list(week, Listing.WATCH, sentences.FEW + 1)
    assert "To watch" not in sentences.week_answer(many, ZONE, [])


def test_until_when_is_told_once_of_a_work(week: RoomWeek) -> None:
    left = [one for one in week.judgements if one.listing is Listing.LEAVE_BE and one.now]
    assert left
    for one in left:
        told = [condition(one, ZONE), *sentences.figures_lines(one, ZONE)]
        assert " ".join(told).casefold().count("look again") == 1
