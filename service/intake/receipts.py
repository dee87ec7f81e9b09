"""What a person gets back for a file taken in: how much of it was new, and what to look at."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from dashboards.text import wording
from service.storage.months import Conflict, MergeReport


class Outcome(StrEnum):
    """What became of a file."""

    STORED = "stored"
    ALREADY_THERE = "already there"
    COMPLETED = "completed after an interruption"


@dataclass(frozen=True)
class SensorReceipt:
    """What one sensor's readings did to one logger's months.

    ``flagged`` counts rows of the file with a doubt; ``conflicts`` lists at most the first
    thousand of ``conflict_count``.
    """

    logger_id: str
    sensor: str
    rows: int
    flagged: int
    first_utc: datetime | None
    last_utc: datetime | None
    merged: MergeReport

    def as_json(self) -> dict[str, Any]:
        """Return the receipt as plain values."""
        return {
            "logger": self.logger_id,
            "sensor": self.sensor,
            "rows": self.rows,
            "added": self.merged.added,
            "same": self.merged.same,
            "filled": self.merged.filled,
            "conflicts": self.merged.conflict_count,
            "flagged": self.flagged,
            "first_utc": self.first_utc.isoformat() if self.first_utc else None,
            "last_utc": self.last_utc.isoformat() if self.last_utc else None,
            "months": list(self.merged.months),
            "conflicts_listed": [
                [item.time_utc.isoformat(), item.channel, item.kept, item.offered]
                for item in self.merged.conflicts
            ],
        }

    @classmethod
    def from_json(cls, values: Mapping[str, Any]) -> "SensorReceipt":
        """Return the receipt kept by `as_json`."""
        listed = (
            Conflict(datetime.fromisoformat(time), channel, kept, offered)
            for time, channel, kept, offered in values["conflicts_listed"]
        )
        merged = MergeReport(
            added=values["added"],
            same=values["same"],
            filled=values["filled"],
            conflict_count=values["conflicts"],
            conflicts=tuple(listed),
            months=tuple(values["months"]),
        )
        return cls(
            logger_id=values["logger"],
            sensor=values["sensor"],
            rows=values["rows"],
            flagged=values["flagged"],
            first_utc=_instant(values["first_utc"]),
            last_utc=_instant(values["last_utc"]),
            merged=merged,
        )


@dataclass(frozen=True)
class UploadReceipt:
    """What became of one file.

    ``upload`` is the number by which it can be taken back; ``understanding`` is
    `service.ingest.understanding.Understanding.as_json`.
    """

    outcome: Outcome
    upload: int
    name: str
    sha256: str
    received_utc: datetime
    understanding: Mapping[str, Any]
    sensors: tuple[SensorReceipt, ...]

    @property
    def rows(self) -> int:
        """Rows read, all sensors together."""
        return sum(sensor.rows for sensor in self.sensors)

    @property
    def added(self) -> int:
        """Rows that were new."""
        return sum(sensor.merged.added for sensor in self.sensors)

    @property
    def same(self) -> int:
        """Rows that were there already, with the same values."""
        return sum(sensor.merged.same for sensor in self.sensors)

    @property
    def filled(self) -> int:
        """Rows that gained a quantity they lacked."""
        return sum(sensor.merged.filled for sensor in self.sensors)

    @property
    def conflicts(self) -> int:
        """Rows for which another value had come first."""
        return sum(sensor.merged.conflict_count for sensor in self.sensors)

    @property
    def flagged(self) -> int:
        """Rows with a doubt."""
        return sum(sensor.flagged for sensor in self.sensors)

    @property
    def unreadable(self) -> int:
        """Lines of the file that could not be read and were kept apart."""
        return int(self.understanding.get("rows", {}).get("unreadable", 0))

    @property
    def needs_person(self) -> bool:
        """Whether somebody should look at this file again."""
        return self.conflicts > 0 or self.unreadable > 0

    def _came_before(self) -> str:
        return f"all of these came in on {wording.day(self.received_utc, 'UTC')}; nothing new"

    def as_json(self) -> dict[str, Any]:
        """Return the receipt as plain values."""
        return {
            "outcome": str(self.outcome),
            "upload": self.upload,
            "file": self.name,
            "sha256": self.sha256,
            "received_utc": self.received_utc.isoformat(),
            "rows": self.rows,
            "added": self.added,
            "same": self.same,
            "filled": self.filled,
            "conflicts": self.conflicts,
            "flagged": self.flagged,
            "unreadable": self.unreadable,
            "sensors": [sensor.as_json() for sensor in self.sensors],
        }

    def lines(self) -> list[str]:
        """Return the receipt as sentences for a person."""
        if self.outcome is Outcome.ALREADY_THERE:
            return [f"{self.name}: {self._came_before()} (upload {self.upload})."]
        head = f"{self.name}: {self.outcome} as upload {self.upload}, {self.rows} rows read"
        lines = "1 line" if self.unreadable == 1 else f"{self.unreadable} lines"
        apart = f"; {lines} could not be read" if self.unreadable else ""
        return [f"{head}{apart}.", *(line for item in self.sensors for line in _lines(item))]


def _lines(item: SensorReceipt) -> list[str]:
    merged = item.merged
    where = f"  {item.logger_id}" + (f" ({item.sensor})" if item.sensor else "")
    counts = [f"{merged.added} added", f"{merged.same} the same"]
    counts += [f"{merged.filled} completed"] if merged.filled else []
    counts += [f"{merged.conflict_count} in conflict"] if merged.conflict_count else []
    counts += [f"{item.flagged} flagged"] if item.flagged else []
    span = ""
    if item.first_utc and item.last_utc:
        span = f", {item.first_utc:%Y-%m-%d %H:%M} to {item.last_utc:%Y-%m-%d %H:%M} UTC"
    shown = [
        f"    {clash.time_utc:%Y-%m-%d %H:%M:%S} UTC {clash.channel}: "
        f"kept {clash.kept:g}, this file says {clash.offered:g}"
        for clash in merged.conflicts[:5]
    ]
    return [f"{where}: {', '.join(counts)}{span}", *shown]


def _instant(text: str | None) -> datetime | None:
    return datetime.fromisoformat(text) if text else None
