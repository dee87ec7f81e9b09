"""Hours above the humidities at which gelatin softens or sticks."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from analysis.harm.gelatin import (
    CONTACT_CAUTION,
    bounded_spare,
    glazing_contact_hours,
    image_layer_bounds,
    softening_hours,
)
from analysis.parameters import Status
from analysis.references import status_words
from analysis.series import readings_frame
from dashboards.text.air_report import gelatin_lines


def room(rh_pct: list[float]) -> pd.DataFrame:
    hours = pd.date_range("2030-01-01", periods=len(rh_pct), freq="h", tz="UTC")
    return readings_frame(hours, temp_c=20.0, rh_pct=rh_pct)


def test_sticky_from_60_percent_is_said_in_passing_and_every_threshold_is_assumed() -> None:
    """RAMP1988, section 3.1.5: turns sticky on long exposure from as low as 60 %RH."""
    rows = {
        row.name: row
        for row in [*softening_hours(room([50.0])), *glazing_contact_hours(room([50.0]))]
    }
    assert rows["sticky"].threshold.value == 60.0
    assert {row.threshold.status for row in rows.values()} == {Status.ASSUMED}


def test_a_threshold_says_how_far_its_source_was_seen() -> None:
    soft, contact = softening_hours(room([65.0])), glazing_contact_hours(room([65.0]))
    assert all("(assumed;" in line for line in gelatin_lines(soft, contact)[:-1])
    read = replace(soft[0].threshold, status=Status.PUBLISHED, source="GUPTA2003")
    (line, _) = gelatin_lines([replace(soft[0], threshold=read)], [])
    assert f"({status_words(read)};" in line
    assert "(published, " in line


def test_hours_with_their_range() -> None:
    sticky, soft = softening_hours(room([55.0, 62.0, 64.0, 66.0, 71.0, 76.0]))
    assert (sticky.hours.low, sticky.hours.mid, sticky.hours.high) == (3.0, 5.0, 5.0)
    assert (soft.hours.low, soft.hours.mid, soft.hours.high) == (1.0, 2.0, 3.0)


def test_longest_run_ends_at_a_gap() -> None:
    times = pd.DatetimeIndex(
        [
            *pd.date_range("2030-01-01", periods=5, freq="h"),
            *pd.date_range("2030-01-03", periods=3, freq="h"),
        ]
    ).tz_localize("UTC")
    sticky, _ = softening_hours(readings_frame(times, rh_pct=np.full(8, 65.0)))
    assert sticky.longest_run_h == pytest.approx(5.0)
    assert sticky.hours.mid == pytest.approx(8.0)


def test_the_contact_caution_forbids_handling() -> None:
    assert "do not touch, tap, tilt or unframe" in CONTACT_CAUTION
    assert "conservator" in CONTACT_CAUTION


def test_the_image_layer_bounds_what_hinges_alone_would_allow() -> None:
    """McCormick-Goodhart (1996), recalled: about 30 to 60 %RH, cracking risk below 25 to 30 %."""
    bounds = image_layer_bounds()
    assert (bounds.floor.low, bounds.floor.value) == (25.0, 30.0)
    assert bounds.ceiling.value == 60.0
    # A spare of 48 %RH before the hinges mind is no leave to dry the room out to 2 %RH.
    dry = bounded_spare(50.0, 10.0, 48.0)
    assert (dry.down_pct, dry.down_by_image_layer) == (20.0, True)
    damp = bounded_spare(57.0, 10.0, 5.0)
    assert (damp.up_pct, damp.up_by_image_layer) == (3.0, True)
    assert (damp.down_pct, damp.down_by_image_layer) == (5.0, False)
    beyond = bounded_spare(24.0, 10.0, 12.0)
    assert (beyond.down_pct, beyond.down_by_image_layer) == (0.0, True)


def test_nobody_is_told_to_level_a_frame() -> None:
    assert "Leave it hanging as it is" in CONTACT_CAUTION
    assert "level" not in CONTACT_CAUTION
