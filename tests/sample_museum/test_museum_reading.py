"""Every export of the museum, read as `deliveries.csv` declares it, gives back what was made."""

import csv
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import sample_logs
from sample_logs.climate import museum_air
from sample_logs.instruments import LOGGERS, between, readings_of
from sample_logs.make import EXPORTS, Export
from service.ingest.read import FileReading, read_file

MUSEUM = Path(sample_logs.__file__).parent
# Half of the last decimal written; °F to a tenth is 0.028 K.
TEMP_C, RH_PCT = 0.0501, 0.0501
CUT_LINE = "long-2_date-and-clock.txt"

with (MUSEUM / "deliveries.csv").open(encoding="utf-8", newline="") as _file:
    ZONES = {row["file"]: row["zone"] for row in csv.DictReader(_file)}


@pytest.fixture(scope="module")
def made() -> Mapping[str, pd.DataFrame]:
    air = museum_air()
    return {logger.logger: readings_of(logger, air) for logger in LOGGERS}


def read(export: Export) -> FileReading:
    return read_file(MUSEUM / "exports" / export.file, zone=ZONES[export.file])


@pytest.mark.parametrize("export", EXPORTS, ids=lambda export: export.file)
def test_an_export_is_read_as_it_was_made(export: Export, made: Mapping[str, pd.DataFrame]) -> None:
    reading = read(export)
    assert set(reading.sensors) == set(export.sensors)
    for name, logger in export.sensors.items():
        expected = between(made[logger], export.first, export.last, export.interval)
        got = reading.sensors[name]
        missing = expected.dropna(how="all").index.difference(got.index)
        assert len(missing) <= (1 if export.file == CUT_LINE else 0), missing[:5]
        assert got.index.difference(expected.index).empty
        for column, tolerance in (("temp_c", TEMP_C), ("rh_pct", RH_PCT)):
            if got[column].isna().all():
                assert "store-1" in export.file
                continue
            want = expected[column].reindex(got.index)
            assert (got[column].isna() == want.isna()).all(), column
            assert np.nanmax(np.abs(got[column] - want)) <= tolerance, column


def test_the_line_that_was_cut_short_is_reported_with_its_number() -> None:
    reading = read(next(export for export in EXPORTS if export.file == CUT_LINE))
    assert [problem.line for problem in reading.understanding.problems] == [1236]


def test_a_clock_left_on_winter_time_shows_when_it_is_declared_otherwise() -> None:
    export = next(export for export in EXPORTS if export.file == "east-1_2025.csv")
    path = MUSEUM / "exports" / export.file
    right = read_file(path, zone="+00:00").understanding
    wrong = read_file(path, zone="Europe/Dublin").understanding
    assert right.rows.flagged < wrong.rows.flagged
