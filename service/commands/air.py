"""``stilltaut air``: derived air quantities for each reading of a file."""

import sys
from pathlib import Path
from typing import TextIO

import click
import pandas as pd

from analysis.air.moist_air import AIR_COLUMNS, derived_air
from analysis.air.quality import flag_readings
from analysis.series import UNFIT, flag_words
from dashboards.text.messages import _
from service.commands.file_options import (
    FileAsked,
    aside_lines,
    channel_name,
    file_options,
    open_for_writing,
)

COLUMNS = ("time_utc", "channel", *AIR_COLUMNS)
DECIMALS = {
    "temp_c": 3,
    "rh_pct": 3,
    "dew_point_c": 3,
    "frost_point_c": 3,
    "vapour_pressure_pa": 2,
    "humidity_ratio_kg_kg": 9,
    "absolute_humidity_g_m3": 4,
    "wet_bulb_c": 3,
}


@click.command()
@file_options
@click.option("--pressure-pa", type=float, help="Air pressure [Pa]; sea level if left out.")
@click.option("--altitude-m", type=float, help="Altitude [m], in place of a pressure.")
@click.option("--wet-bulb", is_flag=True, help="Add a column wet_bulb_c.")
@click.option("--out", type=click.Path(path_type=Path), help="Write CSV here, not to the screen.")
def command(
    asked: FileAsked,
    pressure_pa: float | None,
    altitude_m: float | None,
    wet_bulb: bool,
    out: Path | None,
) -> None:
    """Dew point (over water), frost point, vapour pressure and more for each reading of FILE."""
    reading = asked.read()
    tables = []
    flagged = {channel_name(reading, s): flag_readings(f) for s, f in reading.sensors.items()}
    for channel, frame in flagged.items():
        air = derived_air(frame, pressure_pa=pressure_pa, altitude_m=altitude_m)
        if wet_bulb:
            air = _with_wet_bulb(air, pressure_pa, altitude_m)
        tables.append(air.assign(channel=channel))
    table = pd.concat(tables)
    if out is None:
        write_air(table, sys.stdout)
    else:
        with open_for_writing(out) as stream:
            write_air(table, stream)
        click.echo(_("{many} readings written to {file}.", many=len(table), file=out))
    for line in aside_lines(flagged, UNFIT, _("doubted, and so marked")):
        click.echo(line, err=out is None)


def write_air(table: pd.DataFrame, stream: TextIO) -> None:
    """Write derived air as CSV, times in UTC, flags in words."""
    words = {flags: flag_words(int(flags)) for flags in table["flags"].unique()}
    columns = [*COLUMNS[:-1], *(["wet_bulb_c"] if "wet_bulb_c" in table else []), "flags"]
    written = table.assign(flags=table["flags"].map(words), time_utc=utc_text(table.index))
    written.round(DECIMALS)[columns].to_csv(stream, index=False, lineterminator="\n")


def utc_text(times: pd.Index) -> pd.Index:
    """Return times as ISO 8601 in UTC, with milliseconds only where there are any."""
    index = pd.DatetimeIndex(times)
    whole = bool((index == index.floor("s")).all())
    text = index.tz_convert(None)
    return text.strftime("%Y-%m-%dT%H:%M:%SZ" if whole else "%Y-%m-%dT%H:%M:%S.%fZ")


def _with_wet_bulb(
    air: pd.DataFrame, pressure_pa: float | None, altitude_m: float | None
) -> pd.DataFrame:
    from analysis.air.moist_air import wet_bulb_c

    bulb = wet_bulb_c(air["temp_c"], air["rh_pct"], pressure_pa=pressure_pa, altitude_m=altitude_m)
    return air.assign(wet_bulb_c=bulb)
