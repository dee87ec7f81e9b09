"""Verdicts: closed intervals, time and not count, uncertainty, short records, missing channels."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings, strategies as st

from analysis.errors import UnknownNameError
from analysis.limits.historic_climate import historic_climate
from analysis.limits.limit_rules import Judging, outer_excess, short_term_excess
from analysis.limits.published_limits import (
    Definition,
    band_limit,
    published_limit,
    published_limits,
)
from analysis.limits.verdict import LimitVerdict, Outcome, judge
from analysis.results import Band
from analysis.series import Flag, readings_frame
from dashboards.text.limit_text import (
    basis_words,
    check_name,
    limit_title,
    rule_words,
    verdict_words,
)

DAY = 24
GREEN = published_limit("green_protocol_2023")


def hours(count: int) -> pd.DatetimeIndex:
    return pd.date_range("2030-01-01", periods=count, freq="h", tz="UTC")


def room(rh_pct: object, temp_c: object = 20.0, days: int = 40) -> pd.DataFrame:
    return readings_frame(hours(days * DAY), temp_c=temp_c, rh_pct=rh_pct)


def outcome(verdict: LimitVerdict, name: str) -> Outcome:
    return next(c.outcome for c in verdict.checks if c.name == name and c.variable == "rh_pct")


def sure(limit: str, air: pd.DataFrame, how: Judging | None = None) -> LimitVerdict:
    """Judge with a perfect sensor."""
    return judge(published_limit(limit), air, "UTC", 0.0, 0.0, how)


# Bizot2023: 40–60 %RH; read as a closed interval.
@pytest.mark.parametrize(
    ("rh_pct", "expected"),
    [
        (39.9, Outcome.OUTSIDE),
        (40.0, Outcome.INSIDE),
        (60.0, Outcome.INSIDE),
        (60.1, Outcome.OUTSIDE),
    ],
)
def test_the_ends_of_a_range_belong_to_it(rh_pct: float, expected: Outcome) -> None:
    assert sure("green_protocol_2023", room(rh_pct)).outcome is expected


def test_shares_go_by_time_and_not_by_count() -> None:
    """Six hours in, two out, at irregular times: 75 % of the time, 94 % of the readings."""
    inside = list(np.linspace(1.25, 358.75, 144))
    outside = [361.25, 365.0, 370.0, 400.0, 420.0, 440.0, 460.0, 478.75]
    start = pd.Timestamp("2030-01-01", tz="UTC")
    index = pd.DatetimeIndex([start + pd.Timedelta(minutes=m) for m in inside + outside])
    rh = [50.0] * len(inside) + [70.0] * len(outside)
    limit = band_limit(Band("own", 45.0, 55.0))
    verdict = judge(limit, readings_frame(index, rh_pct=rh), "UTC", 0.0)
    assert verdict.shares.inside_pct == pytest.approx(75.0, abs=1e-9)
    assert verdict.judged_h == pytest.approx(8.0)
    assert len(inside) / len(index) > 0.9


def test_every_published_limit_can_be_judged() -> None:
    air = room(50.0 + np.sin(np.arange(400 * DAY) / 24), days=400)
    for limit in published_limits().values():
        verdict = judge(limit, air)
        assert verdict.checks
        assert basis_words(verdict).startswith(f"Judged by {limit_title(limit)}")
        total = (
            verdict.shares.inside_pct + verdict.shares.uncertain_pct + verdict.shares.outside_pct
        )
        assert total == pytest.approx(100.0) or np.isnan(total)


def test_a_short_record_never_conforms() -> None:
    verdict = sure("green_protocol_2023", room(50.0, days=29))
    assert verdict.outcome is Outcome.INSIDE
    assert not verdict.conforms
    assert verdict_words(verdict) == "provisional, 29 days: inside"
    assert verdict_words(sure("green_protocol_2023", room(50.0, days=30))) == "conforms"


def test_limits_that_were_not_checked_never_make_a_record_conform() -> None:
    verdict = sure("nmdc_2009", room(50.0))
    assert (verdict.outcome, verdict.conforms, verdict_words(verdict)) == (
        Outcome.INSIDE,
        False,
        "inside",
    )
    assert "not checked against the published text" in basis_words(verdict)
    # a year is asked for by a text that was recalled, not read again
    recalled = sure("class_a1", room(50.0))
    assert "365 days are needed (published, from memory)" in basis_words(recalled)


# Guard: outside only beyond the uncertainty, inside only short of it by as much.
@pytest.mark.parametrize(
    ("rh_pct", "expected"),
    [
        (56.9, Outcome.INSIDE),
        (57.1, Outcome.WITHIN_UNCERTAINTY),
        (62.9, Outcome.WITHIN_UNCERTAINTY),
        (63.1, Outcome.OUTSIDE),
    ],
)
def test_uncertainty_guards_the_verdict(rh_pct: float, expected: Outcome) -> None:
    assert judge(GREEN, room(rh_pct), "UTC", 3.0, 0.5).outcome is expected


def test_an_offset_of_the_sensor_cancels_in_a_swing() -> None:
    """±10 %RH in 24 h: a swing of 12 stays outside, however uncertain the sensor's level."""
    air = room(50.0 + 6.0 * np.sin(2 * np.pi * np.arange(40 * DAY) / DAY))
    assert outcome(judge(GREEN, air, "UTC", 4.0), "short term") is Outcome.OUTSIDE
    how = Judging(swing_uncertainty_rh_pct=2.5)
    assert (
        outcome(judge(GREEN, air, "UTC", 4.0, how=how), "short term") is Outcome.WITHIN_UNCERTAINTY
    )


# A daily sine of ±8 is read four ways: range24 16, lag24 0, dev24 8, dayspan 16.
@pytest.mark.parametrize(
    ("definition", "expected"),
    [
        (Definition.RANGE24, Outcome.OUTSIDE),
        (Definition.LAG24, Outcome.INSIDE),
        (Definition.DEV24, Outcome.INSIDE),
        (Definition.DAYSPAN, Outcome.OUTSIDE),
    ],
)
def test_the_definition_of_24_hours_decides(definition: Definition, expected: Outcome) -> None:
    air = room(50.0 + 8.0 * np.sin(2 * np.pi * np.arange(40 * DAY) / DAY))
    verdict = sure("green_protocol_2023", air, Judging(definition=definition))
    assert outcome(verdict, "short term") is expected
    check = next(c for c in verdict.checks if c.name == "short term")
    assert rule_words(check.name, check.basis).startswith(definition.value)


def test_a_definition_that_is_no_24_hours_is_refused() -> None:
    with pytest.raises(UnknownNameError, match="definition of 24 hours: found the name"):
        sure("green_protocol_2023", room(50.0), Judging(definition=Definition.SEASON))


def test_a_swing_in_the_first_day_counts_but_calm_there_is_not_yet_known() -> None:
    values = pd.Series(np.where(np.arange(48) < 3, 50.0, 65.0), index=hours(48))
    excess = short_term_excess(values, 10.0, Definition.RANGE24)
    assert np.isnan(excess.iloc[:3]).all()
    assert (excess.iloc[3:24] == 5.0).all()


def test_a_calendar_day_is_that_of_the_site() -> None:
    """A step at 23:30 local: the two days have no span each, rolling 24 hours do."""
    values = pd.Series(np.where(np.arange(96) < 47, 50.0, 65.0), index=hours(96))
    assert (
        short_term_excess(values, 10.0, Definition.DAYSPAN, "Europe/Berlin").dropna() <= 0
    ).all()
    assert short_term_excess(values, 10.0, Definition.DAYSPAN, "UTC").max() == 5.0


def test_longest_run_outside_and_worst_exceedance() -> None:
    rh = np.full(40 * DAY, 50.0)
    rh[100:110], rh[300:305] = 68.0, 75.0
    limit = band_limit(Band("own", 45.0, 55.0))
    verdict = judge(limit, room(rh), "UTC", 0.0)
    assert verdict.longest_run.hours == pytest.approx(10.0)
    assert verdict.longest_run.start_utc == hours(101)[100]
    assert verdict.longest_run.end_utc == hours(110)[109]
    assert verdict.worst is not None
    assert verdict.worst.worst == 20.0
    assert verdict.worst.worst_utc == hours(301)[300]


def test_a_gap_ends_a_run() -> None:
    air = room(70.0)
    air = air.drop(air.index[100:200])
    verdict = judge(band_limit(Band("own", 45.0, 55.0)), air, "UTC", 0.0)
    assert verdict.longest_run.hours == pytest.approx(40 * DAY - 200)


def test_a_channel_that_was_not_measured_leaves_no_verdict() -> None:
    humid_only = readings_frame(hours(40 * DAY), rh_pct=50.0)
    verdict = sure("green_protocol_2023", humid_only)
    assert verdict.outcome is Outcome.CANNOT_TELL
    assert [check_name(one) for one in verdict.not_judged] == ["temperature, measured at all"]
    assert verdict.shares.inside_pct == 100.0
    too_damp = readings_frame(hours(40 * DAY), rh_pct=80.0)
    assert sure("green_protocol_2023", too_damp).outcome is Outcome.OUTSIDE


def test_too_little_measured_leaves_no_verdict() -> None:
    air = room(50.0, days=60)
    gap = (air.index >= hours(15 * DAY + 1)[-1]) & (air.index < hours(45 * DAY + 1)[-1])
    verdict = sure("green_protocol_2023", air[~gap])
    assert verdict.coverage_pct == pytest.approx(50.0)
    assert verdict_words(verdict) == "cannot tell"


def test_no_reading_at_all() -> None:
    verdict = sure("green_protocol_2023", readings_frame(hours(5)))
    assert verdict.outcome is Outcome.CANNOT_TELL
    assert verdict.record_days == 0.0
    assert verdict.longest_run.start_utc is None


def test_flagged_readings_are_not_judged() -> None:
    rh = np.full(40 * DAY, 50.0)
    rh[500] = 99.0
    flags = np.where(np.arange(40 * DAY) == 500, int(Flag.ONE_SAMPLE_SPIKE), 0)
    air = readings_frame(hours(40 * DAY), temp_c=20.0, rh_pct=rh, flags=flags)
    assert sure("green_protocol_2023", air).outcome is Outcome.INSIDE


def test_mean_of_the_record() -> None:
    """BS4971 (recalled): 13–23 °C with a yearly mean of at most 18 °C."""
    warm = room(50.0, temp_c=20.0, days=366)
    verdict = sure("bs4971_2017", warm)
    checks = {(c.variable, str(c.name)): c.outcome for c in verdict.checks}
    assert checks["temp_c", "outer limits"] is Outcome.INSIDE
    assert checks["temp_c", "mean of the record"] is Outcome.OUTSIDE
    assert verdict.outcome is Outcome.OUTSIDE


def test_tolerance_about_the_mean() -> None:
    """BS5454: a set point in 45–60 %RH, ±5 %."""
    swinging = room(52.0 + 7.0 * np.sin(2 * np.pi * np.arange(400 * DAY) / 2000), 17.0, 400)
    verdict = sure("bs5454_2000_frequent", swinging)
    assert outcome(verdict, "mean of the record") is Outcome.INSIDE
    assert outcome(verdict, "about the mean") is Outcome.OUTSIDE


def test_share_asked_for_can_be_set() -> None:
    rh = np.full(40 * DAY, 50.0)
    rh[: 2 * DAY] = 70.0
    limit = band_limit(Band("own", 40.0, 60.0))
    assert verdict_words(judge(limit, room(rh), "UTC", 0.0)) == "conforms"
    strict = judge(limit, room(rh), "UTC", 0.0, how=Judging(required_share_pct=99.0))
    assert strict.outcome is Outcome.OUTSIDE


def test_historic_band_of_an_earlier_year_judges_a_later_month() -> None:
    year = room(50.0 + 5 * np.sin(2 * np.pi * np.arange(400 * DAY) / (365.2425 * DAY)), days=400)
    later = pd.date_range("2032-06-01", periods=30 * DAY, freq="h", tz="UTC")
    how = Judging(historic=historic_climate(year))
    limit = published_limit("en15757_2010")
    calm = judge(limit, readings_frame(later, temp_c=20.0, rh_pct=52.0), "UTC", 0.0, how=how)
    damp = judge(limit, readings_frame(later, temp_c=20.0, rh_pct=75.0), "UTC", 0.0, how=how)
    assert (calm.outcome, calm.provisional) == (Outcome.INSIDE, False)
    assert damp.outcome is Outcome.OUTSIDE
    check = calm.checks[0]
    assert "from an earlier year" in rule_words(check.name, check.basis)


def test_historic_band_without_a_window_cannot_be_told() -> None:
    verdict = judge(published_limit("en15757_2010"), room(50.0, days=10))
    assert verdict.outcome is Outcome.CANNOT_TELL
    assert "provisional, 10 days" in verdict_words(verdict)


RANK = {Outcome.INSIDE: 0, Outcome.WITHIN_UNCERTAINTY: 1, Outcome.OUTSIDE: 2}


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.floats(0.0, 8.0), st.floats(0.1, 5.0))
def test_more_uncertainty_never_makes_a_verdict_surer(seed: int, first: float, more: float) -> None:
    rng = np.random.default_rng(seed)
    air = room(
        50.0 + rng.normal(0.0, 1.0) * 8 + np.cumsum(rng.normal(0, 0.3, 40 * DAY)).clip(-20, 20)
    )
    one, two = (judge(GREEN, air, "UTC", u, 0.5) for u in (first, first + more))
    assert two.shares.outside_pct <= one.shares.outside_pct + 1e-9
    assert two.shares.inside_pct <= one.shares.inside_pct + 1e-9
    if one.outcome is Outcome.WITHIN_UNCERTAINTY:
        assert two.outcome is Outcome.WITHIN_UNCERTAINTY
    if {one.outcome, two.outcome} == {Outcome.INSIDE, Outcome.OUTSIDE}:
        raise AssertionError("a verdict must not turn round")


@settings(deadline=None)
@given(st.floats(0.0, 100.0), st.floats(0.0, 50.0), st.floats(50.0, 100.0))
def test_a_reading_is_inside_exactly_where_a_comparison_says_so(
    rh_pct: float, low: float, high: float
) -> None:
    excess = float(outer_excess(pd.Series([rh_pct]), low, high).iloc[0])
    assert (excess <= 0.0) == (low <= rh_pct <= high)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 1000), st.floats(0.5, 5.0))
def test_a_wider_band_is_never_passed_more(seed: int, wider: float) -> None:
    air = room(np.random.default_rng(seed).normal(50.0, 6.0, 40 * DAY))
    narrow, wide = (
        judge(band_limit(Band("b", 45.0 - w, 55.0 + w)), air, "UTC", 0.0) for w in (0.0, wider)
    )
    assert wide.shares.inside_pct >= narrow.shares.inside_pct
    assert RANK[wide.outcome] <= RANK[narrow.outcome]
