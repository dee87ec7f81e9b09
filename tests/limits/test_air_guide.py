"""What the guide to the air says is what the program does."""

import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from analysis.air import swings
from analysis.harm.ageing import ageing
from analysis.harm.condensation import BACK_OF_FRAME, BARE_WALL, surface_factor
from analysis.harm.mould import HEALTH_CAUTION
from analysis.instruments.dew_point_uncertainty import dew_point_uncertainty_k
from analysis.limits.published_limits import published_limits
from analysis.parameters import parameter
from analysis.references import references
from analysis.series import readings_frame
from analysis.works import Wall

GUIDE = Path(__file__).resolve().parents[2] / "dashboards" / "guides" / "air.md"
TEXT = " ".join(GUIDE.read_text(encoding="utf-8").split())


def rule(group: str, name: str) -> float:
    return parameter("record_rules", group, name).value


def test_every_definition_of_24_hours_is_explained_with_its_figure() -> None:
    hours = pd.date_range("2030-01-01", periods=30 * 24 * 4, freq="15min", tz="UTC")
    sine = pd.Series(4.0 * np.sin(2 * np.pi * np.arange(len(hours)) / 96), index=hours)
    found = {
        "range24": swings.range24(sine),
        "lag24": swings.lag24(sine),
        "dev24": swings.dev24(sine),
        "dayspan": swings.dayspan(sine, "UTC"),
        "rate1h": swings.rate1h(sine),
    }
    for name, series in found.items():
        row = re.search(rf"\| {name} \| ([^|]+) \| (?:about )?(\d+) \|", TEXT)
        assert row is not None, name
        assert row[1].startswith(swings.DEFINITIONS[name]), name
        assert float(series.max()) == pytest.approx(float(row[2]), abs=0.06), name


@pytest.mark.parametrize(
    ("words", "value"),
    [
        ("| a verdict | 75 % |", rule("coverage", "verdict")),
        ("| the reference year of EN 15757 | 90 % |", rule("coverage", "year")),
        ("| a 30-day window | 75 % |", rule("coverage", "window")),
        ("| a 24-hour window | 75 % |", rule("coverage", "day")),
        ("silence longer than 3 hours", rule("gap", "shortest")),
        ("It needs 395 days", rule("historic", "record")),
        ("from the 7th to", rule("historic", "lower_percentile")),
        ("to the 93rd percentile", rule("historic", "upper_percentile")),
        ("at least 10 %RH either side", rule("historic", "floor_halfwidth")),
        ("±3 %RH and", rule("sensor", "rh_pct")),
        ("±0.5 K are used", rule("sensor", "temp_c")),
        ("90 % for a site's own band", rule("bands", "required_share")),
    ],
)
def test_numbers_of_the_guide_are_those_of_the_tables(words: str, value: float) -> None:
    assert words in TEXT
    assert f"{value:g}" in words


def test_shares_asked_for() -> None:
    shares = {limit.group: limit.required_share_pct for limit in published_limits().values()}
    assert shares["climate class"] == 95.0
    assert shares["loan protocol"] == shares["storage standard"] == 100.0
    assert "100 % for protocols and storage standards, 95 % for the climate classes" in TEXT


def test_ageing_of_two_half_years() -> None:
    hours = pd.date_range("2030-01-01", periods=2000, freq="h", tz="UTC")
    air = readings_frame(hours, temp_c=np.repeat([15.0, 25.0], 1000), rh_pct=50.0)
    assert f"ages paper {ageing(air).rate.mid:.2f} times as fast" in TEXT


def test_surface_factors_and_dew_point() -> None:
    masonry = surface_factor(Wall.OUTSIDE_MASONRY, BARE_WALL).value
    insulated = surface_factor(Wall.OUTSIDE_INSULATED, BARE_WALL).value
    framed = surface_factor(Wall.OUTSIDE_MASONRY, BACK_OF_FRAME).value
    assert f"masonry is near {masonry:g}, an insulated wall near {insulated:g}" in TEXT
    assert f"reckoned at {framed:.2f}" in TEXT
    assert float(dew_point_uncertainty_k(20.0, 50.0, 0.5, 3.0)) == pytest.approx(1.0, abs=0.05)


def test_the_health_caution_is_there_in_full() -> None:
    people_first = HEALTH_CAUTION.removeprefix("Mould: protect people first. ")
    for sentence in people_first.split(". "):
        assert sentence.rstrip(".").split(":")[0][:24] in TEXT


def test_every_key_the_guide_cites_exists() -> None:
    cited = set(re.findall(r"\b[A-Za-z]+(?:EtAl)?\d{4}(?:-\d+)?\b", TEXT))
    assert len(cited) > 10
    assert cited <= set(references())
