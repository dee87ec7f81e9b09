"""What nobody measured of frame and logger, and what the chain may be off by."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pandas as pd
import pytest
from fixtures.known_works import START, AirOf, Knowing

from analysis.air.room_air import hourly_air, unchecked_years
from analysis.chain.enclosure import saturation_pressure_pa
from analysis.parameters import table
from analysis.series import readings_frame
from analysis.simulation import drawer, estimator
from analysis.simulation.discrepancy import angle_at
from analysis.simulation.drawn_parameters import UNITS
from analysis.simulation.priors import draw
from analysis.works import Adhesive, Finish, Override, Paper, Work

WORK = Work("W1", "Quay", 1500.0, 1000.0, Paper.FIBRE_BASE, Finish.GLOSSY, mounted_rh_pct=48.0)


def test_frame_over_logger_and_drift_are_normal_and_narrowed_by_what_is_stated() -> None:
    drawn = draw(WORK, 2000)
    # frames.toml: two deviations are 1.4 K and 3 %RH a year
    assert drawn["frame_minus_logger_k"].std() == pytest.approx(0.7, rel=0.02)
    assert drawn["logger_drift_pct_a"].std() == pytest.approx(1.5, rel=0.02)
    assert abs(drawn["frame_minus_logger_k"].mean()) < 0.01
    in_frame = Override(0.4, 0.2, 0.6, "a logger in the frame, two weeks")
    known = draw(replace(WORK, overrides={"frame_minus_logger_k": in_frame}), 2000)
    assert known["frame_minus_logger_k"].min() >= 0.2
    assert known["frame_minus_logger_k"].max() <= 0.6
    assert known["logger_drift_pct_a"].tolist() == drawn["logger_drift_pct_a"].tolist()


@pytest.mark.parametrize(
    ("adhesive", "share"),
    [
        (Adhesive.PRESSURE_SENSITIVE, "share"),
        (Adhesive.PASTED, "pasted_share"),
        (Adhesive.STARCH_PASTE, "pasted_share"),
        (Adhesive.CELLULOSE_ETHER, "pasted_share"),
    ],
)
def test_in_a_share_of_the_draws_a_bond_slips_at_once(adhesive: Adhesive, share: str) -> None:
    held = replace(WORK, adhesive=adhesive)
    slip = table("discrepancy")["slip"]
    days = draw(held, 2000)["hinge_creep_days"]
    assert np.mean(days == slip["days"].value) == pytest.approx(slip[share].value, abs=0.01)
    # all others creep by the rows of their adhesive, and a stated time stands
    assert days[days != slip["days"].value].min() > slip["days"].value
    stated = replace(held, overrides={"hinge_creep_days": Override(20.0, 15.0, 25.0, "a weight")})
    assert draw(stated, 2000)["hinge_creep_days"].min() >= 15.0


def test_a_corrected_table_moves_no_other_draw(monkeypatch: pytest.MonkeyPatch) -> None:
    before = draw(WORK, 200)
    monkeypatch.setattr(drawer, "release", lambda: "another")
    after = draw(WORK, 200)
    assert all(np.array_equal(after[name], before[name], equal_nan=True) for name in UNITS)


def test_a_warmer_frame_is_drier_by_its_saturation_pressure(
    knowing: Knowing, air_of: AirOf
) -> None:
    warmer = np.array([-1.0, 0.0, 1.0, 2.0])
    one, draws = knowing(n=4, frame_minus_logger_k=warmer, half_time_h=2.0)
    found = estimator.run([one], {"W1": draws}, air_of(20.0, 50.0, 400), detail_from=START,
                          probe={"W1": [START + timedelta(hours=399)]})  # fmt: skip
    shown = found.probes["W1"]
    assert shown["temp_c"][0] == pytest.approx(20.0 + warmer, abs=1e-6)
    ratio = saturation_pressure_pa(20.0) / saturation_pressure_pa(20.0 + warmer)
    assert shown["print_rh_pct"][0] == pytest.approx(50.0 * ratio, abs=0.02)
    # about 3 %RH for 1 K
    assert shown["print_rh_pct"][0][1] - shown["print_rh_pct"][0][2] == pytest.approx(3.0, abs=0.2)


def test_a_logger_drifts_since_its_last_check_only(knowing: Knowing) -> None:
    index = pd.date_range(START, periods=600 * 24, freq="h")
    readings = readings_frame(index, temp_c=np.full(len(index), 20.0),
                              rh_pct=np.full(len(index), 50.0))  # fmt: skip
    end = START + timedelta(days=599)
    check = START + timedelta(days=365)
    free = hourly_air(readings, start_utc=START, end_utc=end)
    checked = hourly_air(readings, start_utc=START, end_utc=end, checked_utc=[check])
    assert unchecked_years(free)[-1] == pytest.approx(599 / 365.25, abs=0.01)
    assert unchecked_years(checked)[365 * 24 - 1] == pytest.approx(1.0, abs=0.01)
    assert unchecked_years(checked)[-1] == pytest.approx(234 / 365.25, abs=0.01)
    one, draws = knowing(n=2, logger_drift_pct_a=np.array([0.0, 2.0]), half_time_h=2.0)
    for air in (free, checked):
        probes = estimator.run(
            [one], {"W1": draws}, air, detail_from=end, probe={"W1": [end]}
        ).probes
        shown = probes["W1"]["print_rh_pct"][0]
        drift = 2.0 * unchecked_years(air)[-1]
        assert shown[1] - shown[0] == pytest.approx(drift, abs=0.05)


def test_a_logger_that_nobody_checks_stops_drifting_after_three_years(air_of: AirOf) -> None:
    air = air_of(20.0, 50.0, 5 * 8766)
    assert unchecked_years(air).max() == 3.0


def test_the_yearly_wave_moves_what_is_read_and_nothing_else(
    knowing: Knowing, air_of: AirOf
) -> None:
    at = START + timedelta(days=30)
    cos = np.array([0.0, 2.0, 0.0])
    sin = np.array([0.0, 0.0, 2.0])
    one, draws = knowing(n=3, season_cos_pct=cos, season_sin_pct=sin)
    found = estimator.run([one], {"W1": draws}, air_of(20.0, 50.0, 31 * 24), detail_from=START,
                          probe={"W1": [at]})  # fmt: skip
    state = found.last.states["W1"]
    assert np.ptp(state[:-3], axis=1) == pytest.approx(0.0)
    spare, angle = found.probes["W1"]["headroom_up_pct"][0], angle_at(at)
    assert spare - spare[0] == pytest.approx(cos * np.cos(angle) + sin * np.sin(angle), abs=1e-6)
    ranges = found.histories["W1"].headroom_up_pct[-1]
    assert ranges[2] - ranges[0] == pytest.approx(np.ptp(spare), abs=0.1)


def test_along_the_path_a_rise_expands_less_at_first(knowing: Knowing, air_of: AirOf) -> None:
    rh = np.concatenate([np.full(100, 45.0), np.full(900, 52.0)])
    one, draws = knowing(n=2, path_share=np.array([0.0, 0.5]), half_time_h=1.0)
    at = START + timedelta(hours=999)
    found = estimator.run([one], {"W1": draws}, air_of(20.0, rh), detail_from=START,
                          probe={"W1": [at]})  # fmt: skip
    spare = found.probes["W1"]["headroom_up_pct"][0]
    # the deadband is 11 %RH wide: after a rise of 7 from the middle play stands 5.5 behind
    assert found.probes["W1"]["play_lag_pct"][0] == pytest.approx([-5.5, -5.5], abs=0.05)
    assert spare[1] - spare[0] == pytest.approx(0.5 * 5.5, abs=0.05)


def test_half_the_draws_follow_the_path() -> None:
    share = draw(WORK, 200)["path_share"]
    assert int((share > 0.0).sum()) == 100
