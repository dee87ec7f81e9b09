"""Words propose the time, what the times do decides. Layouts invented here."""

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest
from fixtures.air_series import (
    ROOM,
    Series,
    answered,
    asked,
    read,
    refused,
    require_same,
    series,
    stamp,
    table,
)

Stamp = pd.Timestamp
RAIN = np.where(np.arange(120) % 5 == 2, np.arange(120) * 7 % 12, 0)


def day(time: Stamp) -> str:
    return time.strftime("%d.%m.%Y")


def ending(time: Stamp) -> str:
    """Return day and hour where the hours of a day run from 1 to 24."""
    return f"{(time - pd.Timedelta('1h')).strftime('%d.%m.%Y')};{time.hour or 24}"


def written(heading: str, time: Callable[[Stamp], str], of: Series = ROOM) -> bytes:
    return table(f"{heading};Temp;RH", of.lines(lambda a, t, rh: f"{time(a)};{t};{rh}"))


# Headings that hold a word of the clock, above numbers that are none.
NO_CLOCK: dict[str, Callable[[int], int]] = {
    "rainfall per hour": lambda row: int(RAIN[row]),
    "battery time left": lambda row: 53 - row // 6,
    "maximum in the hour before": lambda row: int(RAIN[row]),
    "sampling time (min)": lambda _: 10,
    "running time (h)": lambda row: row,
    "time constant": lambda row: row % 3,
}


@pytest.mark.parametrize("heading", NO_CLOCK)
def test_a_number_under_a_word_of_the_clock_is_no_hour(heading: str) -> None:
    numbers = NO_CLOCK[heading]
    rows = [f"{day(time)};{numbers(row)};{t};{rh}" for row, (time, t, rh) in enumerate(
        zip(ROOM.times, ROOM.temp_c, ROOM.rh_pct, strict=True))]  # fmt: skip
    question = asked(table(f"Date;{heading};Temp;RH", rows))
    # A count of hours is a time once a person says from when it counts.
    known = "running time (h)' from 0 to 119" if "running" in heading else "run as a logger's do"
    assert known in question.found


@pytest.mark.parametrize("heading", NO_CLOCK)
def test_beside_it_the_hour_is_found_by_what_it_does(heading: str) -> None:
    numbers = NO_CLOCK[heading]
    rows = [f"{day(time)};{numbers(row)};{time.hour};{t};{rh}" for row, (time, t, rh) in enumerate(
        zip(ROOM.times, ROOM.temp_c, ROOM.rh_pct, strict=True))]  # fmt: skip
    found = read(table(f"Date;{heading};Std.;Temp;RH", rows))
    require_same(found, {"": ROOM})
    assert any("100% of the times given once" in note for note in found.understanding.notes)


FORMS: dict[str, tuple[str, Callable[[Stamp], str]]] = {
    "0000 UTC": ("Date;Obs", lambda a: f"{day(a)};{a:%H%M} UTC"),
    "0h": ("Date;Heure", lambda a: f"{day(a)};{a.hour}h"),
    "1 to 24": ("Datum;Stunde", ending),
    "1 to 24 without a name": ("A;B", ending),
    "HHMM as a number": ("Date;HHMM", lambda a: f"{a:%Y%m%d};{int(a.strftime('%H%M'))}"),
    "HHMM without a name": ("Date;x", lambda a: f"{a:%Y%m%d};{int(a.strftime('%H%M'))}"),
    "hour.minute": ("Datum;Uhr", lambda a: f"{day(a)};{a.hour}.00"),
    "vorm. and nachm.": (
        "Zeit",
        lambda a: f"{day(a)} {a:%I:%M} {'vorm.' if a.hour < 12 else 'nachm.'}",
    ),
    "a. m. and p. m.": (
        "Fecha;Hora",
        lambda a: f"{a:%d/%m/%Y};{a:%I:%M:%S} {'a. m.' if a.hour < 12 else 'p. m.'}",
    ),
    "halves before the clock": (
        "time",
        lambda a: f"{a:%Y-%m-%d} {'오전' if a.hour < 12 else '오후'} {a:%I:%M}",
    ),
    "offset": ("ts", lambda a: f"{a + pd.Timedelta('2h'):%Y-%m-%dT%H:%M:%S}+02:00"),
    "letters of a zone": ("ts", lambda a: f"{a + pd.Timedelta('1h'):%d.%m.%Y %H:%M} MEZ"),
    "GMT+1": ("ts", lambda a: f"{a + pd.Timedelta('1h'):%d.%m.%Y %H:%M} GMT+1"),
    "epoch s": ("stamp", lambda a: f"{int(a.timestamp())}"),
    "epoch ms": ("stamp", lambda a: f"{int(a.timestamp()) * 10**3}"),
    "epoch µs": ("stamp", lambda a: f"{int(a.timestamp()) * 10**6}"),
    "epoch ns": ("stamp", lambda a: f"{int(a.timestamp()) * 10**9}"),
    "epoch s without a name": ("x", lambda a: f"{int(a.timestamp())}"),
    "days since 1899": ("when", lambda a: f"{a.timestamp() / 86400 + 25569:.6f}"),
    "days and their fraction": (
        "Date;Time",
        lambda a: f"{int(a.timestamp() / 86400) + 25569};{a.hour / 24:.6f}",
    ),
    "year and its day": (
        "Year;DOY;HHMM",
        lambda a: f"{a.year};{a.day_of_year};{int(a.strftime('%H%M'))}",
    ),
    "parts with a misspelt hour": (
        "Year;Month;Day;Huor",
        lambda a: f"{a.year};{a.month};{a.day};{a.hour}",
    ),
    "French months": ("Heure", lambda a: f"{a.day} mars 2024 {a:%H:%M}"),
}


@pytest.mark.parametrize("name", FORMS)
def test_forms_of_time(name: str) -> None:
    require_same(read(written(*FORMS[name])), {"": ROOM})


def test_half_hours_as_a_fraction_are_told_from_minutes_by_their_steps() -> None:
    rooms = series(step="30min")
    data = written("Datum;Uhr", lambda a: f"{day(a)};{a.hour + a.minute / 60:.1f}", rooms)
    require_same(read(data), {"": rooms})


@pytest.mark.parametrize("said", [{"time": "A+B"}, {"date": "A", "time": "B"}, {"time": "1+2"}])
def test_a_date_and_a_clock_said_by_a_person_are_both_used(said: dict[str, str]) -> None:
    rows = ROOM.lines(lambda a, t, rh: f"{day(a)};{a.hour};{t};{rh}")
    said = {**said, "temp_c": "C", "rh_pct": "D"}
    require_same(read(table("A;B;C;D", rows), said), {"": ROOM})


def test_what_a_person_says_of_the_time_is_judged_by_the_same_measures() -> None:
    rows = [f"{day(time)};{RAIN[row]};{time.hour};{t};{rh}" for row, (time, t, rh) in enumerate(
        zip(ROOM.times, ROOM.temp_c, ROOM.rh_pct, strict=True))]  # fmt: skip
    data = table("Date;Rain;Hour;Temp;RH", rows)
    question = asked(data, {"time": "Date+Rain"})
    assert "'Date+Rain' gives" in question.found
    require_same(read(data, {"time": "Date+Hour"}), {"": ROOM})


def test_two_columns_that_run_alike_but_differ_are_shown_with_their_first_times() -> None:
    later = [time + pd.Timedelta(minutes=3 + row * 7 % 11) for row, time in enumerate(ROOM.times)]
    rows = [f"{stamp(a)};{stamp(b)};{t};{rh}" for a, b, t, rh in zip(
        ROOM.times, later, ROOM.temp_c, ROOM.rh_pct, strict=True)]  # fmt: skip
    data = table("measured;received;Temp;RH", rows)
    question = asked(data)
    assert "2024-03-13 00:00:00" in question.found
    assert "2024-03-13 00:03:00" in question.found
    measured = next(a for a in question.answers if a.columns["time"] == "measured")
    require_same(answered(data, measured), {"": ROOM})


def test_of_a_time_in_utc_and_one_of_the_place_the_settled_one_is_taken() -> None:
    rows = ROOM.lines(lambda a, t, rh: f"{stamp(a + pd.Timedelta('1h'))};{stamp(a)};{t};{rh}")
    require_same(read(table("Time local;Time UTC;Temp;RH", rows)), {"": ROOM})


@pytest.mark.parametrize("words", ["{:%d.%m.%Y} ante {:%I:%M}", "{:%A} the {:%d}th", "{:%m}/{:%d}"])
def test_a_form_that_is_not_known_is_never_guessed(words: str) -> None:
    refused(written("time", lambda a: words.format(a, a)))


def test_parts_without_headings_are_found_once_the_readings_are_named() -> None:
    rows = ROOM.lines(lambda a, t, rh: f"{a.year},{a.month},{a.day},{a.hour},{a.minute},{t},{rh}")
    question = asked(table("", rows))
    require_same(answered(table("", rows), question.answers[0]), {"": ROOM})


@pytest.mark.parametrize("name", ["day", "doy", "JDAY"])
def test_a_year_and_its_day_with_hours_and_minutes_in_one_number(name: str) -> None:
    rows = ROOM.lines(
        lambda a, t, rh: f"{a.year},{a.day_of_year},{a.hour * 100 + a.minute},{t},{rh}"
    )
    require_same(read(table(f"year,{name},hhmm,Tair,RH", rows)), {"": ROOM})


def test_a_humidity_called_as_an_hour_does_not_stand_in_for_a_misspelt_hour() -> None:
    rows = ROOM.lines(lambda a, t, rh: f"{a.year},{a.month},{a.day},{a.hour},{t},{rh}")
    found = read(table("Year,Month,Day,Horu,Temperatura,HR", rows))
    require_same(found, {"": ROOM})
