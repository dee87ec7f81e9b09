"""Whatever leaves readings aside says how many: every command and page that stands on a record."""

from collections.abc import Callable, Sequence
from pathlib import Path

import httpx
import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

from analysis.series import Flag
from service.cli import stilltaut
from service.settings import Settings
from service.storage.stores import Stores

DOUBTED = 7


def export(folder: Path) -> Path:
    """Write three days of one logger, seven values of which no air can have."""
    times = pd.date_range("2030-03-04", periods=288, freq="15min")
    rh = 50 + 0.1 * (np.arange(288) % 3)
    rh[100 : 100 + DOUBTED] = 140.0
    temp = 20 + 0.1 * (np.arange(288) % 2)
    path = folder / "east.csv"
    pd.DataFrame({"time": times, "temperature °C": temp, "humidity %": rh}).to_csv(
        path, index=False
    )
    return path


# Command, what it says.
OF_A_FILE = {
    "read": (("read", "FILE", "--zone", "UTC"), "7 readings that air cannot have"),
    "air": (("air", "FILE", "--zone", "UTC"), "7 of 288 readings doubted, and so marked"),
    "events": (("events", "FILE", "--zone", "UTC"), "7 of 288 readings set aside: 7 out of range"),
    "add": (("add", "FILE", "--logger", "e", "--zone", "UTC", "--data", "DATA"), "7 flagged"),
}


@pytest.mark.parametrize("command", OF_A_FILE)
def test_a_command_on_a_file_says_how_many_readings_it_leaves_aside(
    command: str, tmp_path: Path
) -> None:
    arguments, said = OF_A_FILE[command]
    places = {"FILE": str(export(tmp_path)), "DATA": str(tmp_path / "data")}
    assert said in run([places.get(text, text) for text in arguments])


def run(arguments: Sequence[str]) -> str:
    result = CliRunner().invoke(stilltaut, arguments)
    assert result.exit_code in (0, 1), result.output
    return " ".join(result.output.split())


@pytest.fixture
def doubted_museum(own_museum: Path) -> Path:
    """The small museum with seven readings of one room in doubt."""
    with Stores.open(Settings(data_dir=own_museum)) as stores:
        frame = stores.readings.load("north-1")
        at = frame.index[-40 : -40 + DOUBTED]
        frame.loc[at, "rh_pct"] = 140.0
        frame.loc[at, "flags"] |= int(Flag.OUT_OF_RANGE)
        stores.readings.rebuild("north-1", lambda: [frame])
    return own_museum


def test_commands_on_a_house_say_how_many_readings_they_leave_aside(doubted_museum: Path) -> None:
    data = ["--data", str(doubted_museum)]
    drawn = ["--out", str(doubted_museum / "week.svg")]
    assert "seven readings doubted" in run(["week", "north", *drawn, *data])
    dates = ["--from", "2026-03-16", "--to", "2026-03-22"]
    assert "North Gallery: seven readings doubted and left out." in run(["report", *dates, *data])


# Pages that stand on a room's record, and what they say.
PAGES = {
    "/": "Seven readings doubted",
    "/rooms/north": "seven readings doubted",
    "/rooms/north/air": "seven readings doubted",
    "/report?from=2026-03-16&to=2026-03-22": "North Gallery: seven readings doubted and left out.",
}


def test_pages_say_how_many_readings_they_leave_aside(
    doubted_museum: Path, serve: Callable[..., httpx.Client]
) -> None:
    client = serve(doubted_museum)
    for page, said in PAGES.items():
        shown = client.get(page)
        assert shown.status_code == 200, page
        assert said.casefold() in " ".join(shown.text.split()).casefold(), page
