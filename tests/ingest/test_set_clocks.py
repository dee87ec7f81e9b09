"""A clock set within a file is named, and shifted only where a person says so. Invented here."""

from collections.abc import Callable

import pandas as pd
import pytest
from fixtures.air_series import ROOM, answered, asked, read, require_same, stamp, table

Clock = Callable[[int, pd.Timestamp], pd.Timestamp]
HOUR = pd.Timedelta("1h")
NEW_DATE = pd.Timestamp("2000-01-01")


def written(clock: Clock, newest_first: bool = False, numbered: bool = False) -> bytes:
    rows = [
        f"{f'{row + 1};' if numbered else ''}{stamp(clock(row, time))};{t};{rh}"
        for row, (time, t, rh) in enumerate(zip(ROOM.times, ROOM.temp_c, ROOM.rh_pct, strict=True))
    ]
    heading = "No;time;Temp;RH" if numbered else "time;Temp;RH"
    return table(heading, rows[::-1] if newest_first else rows)


CLOCKS: dict[str, tuple[Clock, str]] = {
    "three hours back": (lambda row, a: a - 3 * HOUR if row >= 60 else a, "set back by 3 h"),
    "one hour back": (lambda row, a: a - HOUR if row >= 60 else a, "set back by 1 h"),
    "reset": (lambda row, a: NEW_DATE + (row - 60) * HOUR if row >= 60 else a, "lost its date"),
    "without a date at first": (lambda row, a: NEW_DATE + row * HOUR if row < 10 else a,
                                "no date at first"),
    "ahead for a while": (lambda row, a: a + 5 * HOUR if 40 <= row < 80 else a,
                          "set back by 5 h"),
}  # fmt: skip


@pytest.mark.parametrize("newest_first", [False, True])
@pytest.mark.parametrize("name", CLOCKS)
def test_a_clock_that_was_set_is_named_and_its_shift_offered(name: str, newest_first: bool) -> None:
    clock, words = CLOCKS[name]
    data = written(clock, newest_first)
    question = asked(data)
    assert words in question.found
    found = answered(data, question.answers[0])
    require_same(found, {"": ROOM})
    assert any("shifted by" in note for note in found.understanding.notes)
    assert "clock" not in found.choice.columns
    kept = answered(data, question.answers[-1])
    assert kept.sensors[""].index.is_monotonic_increasing


def test_a_leap_ahead_is_listed_where_the_readings_are_numbered_on() -> None:
    found = read(written(lambda row, a: a + 5 * HOUR if row >= 60 else a, numbered=True))
    (problem,) = found.understanding.problems
    assert (problem.line, "set ahead by 5 h" in problem.found) == (62, True)
    assert "from line 62 by -5 h" in problem.kept
    mended = read(
        written(lambda row, a: a + 5 * HOUR if row >= 60 else a, numbered=True),
        {"clock": "from line 62 by -5 h"},
    )
    require_same(mended, {"": ROOM})


def test_two_exports_that_overlap_are_no_clock_set_back() -> None:
    rows = ROOM.lines(lambda a, t, rh: f"{stamp(a)};{t};{rh}")
    found = read(table("time;Temp;RH", rows[:60] + rows[50:]))
    require_same(found, {"": ROOM})
    assert found.understanding.rows.duplicate == 10


def test_a_count_beside_a_clock_that_was_set_tells_no_sensors_apart() -> None:
    times = [time - 4 * HOUR if row >= 60 else time for row, time in enumerate(ROOM.times)]
    rows = [f"{stamp(a)};{t};{rh};{row // 6}" for row, (a, t, rh) in enumerate(
        zip(times, ROOM.temp_c, ROOM.rh_pct, strict=True))]  # fmt: skip
    data = table("time;Temp;RH;Running time (h)", rows)
    require_same(answered(data, asked(data).answers[0]), {"": ROOM})


def test_a_short_record_whose_clock_was_set_far_back_is_asked_about_as_such() -> None:
    times = [time - 9 * HOUR if row >= 15 else time for row, time in enumerate(ROOM.times[:36])]
    rows = [f"{a:%Y-%m-%d};{a:%H%M};{t};{rh}" for a, t, rh in zip(
        times, ROOM.temp_c, ROOM.rh_pct, strict=False)]  # fmt: skip
    question = asked(table("date;time;Temp;RH", rows))
    assert "set back by 9 h" in question.found


def test_an_overlap_beside_a_clock_that_was_set_is_no_second_setting() -> None:
    times = [time - 3 * HOUR if row >= 90 else time for row, time in enumerate(ROOM.times)]
    rows = [
        f"{stamp(a)};{t};{rh}" for a, t, rh in zip(times, ROOM.temp_c, ROOM.rh_pct, strict=True)
    ]
    data = table("time;Temp;RH", rows[:60] + rows[50:])
    question = asked(data)
    assert question.where == "line 102"
    require_same(answered(data, question.answers[0]), {"": ROOM})


def test_a_shift_that_is_not_understood_is_asked_about() -> None:
    question = asked(written(lambda _, a: a), {"clock": "two hours later"})
    assert "from line 40 by +1 h" in question.expected


@pytest.mark.parametrize("newest_first", [False, True])
@pytest.mark.parametrize("doubled", [20, 45, 80])
def test_lines_written_twice_beside_a_clock_that_was_set_are_no_second_setting(
    doubled: int, newest_first: bool
) -> None:
    times = [time - 30 * HOUR if row >= 60 else time for row, time in enumerate(ROOM.times)]
    rows = [
        f"{stamp(a)};{t};{rh}" for a, t, rh in zip(times, ROOM.temp_c, ROOM.rh_pct, strict=True)
    ]
    rows[doubled:doubled] = rows[doubled - 6 : doubled]
    question = asked(table("time;Temp;RH", rows[::-1] if newest_first else rows))
    assert question.found.count("set back") == 1
    data = table("time;Temp;RH", rows[::-1] if newest_first else rows)
    require_same(answered(data, question.answers[0]), {"": ROOM})
