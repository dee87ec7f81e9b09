"""``stilltaut events`` as a person runs it."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner, Result

from analysis.events.event_finding import EVENT_COLUMNS
from service.cli import stilltaut


def run(*arguments: object) -> Result:
    return CliRunner().invoke(stilltaut, ["events", *map(str, arguments)])


def export(path: Path, peak: float) -> Path:
    hours = np.arange(0, 72, 0.25)
    rh = 50 + np.interp(hours, [30, 31, 33, 34], [0, peak, peak, 0]) + 0.1 * (np.arange(288) % 3)
    times = pd.date_range("2030-03-04", periods=len(hours), freq="15min")
    table = pd.DataFrame({"time": times, "temperature °C": 20.0, "humidity %": rh.round(1)})
    table["temperature °C"] += 0.1 * (np.arange(288) % 2)
    table.to_csv(path, index=False)
    return path


def test_a_spike_is_written_and_said(tmp_path: Path) -> None:
    out = tmp_path / "events.csv"
    result = run(export(tmp_path / "east.csv", 18.0), "--zone", "Europe/Oslo", "--out", out)
    assert result.exit_code == 0, result.output
    table = pd.read_csv(out)
    assert list(table.columns) == list(EVENT_COLUMNS)
    (row,) = table.to_dict("records")
    assert (row["kind"], row["channel"]) == ("spike", "east")
    assert row["start_utc"].startswith("2030-03-05T05:")
    assert row["size"] == pytest.approx(18.0, abs=0.5)
    assert "5 March 2030, 06" in result.output
    assert "1 event. Times in Europe/Oslo." in result.output


def test_quiet_air_is_no_proof_of_safety(tmp_path: Path) -> None:
    out = tmp_path / "events.csv"
    result = run(export(tmp_path / "east.csv", 0.0), "--zone", "UTC", "--out", out)
    assert result.exit_code == 0, result.output
    assert "not evidence of safety" in result.output
    assert out.read_text(encoding="utf-8") == ",".join(EVENT_COLUMNS) + "\n"


def test_what_is_set_aside_is_counted(tmp_path: Path) -> None:
    path = export(tmp_path / "east.csv", 0.0)
    table = pd.read_csv(path)
    table.loc[100:104, "humidity %"] = 120.0
    table.to_csv(path, index=False)
    result = run(path, "--zone", "UTC")
    assert "east: 5 of 288 readings set aside: 5 out of range." in result.output


def test_a_band_given_by_hand(tmp_path: Path) -> None:
    result = run(export(tmp_path / "east.csv", 18.0), "--zone", "UTC", "--band", 40, 60)
    assert "above band" in result.output


def test_a_file_without_times_needs_a_start(shared_data: Path) -> None:
    # Suthaharan et al., ISSNIP 2010 (ODC-By 1.0, CC BY 4.0).
    path = shared_data / "labelled_steam_events" / "singlehop_indoor_moteid1_data.txt"
    said = run(path, "--zone", "UTC", "--start", "2010-05-09 08:00", "--interval", "5s")
    assert said.exit_code == 0, said.output
    assert "rose 47 %RH" in said.output
    assert "1 event." in said.output


def test_a_long_list_shows_the_few_that_matter_and_counts_the_rest(shared_data: Path) -> None:
    # TRH-database (CC BY 4.0).
    result = run(shared_data / "attic_paper_pair" / "indoor1.csv")
    assert result.exit_code == 0, result.output
    lines = result.output.splitlines()
    assert len(lines) <= 26
    assert sum("24-hour swing" in line for line in lines) <= 3
    assert any("times humidity ranged widely within 24 h" in line for line in lines)
    assert "Every one of them: with --out FILE.csv." in lines
    assert lines[-1].endswith("Times in Etc/GMT-2.")
