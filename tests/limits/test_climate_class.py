"""Climate-control classes: seasonal level, clipping, drift, short term, spread, mould time."""

import numpy as np
import pandas as pd
import pytest

from analysis.limits.limit_rules import (
    Judging,
    class_short_term_excess as short_term_excess,
    drift_excess,
    season_excess,
    seasonal_level,
)
from analysis.limits.published_limits import published_limit
from analysis.limits.verdict import LimitVerdict, Outcome, judge
from analysis.series import readings_frame
from dashboards.text.limit_text import check_name, limit_title, verdict_words

DAY = 24
YEAR = pd.date_range("2030-01-01", periods=400 * DAY, freq="h", tz="UTC")
H = np.arange(len(YEAR), dtype=np.float64)
SEASON = np.sin(2 * np.pi * H / (365 * DAY))
CLASSES = ("class_aa", "class_a1", "class_a2", "class_b", "class_c", "class_d")


def year(rh_pct: object, temp_c: object = 20.0) -> pd.DataFrame:
    return readings_frame(YEAR, temp_c=temp_c, rh_pct=rh_pct)


def sure(key: str, air: pd.DataFrame, how: Judging | None = None) -> LimitVerdict:
    return judge(published_limit(key), air, "UTC", 0.0, 0.0, how)


def outcomes(air: pd.DataFrame) -> dict[str, Outcome]:
    return {key: sure(key, air).outcome for key in CLASSES}


def test_a_steady_room_is_inside_every_class() -> None:
    assert set(outcomes(year(50.0)).values()) == {Outcome.INSIDE}


# ASHRAE2019 (recalled): AA ±5 no season; A1 ±5 with ±10 season; A2 ±10 no season; B ±10 with ±10;
# C 25–75 %; D at most 75 %.
def test_a_seasonal_room_of_8_percent_is_a1_and_b_but_not_aa() -> None:
    found = outcomes(year(50.0 + 8.0 * SEASON))
    assert found["class_aa"] is Outcome.OUTSIDE
    assert found["class_a1"] is found["class_a2"] is found["class_b"] is Outcome.INSIDE


def test_a_daily_swing_of_8_percent_is_a2_and_b_but_not_a1() -> None:
    found = outcomes(year(50.0 + 8.0 * np.sin(2 * np.pi * H / DAY)))
    assert found["class_aa"] is found["class_a1"] is Outcome.OUTSIDE
    assert found["class_a2"] is found["class_b"] is Outcome.INSIDE


def test_wide_dry_air_is_c_or_only_d() -> None:
    wide = outcomes(year(48.0 + 20.0 * SEASON))
    assert wide["class_b"] is Outcome.OUTSIDE
    assert wide["class_c"] is Outcome.INSIDE
    dry = outcomes(year(30.0 + 12.0 * SEASON))
    assert (dry["class_c"], dry["class_d"]) == (Outcome.OUTSIDE, Outcome.INSIDE)


def test_a_level_beyond_the_season_is_not_taken_for_a_season() -> None:
    """Without clipping, readings near a slow drift of 14 % would pass the short-term test."""
    row = published_limit("class_a1").variables["rh_pct"]
    values = pd.Series(50.0 + 14.0 * SEASON, index=YEAR)
    season = seasonal_level(values, yearly_mean=50.0)
    excess = short_term_excess(row, values, season)
    assert excess.max() == pytest.approx(14.0 - 10.0 - 5.0, abs=0.01)
    assert season_excess(row, season).max() == pytest.approx(14.0 * 0.988925 - 10.0, abs=0.02)
    wider = pd.Series(50.0 + 18.0 * SEASON, index=YEAR)
    level = seasonal_level(wider, yearly_mean=50.0)
    assert short_term_excess(row, wider, level).max() == pytest.approx(3.0, abs=0.01)


def test_drift_of_the_season_is_limited_by_the_short_term_limit() -> None:
    """MichalskiControl: 9 % in 60 days is 4.5 % in 30 and passes; in 30 days it does not."""
    row = published_limit("class_a1").variables["rh_pct"]
    for days, passed in ((60.0, False), (30.0, True)):
        ramp = pd.Series(46.0 + 9.0 * np.clip((H / DAY - 150.0) / days, 0.0, 1.0), index=YEAR)
        excess = drift_excess(row, seasonal_level(ramp))
        assert bool(excess.max() > 0.0) is passed


def test_spread_in_space_uses_up_the_short_term_allowance() -> None:
    air = year(50.0 + 4.0 * np.sin(2 * np.pi * H / DAY))
    assert sure("class_a1", air).outcome is Outcome.INSIDE
    spread = pd.Series(3.0, index=YEAR)
    assert sure("class_a1", air, Judging(spread_rh_pct=spread)).outcome is Outcome.OUTSIDE
    assert sure("class_a1", air, Judging(spread_rh_pct=1.9)).outcome is Outcome.INSIDE


def test_a_historic_yearly_mean_can_be_given() -> None:
    air = year(38.0)
    assert sure("class_aa", air).outcome is Outcome.INSIDE
    assert sure("class_aa", air, Judging(yearly_rh_pct=50.0)).outcome is Outcome.OUTSIDE


def test_the_yearly_mean_is_that_of_the_last_12_months() -> None:
    values = pd.Series(np.where(H < 35 * DAY, 80.0, 50.0), index=YEAR)
    assert seasonal_level(values).yearly_mean == pytest.approx(50.0)


def test_c_and_d_give_damp_air_its_mould_time() -> None:
    """Above 65 %: a few damp days pass, weeks at 74 % show no growth, weeks at 90 % do not pass."""
    rh = np.full(len(H), 50.0)
    rh[100 * DAY : 103 * DAY] = 74.0
    assert sure("class_d", year(rh)).outcome is Outcome.INSIDE
    rh[100 * DAY : 160 * DAY] = 90.0
    verdict = sure("class_d", year(rh, 22.0))
    mould = next(check for check in verdict.checks if check.name == "mould time")
    # a very sensitive surface at 22 °C, 90 %RH reaches 1 in about 28 days; 32 of 400 days remain
    assert mould.shares.outside_pct == pytest.approx(100 * 32 / 400, abs=0.5)
    assert mould.worst == pytest.approx(25.0)


def test_a_damp_spell_starts_anew_after_dry_air() -> None:
    rh = np.where((H // (20 * DAY)) % 2 == 0, 90.0, 50.0)
    verdict = sure("class_d", year(rh, 22.0))
    mould = next(check for check in verdict.checks if check.name == "mould time")
    assert mould.outcome is Outcome.INSIDE


def test_damp_air_without_a_temperature_cannot_be_told() -> None:
    verdict = judge(published_limit("class_d"), readings_frame(YEAR, rh_pct=70.0))
    mould = next(check for check in verdict.checks if check.name == "mould time")
    assert mould.outcome is Outcome.CANNOT_TELL


def test_less_than_a_year_is_provisional_and_less_than_a_month_has_no_season() -> None:
    half = year(50.0).iloc[: 200 * DAY]
    verdict = sure("class_a1", half)
    assert verdict_words(verdict) == "provisional, 200 days: inside"
    short = sure("class_a1", year(50.0).iloc[: 20 * DAY])
    assert short.outcome is Outcome.CANNOT_TELL
    assert "humidity, season" in [check_name(one) for one in short.not_judged]


def test_the_2011_edition_has_its_own_rows() -> None:
    """ASHRAE2011 (recalled): temperature set between 15 and 25 °C."""
    assert sure("class_a_2011", year(50.0, 27.0)).outcome is Outcome.OUTSIDE
    assert sure("class_a_2011", year(50.0, 21.0)).outcome is Outcome.INSIDE
    assert "(2011;" in limit_title(published_limit("class_a_2011"))
