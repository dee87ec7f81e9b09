"""How times are written, and in which order day and month stand. Samples invented here."""

import pytest

from service.errors import NotUnderstoodError, QuestionError
from service.ingest.read import FileReading, read_bytes

EXPECTED = ["2024-03-14T22:00:00", "2024-03-14T23:30:00", "2024-03-15T00:00:00"]


def reading(text: str, zone: str | None = "UTC", **options: object) -> FileReading:
    return read_bytes("times.csv", text.encode(), zone=zone, **options)  # type: ignore[arg-type]


def stamps(found: FileReading) -> list[str]:
    return [instant.isoformat().replace("+00:00", "") for instant in found.sensors[""].index]


def rows(heading: str, written: list[str]) -> str:
    return f"{heading};temp;rh\n" + "".join(
        f"{w};{20 + i % 5},5;{40 + i % 50}\n" for i, w in enumerate(written)
    )


FORMS = {
    "ISO": ["2024-03-14 22:00:00", "2024-03-14 23:30:00", "2024-03-15 00:00:00"],
    "ISO with T": ["2024-03-14T22:00", "2024-03-14T23:30", "2024-03-15T00:00"],
    "ISO with Z": ["2024-03-14T22:00:00Z", "2024-03-14T23:30:00Z", "2024-03-15T00:00:00Z"],
    "offset": ["2024-03-14 23:00+01:00", "2024-03-15 00:30+01:00", "2024-03-15 01:00+01:00"],
    "offset that changes": ["2024-03-14 23:00+0100", "2024-03-15 01:30+0200", "2024-03-15 00:00Z"],
    "day first, points": ["14.03.2024 22:00", "14.03.2024 23:30", "15.03.2024 00:00"],
    "day first, unpadded": ["14.3.2024 22:00", "14.3.2024 23:30", "15.3.2024 0:00"],
    "day first, slashes": ["14/03/2024 22:00:00", "14/03/2024 23:30:00", "15/03/2024 00:00:00"],
    "month first": ["03/14/2024 22:00", "03/14/2024 23:30", "03/15/2024 00:00"],
    "twelve hours": ["03/14/2024 10:00 PM", "03/14/2024 11:30 PM", "03/15/2024 12:00 AM"],
    "twelve hours, small": ["14-3-2024 10:00 p.m.", "14-3-2024 11:30 p.m.", "15-3-2024 12:00 a.m."],
    "short year": ["14.03.24 22:00", "14.03.24 23:30", "15.03.24 00:00"],
    "24:00": ["14.03.2024 22:00", "14.03.2024 23:30", "14.03.2024 24:00"],
    "fractions": ["2024-03-14 22:00:00.000", "2024-03-14 23:30:00.000", "2024-03-15 00:00:00.000"],
    "some seconds left out": ["2024-03-14 22:00:00", "2024-03-14 23:30:00", "2024-03-15 00:00"],
    "month names": ["14 Mar 2024 22:00", "14 Mar 2024 23:30", "15 Mar 2024 00:00"],
    "German month names": ["14. März 2024 22:00", "14. März 2024 23:30", "15. März 2024 00:00"],
    "American month names": ["Mar 14, 2024 22:00", "Mar 14, 2024 23:30", "Mar 15, 2024 00:00"],
    "weekday before": ["Thu 14/03/2024 22:00", "Thu 14/03/2024 23:30", "Fri 15/03/2024 00:00"],
    "compact, twelve digits": ["202403142200", "202403142330", "202403150000"],
    "compact, fourteen digits": ["20240314220000", "20240314233000", "20240315000000"],
    "compact with T": ["20240314T220000", "20240314T233000", "20240315T000000"],
    "epoch seconds": ["1710453600", "1710459000", "1710460800"],
    "epoch milliseconds": ["1710453600000", "1710459000000", "1710460800000"],
    "days of a spreadsheet": ["45365.9166666667", "45365.9791666667", "45366"],
    "hours and minutes with a point": ["14.3.2024 22.00", "14.3.2024 23.30", "15.3.2024 0.00"],
    "year first, slashes": ["2024/03/14 22:00", "2024/03/14 23:30", "2024/03/15 00:00"],
}  # fmt: skip


@pytest.mark.parametrize("name", FORMS)
def test_every_form_of_time_is_read(name: str) -> None:
    assert stamps(reading(rows("time", FORMS[name]))) == EXPECTED


IN_COLUMNS = {
    "date and time": "Datum;Uhrzeit;temp;rh\n14.03.2024;22:00;20;40\n14.03.2024;23:30;21;41\n"
    "15.03.2024;00:00;22;42\n",
    "time before date": "Time;Date;temp;rh\n10:00 PM;3/14/2024;20;40\n11:30 PM;3/14/2024;21;41\n"
    "12:00 AM;3/15/2024;22;42\n",
    "compact date and HHMM": "YYYYMMDD;HHMM;temp;rh\n20240314;2200;20;40\n20240314;2330;21;41\n"
    "20240314;2400;22;42\n",
    "parts": "year;month;day;hour;minute;temp;rh\n2024;3;14;22;0;20;40\n2024;3;14;23;30;21;41\n"
    "2024;3;15;0;0;22;42\n",
}


@pytest.mark.parametrize("name", IN_COLUMNS)
def test_times_in_several_columns_are_put_together(name: str) -> None:
    assert stamps(reading(IN_COLUMNS[name])) == EXPECTED


def test_hours_from_1_to_24_end_with_the_next_day() -> None:
    text = "YYYYMMDD;HH;temp;rh\n20240313;24;19;39\n" + "".join(
        f"20240314;{hour};20;40\n" for hour in range(1, 25)
    )
    found = reading(text)
    assert stamps(found)[0] == "2024-03-14T00:00:00"
    assert stamps(found)[-1] == "2024-03-15T00:00:00"
    assert found.understanding.time.format.endswith("hour 1-24")


def test_a_day_above_twelve_anywhere_decides_the_whole_column() -> None:
    written = [f"{day:02d}/05/2024 12:00" for day in range(1, 14)]
    found = reading(rows("time", written))
    assert stamps(found)[0] == "2024-05-01T12:00:00"
    assert found.choice.day_first is True


@pytest.mark.parametrize("mark", ["/", "-", "."])
def test_day_and_month_that_fit_both_ways_are_asked_about(mark: str) -> None:
    text = rows("time", [f"03{mark}04{mark}2024 1{hour}:00" for hour in range(3)])
    with pytest.raises(QuestionError, match="day first and month first alike"):
        reading(text)
    assert stamps(reading(text, day_first=True))[0] == "2024-04-03T10:00:00"
    assert stamps(reading(text, day_first=False))[0] == "2024-03-04T10:00:00"


def test_points_are_day_first_only_where_the_times_then_run_on() -> None:
    text = rows("time", [f"0{day}.04.2024 {hour:02d}:00" for day in (3, 4) for hour in (0, 12)])
    found = reading(text)
    assert stamps(found)[0] == "2024-04-03T00:00:00"
    assert any("day first" in note for note in found.understanding.notes)


@pytest.mark.parametrize(
    ("heading", "month"),
    [("Date (MM/DD/YYYY)", 3), ("Datum TT/MM/JJJJ", 4), ("dd/mm/yyyy hh:mm", 4)],
)
def test_a_heading_that_says_the_order_is_believed(heading: str, month: int) -> None:
    found = reading(rows(heading, [f"03/04/2024 1{hour}:00" for hour in range(3)]))
    assert found.sensors[""].index[0].month == month


def test_dates_of_both_orders_in_one_column_are_asked_about() -> None:
    text = rows("time", ["13/05/2024 10:00", "05/13/2024 10:00"])
    with pytest.raises(QuestionError, match="only day first and some only month first"):
        reading(text)
    found = reading(text, day_first=True)
    assert stamps(found) == ["2024-05-13T10:00:00"]
    assert found.understanding.rows.unreadable == 1


def test_a_date_that_does_not_exist_is_kept_apart_and_not_carried_over() -> None:
    found = reading(rows("time", ["28/02/2023 10:00", "31/02/2023 10:00", "01/03/2023 10:00"]))
    assert stamps(found) == ["2023-02-28T10:00:00", "2023-03-01T10:00:00"]
    (problem,) = found.understanding.problems
    assert (problem.line, problem.column) == (3, "time")
    assert "31/02/2023" in problem.found


@pytest.mark.parametrize("written", ["2023-02-31 10:00", "20230231 1000", "31 Feb 2023 10:00"])
def test_no_form_of_a_false_date_is_carried_over(written: str) -> None:
    good = written.replace("31", "27")
    assert len(reading(rows("time", [good, written])).sensors[""]) == 1


@pytest.mark.parametrize(
    ("heading", "offset"),
    [
        ("t_UTC+2", "UTC+02:00"),
        ("Time (UTC)", "UTC"),
        ("Read at, GMT-05:00", "UTC-05:00"),
        ("Zeit (Europe/Oslo)", "Europe/Oslo"),
    ],
)
def test_a_zone_in_the_heading_is_taken(heading: str, offset: str) -> None:
    found = reading(rows(heading, FORMS["ISO"]), zone=None)
    assert found.understanding.time.zone == offset
    assert not found.understanding.needs_person


def test_another_zone_than_the_heading_says_is_a_problem() -> None:
    found = reading(rows("t_UTC+2", FORMS["ISO"]), zone="UTC")
    assert found.understanding.time.zone == "UTC+02:00"
    assert "asked for" in found.understanding.problems[0].found
    assert not reading(rows("t_UTC+2", FORMS["ISO"]), zone="+02:00").understanding.problems


def test_a_zone_in_the_preamble_is_taken_unless_a_person_says_another() -> None:
    text = "Time zone: UTC+3\n" + rows("time", FORMS["ISO"])
    assert reading(text, zone=None).understanding.time.zone == "UTC+03:00"
    assert reading(text, zone="UTC").understanding.time.zone == "UTC"


def test_without_a_zone_the_layout_is_shown_and_storing_is_refused() -> None:
    found = reading(rows("time", FORMS["ISO"]), zone=None)
    time = found.understanding.as_json()["time"]
    assert (time["zone"], time["first_utc"], time["interval_s"]) == (None, None, 3600.0)
    assert found.understanding.needs_person
    with pytest.raises(QuestionError, match="--zone"):
        found.require_zone()


def test_newest_first_is_turned_round() -> None:
    found = reading(rows("time", FORMS["ISO"][::-1]))
    assert stamps(found) == EXPECTED
    assert found.understanding.time.order == "newest first"
    assert found.sensors[""]["temp_c"].tolist() == [22.5, 21.5, 20.5]


def test_no_time_at_all_is_asked_about_and_the_answer_is_taken() -> None:
    text = "Reading#;Humidity;Temperature\n" + "".join(f"{n};45;21\n" for n in range(7, 17))
    with pytest.raises(QuestionError, match=r"'Reading#' from 7 to 16"):
        reading(text)
    found = reading(text, start="2024-03-14 22:00", interval_s=5.0)
    assert stamps(found)[0] == "2024-03-14T22:00:00"
    assert found.understanding.time.interval_s == 5.0
    with pytest.raises(NotUnderstoodError, match="--start"):
        reading(text, start="teatime", interval_s=5.0)


def test_elapsed_time_needs_only_its_start() -> None:
    text = "Elapsed (min);Temp;RH\n0;21;45\n2;21;46\n6;22;47\n"
    with pytest.raises(QuestionError, match="the moment from which that counts"):
        reading(text)
    found = reading(text, start="2024-03-14 22:00")
    assert [instant.minute for instant in found.sensors[""].index] == [0, 2, 6]


def test_a_clock_without_a_date_is_asked_about() -> None:
    with pytest.raises(QuestionError, match="without date and time"):
        reading("time;temp;rh\n10:00;21;45\n10:10;21;46\n")


@pytest.mark.parametrize(
    ("written", "first"),
    [
        (["24-01-13 10:00", "24-01-14 10:00", "24-01-15 10:00"], "2024-01-13T10:00:00"),
        (["240113 10:00", "240114 10:00", "240115 10:00"], "2024-01-13T10:00:00"),
        (["13-01-24 10:00", "14-01-24 10:00", "15-01-24 10:00"], "2024-01-13T10:00:00"),
    ],
)
def test_short_years_stand_where_the_days_run(written: list[str], first: str) -> None:
    assert stamps(reading(rows("time", written)))[0] == first


def test_a_single_day_with_a_short_year_in_front_or_behind_is_asked_about() -> None:
    with pytest.raises(QuestionError, match="day first and year first alike"):
        reading(rows("time", ["24-01-13 10:00", "24-01-13 11:00"]))


def test_jitter_and_fractions_of_a_second_are_kept() -> None:
    found = reading(rows("time", ["2024-03-14 22:00:00.5", "2024-03-14 22:00:01.25"]))
    assert [instant.microsecond for instant in found.sensors[""].index] == [500_000, 250_000]


def test_repeated_times_are_counted_and_other_values_for_one_time_are_listed() -> None:
    text = (
        "time;temp;rh\n2024-03-14 22:00;20;40\n2024-03-14 22:10;21;41\n2024-03-14 22:10;21;41\n"
        "2024-03-14 22:10;25;41\n2024-03-14 22:20;22;42\n"
    )
    found = reading(text)
    assert found.sensors[""]["temp_c"].tolist() == [20.0, 21.0, 22.0]
    assert found.sensors[""]["flags"].tolist() == [0, 32 | 2048, 0]
    assert found.understanding.rows.duplicate == 2
    (problem,) = found.understanding.problems
    assert problem.line == 5


def test_a_clock_set_back_is_named_and_shifted_only_where_a_person_says_so() -> None:
    text = rows("time", [f"2024-03-14 {hour:02d}:00" for hour in (10, 11, 12, 3, 4, 5)])
    with pytest.raises(QuestionError, match=r"line 5.*set back by 10 h") as caught:
        reading(text)
    moved, written = caught.value.answers
    found = reading(text, columns=moved.columns)
    assert stamps(found)[3:] == [f"2024-03-14T{hour}:00:00" for hour in (13, 14, 15)]
    assert found.sensors[""]["flags"].tolist() == [0] * 6
    assert "clock" not in found.choice.columns
    kept = reading(text, columns=written.columns)
    assert kept.understanding.time.order == "unsorted"
    assert kept.sensors[""].index.is_monotonic_increasing
    (problem,) = kept.understanding.problems
    assert (problem.line, problem.found[:9]) == (5, "1 reading")


def test_values_no_air_can_have_are_kept_and_flagged() -> None:
    text = rows("time", FORMS["ISO"]).replace(";42", ";142").replace("20,5", "-150")
    frame = reading(text).sensors[""]
    assert frame["rh_pct"].tolist()[-1] == 142.0
    assert frame["flags"].tolist() == [1, 0, 1]
