"""Sentences that once misled, each beside what is said now: the wrong form cannot come back."""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from analysis.results import Cause, Event, Judgement, Listing, Range, RoomWeek
from dashboards.lines import LimitLine
from dashboards.text import event_words, sentences, wording
from dashboards.text.dates import day_only
from dashboards.text.judgement_text import show_words, showed_words, slack_words
from dashboards.text.limit_text import outside_words
from dashboards.text.parameters import PARAMETER_WORDS
from dashboards.text.spare_text import spare_figure, spare_words
from dashboards.text.strip_text import KEY_WORDS
from service.intake.receipts import Outcome, UploadReceipt

AT = datetime(2026, 6, 19, 18, tzinfo=UTC)
PAST = Range(-19.0, -15.1, -9.0)
RISE = Event("spike", "n1", AT, AT + timedelta(hours=3), AT + timedelta(hours=9), 44.0, 58.0, 14.0,
             4.7, 60.0, f"{Cause.MOISTURE_ADDED}; outdoors was drier", 100.0, "n2, n3")  # fmt: skip


def felt(week: RoomWeek) -> str:
    return sentences.felt_sentence(week, week.events[0])


def since_look(week: RoomWeek) -> str:
    sure = replace(week.judgements[0], p_visible_week=0.995)
    return showed_words(sure, "UTC")


def all_unsure(week: RoomWeek) -> str:
    untold: Judgement = next(j for j in week.judgements if j.listing is Listing.CANNOT_TELL)
    return sentences.round_sentence([untold] * 3, "UTC")


def some_unsure(week: RoomWeek) -> str:
    untold: Judgement = next(j for j in week.judgements if j.listing is Listing.CANNOT_TELL)
    left: Judgement = next(j for j in week.judgements if j.listing is Listing.LEAVE_BE)
    return sentences.round_sentence([untold, left, left], "UTC")


def outside(_: RoomWeek) -> str:
    return outside_words(LimitLine("n", "North", "Band", "", "", "", "", True, "House", 4.2, 187.0))


def receipt(_: RoomWeek) -> str:
    came = UploadReceipt(Outcome.ALREADY_THERE, 1, "n1.csv", "", AT, {}, ())
    return " ".join(came.lines())


def key(_: RoomWeek) -> str:
    return " ".join(KEY_WORDS[one]() for one in (0.1, 0.3, 0.7, 0.9))


Say = Callable[[RoomWeek], str]
LIST: dict[str, tuple[Say, str, str]] = {
    "glazed frames": (felt, r"The air inside the glazed frames moved by .* at most", "glazing it"),
    "spare": (lambda _: spare_words(PAST), "already 15 %RH past the point where it", "may rise"),
    "spare, in a table": (lambda _: spare_figure(PAST), "already 15 %RH past it", "[−-]15"),
    "since a look": (since_look, r"waves almost surely showed on .* \(over 99 %\)", "it probably"),
    "no data": (all_unsure, "^For three prints we cannot tell", "needs looking at"),
    "little data": (some_unsure, "^For one print we cannot tell; of the others", "^No print"),
    "cause": (
        lambda _: event_words.event_sentence(RISE, "UTC"),
        "probably moisture from inside the building; outdoors was drier; three loggers agree",
        "so the source|moist air",
    ),
    "outside": (outside, "surely outside its agreed band 4 % of the time, once for", "too near"),
    "key": (key, r"^10 % 30 % 70 % 90 % probably slack$", "the stronger"),
    "least certain": (
        lambda _: PARAMETER_WORDS["sensor_offset_pct"],
        "how far the .*logger reads off",
        "offset|sensor",
    ),
    "receipt": (
        receipt,
        "all of these came in on Friday 19 June 2026; nothing new",
        "would be stored",
    ),
    "one year": (lambda _: wording.duration(24.0 * 366), "^(1 year|12 months)", "1 years"),
    "range": (
        lambda _: wording.range_words(Range(43.0, 45.0, 46.0), "%RH"),
        r"^45 %RH \(43 to 46\)$",
        "43–46",
    ),
    "dates": (
        lambda _: f"{day_only(AT, 'UTC')} {day_only(AT + timedelta(days=1), 'UTC')}",
        "^19 June 2026 20 June 2026$",
        "Jun ",
    ),
    "slack": (
        lambda _: f"{slack_words(0.54)}; {show_words(0.54)}",
        r"may be slack \(54 %\); may show \(54 %\)",
        "gone",
    ),
}


@pytest.mark.parametrize("name", LIST)
def test_what_misled_is_said_otherwise(week: RoomWeek, name: str) -> None:
    say, right, wrong = LIST[name]
    said = say(week).replace("\N{NO-BREAK SPACE}", " ").replace("\N{NARROW NO-BREAK SPACE}", " ")
    assert re.search(right, said), said
    assert not re.search(wrong, said), said
