"""Which column is which quantity, in which unit, in which language. Samples invented here."""

import numpy as np
import pytest

from analysis.errors import UnknownNameError
from service.errors import NotUnderstoodError, QuestionError
from service.ingest.read import FileReading, read_bytes


def reading(heading: str, rows: list[str], **options: object) -> FileReading:
    lines = [f"2024-01-{13 + i // 24:02d} {i % 24:02d}:00;{row}" for i, row in enumerate(rows)]
    text = "\n".join([f"time;{heading}", *lines]) + "\n"
    return read_bytes("c.csv", text.encode(), zone="UTC", **options)  # type: ignore[arg-type]


def found_columns(found: FileReading) -> dict[str, str]:
    return {channel.quantity: channel.column for channel in found.understanding.channels}


# Headings of temperature and of relative humidity as people of these languages write them;
# from memory.
LANGUAGES = {
    "English": ("Temperature", "Relative Humidity"),
    "English, short": ("Temp.", "Rel. Hum."),
    "English, shorter": ("Tair", "RH"),
    "French": ("Température", "Humidité relative"),
    "French, short": ("Temp. amb.", "HR"),
    "German": ("Lufttemperatur", "rel. Luftfeuchtigkeit"),
    "German, short": ("Temp", "r.F."),
    "German, shortest": ("T", "rF"),
    "German, other": ("Raumtemperatur", "Feuchte"),
    "Spanish": ("Temperatura", "Humedad relativa"),
    "Italian": ("Temperatura aria", "Umidità relativa"),
    "Italian, short": ("T", "UR"),
    "Portuguese": ("Temperatura do ar", "Umidade relativa"),
    "Portuguese, other": ("Temperatura", "Humidade"),
    "Dutch": ("Temperatuur", "Relatieve vochtigheid"),
    "Dutch, short": ("Temp", "RV"),
    "Swedish": ("Lufttemperatur", "Relativ fuktighet"),
    "Norwegian": ("Temperatur", "Luftfuktighet"),
    "Danish": ("Temperatur", "Luftfugtighed"),
    "Finnish": ("Lämpötila", "Suhteellinen kosteus"),
    "units alone": ("°C", "%RH"),
    "joined": ("temp_c", "rh_pct"),
    "camel": ("AirTemperature", "RelativeHumidity"),
    "dry bulb": ("Dry-bulb (C)", "RHum (%)"),
    "outdoors": ("Te", "RHe"),
}


@pytest.mark.parametrize("language", LANGUAGES)
def test_headings_of_many_languages(language: str) -> None:
    temp, humidity = LANGUAGES[language]
    found = reading(f"{humidity};{temp}", ["45,5;21,5", "46;21,4", "46,5;21"])
    assert found_columns(found) == {"temp_c": temp, "rh_pct": humidity}
    assert found.sensors[""]["rh_pct"].tolist() == [45.5, 46.0, 46.5]


# Heading of the temperature, what is written, the unit that is shown, degrees Celsius.
TEMPERATURES = [
    ("Temp (°C)", "21,5", "°C", 21.5),
    ("Temp", "21,5", "°C (not stated)", 21.5),
    ("Temp (°F)", "68", "°F", 20.0),
    ("TempF", "68", "°F", 20.0),
    ("Temperature (°F), probe 4", "50", "°F", 10.0),
    ("Temp", "68", "°F (judged from the values)", 20.0),
    ("Temp (0.1 °C)", "215", "0.1 °C", 21.5),
    ("Temp (tenths of a degree C)", "215", "0.1 °C", 21.5),
    ("Temp", "215", "0.1 °C (judged from the values)", 21.5),
    ("Temp (K)", "293,15", "K", 20.0),
    ("Temp", "293,15", "K (judged from the values)", 20.0),
]


@pytest.mark.parametrize(("heading", "written", "unit", "temp_c"), TEMPERATURES)
def test_units_of_temperature(heading: str, written: str, unit: str, temp_c: float) -> None:
    found = reading(f"{heading};RH", [f"{written};45"] * 4)
    assert found.understanding.channels[0].unit == unit
    assert found.sensors[""]["temp_c"].tolist() == pytest.approx([temp_c] * 4, abs=1e-12)


HUMIDITIES = [
    ("RH (%)", "45,5", "%", 45.5),
    ("RH", "45,5", "% (not stated)", 45.5),
    ("RH (fraction)", "0,455", "fraction", 45.5),
    ("RH", "0,455", "fraction (judged from the values)", 45.5),
    ("RH (0.1 %)", "455", "0.1 %", 45.5),
    ("RH", "455", "0.1 % (judged from the values)", 45.5),
]


@pytest.mark.parametrize(("heading", "written", "unit", "rh_pct"), HUMIDITIES)
def test_units_of_humidity(heading: str, written: str, unit: str, rh_pct: float) -> None:
    found = reading(f"T;{heading}", [f"21;{written}"] * 4)
    assert found.understanding.channels[1].unit == unit
    assert found.sensors[""]["rh_pct"].tolist() == pytest.approx([rh_pct] * 4, abs=1e-12)


def test_a_fraction_under_the_unit_per_cent_is_asked_about() -> None:
    rows = ["21;0,455", "21;0,46", "21;0,47"]
    with pytest.raises(QuestionError, match="under the unit %"):
        reading("T;RH (%)", rows)
    found = reading("T;RH (%)", rows, columns={"rh_pct": "RH (%) [fraction]"})
    assert found.sensors[""]["rh_pct"].tolist() == pytest.approx([45.5, 46.0, 47.0])


def test_whole_numbers_that_may_be_tenths_or_kelvin_are_asked_about() -> None:
    rows = ["290;45", "291;45", "292;45"]
    with pytest.raises(QuestionError, match="tenths of a degree or kelvin"):
        reading("Temp;RH", rows)
    found = reading("Temp;RH", rows, columns={"temp_c": "Temp [K]"})
    assert found.sensors[""]["temp_c"].iloc[0] == pytest.approx(16.85)


def test_rain_under_the_name_rh_is_not_humidity() -> None:
    rain = [f"2{i % 10};{(i % 7 == 0) * 3 - (i % 5 == 0)};5{i % 10}" for i in range(30)]
    found = reading("T;RH;U", rain)
    assert found_columns(found) == {"temp_c": "T", "rh_pct": "U"}
    assert any("'RH'" in note for note in found.understanding.notes)


def test_rain_by_its_unit_or_its_explanation_is_not_humidity() -> None:
    assert "rh_pct" not in found_columns(reading("T;RH (mm)", ["21;5", "21;6", "21;7"]))
    text = (
        "T = air temperature (in 0.1 degrees Celsius)\nRH = hourly precipitation (in 0.1 mm)\n"
        "U = relative humidity (in percents)\n\ntime,T,RH,U\n"
        "2024-01-13 10:00,215,40,45\n2024-01-13 11:00,214,41,46\n"
    )
    found = read_bytes("legend.txt", text.encode(), zone="UTC")
    assert found_columns(found) == {"temp_c": "T", "rh_pct": "U"}
    assert found.sensors[""]["temp_c"].tolist() == [21.5, 21.4]


@pytest.mark.parametrize(
    "other",
    ["Temp max", "Minimum temperature last 12 hours", "Maximumtemperatur", "Temp setpoint",
     "Battery temp", "Temp uncert (code)", "mean temperature previous day", "Soil temperature"],
)  # fmt: skip
def test_what_is_no_reading_of_the_air_is_left_aside(other: str) -> None:
    found = reading(f"{other};Temperature;RH", ["29;21;45", "28;20;46", "27;22;47"])
    assert found_columns(found)["temp_c"] == "Temperature"
    assert other in found.understanding.left_aside


def test_dew_point_is_taken_as_such_and_not_turned_into_humidity() -> None:
    found = reading("Temp (°F);Dew Point", ["68;50", "68;41", "70;40"])
    assert found.sensors[""]["rh_pct"].isna().all()
    assert found.extras[""]["dew_point_c"].tolist()[:2] == pytest.approx([10.0, 5.0])
    assert any("dew point and no relative humidity" in note for note in found.understanding.notes)


def test_both_scales_of_one_temperature() -> None:
    found = reading("Temp (°F);Temp (°C);RH", ["68;20;45", "68;20;45", "68;20;45"])
    assert found_columns(found)["temp_c"] == "Temp (°C)"


def test_several_temperatures_for_one_humidity_are_asked_about() -> None:
    rows = ["21;19;45", "21;19;46", "22;19;46"]
    with pytest.raises(QuestionError, match="'Temp left', 'Temp right'"):
        reading("Temp left;Temp right;RH", rows)
    found = reading("Temp left;Temp right;RH", rows, columns={"temp_c": "Temp right"})
    assert found.sensors[""]["temp_c"].tolist() == [19.0] * 3
    assert found.choice.columns == {"temp_c": "Temp right"}


def test_the_temperature_beside_the_humidity_goes_before_that_of_a_probe() -> None:
    found = reading("Temp;Probe temp;RH", ["21;19;45", "21;19;46", "22;19;46"])
    assert found_columns(found)["temp_c"] == "Temp"


def test_a_column_that_is_not_there_is_answered_with_those_that_are() -> None:
    with pytest.raises(UnknownNameError, match="Feuchte"):
        reading("Temp;Feuchte", ["21;45", "21;46"], columns={"rh_pct": "Humidity"})


def test_a_column_said_outright_is_taken_whatever_its_name() -> None:
    found = reading("Temp;Kanal 2", ["21;45", "21;46"], columns={"rh_pct": "Kanal 2"})
    assert found.sensors[""]["rh_pct"].tolist() == [45.0, 46.0]


def test_a_table_without_air_in_it_is_no_reading() -> None:
    with pytest.raises(NotUnderstoodError, match="rain, PM10"):
        reading("rain;PM10", ["0;12", "1;13"])


def test_what_was_confirmed_is_offered_again_for_the_same_headings() -> None:
    first = reading("A;B", ["21;45", "21;46"], columns={"temp_c": "A", "rh_pct": "B"})
    again = read_bytes("d.csv", b"time;A;B\n2024-02-13 10:00;22;47\n", choice=first.choice)
    assert again.sensors[""]["rh_pct"].tolist() == [47.0]
    assert again.understanding.time.zone == "UTC"
    with pytest.raises(NotUnderstoodError):
        read_bytes("e.csv", b"time;A;C\n2024-02-13 10:00;22;47\n", choice=first.choice)


def test_readings_have_the_one_shape() -> None:
    found = reading("Temp;RH", ["21;45", "22;46"])
    frame = found.sensors[""]
    assert list(frame.columns) == ["temp_c", "rh_pct", "flags"]
    assert frame["flags"].dtype == np.int32
    assert str(frame.index.dtype) == "datetime64[us, UTC]"


def test_a_column_of_words_is_no_temperature_whoever_says_so() -> None:
    """Once, it was read as a temperature that is always missing, and stored."""
    rows = "".join(f"2021-06-12 22:{m:02d},UTC,21.5,48.{m}\n" for m in range(0, 60, 5))
    data = ("Time,A,B,C\n" + rows).encode()
    stated = {"temp_c": "A", "rh_pct": "C"}
    with pytest.raises(QuestionError, match=r"line 2, column 'A': found 'UTC', and no number"):
        read_bytes("a.csv", data, zone="UTC", columns=stated)
    found = read_bytes("a.csv", data, zone="UTC", columns={"temp_c": "B", "rh_pct": "C"})
    assert found.understanding.rows.readings == 12


def test_an_empty_column_may_be_named() -> None:
    rows = "".join(f"2021-06-12 22:{m:02d},,48.{m}\n" for m in range(0, 60, 5))
    stated = {"temp_c": "T", "rh_pct": "RH"}
    found = read_bytes("a.csv", ("Time,T,RH\n" + rows).encode(), zone="UTC", columns=stated)
    assert found.understanding.rows.readings == 12
