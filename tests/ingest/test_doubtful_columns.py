"""Headings not quite right, and columns that are not what they say. Layouts invented here."""

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt
import pytest
from fixtures.air_series import (
    ROOM,
    STORE,
    Floats,
    Series,
    answered,
    asked,
    only,
    read,
    require_same,
    stamp,
    table,
)

from analysis.air.moist_air import dew_point_c, vapour_pressure_pa
from service.ingest.read import FileReading

T, RH = ROOM.temp_c, ROOM.rh_pct
COLD = Series(ROOM.times, T - 12, RH)


def written(headings: Sequence[str], *columns: npt.ArrayLike) -> bytes:
    rows = zip(ROOM.times, *map(np.asarray, columns), strict=True)
    lines = [";".join([stamp(time), *(f"{value:g}" for value in row)]) for time, *row in rows]
    return table(";".join(["time", *headings]), lines)


RECOGNISED = [
    ("Tmp.", "rF"), ("Temperatura", "Umidità"), ("Temp", "vochtigheid"), ("T", "HR"),
    ("S2T", "S2RH"), ("T1T1", "T1RH1"), ("Teplota", "Vlhkost"), ("Температура", "Влажность"),
    ("温度", "湿度"), ("temperatura powietrza", "wilgotność"), ("Hőmérséklet", "Páratartalom"),
    ("Θερμοκρασία", "Υγρασία"), ("TempÃ©rature", "HumiditÃ© (%)"), ("Temp (Â°C)", "RH"),
]  # fmt: skip


@pytest.mark.parametrize(("temp", "rh"), RECOGNISED)
def test_a_heading_of_another_language_or_joined_is_read_or_asked_about(temp: str, rh: str) -> None:
    data = written([temp, rh], T, RH)
    if "Ã©r" in temp:
        require_same(answered(data, asked(data).answers[0]), {"": ROOM})
    else:
        found = read(data)
        require_same(found, {next(iter(found.sensors)): ROOM})


@pytest.mark.parametrize(
    ("temp", "rh"),
    [("Tempertaure", "Humidity"), ("Temp", "Hmuidity"), ("Temprature", "Hmidity"), ("Tfmp", "RH"),
     ("Tempe", "Rel. Hu"), ("Temp", "RX"), ("T", "qH"), ("Td", "RH"), ("U", "RH"), ("X", "RH"),
     ("Temp", "X"), ("Channel 1", "Channel 2"), ("Wert 1", "Wert 2"), ("thermo", "hygro")],
)  # fmt: skip
def test_a_near_or_missing_name_is_asked_about_and_one_answer_reads_it(temp: str, rh: str) -> None:
    data = written([temp, rh], T, RH)
    require_same(_led(data, {}), {"": ROOM})


def _led(data: bytes, columns: Mapping[str, str], most: int = 3) -> FileReading:
    """Read a file, taking the first answer to each question."""
    question = asked(data, columns)
    columns = {**columns, **question.answers[0].columns}
    try:
        return read(data, columns)
    except type(question):
        assert most
        return _led(data, columns, most - 1)


def test_a_near_miss_beside_another_temperature_is_not_left_aside_in_silence() -> None:
    data = written(["Temp", "RH", "Tempreature floor"], T, RH, STORE.temp_c)
    question = asked(data)
    assert "'Tempreature floor'" in question.where
    require_same(answered(data, question.answers[1]), {"": ROOM})


@pytest.mark.parametrize("rh", ["vlhksot %", "Wiglotność %", "Moistness in %"])
def test_numbers_for_missing_values_do_not_hide_a_humidity_with_a_strange_name(rh: str) -> None:
    gaps = np.where(np.arange(len(RH)) % 9 == 4, -9999, RH)
    data = written(["A Temp", f"A {rh}", "B Temp", "B RH"], T, gaps, T, RH)
    question = asked(data)
    assert "-9999" not in question.found
    found = answered(data, question.answers[0])
    np.testing.assert_allclose(found.sensors["A"]["rh_pct"].dropna(), RH[gaps == RH], atol=0.03)


def test_a_near_miss_is_mended_for_its_own_sensor() -> None:
    names = ["Hall Temp", "Hall RH", "Store Tmeperature", "Store RH"]
    data = written(names, T, RH, STORE.temp_c, STORE.rh_pct)
    require_same(answered(data, asked(data).answers[0]), {"Hall": ROOM, "Store": STORE})


def test_numbers_at_random_without_a_word_are_no_humidity() -> None:
    noise = np.random.default_rng(1).integers(0, 100, len(T)).astype(float)
    for names in (["Temp", "%"], ["Temp", "% RH"], ["Temp", "u"]):
        question = asked(written(names, T, noise))
        assert "jump about as no air does" in question.found
        aside = question.answers[1]
        require_same(answered(written(names, T, noise), aside), {"": only("temp_c")})


@pytest.mark.parametrize("other", ["CO2 (ppm)", "Light (lx)", "Battery (V)", "Counter"])
def test_what_is_known_to_be_something_else_is_left_aside_without_a_question(other: str) -> None:
    found = read(written(["Temp", "RH", other], T, RH, np.linspace(20, 40, len(T))))
    require_same(found, {"": ROOM})
    assert other in found.understanding.left_aside


def test_a_humidity_that_is_the_temperature_over_again() -> None:
    data = written(["Temp", "RH"], T, T)
    question = asked(data)
    assert "the same numbers as 'Temp' in every row" in question.found
    aside = next(a for a in question.answers if a.columns == {"aside": "RH"})
    require_same(answered(data, aside), {"": only("temp_c")})


def test_temperature_and_humidity_exchanged() -> None:
    for extra in ([], [dew_point_c(T, RH)]):
        data = written(["Temp", "RH", *["Dew point"] * len(extra)], RH, T, *extra)
        question = asked(data)
        assert "exchanged" in question.found
        require_same(answered(data, question.answers[0]), {"": ROOM})


def test_a_dew_point_that_the_other_two_do_not_have() -> None:
    data = written(["Temp (°C)", "RH", "Dew point (°C)"], T, RH, dew_point_c(T, RH) + 6)
    question = asked(data)
    assert "make about" in question.found
    require_same(answered(data, question.answers[-1]), {"": ROOM})
    agreeing = written(["Temp (°C)", "RH", "Dew point (°C)"], T, RH, dew_point_c(T, RH))
    require_same(read(agreeing), {"": ROOM})


def test_degrees_of_another_unit_show_in_the_dew_point() -> None:
    data = written(["Temp (°C)", "RH", "Dew point (°C)"], T, RH, dew_point_c(T, RH) * 1.8 + 32)
    question = asked(data)
    assert question.answers[0].words == "the dew point is in °F"
    found = answered(data, question.answers[0])
    np.testing.assert_allclose(found.extras[""]["dew_point_c"], dew_point_c(T, RH), atol=0.01)


@pytest.mark.parametrize("unit", ["kPa", "hPa"])
def test_vapour_pressure_called_absolute_humidity(unit: str) -> None:
    written_as = vapour_pressure_pa(T, RH) / {"kPa": 1000.0, "hPa": 100.0}[unit]
    data = written(["Temp", "RH", "Absolute humidity"], T, RH, written_as)
    question = asked(data)
    assert question.answers[0].words == f"it is the vapour pressure in {unit}"
    found = answered(data, question.answers[0])
    pressure = found.extras[""]["vapour_pressure_pa"]
    np.testing.assert_allclose(pressure, vapour_pressure_pa(T, RH), rtol=1e-3)


# Heading of the temperature, its values, and the degrees that are right.
DEGREES = [
    ("Temp", COLD.temp_c * 1.8 + 32, "[°F]"),
    ("Temp (°C)", COLD.temp_c * 1.8 + 42, "[°F]"),
    ("Temp (°F)", T, "[°C]"),
    ("Temp (°C)", T * 1.8 + 32, "[°F]"),
]


@pytest.mark.parametrize(("heading", "values", "unit"), DEGREES)
def test_degrees_in_doubt_are_asked_about(heading: str, values: Floats, unit: str) -> None:
    data = written([heading, "RH"], values, RH)
    question = asked(data)
    assert question.answers[0].columns == {"unit": f"{heading} {unit}"}
    found = answered(data, question.answers[0]).sensors[""]
    expected = values if unit == "[°C]" else (values - 32) / 1.8
    np.testing.assert_allclose(found["temp_c"], expected, atol=1e-3)


def test_degrees_said_of_one_sensor_are_those_of_the_file() -> None:
    names = ["A Temp", "A RH", "B Temp", "B RH"]
    data = written(names, COLD.temp_c * 1.8 + 32, RH, COLD.temp_c * 1.8 + 33.8, RH)
    found = answered(data, asked(data).answers[0])
    np.testing.assert_allclose(found.sensors["A"]["temp_c"], COLD.temp_c, atol=1e-3)
    np.testing.assert_allclose(found.sensors["B"]["temp_c"], COLD.temp_c + 1, atol=1e-3)


# Headings after the room's name, what is written of temperature and humidity, the right answer.
ALIKE = {
    "fahrenheit under °C": ("Temp (°C)", "RH", T * 1.8 + 32, RH, "all in °F"),
    "celsius under °F": ("Temp (°F)", "RH", T, RH, "all in °C"),
    "a fraction under %": ("Temp", "RH (%)", T, RH / 100, "all in fraction"),
}


@pytest.mark.parametrize("name", ALIKE)
def test_a_unit_in_doubt_in_several_columns_is_asked_once(name: str) -> None:
    temp, rh, temp_written, rh_written, right = ALIKE[name]
    rooms = ["Attic", "Court", "Hall"]
    names = [f"{room} {of}" for room in rooms for of in (temp, rh)]
    data = written(names, *[temp_written, rh_written] * 3)
    question = asked(data)
    assert question.where == "3 columns"
    assert all(room in question.found for room in rooms)
    found = answered(data, next(a for a in question.answers if a.words == right))
    assert len(found.sensors) == 3
    for frame in found.sensors.values():
        np.testing.assert_allclose(frame["temp_c"], T, atol=0.03)
        np.testing.assert_allclose(frame["rh_pct"], RH, atol=0.03)


def test_columns_with_other_doubts_are_asked_about_apart() -> None:
    names = ["Attic Temp (°C)", "Attic RH", "Court Temp (°F)", "Court RH"]
    data = written(names, T * 1.8 + 32, RH, T, RH)
    first = asked(data)
    second = asked(data, first.answers[0].columns)
    found = read(data, second.answers[0].columns)
    for label in ("Attic", "Court"):
        np.testing.assert_allclose(found.sensors[label]["temp_c"], T, atol=0.03)


def test_an_answer_does_not_undo_the_one_before() -> None:
    names = ["Temp", "RH", "Tempreature floor", "Temp wall (°C)"]
    data = written(names, T, RH, STORE.temp_c, T * 1.8 + 32)
    first = asked(data).answers[1].columns
    second = asked(data, first).answers[0].columns
    assert first == {"aside": "Tempreature floor"}
    assert second == {"unit": "Temp wall (°C) [°F]"}
    assert "Tempreature" not in asked(data, first).where
    found = read(data, {**first, **second}).understanding
    assert [channel.column for channel in found.channels] == ["Temp", "RH"]


# The answer chosen of two columns near to readings, and the columns that are then read.
NEAR = {
    "each is what it is near to": (0, ["Temp", "Hmuidity"]),
    "none is": (1, ["Temp"]),
    "the first alone": (2, ["Temp", "Hmuidity"]),
    "the second alone": (3, ["Temp", "Tempreature floor"]),
}


@pytest.mark.parametrize("name", NEAR)
def test_several_near_misses_are_one_question(name: str) -> None:
    chosen, wanted = NEAR[name]
    data = written(["Temp", "Hmuidity", "Tempreature floor"], T, RH, STORE.temp_c)
    question = asked(data)
    assert question.where == "2 columns"
    assert len(question.answers) == 4
    found = answered(data, question.answers[chosen])
    assert [channel.column for channel in found.understanding.channels] == wanted
    np.testing.assert_allclose(found.sensors[""]["temp_c"], T, atol=0.03)


MISSPELT = {
    "one column of each room": ["Hall Temp", "Hall Hmuidity", "Store Tmeperature", "Store RH"],
    "both of one room": ["Hall Tempreature", "Hall Hmuidity", "Store Temp", "Store RH"],
    "the words first": ["Tempreature Hall", "Hmuidity Hall", "Temp Store", "RH Store"],
}


@pytest.mark.parametrize("name", MISSPELT)
def test_near_misses_of_several_rooms_are_settled_by_one_answer(name: str) -> None:
    data = written(MISSPELT[name], T, RH, STORE.temp_c, STORE.rh_pct)
    question = asked(data)
    assert question.where == "2 columns"
    require_same(answered(data, question.answers[0]), {"Hall": ROOM, "Store": STORE})


def test_one_near_miss_stays_with_the_humidity_of_its_room() -> None:
    names = ["Attic Temperatura °C", "Attic Wilgotno?? wzgl %", "Long Gallery Tempreatura °C",
             "Long Gallery Wilgotno?? wzgl %"]  # fmt: skip
    data = written(names, T, RH, STORE.temp_c, STORE.rh_pct)
    found = answered(data, asked(data).answers[0])
    require_same(found, {"Attic": ROOM, "Long Gallery": STORE})


# What is written under °C, and the words of the answers.
NO_DEGREES = {
    "kelvin": (T + 273.15, ["in K"]),
    "far too hot": (T + 900, []),
}


@pytest.mark.parametrize("name", NO_DEGREES)
def test_values_that_no_air_has_in_either_degrees_may_be_something_else(name: str) -> None:
    values, fits = NO_DEGREES[name]
    data = written(["Temp (°C)", "RH"], values, RH)
    question = asked(data)
    words = [answer.words for answer in question.answers]
    assert words == [*fits, "it is no temperature of the air", "in °C all the same, kept in doubt"]
    aside = answered(data, question.answers[-2]).sensors[""]
    assert aside["temp_c"].isna().all()
    np.testing.assert_allclose(aside["rh_pct"], RH, atol=0.03)
    if fits:
        np.testing.assert_allclose(
            answered(data, question.answers[0]).sensors[""]["temp_c"], T, atol=0.03
        )


def test_a_fraction_under_per_cent_and_mm_of_mercury_without_a_word() -> None:
    data = written(["Temp", "RH (%)"], T, RH / 100)
    require_same(answered(data, asked(data).answers[0]), {"": ROOM})
    data = written(["Temp", "RH", "Pressure"], T, RH, 755 + np.arange(len(T)) % 5)
    question = asked(data)
    assert "mercury" in question.expected
    found = answered(data, question.answers[0])
    assert found.extras[""]["pressure_pa"].iloc[0] == pytest.approx(755 * 133.322)


def test_units_behind_the_numbers_are_heeded() -> None:
    rows = COLD.lines(lambda a, t, rh: f"{stamp(a)};{t * 1.8 + 32:.2f} °F;{rh} %")
    require_same(read(table("time;Temp;RH", rows)), {"": COLD})
    rows = ROOM.lines(lambda a, t, rh: f"{stamp(a)};{t} Grad;{rh}")
    require_same(read(table("time;Temp;RH", rows)), {"": ROOM})


def test_a_named_column_whose_values_cannot_be_it_is_asked_about() -> None:
    question = asked(written(["Temp", "RH"], T, RH + 700.5))
    assert "'RH' is named like relative humidity" in question.found
    question = asked(written(["Temp (K)", "RH"], T, RH))
    assert "Temp (K)" in question.where


@pytest.mark.parametrize("whole", [False, True])
def test_a_humidity_under_a_letter_that_also_stands_for_hours_is_asked_about(whole: bool) -> None:
    rh = np.round(RH) if whole else RH
    data = written(["t", "h"], T, rh)
    first, none = asked(data).answers
    assert (first.columns, none.columns) == ({"rh_pct": "h"}, {"aside": "h"})
    require_same(answered(data, first), {"": Series(ROOM.times, T, rh)})
    assert answered(data, none).sensors[""]["rh_pct"].isna().all()


def test_hours_beside_whole_times_are_no_humidity() -> None:
    hours = np.asarray(ROOM.times.hour)
    found = read(written(["t", "h"], T, hours))
    assert "h" in found.understanding.left_aside


def test_a_unit_that_changes_in_mid_file_is_asked_about() -> None:
    mixed = np.where(np.arange(len(T)) < 50, T, np.round(T * 1.8 + 32, 1))
    question = asked(written(["T", "RH"], mixed, RH))
    assert "up to 2024-03-15 01:00 UTC" in question.found
    assert "the file is cut there in a copy" in question.expected
    sure, aside = question.answers
    assert len(answered(written(["T", "RH"], mixed, RH), sure).sensors[""]) == len(T)
    assert answered(written(["T", "RH"], mixed, RH), aside).sensors[""]["temp_c"].isna().all()


@pytest.mark.parametrize("first", [3, 8, 110, 117])
def test_a_unit_that_changes_near_an_end_of_the_file_is_asked_about(first: int) -> None:
    mixed = np.where(np.arange(len(T)) < first, T, np.round(T * 1.8 + 32, 1))
    assert "from the next reading on" in asked(written(["T", "RH"], mixed, RH)).found


def test_columns_that_change_places_in_mid_file_are_asked_about() -> None:
    later = np.arange(len(T)) >= 70
    data = written(["T", "RH"], np.where(later, RH, T), np.where(later, T, RH))
    assert "2024-03-15 21:00" in asked(data).found


def test_cold_air_that_streams_in_or_a_logger_without_its_sensor_are_no_other_level() -> None:
    some = np.isin(np.arange(len(T)), range(30, 36))
    require = Series(ROOM.times, np.where(some, T - 18, T), RH)
    require_same(read(written(["T", "RH"], require.temp_c, RH)), {"": require})
    failed = np.isin(np.arange(len(T)), range(30, 70))
    found = read(written(["T", "RH"], np.where(failed, 0, T), np.where(failed, 0, RH)))
    assert len(found.sensors[""]) == len(T)


def test_a_battery_under_a_per_cent_sign_is_not_taken_before_a_column_that_moves_as_humidity() -> (
    None
):
    battery = np.linspace(98, 92, len(T)).round()
    data = written(["%", "T", "x"], battery, T, RH)
    wrong, right = asked(data).answers
    assert right.columns == {"rh_pct": "x", "aside": "%"}
    require_same(answered(data, right), {"": ROOM})
    assert answered(data, wrong).sensors[""]["rh_pct"].iloc[0] == 98


def test_raw_and_calibrated_values_stand_side_by_side_for_a_person_to_choose() -> None:
    data = written(["T raw", "RH raw", "T calibrated", "RH calibrated"], T + 1, RH + 2, T, RH)
    raw = Series(ROOM.times, T + 1, RH + 2)
    require_same(read(data), {"raw": raw, "calibrated": ROOM})


def test_kelvin_without_headings_are_offered_as_such() -> None:
    data = table("", ROOM.lines(lambda a, t, rh: f"{stamp(a)};{t + 273.15:.2f};{rh}"))
    question = asked(data)
    assert question.answers[0].columns == {"temp_c": "column 2 [K]", "rh_pct": "column 3"}
    require_same(answered(data, question.answers[0]), {"": ROOM})


def test_a_misspelt_heading_with_a_number_stays_with_the_humidity_of_its_number() -> None:
    data = table(
        "time;Temp1, K;rF1, %;Tepm2, K;rF2, %",
        [
            f"{stamp(a)};{t + 273.15:.2f};{rh};{t + 270.15:.2f};{rh + 9:.1f}"
            for a, t, rh in zip(ROOM.times, ROOM.temp_c, ROOM.rh_pct, strict=True)
        ],
    )
    found = answered(data, asked(data).answers[0])
    colder = Series(ROOM.times, ROOM.temp_c - 3, ROOM.rh_pct + 9)
    require_same(found, {"1": ROOM, "2": colder})
