"""One value a line, with what it is of beside it. Layouts invented here."""

from collections.abc import Callable

import numpy as np
import pytest
from fixtures.air_series import ROOM, STORE, Series, read, refused, require_same, stamp, table

Lines = Callable[[str, float, float, float, float], list[str]]


def tall(heading: str, lines: Lines, marks: str = ",") -> bytes:
    pairs = zip(ROOM.times, ROOM.temp_c, ROOM.rh_pct, STORE.temp_c, STORE.rh_pct, strict=True)
    rows = [line for time, *values in pairs for line in lines(stamp(time), *values)]
    return table(heading, [row.replace(",", marks) for row in rows])


ONE: dict[str, tuple[str, Lines]] = {
    "words": (
        "time,quantity,value",
        lambda a, t, h, *_: [f"{a},temperature,{t}", f"{a},humidity,{h}"],
    ),
    "codes": ("time,var,val", lambda a, t, h, *_: [f"{a},T,{t}", f"{a},RH,{h}", f"{a},Vbat,3.1"]),
    "another language": (
        "Zeit,Größe,Wert",
        lambda a, t, h, *_: [f"{a},Lufttemperatur,{t}", f"{a},rel. Feuchte,{h}"],
    ),
    "units behind the values": ("time,reading", lambda a, t, h, *_: [f"{a},{t} °C", f"{a},{h} %"]),
    "a text between the values": (
        "time,entity,state",
        lambda a, t, h, *_: [f"{a},temperature,{t}", f"{a},humidity,{h}", f"{a},humidity,away"],
    ),
    "degrees Fahrenheit in a column of units": (
        "time,what,value,unit",
        lambda a, t, h, *_: [f"{a},Temp,{t * 1.8 + 32:.2f},°F", f"{a},RH,{h},%"],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", ONE)
@pytest.mark.parametrize("marks", [",", ";", "\t"])
def test_one_sensor(name: str, marks: str) -> None:
    heading, lines = ONE[name]
    found = read(tall(heading.replace(",", marks), lines, marks))
    require_same(found, {"": ROOM})
    assert any("One value a line" in note for note in found.understanding.notes)


TWO: dict[str, tuple[str, Lines, tuple[str, str]]] = {
    "names that hold place and quantity": (
        "changed,entity,state",
        lambda a, t, h, x, y: [f"{a},hall_temperature,{t}", f"{a},hall_humidity,{h}",
                               f"{a},store_temperature,{x}", f"{a},store_humidity,{y}"],
        ("hall", "store"),
    ),
    "a sensor and a unit": (
        "time,sensor,value,unit",
        lambda a, t, h, x, y: [f"{a},hall,{t},°C", f"{a},hall,{h},%",
                               f"{a},store,{x},°C", f"{a},store,{y},%"],
        ("hall", "store"),
    ),
    "a room, a quantity and a unit": (
        "time,room,param,value,unit",
        lambda a, t, h, x, y: [f"{a},1,Temp,{t},°C", f"{a},1,RH,{h},%",
                               f"{a},2,Temp,{x},°C", f"{a},2,RH,{y},%"],
        ("1", "2"),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", TWO)
def test_two_sensors(name: str) -> None:
    heading, lines, names = TWO[name]
    expected: dict[str, Series] = dict(zip(names, (ROOM, STORE), strict=True))
    require_same(read(tall(heading, lines)), expected)


def test_records_of_json_one_a_line() -> None:
    def lines(a: str, t: float, h: float, *_: float) -> list[str]:
        pairs = (("temperature", t), ("humidity", h))
        return [f'{{"time": "{a}", "what": "{q}", "value": {v}}}' for q, v in pairs]

    require_same(read(tall("", lines)), {"": ROOM})


def test_quantities_that_are_only_numbered_are_refused() -> None:
    refused(tall("time,param,value", lambda a, t, h, *_: [f"{a},1,{t}", f"{a},2,{h}"]))


def test_temperature_and_humidity_on_lines_of_their_own_in_columns_of_their_own() -> None:
    rows = ROOM.lines(lambda a, t, rh: f"{stamp(a)};{t};\n{stamp(a)};;{rh}")
    found = read(table("time;temp;rh", rows))
    require_same(found, {"": ROOM})
    assert found.understanding.rows.duplicate == 0


def _with_units(of: Callable[[int], str]) -> bytes:
    """One sensor's readings, the unit of each temperature as said for its row."""
    rows = []
    for number, time in enumerate(ROOM.times):
        unit, temp = of(number), ROOM.temp_c[number]
        shown = temp * 1.8 + 32 if unit == "°F" else temp
        rows += [f"{stamp(time)},Temp,{shown:.4f},{unit}"]
        rows += [f"{stamp(time)},RH,{ROOM.rh_pct[number]},%"]
    return table("time,what,value,unit", rows)


@pytest.mark.parametrize("first", ["°C", "°F"])
def test_each_row_is_read_in_its_own_unit(first: str) -> None:
    second = {"°C": "°F", "°F": "°C"}[first]
    found = read(_with_units(lambda number: first if number < 5 else second))
    np.testing.assert_allclose(found.sensors[""]["temp_c"], ROOM.temp_c, atol=1e-3)
    np.testing.assert_allclose(found.sensors[""]["rh_pct"], ROOM.rh_pct)


@pytest.mark.parametrize("odd", ["", "deg?", "#C"])
@pytest.mark.parametrize("at", [0, 7])
def test_a_row_whose_unit_is_damaged_is_named_and_the_others_stay(odd: str, at: int) -> None:
    found = read(_with_units(lambda number: odd if number == at else "°C"))
    temps = found.sensors[""]["temp_c"]
    assert np.flatnonzero(temps.isna()).tolist() == [at]
    others = np.delete(np.arange(len(temps)), at)
    np.testing.assert_allclose(temps.to_numpy()[others], np.asarray(ROOM.temp_c)[others], atol=1e-3)
    assert any(f"Left aside: Temp {odd}".rstrip() in note for note in found.understanding.notes)


def test_a_reading_written_in_two_units_is_read_once() -> None:
    rows = []
    for number, time in enumerate(ROOM.times):
        temp, rh = ROOM.temp_c[number], ROOM.rh_pct[number]
        rows += [f"{stamp(time)},Temp,{temp},°C", f"{stamp(time)},Temp,{temp * 1.8 + 32:.1f},°F"]
        rows += [f"{stamp(time)},RH,{rh},%"]
    found = read(table("time,what,value,unit", rows))
    require_same(found, {"": ROOM})
    assert any("Left aside: Temp °F" in note for note in found.understanding.notes)


@pytest.mark.parametrize("rows", ["one unit below the other", "and a sensor beside"])
def test_a_series_written_in_two_units_one_below_the_other_is_read_once(rows: str) -> None:
    room = ",North" if rows == "and a sensor beside" else ""
    warm = [f"{stamp(t)},Temp,{v},°C{room}" for t, v in zip(ROOM.times, ROOM.temp_c, strict=True)]
    damp = [f"{stamp(t)},RH,{v},%{room}" for t, v in zip(ROOM.times, ROOM.rh_pct, strict=True)]
    again = [
        f"{stamp(t)},Temp,{v * 1.8 + 32:.1f},°F{room}"
        for t, v in zip(ROOM.times, ROOM.temp_c, strict=True)
    ]
    head = "time,what,value,unit" + (",room" if room else "")
    found = read(table(head, [*warm, *damp, *again]))
    np.testing.assert_allclose(next(iter(found.sensors.values()))["temp_c"], ROOM.temp_c)
    assert any("Left aside: Temp °F" in note for note in found.understanding.notes)


def test_two_rooms_in_two_units_stay_two_rooms() -> None:
    rows = []
    for time, temp, rh in zip(ROOM.times, ROOM.temp_c, ROOM.rh_pct, strict=True):
        rows += [f"{stamp(time)},Temp,{temp},°C,North", f"{stamp(time)},RH,{rh},%,North"]
    for time, temp, rh in zip(ROOM.times, ROOM.temp_c, ROOM.rh_pct, strict=True):
        rows += [
            f"{stamp(time)},Temp,{temp * 1.8 + 32:.4f},°F,South",
            f"{stamp(time)},RH,{rh},%,South",
        ]
    found = read(table("time,what,value,unit,room", rows))
    assert list(found.sensors) == ["North", "South"]
    for frame in found.sensors.values():
        np.testing.assert_allclose(frame["temp_c"], ROOM.temp_c, atol=1e-3)


def test_blanks_in_dates_of_digits_and_in_headings_do_not_part_columns() -> None:
    rows = [
        line
        for time, t, rh in zip(ROOM.times, ROOM.temp_c, ROOM.rh_pct, strict=True)
        for line in (
            f"{time:%Y%m%d %H%M}\tHR\t{rh}\t%".replace(".", ","),
            f"{time:%Y%m%d %H%M}\tTemperatura\t{t}\t°C".replace(".", ","),
        )
    ]
    found = read(table("# as measured\nFecha y hora\tQuantity\tValue\tUnit", rows[::-1]))
    require_same(found, {"": ROOM})
