"""A file as it arrives: how the reader is asked, and which logger each sensor belongs to."""

import contextlib
import hashlib
import json
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from analysis.errors import UnknownNameError
from service.errors import NotUnderstoodError
from service.ingest.choice import Choice, options_merged
from service.ingest.files.decode import HEAD_BYTES
from service.ingest.files.opened import CONTAINERS
from service.ingest.long.by_parts import read_long
from service.ingest.long.long_text import LONG_BYTES, long_text
from service.ingest.long.spilled import SpilledReadings, rows_in, rows_of_pieces
from service.ingest.read import FileReading, Hashed, read_as
from service.storage.originals import Originals
from service.storage.readings import folder_name, rows_of


@dataclass(frozen=True)
class Asked:
    """How the reader is asked; kept with the upload, so that it can be asked again."""

    zone: str | None = None
    columns: Mapping[str, str] | None = None
    day_first: bool | None = None
    start: str | None = None
    interval_s: float | None = None
    choice: Choice | None = None
    sensors: Mapping[str, str] = field(default_factory=dict)

    def read(
        self,
        name: str,
        source: Path | bytes,
        hashed: Hashed | None = None,
        room: Path | None = None,
    ) -> FileReading:
        """Read a file, its time base known; ``hashed`` as `read_bytes` takes it.

        Of a long file on the disk only parts are held; ``room`` is a folder for what is read.

        Raises
        ------
        StilltautError
            If the file is not understood, or a question is open.
        """
        asked = Choice(
            self.zone, dict(self.columns or {}), self.day_first, self.start, self.interval_s
        )
        reading = read_source(name, source, asked, self.choice, hashed=hashed, room=room)
        reading.require_zone()
        return reading

    def as_json(self) -> dict[str, Any]:
        """Return how the reader is asked as plain values."""
        values = {name: getattr(self, name) for name in self.__dataclass_fields__}
        columns = None if self.columns is None else dict(self.columns)
        choice = None if self.choice is None else self.choice.as_json()
        return values | {"columns": columns, "choice": choice, "sensors": dict(self.sensors)}

    @classmethod
    def from_json(cls, values: Mapping[str, Any]) -> "Asked":
        """Return what `as_json` gave."""
        choice = values["choice"]
        return cls(**{**values, "choice": None if choice is None else Choice.from_json(choice)})


def read_source(
    name: str,
    source: Path | bytes,
    asked: Choice,
    remembered: Choice | None = None,
    *,
    hashed: Hashed | None = None,
    room: Path | None = None,
) -> FileReading:
    """Return what a file holds: part by part where it is on the disk and long, else at once."""
    if isinstance(source, bytes):
        return read_as(name, source, asked, remembered, hashed)
    long = long_text(source, name)
    found = read_long(long, asked, remembered, room) if long else None
    return found or read_as(name, bytes_of(source), asked, remembered, hashed)


def held(path: Path) -> Path | bytes:
    """Return a file's bytes; of a long one its path, so that it need not be held.

    Raises
    ------
    NotUnderstoodError
        If it cannot be read.
    """
    if not path.is_file() or path.stat().st_size < LONG_BYTES:
        return bytes_of(path)
    with path.open("rb") as file:
        packed = file.read(16).startswith(CONTAINERS)
    return bytes_of(path) if packed else path


@contextlib.contextmanager
def original_at_hand(originals: Originals, sha256: str) -> Iterator[Path | bytes]:
    """Yield an original as it was received: its bytes, of a long one where they lie meanwhile.

    Raises
    ------
    StoreError
        If it is not kept, or no longer what was received.
    """
    if not originals.is_longer(sha256, LONG_BYTES - 1):
        yield originals.read(sha256)
        return
    with originals.on_disk(sha256) as path:
        yield held(path)


def opening(source: Path | bytes) -> bytes:
    """Return a file's bytes; of a long one on the disk those of its first lines."""
    if isinstance(source, bytes):
        return source
    with source.open("rb") as file:
        head = file.read(HEAD_BYTES)
    return head[: head.rfind(b"\n") + 1] or head


def by_logger(
    reading: FileReading, logger_id: str, sensors: Mapping[str, str]
) -> Mapping[str, pd.DataFrame]:
    """Return the frames of a file by the logger each belongs to, in the order of its sensors."""
    unknown = set(sensors) - set(reading.sensors)
    if unknown:
        raise UnknownNameError(
            read=f"{reading.understanding.file}, sensors", name=min(unknown), known=reading.sensors
        )
    found: dict[str, str] = {}
    for sensor in reading.sensors:
        target = sensors.get(sensor) or _logger_for(logger_id, sensor)
        if target in found:
            raise NotUnderstoodError(
                read=reading.understanding.file,
                where=f"sensor {sensor}",
                found=f"a second sensor for logger {target}",
                expected="one logger for each sensor",
                action="Say where each belongs, for example --sensor 'NAME=LOGGER'.",
            )
        folder_name(target)  # refuse an impossible name before anything is stored
        found[target] = sensor
    if isinstance(reading.sensors, SpilledReadings):
        return reading.sensors.renamed(found)
    return {target: reading.sensors[sensor] for target, sensor in found.items()}


def _logger_for(logger_id: str, sensor: str) -> str:
    slug = re.sub(r"\W+", "-", sensor.strip().lower()).strip("-")
    return f"{logger_id}.{slug}" if slug else logger_id


def reading_key(frames: Mapping[str, pd.DataFrame]) -> str:
    """Return a hash of loggers, times and values: two ways of asking that agree are one."""
    key = hashlib.sha256()
    for logger_id in frames:
        key.update(json.dumps([logger_id, rows_in(frames, logger_id)]).encode())
        # Column by column, whether the readings are held or not.
        held_rows = (
            () if isinstance(frames, SpilledReadings) else (rows_of(frames[logger_id], logger_id),)
        )
        for column in ("time_ms", "temp_c", "rh_pct"):
            for rows in held_rows or rows_of_pieces(frames, logger_id):
                key.update(np.ascontiguousarray(getattr(rows, column)).data)
    return key.hexdigest()


def printable(name: str) -> str:
    """Return a file's name with a sign in place of what cannot be printed or stored."""
    return "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in name)


def bytes_of(path: Path) -> bytes:
    """Return a file's bytes, or raise `NotUnderstoodError` when it cannot be read."""
    try:
        return path.read_bytes()
    except OSError as problem:
        raise NotUnderstoodError(
            read=str(path),
            where="",
            found=problem.strerror or str(problem),
            expected="a file that can be read",
            action="Check the name and the permissions.",
        ) from problem


def pairs(texts: Iterable[str], option: str) -> dict[str, str]:
    """Return ``NAME=VALUE`` texts as a mapping.

    Raises
    ------
    NotUnderstoodError
        If a text has no equals sign, or nothing on one side of it.

    Examples
    --------
    >>> pairs(["rh_pct=RH (%)"], "--column")
    {'rh_pct': 'RH (%)'}
    """
    found: list[tuple[str, str]] = []
    for text in texts:
        name, sign, value = text.partition("=")
        if not (name.strip() and sign and value.strip()):
            raise NotUnderstoodError(
                read="command line",
                where=option,
                found=repr(text),
                expected="NAME=VALUE",
                action=f"Write it as {option} 'NAME=VALUE'.",
            )
        found.append((name.strip(), value.strip()))
    return options_merged(found)
