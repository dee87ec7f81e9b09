"""Why a work is to be looked at, in a few words; how far its humidity may move."""

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest

from analysis.results import Judgement, LastLook, LeadTime, Listing, Range, RoomWeek, State
from dashboards.text.sentences import leave_or_mend, short_reason
from dashboards.text.spare_text import image_layer_words, spare_figure, spare_pairs, spare_words


@pytest.mark.parametrize(
    ("facts", "said"),
    [
        ({"state": State.NEAR_GLAZING, "p_clearance": 0.14},
         "14 % chance of coming near its glazing"),
        ({"state": State.HINGES, "p_hinges": 0.4}, "40 % chance that its hinges are giving way"),
        ({"asks": LastLook(datetime(2026, 2, 24, tzinfo=UTC), 2)},
         "it was graded 2 on 24 February 2026 and has not been seen since"),
        ({"p_visible_now": 0.04, "p_visible_week": 0.72},
         "waves probably showed this week (72 %)"),
        ({"p_visible_now": 0.77, "p_visible_week": 0.9}, "waves probably show (77 %)"),
        ({"listing": Listing.WATCH, "lead_time": LeadTime(16.0, 12.0, 336.0)},
         "waves may show in about 16 h"),
        ({"listing": Listing.WATCH, "lead_time": LeadTime(None, 10.0, 336.0)},
         "if its trend goes on, waves may show in about 10 h"),
        ({"listing": Listing.WATCH, "lead_time": LeadTime(None, None, 336.0),
          "p_visible_week": 0.27},
         "waves are unlikely to have shown this week (27 %)"),
        ({"state": State.HINGES, "p_hinges": 0.4,
          "asks": LastLook(datetime(2026, 3, 2, tzinfo=UTC), 0, released=True)},
         "a hinge was found loose on 2 March 2026, and nobody has found all to hold since"),
    ],
)  # fmt: skip
def test_a_short_reason_says_what_is_worst(
    week: RoomWeek, facts: dict[str, Any], said: str
) -> None:
    assert short_reason(replace(plain(week), **facts), "UTC") == said


def plain(week: RoomWeek) -> Judgement:
    """Return a judgement with nothing to be said of it."""
    return replace(
        week.judgements[0],
        listing=Listing.LOOK_FIRST,
        state=State.TAUT,
        because=(),
        asks=None,
        now=None,
        p_visible_now=0.05,
        p_visible_week=0.05,
        p_clearance=0.0,
        p_hinges=0.0,
        lead_time=None,
    )


def test_headroom_beyond_the_search_is_said_as_or_more() -> None:
    assert spare_figure(Range(1.0, 3.2, 11.0)) == "3 %RH (1 to 11)"
    assert spare_figure(Range(5.0, 15.2, 50.0)) == "15 %RH (5 or more)"
    assert spare_figure(None) == "–"


def test_one_line_for_what_cannot_be_told(week: RoomWeek) -> None:
    unsure = replace(plain(week), listing=Listing.CANNOT_TELL, refusal="sun or spot")
    assert leave_or_mend(unsure, "UTC") == (
        "Sun or a spotlight warms it, so its temperature is not known."
    )


def test_every_spare_is_named_and_the_image_layer_stands_beside_them(week: RoomWeek) -> None:
    """Trade correction: a large spare once read as leave to dry out, or to damp."""
    now = week.judgements[0].now
    assert now is not None
    now = replace(
        now, headroom_quick_pct=Range(4.0, 9.0, 14.0), headroom_dry_pct=Range(3.0, 6.0, 9.0)
    )
    judged = replace(
        plain(week),
        now=now,
        print_rh_pct=Range(48.0, 50.0, 52.0),
        headroom_up_pct=Range(10.0, 20.0, 30.0),
        headroom_down_pct=Range(30.0, 48.0, 50.0),
    )
    pairs = dict(spare_pairs(judged))
    assert [figure.split(" (")[0] for figure in pairs.values()] == [
        "20 %RH",
        "9 %RH",
        "48 %RH",
        "6 %RH",
    ]
    words = image_layer_words(judged)
    assert "no permission" in words
    assert "Below about 25 to 30 %RH an image layer of gelatin stiffens and may crack" in words
    assert "recalled, not read" in words
    # From 50 %RH to 60 and to 30, not to 70 and to 2.
    assert words.endswith("leaves 10 %RH upwards and 20 %RH downwards at most.")
    # A panel that does not shrink away is not warned of.
    unmoved = replace(judged, now=replace(now, headroom_dry_pct=Range(50.0, 50.0, 50.0)))
    assert len(spare_pairs(unmoved)) == 3
    assert image_layer_words(replace(judged, print_rh_pct=None)) == ""


def test_a_spare_beyond_the_image_layers_ceiling_says_so() -> None:
    up, held = Range(4.0, 11.2, 50.0), Range(50.0, 52.0, 54.0)
    assert spare_words(up, held).endswith("; above about 60 %RH its image layer softens")
    assert "image layer" not in spare_words(Range(1.0, 4.0, 7.0), held)
    assert "image layer" not in spare_words(Range(-9.0, -4.0, -1.0), held)
