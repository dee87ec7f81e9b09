"""Report lines: plain sentences with what, when, by which definition, how sure."""

import re

import numpy as np
import pandas as pd

from analysis.harm.ageing import Reaction, ageing
from analysis.harm.condensation import cold_surface
from analysis.harm.gelatin import glazing_contact_hours, softening_hours
from analysis.harm.mould import HEALTH_CAUTION, mould_dose, mould_history
from analysis.instruments.side_by_side import Agreement, agreement
from analysis.limits.comparison import (
    compare_rooms,
    moisture_against_outdoors,
    same_month_last_year,
    spatial_spread,
)
from analysis.limits.historic_climate import historic_climate
from analysis.limits.published_limits import published_limit, published_limits
from analysis.limits.verdict import judge
from analysis.series import readings_frame
from dashboards.text import air_report as say

HOURS = pd.date_range("2030-01-01", periods=400 * 24, freq="h", tz="UTC")
H = np.arange(len(HOURS))
AIR = readings_frame(
    HOURS,
    temp_c=20.0 + np.sin(H / 40.0),
    rh_pct=52.0 + 12.0 * np.sin(2 * np.pi * H / 8766) + 4.0 * np.sin(2 * np.pi * H / 24),
)
ZONE = "Europe/Berlin"


def every_line() -> list[str]:
    surface = cold_surface(AIR, pd.Series(11.0, index=HOURS))
    other = readings_frame(HOURS, temp_c=19.0, rh_pct=AIR["rh_pct"] + 2.0)
    lines = [
        line
        for limit in published_limits().values()
        for line in say.verdict_lines(judge(limit, AIR, ZONE), ZONE)
    ]
    lines += say.swing_lines(AIR, ZONE) + say.swing_lines(AIR, ZONE, "temp_c")
    lines += say.mould_lines(mould_history(AIR), ZONE, mould_dose(AIR, ZONE))
    lines += say.gelatin_lines(softening_hours(AIR), glazing_contact_hours(AIR))
    lines += [say.ageing_line(ageing(AIR, reaction)) for reaction in Reaction]
    lines += [say.historic_line(historic_climate(AIR)), say.surface_line(surface, ZONE)]
    lines += [say.agreement_line(agreement(AIR, other)), say.rooms_line(compare_rooms(AIR, other))]
    lines += [say.spread_line(spatial_spread({"a": AIR, "b": other}), ZONE)]
    lines += [say.outdoors_line(moisture_against_outdoors(AIR, other))]
    return [*lines, say.month_line(*same_month_last_year(AIR, 2031, 1, ZONE))]


def test_every_line_is_a_sentence_without_forbidden_words() -> None:
    for line in every_line():
        assert line.endswith("."), line
        assert line[0].isupper() or line[0].isdigit(), line
        assert not re.search(r"damage|alarm|critical|compliance|nan|None", line), line
        assert not re.search(r"(?<![\d–])-\d", line), f"a hyphen for a minus: {line}"


def test_a_limit_that_was_not_checked_says_so_in_its_first_line() -> None:
    lines = say.verdict_lines(judge(published_limit("class_b"), AIR, ZONE), ZONE)
    assert lines[0].startswith("Climate class B (2019; not checked against the published text): ")


def test_a_verdict_names_definition_uncertainty_and_record() -> None:
    lines = say.verdict_lines(judge(published_limit("green_protocol_2023"), AIR, ZONE), ZONE)
    basis = lines[-2]
    assert lines[-1].startswith("24 hours read in the cautious way")
    for words in ("range24", "40 to 60 %RH, ends included", "±3 %RH", "400 days", "assumed"):
        assert words in basis


def test_what_cannot_be_judged_is_named() -> None:
    humid = readings_frame(HOURS[:960], rh_pct=50.0)
    lines = say.verdict_lines(judge(published_limit("green_protocol_2023"), humid), "UTC")
    assert lines[0].endswith("(2023): cannot tell.")
    assert "Cannot tell, for too little was measured: temperature, measured at all." in lines


def test_times_are_those_of_the_site() -> None:
    rh = np.where(H == 4000, 80.0, 50.0)
    air = readings_frame(HOURS, temp_c=20.0, rh_pct=rh)
    lines = say.verdict_lines(judge(published_limit("class_d"), air, ZONE), ZONE)
    at = HOURS[4000].tz_convert(ZONE)
    assert f"{at.day} June 2030, {at:%H:%M}" in lines[2]


def test_swings_by_four_definitions() -> None:
    lines = say.swing_lines(AIR, ZONE)
    for line, name in zip(lines, ("range24", "lag24", "dev24", "dayspan"), strict=True):
        assert name in line
    assert "8." in lines[0]
    nothing = say.swing_lines(readings_frame(HOURS[:2]), ZONE)
    assert all(line.endswith(": cannot tell.") for line in nothing)


def test_mould_never_goes_without_its_caution() -> None:
    assert say.mould_lines(mould_history(AIR), ZONE)[-1] == HEALTH_CAUTION


def test_what_was_not_measured_cannot_be_told() -> None:
    nothing = readings_frame(HOURS[:48])
    assert say.ageing_line(ageing(nothing)).endswith("cannot tell.")
    surface = cold_surface(nothing, pd.Series(11.0, index=HOURS[:48]))
    assert say.surface_line(surface, ZONE).endswith("cannot tell.")
    lines = say.month_line(*same_month_last_year(AIR, 2030, 5, ZONE))
    assert "cannot tell, 0 % of May 2029 was measured" in lines


def test_a_lag_that_does_not_show_is_said() -> None:
    unsure = Agreement("temp_c", 50, 0.1, 0.2, -0.3, 0.5, None)
    assert say.agreement_line(unsure).endswith("its lag: cannot tell.")
