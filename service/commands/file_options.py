"""Options that every command which reads a logger's file shares."""

from collections.abc import Callable
from pathlib import Path
from typing import Any, TextIO

import click

from analysis.errors import StilltautError
from service.errors import StoreError
from service.ingest.read import FileReading, read_file
from service.ingest.timebase import time_base


def file_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the file and what may have to be said about it."""
    for option in (
        click.option("--interval", "interval_s", type=float, help="Seconds between its readings."),
        click.option("--start", help="Time of the first reading, for a file without times."),
        click.option(
            "--column", "columns", multiple=True, help='Say a column outright: rh_pct="RH 2m".'
        ),
        click.option(
            "--zone", help="Clock of the logger: Europe/Oslo, UTC+1, 'Europe/Oslo no-dst'."
        ),
        click.argument("file", type=click.Path(path_type=Path)),
    ):
        function = option(function)
    return function


def reading_of(
    file: Path,
    zone: str | None,
    columns: tuple[str, ...],
    start: str | None,
    interval_s: float | None,
) -> FileReading:
    """Read a file as the options say; its clock must be known."""
    reading = read_file(
        file, zone=zone, columns=_columns(columns), start=start, interval_s=interval_s
    )
    reading.require_zone()
    return reading


def people_zone(reading: FileReading) -> str:
    """Return an IANA zone in which to show the times of a file to people."""
    base = time_base(reading.understanding.file, reading.understanding.time.zone or "UTC")
    if base.zone is not None:
        return base.zone.key
    hours, rest = divmod(base.offset_s, 3600)
    # The zones Etc/GMT±n count westward and know whole hours only.
    return "UTC" if rest or hours == 0 else f"Etc/GMT{-hours:+d}"


def channel_name(reading: FileReading, sensor: str) -> str:
    """Return the sensor's name, or for a file with a single one, the file's."""
    return sensor or Path(reading.understanding.file).stem


def open_for_writing(out: Path) -> TextIO:
    """Open a result for writing.

    Raises
    ------
    StoreError
        If it cannot be written there.
    """
    try:
        return out.open("w", encoding="utf-8", newline="")
    except OSError as problem:
        raise StoreError(
            read=str(out),
            where="",
            found=problem.strerror or str(problem),
            expected="a file that can be written",
            action="Choose another place for --out.",
        ) from problem


def _columns(pairs: tuple[str, ...]) -> dict[str, str]:
    columns = {}
    for pair in pairs:
        quantity, equals, heading = pair.partition("=")
        if not equals or not heading:
            raise StilltautError(
                read="command line",
                where="--column",
                found=repr(pair),
                expected='a quantity and a heading, such as rh_pct="Rel. humidity"',
                action="Write the option as --column QUANTITY=HEADING.",
            )
        columns[quantity.strip()] = heading.strip().strip('"')
    return columns
