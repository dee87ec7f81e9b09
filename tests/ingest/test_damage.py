"""Numbers with blanks, stray bytes, headings cut short: never another meaning in silence."""

import warnings

import pytest
from fixtures.air_series import (
    ROOM,
    Series,
    answered,
    asked,
    read,
    refused,
    require_same,
    stamp,
    table,
)

COLD = Series(ROOM.times, ROOM.temp_c - 12, ROOM.rh_pct)
FAHRENHEIT = COLD.lines(lambda a, t, rh: f"{stamp(a)};{t * 1.8 + 32:.2f};{rh};")


@pytest.mark.parametrize("blank", ["\u00a0", "\u202f", "\u2009", "'"])
def test_thousands_parted_by_blanks_are_one_number(blank: str) -> None:
    rows = ROOM.lines(lambda a, t, rh: f"{stamp(a)};{t};1{blank}013,5;{rh}".replace(".", ","))
    found = read(table("time;Temp;Press (hPa);RH", rows))
    require_same(found, {"": ROOM})
    assert found.extras[""]["pressure_pa"].iloc[0] == 101_350.0


def test_thousands_with_hard_blanks_between_columns_of_blanks() -> None:
    rows = ROOM.lines(lambda a, t, rh: f"{stamp(a)}  {t}  1\u00a0013.5  {rh}")
    require_same(read(table("date time Temp Press RH", rows)), {"": ROOM})


def test_thousands_with_plain_blanks_between_columns_of_blanks_are_refused() -> None:
    rows = ROOM.lines(lambda a, t, rh: f"{stamp(a)}  {t}  1 013.5  {rh}")
    refused(table("date time Temp Press RH", rows))


@pytest.mark.parametrize("stray", [b"caf\xe9", b"\xf8", b"\x80\x80"])
def test_a_stray_byte_in_a_note_does_not_change_the_unit(stray: bytes) -> None:
    data = table("time;Temp (°F);RH;note", FAHRENHEIT).replace(b";\n", b";" + stray + b"\n", 1)
    found = read(data)
    require_same(found, {"": COLD})
    assert any("cp1252" in note for note in found.understanding.notes)


def test_a_degree_sign_written_twice_over_is_one() -> None:
    require_same(read(table("time;Temp (Â°F);RH;note", FAHRENHEIT)), {"": COLD})


COMMAS = {
    "both": (lambda a, t, rh: f"{stamp(a)},{t:.1f},{rh:.1f}".replace(".", ","), "time,Temp,RH"),
    "one": (lambda a, t, rh: f"{stamp(a)},{t:.1f},{rh:.0f}".replace(".", ","), "time,Temp,RH"),
    "no headings": (lambda a, t, rh: f"{stamp(a)},{t:.1f},{rh:.1f}".replace(".", ","), ""),
}


@pytest.mark.parametrize("name", COMMAS)
def test_decimal_commas_between_commas_are_refused(name: str) -> None:
    form, heading = COMMAS[name]
    assert "semicolons" in refused(table(heading, ROOM.lines(form))).action


def test_commas_in_headings_do_not_make_up_for_commas_in_numbers() -> None:
    rows = ROOM.lines(lambda a, t, rh: f"{int(a.timestamp())},14,2,{t},{rh}".replace(".", ","))
    assert "semicolons" in refused(table("Date,Dew (°C),Temp, °C,RH, %", rows)).action


@pytest.mark.parametrize("time", ["2024-13-77 x", "????-03-13 00:00", "13 of 03 in 2024"])
def test_a_first_row_with_an_unreadable_time_is_no_heading(time: str) -> None:
    rows = ROOM.lines(lambda a, t, rh: f"{stamp(a)};{t};{rh}")
    rows[0] = time + rows[0][16:]
    found = read(table("time;Temp;RH", rows))
    rest = Series(ROOM.times[1:], ROOM.temp_c[1:], ROOM.rh_pct[1:])
    require_same(found, {"": rest})
    assert found.understanding.problems[0].line == 2


@pytest.mark.parametrize(
    ("heading", "row"),
    [("time;Temp;RH", "{0};{1};17;{2}"), ("time;Temp", "{0};{1};{2}"),
     ("time;Temp;Dew point;RH", "{0};{1};{2}"), ("time;Temp;RH;Temp floor", "{0};{1};{2}")],
)  # fmt: skip
def test_headings_and_fields_must_be_as_many(heading: str, row: str) -> None:
    lines = ROOM.lines(lambda a, t, rh: row.format(stamp(a), t, rh))
    assert "headings" in refused(table(heading, lines)).found


ENDLESS = {
    "epoch": ("epoch;Temp;RH", lambda a, t, rh: f"{int(a.timestamp())};{t};{rh}", "9" * 400),
    "years": (
        "year;month;day;hour;Temp;RH",
        lambda a, t, rh: f"{a.year};{a.month};{a.day};{a.hour};{t};{rh}",
        "99999999",
    ),
    "days": (
        "time;Temp;RH",
        lambda a, t, rh: f"{a.timestamp() / 86400 + 25569:.5f};{t};{rh}",
        "1e300",
    ),
}


@pytest.mark.parametrize("name", ENDLESS)
def test_numbers_beyond_any_calendar_cost_their_own_row_and_no_warning(name: str) -> None:
    heading, form, endless = ENDLESS[name]
    rows = ROOM.lines(form)
    rows[50] = endless + rows[50][rows[50].index(";") :]
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = read(table(heading, rows))
    assert len(found.sensors[""]) == len(rows) - 1
    assert found.understanding.problems[0].line == 52


@pytest.mark.parametrize(
    "first",
    [
        "????-03-13 00:00;?0.6;4?.1",
        "2024-03-1? 0?:00;20.6;4x.x",
        "xxxx-xx-13 00:00;xx.6;47.1",
    ],
)
def test_a_first_row_with_damaged_digits_is_no_heading(first: str) -> None:
    rows = ROOM.lines(lambda a, t, rh: f"{stamp(a)};{t};{rh}")
    found = read(table("time;Temp;RH", [first, *rows[1:]]))
    later = Series(ROOM.times[1:], ROOM.temp_c[1:], ROOM.rh_pct[1:])
    require_same(found, {"": later})
    assert [problem.line for problem in found.understanding.problems][:1] == [2]


def test_headings_that_look_like_numbers_stay_headings() -> None:
    rows = ROOM.lines(lambda a, t, rh: f"{stamp(a)};{t};{rh}")
    require_same(read(table("time;T1;H1", rows).replace(b"H1", b"RH1")), {"": ROOM})


@pytest.mark.parametrize("place", [0, 60, 119])
def test_one_time_far_off_is_kept_apart_with_a_word(place: int) -> None:
    rows = ROOM.lines(lambda a, t, rh: f"{stamp(a)};{t};{rh}")
    rows[place] = rows[place].replace("2024-", "2042-")
    found = read(table("time;Temp;RH", rows))
    assert found.sensors[""].index.max().year == 2024
    assert len(found.sensors[""]) == 119
    (problem,) = found.understanding.problems
    assert (problem.line, "2042-" in problem.found) == (place + 2, True)


def test_a_title_in_a_sheet_is_no_name_of_its_sensors() -> None:
    rows = ROOM.lines(lambda a, t, rh: f"{stamp(a)}\t{t}\t{rh}\t{t - 2}\t{rh + 3}")
    data = table("Climate record\t\t\t\t", ["time\tHall T\tHall RH\tAttic T\tAttic RH", *rows])
    assert set(read(data).sensors) == {"Hall", "Attic"}


def test_a_unit_alone_right_of_its_quantity_is_a_heading_cut_by_a_comma() -> None:
    rows = ROOM.lines(lambda a, t, rh: f"{stamp(a)},{t:.1f},{rh:.1f}".replace(".", ","))
    assert "semicolons" in refused(table("time,Temp, °C,RH, %", rows)).action


def test_a_misspelt_humidity_beside_a_right_one_is_asked_about_by_its_unit() -> None:
    rows = ROOM.lines(lambda a, t, rh: f"{stamp(a)};{t};{rh};{t - 2};{rh + 3}")
    data = table("time;Hall Temp;Hall Wiglotność in %;Attic Temp;Attic Wilgotność in %", rows)
    question = asked(data)
    assert "Hall Wiglotność" in question.where
    assert set(answered(data, question.answers[0]).sensors) == {"Hall", "Attic"}


def test_columns_of_one_name_are_asked_about_by_their_numbers() -> None:
    warm = ROOM.lines(
        lambda a, t, rh: f"{stamp(a)};{t * 1.8 + 32:.1f};{rh};{t * 1.8 + 32:.1f};{rh}"
    )
    question = asked(table("time;T (°C);RH;T (°C);RH", warm))
    assert "(column 2)" in question.found
    assert "(column 4)" in question.found
    for frame in answered(
        table("time;T (°C);RH;T (°C);RH", warm), question.answers[0]
    ).sensors.values():
        assert abs(frame["temp_c"] - ROOM.temp_c).max() < 0.1


@pytest.mark.parametrize(
    "cut", ["2024-03-13 00:00;19", "2024-03-13 00:00;19.1;4", "2024-03-13 00:00;"]
)
def test_a_first_row_cut_short_does_not_take_the_headings_with_it(cut: str) -> None:
    rows = ROOM.lines(lambda a, t, rh: f"{stamp(a)};{t};{rh};1;2;3")
    found = read(table("time;Temp;RH;flow;state;battery", [cut, *rows[1:]]))
    left = Series(ROOM.times[1:], ROOM.temp_c[1:], ROOM.rh_pct[1:])
    require_same(found, {"": left})
    assert found.understanding.rows.unreadable == 1


@pytest.mark.parametrize("text", ["a;b;c\nd;e;f\n" * 9, "time;1\n" * 12, "x;y\n\n;;\n" * 5])
def test_lines_without_a_row_of_values_are_refused_and_nothing_breaks(text: str) -> None:
    refused(text.encode())
