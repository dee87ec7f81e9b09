"""JSON and JSON lines in the shapes that devices and services send. Samples invented here."""

import json
from typing import Any

import pytest

from service.errors import NotUnderstoodError
from service.ingest.read import FileReading, read_bytes

TIMES = [f"2024-01-13T{h:02d}:{m:02d}:00" for h in (10, 11, 12) for m in range(0, 60, 10)]
TEMP_C = [round(20 + i / 10, 1) for i in range(18)]
RH_PCT = [45 + i / 4 for i in range(18)]
ROWS = list(zip(TIMES, TEMP_C, RH_PCT, strict=True))
RECORDS: list[dict[str, Any]] = [{"time": t, "temperature": a, "humidity": b} for t, a, b in ROWS]


def lines(records: list[dict[str, Any]]) -> bytes:
    return "\n".join(json.dumps(one) for one in records).encode()


def text(value: Any, **options: Any) -> bytes:
    return json.dumps(value, ensure_ascii=False, **options).encode()


ONE_SENSOR = {
    "a list of objects": text(RECORDS),
    "indented": text(RECORDS, indent=2),
    "an object a line": lines(RECORDS),
    "an object a line, a record a line deeper": lines(
        [{"device": "N", "at": t, "air": {"temperature": a, "humidity": b}} for t, a, b in ROWS]
    ),
    "below other objects": text({"device": "N", "room": {"name": "Hall"}, "readings": RECORDS}),
    "beside a list that is none": text({"alarms": [{"code": 3}], "readings": RECORDS}),
    "lists side by side": text(
        {"place": "Hall", "time": TIMES, "temperature": TEMP_C, "humidity": RH_PCT}
    ),
    "lists with their units beside": text(
        {
            "hours_units": {"temperature": "°F", "humidity": "%"},
            "hours": {
                "time": TIMES,
                "temperature": [round(a * 1.8 + 32, 2) for a in TEMP_C],
                "humidity": RH_PCT,
            },
        }
    ),
    "headings in one list, rows in another": text(
        {"columns": ["time", "temperature", "humidity"], "rows": ROWS}
    ),
    "rows under a first row of headings": text([["time", "temperature", "humidity"], *ROWS]),
    "objects named by their times": text({t: {"temperature": a, "rh": b} for t, a, b in ROWS}),
    "columns that are objects named by their times": text(
        {
            "temperature": dict(zip(TIMES, TEMP_C, strict=True)),
            "rh": dict(zip(TIMES, RH_PCT, strict=True)),
        }
    ),
    "values with their units": text(
        [
            {
                "time": t,
                "temperature": {"value": round(a * 1.8 + 32, 2), "unit": "°F"},
                "humidity": {"value": b, "unit": "%"},
            }
            for t, a, b in ROWS
        ]
    ),
    "numbers as texts": text([{name: str(one[name]) for name in one} for one in RECORDS]),
    "in UTF-16": json.dumps(RECORDS).encode("utf-16"),
}


def assert_the_series(found: FileReading, sensor: str = "") -> None:
    frame = found.sensors[sensor]
    assert [f"{t:%Y-%m-%dT%H:%M:%S}" for t in frame.index] == TIMES
    assert frame["temp_c"].tolist() == pytest.approx(TEMP_C, abs=1e-9)
    assert frame["rh_pct"].tolist() == RH_PCT
    assert not found.understanding.problems


@pytest.mark.parametrize("name", ONE_SENSOR)
def test_the_series_comes_out_of_every_shape(name: str) -> None:
    assert_the_series(read_bytes("device.json", ONE_SENSOR[name], zone="UTC"))


COLDER = [one | {"temperature": one["temperature"] - 2} for one in RECORDS]
TWO_SENSORS = {
    "lists under the sensors' names": text({"Hall": RECORDS, "Store": COLDER}),
    "sensors that hold their readings": text(
        {"sensors": [{"name": "Hall", "data": RECORDS}, {"name": "Store", "data": COLDER}]}
    ),
}


@pytest.mark.parametrize("name", TWO_SENSORS)
def test_sensors_are_not_merged(name: str) -> None:
    found = read_bytes("devices.json", TWO_SENSORS[name], zone="UTC")
    assert list(found.sensors) == ["Hall", "Store"]
    assert_the_series(found, "Hall")
    assert found.sensors["Store"]["temp_c"].iloc[0] == 18.0


def test_what_stands_elsewhere_in_the_document_is_named() -> None:
    found = read_bytes("device.json", ONE_SENSOR["beside a list that is none"], zone="UTC")
    assert "left aside: alarms (1)." in " ".join(found.understanding.notes)


def test_a_broken_line_is_kept_apart_with_its_number() -> None:
    data = lines(RECORDS[:9]) + b'\n{"time": "2024-01-13T11:3\n' + lines(RECORDS[9:])
    found = read_bytes("device.jsonl", data, zone="UTC")
    assert len(found.sensors[""]) == 18
    (problem,) = found.understanding.problems
    assert problem.line == 11
    assert "Lines are counted with 1 line of names above" in " ".join(found.understanding.notes)


def test_numbers_keep_their_digits() -> None:
    data = text(RECORDS).replace(b"20.0", b"20.123456789012345")
    frame = read_bytes("device.json", data, zone="UTC").sensors[""]
    assert frame["temp_c"].iloc[0] == 20.123456789012345


REFUSED = {
    "broken off": (text(RECORDS)[:-40], "breaks off or is damaged"),
    "lists in lists": (b"[" * 100_000, "lists within lists"),
    "objects in objects": (b'{"a":' * 500 + b"1" + b"}" * 500, "lists within lists"),
    "a name twice": (b'[{"t": 1, "t": 2}]', "names 't' twice"),
    "no records": (b"[[], []]", "no records"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_json_that_cannot_be_read_is_refused_in_five_parts(name: str) -> None:
    data, found = REFUSED[name]
    with pytest.raises(NotUnderstoodError, match=found) as caught:
        read_bytes("bad.json", data, zone="UTC")
    assert caught.value.action
    assert caught.value.expected


def test_headings_in_brackets_are_no_json() -> None:
    data = b"[Readings]\ntime;temp;rh\n2024-01-13 10:00;21;45\n2024-01-13 10:10;21;46\n"
    assert len(read_bytes("a.csv", data, zone="UTC").sensors[""]) == 2
