"""ISO weeks in the zone of the site, through both changes of the clocks."""

from datetime import UTC, datetime

import pytest
from hypothesis import given, strategies as st

from analysis.errors import StilltautError
from service.climate.weeks import shifted, week_of, week_span

ZONES = ("Europe/Dublin", "America/St_Johns", "Australia/Lord_Howe", "Asia/Kathmandu", "UTC")


@pytest.mark.parametrize(
    ("week", "hours"), [("2026-W13", 167), ("2026-W43", 169), ("2026-W12", 168)]
)
def test_weeks_with_a_change_of_clocks(week: str, hours: int) -> None:
    start, end = week_span(week, "Europe/Vienna")
    assert (end - start).total_seconds() / 3600 == hours
    assert (start.tzinfo, end.tzinfo) == (UTC, UTC)


@given(
    st.integers(631_152_000, 2_840_140_800).map(lambda s: datetime.fromtimestamp(s, UTC)),
    st.sampled_from(ZONES),
)
def test_an_instant_lies_in_its_own_week_and_weeks_join(when: datetime, zone: str) -> None:
    week = week_of(when, zone)
    start, end = week_span(week, zone)
    assert start <= when < end
    assert week_span(shifted(week, 1), zone)[0] == end
    assert shifted(shifted(week, 1), -1) == week


def test_the_turn_of_the_year() -> None:
    assert shifted("2026-W53", 1) == "2027-W01"
    assert week_of(datetime(2026, 12, 31, 23, 30, tzinfo=UTC), "Europe/Vienna") == "2026-W53"


@pytest.mark.parametrize("text", ["2026-W54", "2026-12", "W12", "2026-W1", "", "2026-W12 "])
def test_what_is_no_week_is_told(text: str) -> None:
    with pytest.raises(StilltautError, match="an ISO week such as 2026-W12"):
        week_span(text, "UTC")
