"""Measured wave heights: their likelihood, and what they teach."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from bench.calibration import MOUNTED, START, room_year
from hypothesis import given, strategies as st
from scipy.integrate import quad
from scipy.stats import lognorm

from analysis.air.room_air import RoomAir
from analysis.errors import OutOfRangeError
from analysis.learning.inspections import Inspection, standing
from analysis.learning.likelihood import wave_log_likelihood
from analysis.learning.posterior import Learned, learn, until
from analysis.parameters import table
from analysis.simulation.drawn_parameters import UNITS
from analysis.works import Finish, Paper, Work

N = 60
LEAST = table("grades")["wave"]["least_mm"].value
SPREAD = table("grades")["wave"]["spread_factor"].value
WORK = Work(
    "V1",
    "Tide mill",
    1500.0,
    1000.0,
    Paper.FIBRE_BASE,
    Finish.GLOSSY,
    mounted_utc=MOUNTED,
    mounted_rh_pct=44.0,
)


def likelihood(measured_mm: float, *wave_mm: float) -> list[float]:
    return [float(x) for x in np.exp(wave_log_likelihood(measured_mm, np.array(wave_mm)))]


@given(measured=st.floats(0.5, 20.0), factor=st.floats(1.05, 4.0))
def test_likeliest_is_the_draw_that_predicts_what_was_measured(
    measured: float, factor: float
) -> None:
    below, same, above = likelihood(measured, measured / factor, measured, measured * factor)
    assert below < same > above
    assert below == pytest.approx(above)


def test_density_is_the_log_normal_of_the_spread_but_for_the_slip() -> None:
    # scipy's log-normal, as a density over ln(height); the slip is 2 % of a broad one
    told = 2.5 * lognorm(np.log(SPREAD), scale=2.0).pdf(2.5)
    assert likelihood(2.5, 2.0)[0] == pytest.approx(0.98 * told, rel=0.01)


@given(wave=st.floats(0.0, 20.0))
def test_all_that_can_be_written_down_sums_to_one(wave: float) -> None:
    at = np.clip(np.log(max(wave, 1e-9)), np.log(LEAST), 4.0)
    density, _ = quad(
        lambda ln: likelihood(float(np.exp(ln)), wave)[0],
        np.log(LEAST),
        6.0,
        points=[at],
        limit=200,
    )
    assert density + likelihood(0.0, wave)[0] == pytest.approx(1.0, abs=1e-3)


def test_nought_says_lower_than_can_be_measured() -> None:
    taut, low, least, high = likelihood(0.0, 0.0, 0.2, LEAST, 3.0)
    assert taut == pytest.approx(low, rel=0.01)
    assert least == pytest.approx(0.5, abs=0.02)
    assert high < 0.02
    assert likelihood(0.1, 0.0, 0.2, LEAST, 3.0) == [taut, low, least, high]


def test_a_slip_does_not_rule_out_the_truth() -> None:
    taut, right = likelihood(3.0, 0.0, 3.0)
    assert 0.0 < taut < 0.02 * right


def test_negative_heights_are_refused() -> None:
    for height in (-1.0, float("nan"), float("inf")):
        with pytest.raises(OutOfRangeError, match="wave height"):
            standing([Inspection(START, 1, wave_mm=height)])


def test_a_height_without_a_grade_counts() -> None:
    only = [Inspection(START, None, wave_mm=1.0)]
    assert standing(only) == only
    later = Inspection(START + timedelta(days=1), None)
    assert standing([*only, later]) == only
    assert standing([replace(only[0], grade=1), later])[1].wave_mm is None


@pytest.fixture(scope="module")
def air() -> RoomAir:
    return until(room_year(), START + timedelta(days=210))


def posterior_of(air: RoomAir, *heights: float | None) -> Learned:
    seen = [
        Inspection(START + timedelta(days=150 + 20 * i, hours=9), 2, wave_mm=height)
        for i, height in enumerate(heights)
    ]
    return learn([WORK], {WORK.work_id: seen}, air, N)[WORK.work_id]


def test_heights_move_the_predicted_height_and_the_wavelength(air: RoomAir) -> None:
    low, plain, high = (posterior_of(air, *h) for h in ((0.8, 0.9), (None, None), (4.0, 4.5)))
    mids = [one.wave_after_mm.mid for one in (low, plain, high) if one.wave_after_mm is not None]
    assert mids == sorted(mids)
    assert mids[::2] == pytest.approx([0.9, 4.5], rel=0.5)
    name = "wavelength_m"
    assert low.before == high.before
    assert low.after[name].mid < low.before[name].mid < high.after[name].mid


def test_a_height_narrows_the_wavelength_more_than_the_grade_alone(air: RoomAir) -> None:
    def width(found: Learned) -> float:
        span = found.after["wavelength_m"]
        return float(np.log(span.high / span.low))

    assert width(posterior_of(air, 1.5, 1.5)) < 0.8 * width(posterior_of(air, None, None))


def test_nought_lowers_the_predicted_height(air: RoomAir) -> None:
    seen = [Inspection(START + timedelta(days=150), 0, wave_mm=0.0)]
    found = learn([WORK], {WORK.work_id: seen}, air, N)[WORK.work_id]
    assert found.wave_before_mm is not None
    assert found.wave_after_mm is not None
    assert found.wave_after_mm.high < found.wave_before_mm.high


@pytest.mark.parametrize(
    "mistake",
    [
        Inspection(START + timedelta(days=180), 2, wave_mm=9.0),
        Inspection(START + timedelta(days=180), None, wave_mm=0.0),
        Inspection(START + timedelta(days=180), 3),
        Inspection(START + timedelta(days=180), 4, released=True),
    ],
)
def test_what_was_withdrawn_is_as_if_it_had_never_been_to_the_bit(
    air: RoomAir, mistake: Inspection
) -> None:
    right = [Inspection(START + timedelta(days=160), 1, wave_mm=1.0)]

    def found(*more: Inspection) -> Learned:
        return learn([WORK], {WORK.work_id: [*right, *more]}, air, N)[WORK.work_id]

    clean, wrong, withdrawn = found(), found(mistake), found(replace(mistake, withdrawn=True))
    assert not _same(clean, wrong)
    assert _same(clean, withdrawn)


def _same(a: Learned, b: Learned) -> bool:
    return np.array_equal(a.weights, b.weights) and all(
        np.array_equal(a.draws[name], b.draws[name], equal_nan=True) for name in UNITS
    )
