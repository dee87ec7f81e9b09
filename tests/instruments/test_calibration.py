"""Calibration layers over readings that stay as they are."""

from datetime import UTC, datetime

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings, strategies as st

from analysis.errors import NotEnoughError, OutOfRangeError, UnknownNameError
from analysis.instruments.calibration import (
    CalibrationLayer,
    ErrorCheck,
    Salt,
    SaltCheck,
    apply_calibration,
    drift_per_year_rh_pct,
    layer_from_salts,
    remove_drift,
    uncertainty_in_force,
)
from analysis.series import readings_frame
from dashboards.text.instrument_text import calibration_words

DAYS = pd.date_range("2030-01-01", periods=10, freq="D", tz="UTC")
RECORD = readings_frame(DAYS, temp_c=20.0, rh_pct=50.0)


def day(number: int) -> datetime:
    return datetime(2030, 1, number, tzinfo=UTC)


def test_stored_readings_are_never_edited() -> None:
    before = RECORD.copy(deep=True)
    corrected = apply_calibration(RECORD, [CalibrationLayer("rh_pct", day(1), offset=3.0)])
    pd.testing.assert_frame_equal(RECORD, before)
    assert (corrected["rh_pct"] == 53.0).all()
    assert (corrected["flags"] == RECORD["flags"]).all()


def test_the_latest_layer_that_has_begun_holds_alone() -> None:
    layers = [
        CalibrationLayer("rh_pct", day(7), offset=-1.0),
        CalibrationLayer("rh_pct", day(3), offset=2.0),
    ]
    found = apply_calibration(RECORD, layers)["rh_pct"].to_numpy()
    assert found.tolist() == [50.0] * 2 + [52.0] * 4 + [49.0] * 4


def test_a_layer_may_end() -> None:
    layer = CalibrationLayer("temp_c", day(3), offset=0.5, until_utc=day(5))
    found = apply_calibration(RECORD, [layer])["temp_c"].to_numpy()
    assert found.tolist() == [20.0] * 2 + [20.5] * 2 + [20.0] * 6


def test_channels_have_layers_of_their_own() -> None:
    layers = [
        CalibrationLayer("rh_pct", day(1), offset=2.0),
        CalibrationLayer("temp_c", day(2), gain=1.1),
    ]
    found = apply_calibration(RECORD, layers)
    assert found["rh_pct"].iloc[-1] == 52.0
    assert found["temp_c"].iloc[-1] == pytest.approx(22.0)


def test_missing_readings_stay_missing_and_nothing_is_clipped() -> None:
    record = readings_frame(DAYS[:2], rh_pct=[np.nan, 99.5])
    found = apply_calibration(record, [CalibrationLayer("rh_pct", day(1), offset=2.0)])
    assert np.isnan(found["rh_pct"].iloc[0])
    assert found["rh_pct"].iloc[1] == 101.5


def test_two_fixed_points_give_gain_and_offset() -> None:
    """Greenspan1977 at 20 °C: 33.07 and 75.47 %RH, over a sensor that reads 30 and 70."""
    checks = [
        SaltCheck(Salt.MAGNESIUM_CHLORIDE, 20.0, 30.0),
        SaltCheck(Salt.SODIUM_CHLORIDE, 20.0, 70.0),
    ]
    layer = layer_from_salts(day(1), checks)
    assert layer.gain == pytest.approx((75.47 - 33.07) / 40.0, abs=1e-3)
    for read, truth in ((30.0, 33.07), (70.0, 75.47)):
        assert layer.gain * read + layer.offset == pytest.approx(truth, abs=0.01)
    assert layer.uncertainty is not None
    assert "magnesium chloride at 20 °C and sodium chloride" in layer.origin


def test_one_fixed_point_gives_an_offset() -> None:
    layer = layer_from_salts(day(1), [SaltCheck(Salt.SODIUM_CHLORIDE, 25.0, 77.0)])
    assert layer.gain == 1.0
    assert layer.offset == pytest.approx(75.29 - 77.0, abs=0.05)


def test_two_fixed_points_too_near_are_refused() -> None:
    checks = [
        SaltCheck(Salt.SODIUM_CHLORIDE, 20.0, 75.0),
        SaltCheck(Salt.POTASSIUM_CHLORIDE, 20.0, 85.0),
    ]
    with pytest.raises(OutOfRangeError, match=r"found 9\.6 %RH between them, .* at least 20 %RH"):
        layer_from_salts(day(1), checks)


def test_no_check_and_three_checks_are_refused() -> None:
    check = SaltCheck(Salt.SODIUM_CHLORIDE, 20.0, 75.0)
    for checks in ([], [check] * 3):
        with pytest.raises(NotEnoughError, match="one check for an offset, or two"):
            layer_from_salts(day(1), checks)


@pytest.mark.parametrize(
    ("layer", "message"),
    [
        (CalibrationLayer("rh_pct", day(1), offset=40.0), "offset_rh_pct: found 40, expected -15"),
        (CalibrationLayer("rh_pct", day(1), gain=2.0, offset=-50.0), "gain: found 2, expected 0.7"),
        (CalibrationLayer("temp_c", day(1), offset=9.0), "offset_temp_c: found 9"),
        (CalibrationLayer("rh_pct", day(2), until_utc=day(1)), "an end before its beginning"),
    ],
)
def test_a_layer_beyond_belief_is_refused(layer: CalibrationLayer, message: str) -> None:
    with pytest.raises(OutOfRangeError, match=message):
        apply_calibration(RECORD, [layer])


def test_two_layers_of_one_instant_are_refused() -> None:
    layers = [CalibrationLayer("rh_pct", day(1), offset=o) for o in (1.0, 2.0)]
    with pytest.raises(OutOfRangeError, match="a second layer of the same instant"):
        apply_calibration(RECORD, layers)


def test_a_time_without_a_zone_is_refused() -> None:
    naive = datetime(2030, 1, 1)  # noqa: DTZ001
    with pytest.raises(OutOfRangeError, match="without a zone, expected an instant in UTC"):
        apply_calibration(RECORD, [CalibrationLayer("rh_pct", naive)])
    with pytest.raises(OutOfRangeError, match="check for drift, time"):
        remove_drift(RECORD, ErrorCheck(naive), ErrorCheck(day(5)))


def test_uncertainty_of_the_calibration_in_force() -> None:
    layers = [
        CalibrationLayer("rh_pct", day(1), uncertainty=2.0),
        CalibrationLayer("rh_pct", day(4), uncertainty=1.0, until_utc=day(6)),
    ]
    found = [uncertainty_in_force(layers, "rh_pct", day(n)) for n in (1, 3, 4, 6)]
    assert found == [2.0, 2.0, 1.0, None]
    assert uncertainty_in_force(layers, "temp_c", day(5)) is None


def test_an_unknown_channel_is_refused() -> None:
    with pytest.raises(UnknownNameError, match="found the name 'lux'"):
        apply_calibration(RECORD, [CalibrationLayer("lux", day(1))])


def test_drift_is_removed_in_proportion_to_time() -> None:
    drifting = readings_frame(DAYS, temp_c=20.0, rh_pct=50.0 + np.arange(10) * 0.5)
    first, second = ErrorCheck(day(1)), ErrorCheck(day(9), error_rh_pct=4.0)
    found = remove_drift(drifting, first, second)["rh_pct"].to_numpy()
    assert found[:9] == pytest.approx(np.full(9, 50.0))
    assert found[9] == 54.5
    assert drift_per_year_rh_pct(first, second) == pytest.approx(4.0 / 8.0 * 365.2425)


def test_checks_out_of_order_are_refused() -> None:
    with pytest.raises(OutOfRangeError, match="two checks, the second later"):
        remove_drift(RECORD, ErrorCheck(day(5)), ErrorCheck(day(5)))


def test_words_for_the_age_of_a_calibration() -> None:
    layers = [CalibrationLayer("rh_pct", datetime(2028, 1, 1, tzinfo=UTC), origin="certificate")]
    assert calibration_words(layers, day(1), "UTC") == (
        "Calibrated 1 January 2028 (certificate), 731 days before. Check it."
    )
    assert (
        calibration_words(layers, datetime(2027, 1, 1, tzinfo=UTC), "UTC")
        == "No calibration is known."
    )


@settings(deadline=None)
@given(st.floats(0.8, 1.2), st.floats(-5.0, 5.0), st.floats(10.0, 90.0))
def test_a_layer_undoes_the_error_it_was_made_for(gain: float, offset: float, truth: float) -> None:
    read = (truth - offset) / gain
    record = readings_frame(DAYS, rh_pct=read)
    layer = CalibrationLayer("rh_pct", day(1), gain=gain, offset=offset)
    if abs(offset + 50.0 * (gain - 1.0)) > 15.0:
        with pytest.raises(OutOfRangeError):
            apply_calibration(record, [layer])
    else:
        found = apply_calibration(record, [layer])["rh_pct"].to_numpy()
        assert found == pytest.approx(np.full(10, truth))
