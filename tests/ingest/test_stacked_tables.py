"""Tables that stand below one another in one file. Layouts invented here."""

import numpy as np
import pytest
from fixtures.air_series import ROOM, STORE, Series, asked, read, require_same, stamp

from analysis.errors import StilltautError


def rows(of: Series, mark: str = ",") -> list[str]:
    return of.lines(lambda a, t, rh: mark.join((stamp(a), str(t), str(rh))))


def text(*lines: str) -> bytes:
    return "\n".join([*lines, ""]).encode()


@pytest.mark.parametrize("mark", [",", ";", "\t"])
@pytest.mark.parametrize("between", [(), ("",), ("", "read out with care", "")])
def test_each_sensor_under_its_title(mark: str, between: tuple[str, ...]) -> None:
    head = mark.join(("Time", "Temp", "RH"))
    found = read(text("Hall", head, *rows(ROOM, mark), *between, "Store", head, *rows(STORE, mark)))
    require_same(found, {"Hall": ROOM, "Store": STORE})
    assert any("2 tables stand below one another" in note for note in found.understanding.notes)


def test_temperature_and_humidity_in_tables_of_their_own() -> None:
    warm = ROOM.lines(lambda a, t, rh: f"{stamp(a)};{t}")
    damp = ROOM.lines(lambda a, t, rh: f"{stamp(a)};{rh}")
    head = "Time;Value"
    require_same(read(text("Temperature", head, *warm, "", "Humidity", head, *damp)), {"": ROOM})
    named = read(text("Time;Temperature (°C)", *warm, "", "Time;Humidity (%)", *damp))
    require_same(named, {"": ROOM})


def test_headings_on_each_page_of_one_sensor_make_no_second_one() -> None:
    head, lines = "Time,Temp,RH", rows(ROOM)
    found = read(text("Page 1", head, *lines[:60], "", "Page 2", head, *lines[60:]))
    require_same(found, {"": ROOM})


def test_tables_without_titles_that_disagree_are_asked_about() -> None:
    head = "Time,Temp,RH"
    assert "another value" in asked(text(head, *rows(ROOM), "", head, *rows(STORE))).found


def test_a_line_of_words_within_the_rows_is_no_second_table() -> None:
    lines = rows(ROOM)
    found = read(text("Time,Temp,RH", *lines[:40], "battery changed,by,hand", *lines[40:]))
    require_same(found, {"": ROOM})


def test_tables_of_other_widths_are_not_made_one() -> None:
    wide = [f"{row},{n}" for n, row in enumerate(rows(STORE))]
    data = text("Hall", "Time,Temp,RH", *rows(ROOM), "Store", "Time,Temp,RH,No", *wide)
    try:
        found = read(data)
    except StilltautError:
        return
    assert found.understanding.rows.unreadable or found.understanding.problems
    assert np.isfinite(next(iter(found.sensors.values()))["temp_c"]).all()
