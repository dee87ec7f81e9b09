"""Why a work is to be looked at, in a few words; how far its humidity may move."""

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest

from analysis.results import Judgement, LastLook, LeadTime, Listing, Range, RoomWeek, State
from dashboards.text.judgement_text import spare_figure
from dashboards.text.sentences import leave_or_mend, short_reason


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
