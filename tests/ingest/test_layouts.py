"""How tables are cut: delimiters, preambles, headings, broken lines. Samples invented here."""

import pandas as pd
import pytest

from service.errors import NotUnderstoodError, QuestionError
from service.ingest.read import FileReading, read_bytes

ROWS = [("2024-01-13 10:00", 21.5, 45.0), ("2024-01-13 10:10", 21.25, 45.5)]


def reading(text: str, encoding: str = "utf-8", zone: str | None = "UTC") -> FileReading:
    return read_bytes("sample.csv", text.encode(encoding), zone=zone)


def table(found: FileReading, sensor: str = "") -> list[tuple[str, float, float]]:
    frame = found.sensors[sensor]
    stamps = [f"{instant:%Y-%m-%d %H:%M}" for instant in frame.index]
    return list(zip(stamps, frame["temp_c"].tolist(), frame["rh_pct"].tolist(), strict=True))


LAYOUTS = {
    "comma": "time,temp,rh\n2024-01-13 10:00,21.5,45\n2024-01-13 10:10,21.25,45.5\n",
    "semicolon, decimal comma": "Zeit;Temperatur;Feuchte\n13.01.2024 10:00;21,5;45\n"
    "13.01.2024 10:10;21,25;45,5\n",
    "tab, decimal comma": "Heure\tTempérature\tHumidité\n13/01/2024 10:00\t21,5\t45\n"
    "13/01/2024 10:10\t21,25\t45,5\n",
    "bar": "Date|Temp|RH\n2024-01-13T10:00|21.5|45\n2024-01-13T10:10|21.25|45.5\n",
    "runs of blanks": "date       time   temp   rh\n2024-01-13 10:00  21.5   45\n"
    "2024-01-13 10:10  21.25  45.5\n",
    "every field quoted": '"Time","Temperature","Humidity"\n"2024-01-13 10:00","21,5","45"\n'
    '"2024-01-13 10:10","21,25","45,5"\n',
    "trailing delimiters": "time;temp;rh;\n2024-01-13 10:00;21,5;45;\n"
    "2024-01-13 10:10;21,25;45,5;\n",
    "trailing delimiters in rows only": "time;temp;rh\n2024-01-13 10:00;21,5;45;\n"
    "2024-01-13 10:10;21,25;45,5;\n",
    "header a name short": '"date","Temperature","Humidity"\n"7","2024-01-13 10:00",21.5,45\n'
    '"8","2024-01-13 10:10",21.25,45.5\n',
    "units in their own row": "Time;Temperature;Humidity\n;°C;%\n13.01.2024 10:00;21,5;45\n"
    "13.01.2024 10:10;21,25;45,5\n",
    "names, units and names again": "when;air temperature;relative humidity\nUnit;Grad C;%\n"
    "Datum;Lufttemperatur;Luftfeuchte\n13.01.2024 10:00;21,5;45\n13.01.2024 10:10;21,25;45,5\n",
    "preamble": "Serial number: 12345\nLogger name;North gallery\nInterval;600\n\n"
    "Readings\n\nTime;Temp (°C);RH (%)\n13.01.2024 10:00;21,5;45\n13.01.2024 10:10;21,25;45,5\n",
    "preamble padded to the table's width": "Serial number;12345;;\nStarted;13.01.2024;;\n;;;\n"
    "Time;Temp (°C);RH (%);Remark\n13.01.2024 10:00;21,5;45;\n13.01.2024 10:10;21,25;45,5;\n",
    "header behind a hash": "# a line of talk\n# time,temp,rh\n2024-01-13 10:00,21.5,45\n"
    "2024-01-13 10:10,21.25,45.5\n",
    "rule below the names": "time;temp;rh\n-----;----;---\n2024-01-13 10:00;21,5;45\n"
    "2024-01-13 10:10;21,25;45,5\n",
    "units within the fields": "time;temp;rh\n2024-01-13 10:00;21,5 °C;45 %\n"
    "2024-01-13 10:10;21,25 °C;45,5 %\n",
    "returns alone as line ends": "time,temp,rh\r2024-01-13 10:00,21.5,45\r"
    "2024-01-13 10:10,21.25,45.5",
    "blank lines between": "time,temp,rh\r\n\r\n2024-01-13 10:00,21.5,45\r\n\r\n"
    "2024-01-13 10:10,21.25,45.5\r\n\r\n",
    "text with delimiters in quotes": 'time,temp,rh,note\n2024-01-13 10:00,21.5,45,"cold, wet"\n'
    "2024-01-13 10:10,21.25,45.5,dry\n",
    "names split by blanks above tabs": "Time Temperature Humidity\n2024-01-13 10:00\t21.5\t45\n"
    "2024-01-13 10:10\t21.25\t45.5\n",
    "plus signs and unpadded numbers": "time;temp;rh\n2024-01-13 10:00;+21,50;045\n"
    "2024-01-13 10:10;+21,250;45,5\n",
}


@pytest.mark.parametrize("name", LAYOUTS)
def test_the_same_two_readings_come_out_of_every_layout(name: str) -> None:
    found = reading(LAYOUTS[name])
    assert table(found) == ROWS
    assert found.understanding.problems == ()


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"]
)
def test_every_encoding_is_read(encoding: str) -> None:
    text = (
        "Zeit;Außentemperatur (°C);Feuchte (%)\r\n13.01.2024 10:00;21,5;45\r\n"
        "13.01.2024 10:10;21,25;45,5\r\n"
    )
    found = reading(text, encoding)
    assert table(found) == ROWS
    assert found.understanding.channels[0].column == "Außentemperatur (°C)"


def test_missing_leading_zeros_and_missing_values() -> None:
    text = (
        "time;temp;rh\n13.01.2024 10:00;,7;45\n13.01.2024 10:10;-,5;---\n13.01.2024 10:20;N/A;46\n"
        "13.01.2024 10:30;-9999;47\n13.01.2024 10:40;-200;48\n13.01.2024 10:50; ;49\n"
    )
    found = reading(text)
    temp = found.sensors[""]["temp_c"]
    assert temp[:2].tolist() == [0.7, -0.5]
    assert temp[2:].isna().all()
    channel = found.understanding.channels[0]
    assert (channel.readings, channel.missing) == (2, 4)


def test_broken_lines_are_kept_apart_with_their_number_and_the_rest_is_read() -> None:
    text = (
        "time;temp;rh\n13.01.2024 10:00;21,5;45\n13.01.2024 10:05;stopped\n\n"
        "13.01.2024 10:10;21,25;45,5\nEnd of file\n"
    )
    found = reading(text)
    assert table(found) == ROWS
    assert [problem.line for problem in found.understanding.problems] == [3, 6]
    assert "stopped" in found.understanding.problems[0].found
    assert found.understanding.rows.unreadable == 2
    assert found.understanding.rows.total == 4


def test_a_field_that_is_no_number_is_named_and_the_rest_of_its_line_is_read() -> None:
    text = "time;temp;rh\n13.01.2024 10:00;21,5;4x5\n13.01.2024 10:10;21,25;45,5\n"
    found = reading(text)
    assert found.sensors[""]["temp_c"].tolist() == [21.5, 21.25]
    (problem,) = found.understanding.problems
    assert (problem.line, problem.column) == (2, "rh")
    assert "4x5" in problem.found


def test_headings_repeated_further_down_are_kept_apart() -> None:
    text = "time;temp;rh\n13.01.2024 10:00;21,5;45\ntime;temp;rh\n13.01.2024 10:10;21,25;45,5\n"
    found = reading(text)
    assert table(found) == ROWS
    assert found.understanding.rows.unreadable == 1
    assert {problem.line for problem in found.understanding.problems} == {3}


def test_a_quotation_mark_left_open_costs_no_other_line() -> None:
    rows = [f'13.01.2024 10:{m:02d};21,5;45;"5 inch probe' for m in range(30)]
    rows += [f"13.01.2024 11:{m:02d};21,5;45;ok" for m in range(30)]
    found = reading("time;temp;rh;note\n" + "\n".join(rows) + "\n")
    assert len(found.sensors[""]) == 60


def test_rows_with_a_remark_and_blank_readings_are_no_readings() -> None:
    text = (
        "time;temp;rh;remark\n13.01.2024 09:59;;;window shut\n13.01.2024 10:00;21,5;45;\n"
        "13.01.2024 10:03;;;school class\n13.01.2024 10:10;21,25;45,5;\n"
    )
    found = reading(text)
    assert table(found) == ROWS
    assert (found.understanding.rows.total, found.understanding.rows.readings) == (4, 2)


def test_a_comment_behind_some_rows_does_not_cost_their_readings() -> None:
    text = "time;temp;rh\n13.01.2024 10:00;21,5;45;opened\n" + "".join(
        f"13.01.2024 10:{minute};21,25;45,5\n" for minute in range(10, 60, 10)
    )
    found = reading(text)
    assert len(found.sensors[""]) == 6
    assert found.sensors[""]["temp_c"].iloc[0] == 21.5


def test_a_preamble_may_be_longer_than_what_is_looked_at_first() -> None:
    preamble = "".join(f"note {n}: nothing to see here, just words\n" for n in range(9000))
    rows = "".join(f"13.01.2024 {h:02d}:{m:02d};21,5;45\n" for h in range(24) for m in range(60))
    found = reading(preamble + "time;temp;rh\n" + rows)
    assert found.understanding.header_lines == 9001
    assert len(found.sensors[""]) == 1440


def test_thousands_marks_are_no_decimals() -> None:
    text = (
        "time;temp;pressure (hPa);rh\n13.01.2024 10:00;21,5;1.012,5;45\n"
        "13.01.2024 10:10;21,25;998,5;45,5\n"
    )
    found = reading(text)
    assert found.extras[""]["pressure_pa"].tolist() == [101_250.0, 99_850.0]


def test_no_headings_are_asked_about_by_number_and_the_answer_is_taken() -> None:
    data = b"2024-01-13 10:00,21.5,45\n2024-01-13 10:10,21.25,45.5\n"
    with pytest.raises(QuestionError, match=r"column 2 \(21.5\), column 3 \(45\)"):
        read_bytes("bare.csv", data, zone="UTC")
    found = read_bytes("bare.csv", data, zone="UTC", columns={"temp_c": "2", "rh_pct": "3"})
    assert table(found) == ROWS


def test_commas_for_columns_and_decimals_at_once_are_refused() -> None:
    text = "time,temp,rh\n13.01.2024 10:00,21,5,45,3\n13.01.2024 10:10,21,4,45,2\n"
    with pytest.raises(NotUnderstoodError, match="5 fields below 3 headings"):
        reading(text)


def test_hard_blanks_are_blanks() -> None:
    text = (
        "time;temp;rh\n2024-01-13\u00a010:00;21,5\u00a0°C;45\n"
        "2024-01-13\u00a010:10;21,25\u202f°C;45,5\n"
    )
    assert table(reading(text)) == ROWS


def test_lines_of_fixed_width_are_asked_about() -> None:
    lines = "".join(f" 6201{day:02d}01000?00A7073A71017A7158A706\n" for day in range(1, 29))
    with pytest.raises(QuestionError, match="characters each, without separators"):
        read_bytes("fixed.dat", lines.encode(), zone="UTC")


def test_prose_is_no_table() -> None:
    prose = (
        "The wall, from inside:\n- plaster, painted\n- wool, 100 mm\n\nBuilt = 1984\n"
        "Measured 2010-11-15\n"
    )
    with pytest.raises(NotUnderstoodError, match="no rows of values"):
        read_bytes("notes.txt", prose.encode())


def test_a_sensor_column_parts_a_long_file() -> None:
    text = "when,sensor,temp,rh\n" + "".join(
        f"2024-01-13 10:{m:02d},{s},{20 + m / 10},{r}\n"
        for m in range(0, 30, 10)
        for s, r in (("North", 45), ("Store", 52))
    )
    found = reading(text)
    assert list(found.sensors) == ["North", "Store"]
    assert found.sensors["Store"]["rh_pct"].tolist() == [52.0] * 3
    assert [c.name for c in found.understanding.channels] == ["North", "North", "Store", "Store"]


WIDE = {
    "in the name": "time;Gallery A Temp (°C);Gallery A RH (%);Store Temp (°C);Store RH (%)\n",
    "in a row above": ";Gallery A;;Store;\ntime;Temp (°C);RH (%);Temp (°C);RH (%)\n",
    "repeated above": "time;Gallery A;Gallery A;Store;Store\n;Temp;RH;Temp;RH\n",
}


@pytest.mark.parametrize("name", WIDE)
def test_a_wide_file_holds_several_sensors(name: str) -> None:
    rows = "13.01.2024 10:00;21,5;45;18;52\n13.01.2024 10:10;21,25;45,5;18;52,5\n"
    found = reading(WIDE[name] + rows)
    assert list(found.sensors) == ["Gallery A", "Store"]
    assert table(found, "Gallery A") == ROWS
    assert found.sensors["Store"]["rh_pct"].tolist() == [52.0, 52.5]


def test_numbered_pairs_are_sensors() -> None:
    text = (
        "time,T1,RH1,T2,RH2\n2024-01-13 10:00,21.5,45,18,52\n2024-01-13 10:10,21.25,45.5,18,52.5\n"
    )
    found = reading(text)
    assert list(found.sensors) == ["1", "2"]
    assert table(found, "1") == ROWS


def test_bytes_left_nul_by_a_power_cut_cost_only_their_line() -> None:
    text = (
        "time,temp,rh\n2024-01-13 10:00,21.5,45\n" + "\0" * 30 + "\n2024-01-13 10:10,21.25,45.5\n"
    )
    rows = "".join(f"2024-01-13 {h:02d}:00,21,45\n" for h in range(11, 23))
    found = reading(text + rows)
    assert len(found.sensors[""]) == 14
    assert [problem.line for problem in found.understanding.problems] == [3]


@pytest.mark.parametrize("delimiter", ["\t", ",", ";"])
@pytest.mark.parametrize("form", ["%d May %Y %H:%M", "%Y/%m/%d %H:%M"])
def test_the_pieces_of_a_time_do_not_outweigh_the_columns(delimiter: str, form: str) -> None:
    times = pd.date_range("2024-05-03", periods=60, freq="20min")
    parts = (("Temperatura", "21.5", "°C"), ("HR", "48.7", "%"))
    rows = [delimiter.join((f"{time:{form}}", *part)) for time in times for part in parts]
    heading = delimiter.join(("Horodatage", "Quantity", "Value", "Unit"))
    found = read_bytes("tall.txt", "\n".join([heading, *rows, ""]).encode(), zone="UTC")
    assert found.sensors[""]["rh_pct"].tolist() == [48.7] * 60


@pytest.mark.parametrize("heading", ["T [°C],H [%],When", "T [°C],H [%],Date and time"])
def test_lines_of_one_length_with_commas_have_no_fixed_columns(heading: str) -> None:
    rows = [f"19.2,44.{n},{n + 1:02d} May 2025 12:15" for n in range(9)]
    found = read_bytes("a.csv", "\n".join([heading, *rows, ""]).encode(), zone="UTC")
    assert found.sensors[""]["temp_c"].tolist() == [19.2] * 9
