"""Reading a logger's file: the bytes, the layout, the columns, the time base, in that order."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from service.errors import QuestionError
from service.ingest.choice import Choice
from service.ingest.understanding import Understanding


@dataclass(frozen=True)
class FileReading:
    """A file as it was read.

    Attributes
    ----------
    understanding : Understanding
        What was understood, to be shown before anything is stored.
    sensors : dict of str to pandas.DataFrame
        Readings per sensor in the shape of `analysis.series.readings_frame`. The key is "" for a
        single sensor, else its name as in the file. While no zone is declared
        (``understanding.time.zone`` is None) the index holds the clock's own times.
    extras : dict of str to pandas.DataFrame
        Other recognised quantities per sensor on the same index: ``dew_point_c``,
        ``pressure_pa``, ``humidity_ratio_kg_kg`` and the like.
    choice : Choice
        What to remember once a person has confirmed the understanding.
    """

    understanding: Understanding
    sensors: dict[str, pd.DataFrame]
    extras: dict[str, pd.DataFrame] = field(default_factory=dict)
    choice: Choice = field(default_factory=Choice)

    def require_zone(self) -> None:
        """Raise unless the time base is declared, before anything is stored.

        Raises
        ------
        QuestionError
            If neither the file nor the person said which clock the times are in.
        """
        if self.understanding.time.zone is None:
            raise QuestionError(
                read=self.understanding.file,
                where="column " + ", ".join(map(repr, self.understanding.time.columns)),
                found=f"times such as {self.understanding.time.first_written} without a zone",
                expected="to know which clock they follow",
                action="Add --zone Europe/Oslo (a place), --zone UTC+1 (a fixed offset) or "
                "--zone 'Europe/Oslo no-dst' (a clock that never changes to summer time).",
            )


def read_file(
    path: Path,
    *,
    zone: str | None = None,
    columns: Mapping[str, str] | None = None,
    choice: Choice | None = None,
    start: str | None = None,
    interval_s: float | None = None,
    day_first: bool | None = None,
) -> FileReading:
    """Return what a logger's file holds. See `read_bytes`."""
    raise NotImplementedError


def read_bytes(
    name: str,
    data: bytes,
    *,
    zone: str | None = None,
    columns: Mapping[str, str] | None = None,
    choice: Choice | None = None,
    start: str | None = None,
    interval_s: float | None = None,
    day_first: bool | None = None,
) -> FileReading:
    """Return what a logger's file holds, given as bytes."""
    raise NotImplementedError
