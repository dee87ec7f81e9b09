"""What can be read of a room's year is what its pictures are drawn from."""

import numpy as np
import pandas as pd
import pytest

from analysis.air.moist_air import humidity_ratio_kg_kg
from analysis.air.psychrometric_picture import carpet, psychrometric_picture
from analysis.series import readings_frame
from dashboards.charts.air_values import carpet_lines, picture_lines
from dashboards.charts.carpet import carpet_chart
from dashboards.charts.psychrometric import drawn_across, psychrometric_chart
from dashboards.charts.readout import Line, boxes
from dashboards.text import wording
from dashboards.text.messages import in_the_way_of

DAYS = 40
HOURS = pd.date_range("2030-01-01", periods=24 * DAYS, freq="h", tz="UTC")
RNG = np.random.default_rng(5)
AIR = readings_frame(
    HOURS,
    temp_c=20 + 2 * np.sin(np.arange(HOURS.size) / 9) + RNG.normal(0, 0.2, HOURS.size),
    rh_pct=50 + 8 * np.sin(np.arange(HOURS.size) / 31) + RNG.normal(0, 0.5, HOURS.size),
)
AIR.loc[HOURS[100:130], ["temp_c", "rh_pct"]] = np.nan


def said(line: Line, at: int) -> str:
    words, places = line.say
    told = {name: found[at_] for name, (found, numbers) in line.words.items()
            for at_ in [numbers[at]]}  # fmt: skip
    return words[places[at] if places else 0].format(**told)


def test_each_hour_of_the_carpet_says_its_mean_or_that_nothing_was_measured() -> None:
    drawn = carpet(AIR, "UTC")
    lines, means = carpet_lines(drawn), np.asarray(drawn.values)
    assert len(lines) == 24
    for hour in (0, 5, 23):
        for day in (0, 4, 17, DAYS - 1):
            value = means[hour, day]
            told = said(lines[f"hour-{hour}"], day)
            expected = "not measured." if np.isnan(value) else f": {wording.rh(round(value))} on "
            assert expected in told
            assert f"{hour:02}:00" in told
    assert "5 January 2030, 05:00: not measured." in said(lines["hour-5"], 4)


def test_a_row_is_read_where_it_is_drawn_and_each_line_has_one() -> None:
    drawn = carpet(AIR, "UTC")
    found = boxes(carpet_chart(drawn))
    assert set(found) == set(carpet_lines(drawn))
    tops = [found[f"hour-{hour}"][1] for hour in range(24)]
    assert tops == sorted(tops, reverse=True)
    heights = {round(box[3], 3) for box in found.values()}
    assert len(heights) == 1


def test_fields_of_warmth_and_water_add_up_to_all_the_time_and_agree_with_the_humidity() -> None:
    drawn = psychrometric_picture(AIR)
    lines = picture_lines(drawn, drawn_across(drawn))
    assert set(lines) <= set(boxes(psychrometric_chart(drawn)))
    seen = sum(len(line.places_h) for line in lines.values())
    assert seen == np.count_nonzero(drawn.hours)
    row = int(np.argmax(drawn.hours.sum(axis=1)))
    column = int(np.argmax(drawn.hours[row]))
    at = int(np.searchsorted(np.flatnonzero(drawn.hours[row] > 0), column))
    told = said(lines[f"water-{row}"], at)
    assert wording.share(drawn.hours[row, column] / drawn.hours.sum()) in told
    middle_c = drawn.temp_edges_c[column : column + 2].mean()
    rh = float(told.rsplit("about ", 1)[1].split(" ")[0])
    ratio = humidity_ratio_kg_kg(middle_c, rh, pressure_pa=drawn.pressure_pa)
    assert ratio == pytest.approx(drawn.ratio_edges_kg_kg[row : row + 2].mean(), rel=0.012)


def test_in_german_too() -> None:
    with in_the_way_of("de_DE"):
        assert "im Mittel der Stunde" in said(carpet_lines(carpet(AIR, "UTC"))["hour-3"], 20)


def test_nothing_measured_can_not_be_read() -> None:
    none = readings_frame(HOURS[:0])
    assert carpet_lines(carpet(none, "UTC")) == {}
