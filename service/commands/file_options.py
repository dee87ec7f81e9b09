"""Options that the commands working on one logger's file share, and how they are used."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import wraps
from pathlib import Path
from typing import Any, TextIO

import click
import numpy as np
import pandas as pd

from analysis.series import FLAG_WORDS, Flag
from dashboards.text.messages import _
from service.commands.read import ColumnSaid, Interval
from service.errors import StoreError
from service.ingest.choice import options_merged
from service.ingest.read import FileReading, read_file
from service.ingest.times.timebase import time_base


@dataclass(frozen=True)
class FileAsked:
    """A file and what a person said about it."""

    file: Path
    zone: str | None = None
    columns: Sequence[tuple[str, str]] = ()
    start: str | None = None
    interval: float | None = None
    day_first: bool | None = None

    def read(self) -> FileReading:
        """Read the file; its clock must be known."""
        reading = read_file(
            self.file,
            zone=self.zone,
            columns=options_merged(self.columns),
            start=self.start,
            interval_s=self.interval,
            day_first=self.day_first,
        )
        reading.require_zone()
        return reading


def file_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the file and what may be said about it, given to the command as ``asked``."""

    @wraps(function)
    def with_file(
        file: Path,
        zone: str | None,
        columns: Sequence[tuple[str, str]],
        start: str | None,
        interval: float | None,
        day_first: bool | None,
        **others: Any,
    ) -> Any:
        asked = FileAsked(file, zone, columns, start, interval, day_first)
        return function(asked=asked, **others)

    for option in reversed(_OPTIONS):
        with_file = option(with_file)
    return with_file


_OPTIONS: tuple[Callable[..., Any], ...] = (
    click.argument("file", type=click.Path(path_type=Path), metavar="FILE"),
    click.option("--zone", metavar="ZONE", help="The logger's clock: Europe/Oslo, UTC+1, …"),
    click.option(
        "--column", "columns", multiple=True, type=ColumnSaid(), help="Say which column holds what."
    ),
    click.option("--start", metavar="TIME", help="Time of the first reading, for files without."),
    click.option("--interval", type=Interval(), help="Time between readings, for files without."),
    click.option(
        "--day-first/--month-first", default=None, help="Order of dates the file leaves open."
    ),
)


def aside_lines(flagged: Mapping[str, pd.DataFrame], doubted: Flag, what: str) -> list[str]:
    """Return how many readings of each channel are doubted and for which reasons.

    Parameters
    ----------
    flagged : mapping of str to pandas.DataFrame
        Flagged readings of each channel.
    doubted : Flag
        The doubts that count.
    what : str
        What becomes of them, such as "set aside".
    """
    lines = []
    for channel, frame in flagged.items():
        flags = frame["flags"].to_numpy()
        count = int(np.count_nonzero(flags & int(doubted)))
        reasons = [
            f"{int(np.count_nonzero(flags & int(flag)))} {_(words)}"
            for flag, words in FLAG_WORDS.items()
            if flag & doubted and np.any(flags & int(flag))
        ]
        if count:
            why = ", ".join(reasons)
            said = _("{count} of {all} readings {what}", count=count, all=len(frame), what=what)
            lines.append(f"{channel}: {said}: {why}.")
    return lines


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
