"""Writes the museum's files anew: ``python -m sample_logs.make [FOLDER]``.

The same bytes every time: everything random comes from one seed.
"""

import csv
import io
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import pandas as pd

from sample_logs import layouts
from sample_logs.climate import museum_air
from sample_logs.collection import CLOCKS, register
from sample_logs.instruments import LOGGERS, between, readings_of
from sample_logs.journey import UNPACKED

HERE = Path(__file__).resolve().parent
START, END = "2025-01-20", "2026-03-23"
DELIVERY_COLUMNS = ("delivery", "file", "logger", "sensor", "zone", "delivered_utc", "note")
Readings = Mapping[str, pd.DataFrame]


@dataclass(frozen=True)
class Export:
    """One file as a logger handed it over.

    ``sensors`` maps the name in the file to the logger; a file of one logger names it "". Files
    that share a ``delivery`` belong together and are taken in as one.
    """

    delivery: int
    file: str
    sensors: Mapping[str, str]
    layout: Callable[..., bytes]
    first: str
    last: str
    interval: str
    delivered: str
    note: str


def one(logger: str) -> Mapping[str, str]:
    """Return the sensors of a file that holds one logger."""
    return {"": logger}


COURT = {"Entrance": "court-1", "Middle": "court-2", "Far end": "court-3"}
FRAMES = {"frame 2018-02": "north-frame", "frame 2014-03": "long-frame"}
TEMP = partial(layouts.one_quantity, column="temp_c")
HUMIDITY = partial(layouts.one_quantity, column="rh_pct")

# fmt: off
EXPORTS = (
    Export(1, "north-1_to-february.csv", one("north-1"), layouts.comma_iso,
           START, "2026-03-01", "1h", "2026-03-02T09:00Z", "summer time in the local clock"),
    Export(2, "north-2_bis-maerz.csv", one("north-2"), layouts.semicolon_german,
           START, "2026-03-09", "1h", "2026-03-09T09:00Z", "a gap in June; reads high, calibrated"),
    Export(3, "long-1_newest-first.csv", one("long-1"), layouts.newest_first,
           START, "2026-03-09", "1h", "2026-03-09T09:10Z", "--- where no reading came"),
    Export(4, "long-2_date-and-clock.txt", one("long-2"), layouts.date_and_clock_apart,
           START, END, "1h", "2026-03-22T23:05Z", "stuck for six days in June; a line cut short"),
    Export(5, "frames_long.psv", FRAMES, layouts.long_with_sensor,
           "2025-06-02", END, "1h", "2026-03-22T23:06Z", "two loggers in frames, a line a sensor"),
    Export(6, "court_wide.csv", COURT, layouts.wide,
           START, "2026-03-16", "1h", "2026-03-16T09:00Z", "three sensors side by side"),
    Export(7, "east-1_2025.csv", one("east-1"), layouts.readings_before_times,
           START, "2026-01-01", "1h", "2026-01-05T10:00Z", "clock left on winter time; a gap"),
    Export(8, "east-1_2026.csv", one("east-1"), layouts.readings_before_times,
           "2025-12-29", END, "1h", "2026-03-22T23:07Z", "three days delivered before"),
    Export(9, "tower-1_releve.txt", one("tower-1"), layouts.tab_french,
           START, END, "1h", "2026-03-22T23:08Z", "UTF-16, French headings"),
    Export(10, "tower-2_with-battery.csv", one("tower-2"), layouts.with_battery,
           START, END, "1h", "2025-12-02T15:00Z", "drifts, then dies on 17 November"),
    Export(11, "store-1_temperature.txt", one("store-1"), TEMP,
           START, END, "1h", "2026-03-22T23:09Z", "temperature only"),
    Export(11, "store-1_humidity.txt", one("store-1"), HUMIDITY,
           START, END, "1h", "2026-03-22T23:09Z", "humidity only; a gap in August"),
    Export(12, "spare-1_utc-plus-one.csv", one("spare-1"), layouts.offset_in_heading,
           START, END, "1h", "2026-03-22T23:10Z", "carried to the store in September"),
    Export(13, "out-1_epoch.csv", one("out-1"), layouts.epoch_fraction,
           START, END, "1h", "2026-03-22T23:11Z", "humidity as a fraction; a gap in October"),
    Export(14, "north-1_2026-W10.csv", one("north-1"), layouts.comma_iso,
           "2026-02-28", "2026-03-09", "15min", "2026-03-09T09:20Z", "by quarters of an hour"),
    Export(15, "north-1_2026-W11.csv", one("north-1"), layouts.comma_iso,
           "2026-03-08", "2026-03-16", "15min", "2026-03-16T09:10Z", "a day delivered before"),
    Export(16, "long-1_march.csv", one("long-1"), layouts.newest_first,
           "2026-03-08", END, "15min", "2026-03-22T23:12Z", "--- where no reading came"),
    Export(17, "north-2_maerz.csv", one("north-2"), layouts.semicolon_german,
           "2026-03-02", END, "15min", "2026-03-22T23:13Z", "a week delivered before, hourly"),
    Export(18, "north-1_2026-W12.csv", one("north-1"), layouts.comma_iso,
           "2026-03-15", END, "15min", "2026-03-22T23:14Z", "the wet opening night of Thursday"),
    Export(19, "court_2026-W12.csv", COURT, layouts.wide,
           "2026-03-16", END, "15min", "2026-03-22T23:15Z", "the humidifier sticks on, Sunday"),
    Export(20, "crate-1_october.csv", one("crate-1"), layouts.comma_iso,
           "2025-10-06", UNPACKED[:16], "15min", "2025-10-10T08:00Z",
           "shut in with a work on its way out"),
    Export(21, "hall-1_on-loan.csv", one("hall-1"), layouts.comma_iso,
           "2025-10-01", "2025-12-02", "1h", "2025-12-05T09:00Z",
           "from the house that borrowed, in its own clock"),
)
# fmt: on


def export_bytes(export: Export, readings: Readings) -> bytes:
    """Return the bytes of one export."""
    cut = {
        name: between(readings[logger], export.first, export.last, export.interval)
        for name, logger in export.sensors.items()
    }
    zone = CLOCKS[next(iter(export.sensors.values()))]
    return export.layout(cut.get("", cut), zone)


def files() -> Iterator[tuple[str, bytes]]:
    """Return every file of the museum: its path beneath the folder, and its bytes."""
    air = museum_air()
    readings = {logger.logger: readings_of(logger, air) for logger in LOGGERS}
    for export in EXPORTS:
        yield f"exports/{export.file}", export_bytes(export, readings)
    yield "deliveries.csv", _csv(DELIVERY_COLUMNS, _deliveries())
    for name, rows in register().items():
        yield f"register/{name}", _csv(tuple(rows[0]), rows)


def _deliveries() -> list[dict[str, Any]]:
    return [
        {
            "delivery": export.delivery,
            "file": export.file,
            "logger": logger,
            "sensor": sensor,
            "zone": CLOCKS[logger],
            "delivered_utc": export.delivered,
            "note": export.note,
        }
        for export in EXPORTS
        for sensor, logger in export.sensors.items()
    ]


def _csv(columns: Sequence[str], rows: Sequence[Mapping[str, Any]]) -> bytes:
    text = io.StringIO()
    writer = csv.DictWriter(text, columns, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue().encode()


def write(folder: Path) -> None:
    """Write every file beneath ``folder``."""
    for name, content in files():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)


if __name__ == "__main__":
    write(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
