"""``stilltaut air`` as a person runs it."""

import io
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner, Result

from service.cli import main, stilltaut

COLUMNS = (
    "time_utc,channel,temp_c,rh_pct,dew_point_c,frost_point_c,vapour_pressure_pa,"
    "humidity_ratio_kg_kg,absolute_humidity_g_m3,flags"
)


def run(*arguments: object) -> Result:
    return CliRunner().invoke(stilltaut, ["air", *map(str, arguments)])


@pytest.fixture
def export(tmp_path: Path) -> Path:
    rows = [f"2030-01-01 {h:02d}:00:00,20.0,{50 + h / 10:.1f}" for h in range(24)]
    rows[5] = "2030-01-01 05:00:00,20.0,0.0"
    path = tmp_path / "north gallery.csv"
    path.write_text("\n".join(["time,temperature °C,humidity %", *rows]) + "\n", encoding="utf-8")
    return path


def test_a_row_for_every_reading(export: Path) -> None:
    result = run(export, "--zone", "Europe/Oslo")
    assert result.exit_code == 0, result.output
    assert result.stdout.splitlines()[0] == COLUMNS
    assert "of 24 readings doubted" in result.stderr
    table = pd.read_csv(io.StringIO(result.stdout))
    assert len(table) == 24
    assert table["time_utc"][0] == "2029-12-31T23:00:00Z"
    assert set(table["channel"]) == {"north gallery"}
    assert table["dew_point_c"][0] == pytest.approx(9.272, abs=0.002)
    assert table["flags"][5] == "out of range"
    assert pd.isna(table["dew_point_c"][5])


def test_a_file_at_an_altitude(export: Path, tmp_path: Path) -> None:
    out = tmp_path / "air.csv"
    result = run(export, "--zone", "UTC", "--altitude-m", "1000", "--wet-bulb", "--out", out)
    assert result.exit_code == 0, result.output
    table = pd.read_csv(out)
    # 20 °C, 50 %RH: 7.2617 g/kg at sea level; at 89875 Pa 0.621945 e / (p − e), e = 1169.4 Pa.
    assert table["humidity_ratio_kg_kg"][0] == pytest.approx(
        0.621945 * 1169.4 / (89875 - 1169.4), rel=1e-4
    )
    assert table["wet_bulb_c"][0] < 14.0


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--zone", "UTC", "--pressure-pa", "1013"], "pascals"),
        ([], "--zone"),
        (["--zone", "UTC", "--out", "/no such folder/air.csv"], "--out"),
    ],
)
def test_what_cannot_be_done_is_said_in_one_line(
    export: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], said: str
) -> None:
    with pytest.raises(SystemExit) as stop:
        main(["air", str(export), *arguments])
    assert stop.value.code == 2
    written = capsys.readouterr()
    assert said in written.err
    assert len(written.err.splitlines()) == 1
    assert written.out == ""


def test_the_office_says_the_humidity_ratio_its_authors_did(shared_data: Path) -> None:
    # Candanedo and Feldheim, Energy and Buildings 112 (2016) 28–39 (CC BY 4.0).
    path = shared_data / "office_occupancy" / "datatest.txt"
    result = run(path, "--zone", "Europe/Brussels")
    assert result.exit_code == 0, result.output
    ours = pd.read_csv(io.StringIO(result.output))
    theirs = pd.read_csv(path)
    difference = ours["humidity_ratio_kg_kg"].to_numpy() - theirs["HumidityRatio"].to_numpy()
    assert abs(difference).max() < 3e-7
