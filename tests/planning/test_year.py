"""Shares of the year counted from chances written by hand."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from analysis.answers.judgement import JudgementLimits
from analysis.errors import NotEnoughError
from analysis.planning.year import HOURS_A_MONTH, Chances, DrawYear, look_first, year_summary

HOURS = 1000


def chances(**changes: object) -> Chances:
    values: dict[str, object] = {
        "work_id": "w",
        "time_utc": np.datetime64("2025-01-01T00", "h") + np.arange(HOURS),
        "visible": np.repeat([0.9, 0.0], [50, HOURS - 50]),
        "clearance": np.repeat([0.0, 0.2], [HOURS - 30, 30]),
        "hinges": np.repeat([0.3, 0.0], [20, HOURS - 20]),
        "refused": np.repeat(["", "gap"], [HOURS - 10, 10]),
    }
    return Chances(**(values | changes))  # type: ignore[arg-type]


def test_an_hour_with_two_reasons_counts_once_in_the_share_and_under_each() -> None:
    # 50 hours with waves, of which 20 with hinges too; 30 near the glazing, 10 of them refused
    found = look_first(chances())
    assert found.share == pytest.approx((50 + 20) / 990)
    assert found.visible == pytest.approx(50 / 990)
    assert found.clearance == pytest.approx(20 / 990)
    assert found.hinges == pytest.approx(20 / 990)
    assert found.judged_months * HOURS_A_MONTH == pytest.approx(990)
    assert found.refused == {"gap": pytest.approx(0.01)}


def test_limits_are_those_of_the_four_lists_and_can_be_changed() -> None:
    assert look_first(chances(), JudgementLimits(first_hinges=0.3)).hinges == 0.0
    assert look_first(chances(), JudgementLimits(first_visible=0.95)).visible == 0.0


def test_an_unknown_spacer_leaves_the_glazing_untold_and_the_rest_told() -> None:
    found = look_first(chances(clearance=np.full(HOURS, np.nan)))
    assert found.clearance is None
    assert found.share == pytest.approx(50 / 990)


def test_a_year_refused_throughout_is_not_a_number() -> None:
    refused = chances(refused=np.repeat(["starting up", "gap"], [700, 300]))
    found = look_first(refused)
    assert not found.judged
    assert np.isnan(found.share)
    assert list(found.refused) == ["starting up", "gap"]
    assert found.refused_share == pytest.approx(1.0)
    with pytest.raises(NotEnoughError) as caught:
        year_summary(refused, draws())
    assert "starting up, gap" in str(caught.value)


def draws() -> DrawYear:
    """Return ten instants of four draws: one always slack, one half, two never; loads 1 to 40."""
    times = [datetime(2025, 1, 1, tzinfo=UTC) + i * timedelta(hours=100) for i in range(10)]
    slack = np.zeros((10, 4), dtype=np.bool_)
    slack[:, 0], slack[:5, 1] = True, True
    load_n_m = np.arange(1.0, 41.0).reshape(10, 4)
    return DrawYear(times, slack, ~slack, load_n_m, load_n_m / 39.0, None)


def test_months_are_counted_draw_by_draw() -> None:
    found = year_summary(chances(refused=np.full(HOURS, "")), draws())
    judged = HOURS / HOURS_A_MONTH
    assert found.months_slack.high == pytest.approx(judged, rel=0.05)
    assert found.months_slack.mid == pytest.approx(0.25 * judged, rel=0.01)  # between 0 and a half
    assert found.months_slack.low == 0.0
    assert found.months_overtight.high == pytest.approx(judged, rel=0.05)
    assert found.peak_load_n_m.mid == pytest.approx(38.5)  # last instant: 37, 38, 39, 40


def test_months_leave_out_the_instants_that_cannot_be_told() -> None:
    # the first half of the record is refused, in which draw 1 was slack
    late = chances(refused=np.repeat(["gap", ""], [500, 500]))
    found = year_summary(late, draws())
    assert found.look_first.judged_months * HOURS_A_MONTH == pytest.approx(500)
    assert found.months_slack.mid == 0.0
