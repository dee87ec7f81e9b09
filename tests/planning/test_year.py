"""Months counted from a history written by hand."""

import numpy as np
import pytest

from analysis.errors import NotEnoughError
from analysis.planning.year import HOURS_A_MONTH, year_summary
from analysis.results import History


def history(hours: int = 1000) -> History:
    ones = np.ones((hours, 3))
    return History(
        work_id="w",
        time_utc=np.datetime64("2025-01-01T00", "h") + np.arange(hours),
        frame_rh_pct=np.linspace(40, 60, hours)[:, None] + np.array([-1.0, 0.0, 1.0]),
        print_rh_pct=50.0 * ones,
        tension_n_m=np.array([10.0, 20.0, 40.0]) * ones,
        slope_mrad=0.0 * ones,
        wave_mm=0.0 * ones,
        headroom_up_pct=4.0 * ones,
        headroom_down_pct=np.array([-2.0, 3.0, 8.0]) * ones,
        p_slack=np.repeat([1.0, 0.5, 0.02], [100, 200, hours - 300]),
        p_visible=np.repeat([0.9, 0.0], [50, hours - 50]),
        p_clearance=np.repeat([0.0, 0.2], [hours - 30, 30]),
        p_hinges=np.zeros(hours),
        p_visible_week=np.full(hours, 0.9),
        p_clearance_week=np.repeat([0.0, 0.2], [hours - 30, 30]),
        p_hinges_week=np.zeros(hours),
        refused=np.repeat(["", "start-up"], [hours - 10, 10]),
    )


def test_months_by_hand() -> None:
    found = year_summary(history())
    hours = found.months_slack.mid * HOURS_A_MONTH
    assert hours == pytest.approx(100 + 100 + 0.02 * 690)
    assert found.months_slack.low * HOURS_A_MONTH == pytest.approx(100)
    assert found.months_slack.high * HOURS_A_MONTH == pytest.approx(300)
    # the 5 % point of the headroom is negative throughout, the middle never
    assert (found.months_overtight.low, found.months_overtight.mid) == (0.0, 0.0)
    assert found.months_overtight.high == pytest.approx(found.told_months)
    assert found.peak_load_n_m.high == 40.0
    assert found.refused_share == pytest.approx(0.01)


def test_look_first_counts_any_of_the_three_reasons_over_told_hours() -> None:
    # 50 visible at the start, 30 near the glazing at the end of which 10 are refused
    found = year_summary(history())
    assert found.look_first_share == pytest.approx((50 + 20) / 990)
    assert found.visible_share == pytest.approx(50 / 990)
    assert found.clearance_share == pytest.approx(20 / 990)
    assert found.hinges_share == 0.0


def test_a_year_refused_throughout_is_not_a_number() -> None:
    empty = history()
    refused = History(**{**vars(empty), "refused": np.full(1000, "closing humidity not known")})
    with pytest.raises(NotEnoughError) as caught:
        year_summary(refused)
    assert "closing humidity not known" in str(caught.value)
