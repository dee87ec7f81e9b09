"""The arrays behind the psychrometric picture and the carpet."""

import numpy as np
import pandas as pd
import pytest

from analysis.air.moist_air import humidity_ratio_kg_kg
from analysis.air.psychrometric_picture import Carpet, carpet, psychrometric_picture
from analysis.events.event_finding import find_events
from analysis.results import Band
from analysis.series import Flag, readings_frame


def record(hours: int, start: str = "2030-01-01", step: str = "1h") -> pd.DataFrame:
    index = pd.date_range(start, periods=hours, freq=step, tz="UTC")
    wave = np.sin(2 * np.pi * np.arange(hours) / 24)
    return readings_frame(index, temp_c=20 + wave, rh_pct=50 + 4 * wave)


def grid(laid: Carpet) -> np.ndarray:
    return laid.values  # noqa: PD011, a field of the carpet and not of pandas


def test_every_hour_is_in_the_picture() -> None:
    picture = psychrometric_picture(record(240), band=Band("agreed", 45, 55))
    assert picture.hours.sum() == pytest.approx(240.0)
    shape = (len(picture.ratio_edges_kg_kg) - 1, len(picture.temp_edges_c) - 1)
    assert picture.hours.shape == shape
    assert picture.pressure_pa == 101_325.0


def test_unfit_readings_are_not() -> None:
    frame = record(240)
    frame.iloc[:48, 2] = int(Flag.STUCK)
    assert psychrometric_picture(frame).hours.sum() == pytest.approx(192.0)


def test_lines_and_outline_lie_on_equal_humidity() -> None:
    band = Band("agreed", 45, 55, low_temp_c=18.0, high_temp_c=22.0)
    picture = psychrometric_picture(record(48), band=band, altitude_m=500.0)
    temp, ratio = picture.rh_lines[50.0]
    assert ratio == pytest.approx(humidity_ratio_kg_kg(temp, 50.0, altitude_m=500.0))
    assert picture.band_outline is not None
    edge_temp, edge_ratio = picture.band_outline
    assert (edge_temp.min(), edge_temp.max()) == (18.0, 22.0)
    assert (edge_temp[0], edge_ratio[0]) == (edge_temp[-1], edge_ratio[-1])


def test_an_event_leaves_its_trail() -> None:
    frame = record(96)
    wet = np.interp(np.arange(96), [40, 41, 43, 44], [0, 20, 20, 0])
    frame = frame.assign(rh_pct=frame["rh_pct"] + wet)
    events = [e for e in find_events(frame) if e.kind == "spike"]
    (trail,) = psychrometric_picture(frame, events=events).trails
    assert trail.event is events[0]
    assert len(trail.temp_c) == len(trail.humidity_ratio_kg_kg) >= 4
    assert trail.humidity_ratio_kg_kg.max() > 1.2 * trail.humidity_ratio_kg_kg[0]


def test_a_wide_record_is_drawn_in_coarser_cells() -> None:
    index = pd.date_range("2030-01-01", periods=500, freq="h", tz="UTC")
    frame = readings_frame(index, temp_c=np.linspace(-30, 45, 500), rh_pct=np.full(500, 60.0))
    picture = psychrometric_picture(frame)
    assert picture.hours.shape[1] <= 60
    assert picture.hours.sum() == pytest.approx(500.0)


def test_a_picture_of_nothing_is_empty() -> None:
    empty = record(48).assign(rh_pct=np.nan)
    assert psychrometric_picture(empty).hours.sum() == 0.0
    assert grid(carpet(empty, "UTC")).shape == (24, 0)


def test_the_carpet_of_a_year_with_its_clock_changes() -> None:
    frame = record(365 * 24, start="2029-12-31 23:00")
    laid = carpet(frame, "Europe/Amsterdam")
    assert grid(laid).shape == (24, 365)
    # 31 March 2030 has no hour 2; 27 October 2030 has it twice, and shows their mean.
    missing = np.argwhere(np.isnan(grid(laid))).tolist()
    assert missing == [[2, (pd.Timestamp("2030-03-31") - pd.Timestamp("2030-01-01")).days]]
    doubled = (pd.Timestamp("2030-10-27") - pd.Timestamp("2030-01-01")).days
    both = frame["rh_pct"][["2030-10-27 00:00+00:00", "2030-10-27 01:00+00:00"]]
    assert grid(laid)[2, doubled] == pytest.approx(both.mean())


def test_a_silent_day_stays_empty() -> None:
    frame = record(24 * 5)
    laid = carpet(frame.drop(frame.index[24:48]), "UTC")
    assert np.isnan(grid(laid)[:, 1]).all()
    assert np.isfinite(grid(laid)[:, [0, 2, 3, 4]]).all()
