"""The invented museum: its register and its loggers' exports taken in, in the order they came."""

import csv
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from importlib.resources import files
from pathlib import Path

from service.intake.receipts import UploadReceipt
from service.intake.taking_in import take_in
from service.register.register_files import load_register
from service.storage.site_clock import declare
from service.storage.stores import Stores


@dataclass(frozen=True)
class Delivery:
    """One file as it was handed in: which logger each of its sensors belongs to, which clock."""

    number: str
    file: str
    zone: str
    sensors: dict[str, str] = field(default_factory=dict)


def sample_folder() -> Path:
    """Return the folder of the invented museum."""
    return Path(str(files("sample_logs")))


def deliveries(folder: Path) -> list[Delivery]:
    """Return the deliveries of ``deliveries.csv``, in order."""
    found: dict[tuple[str, str], Delivery] = {}
    with (folder / "deliveries.csv").open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines):
            key = (row["delivery"], row["file"])
            delivery = found.setdefault(key, Delivery(row["delivery"], row["file"], row["zone"]))
            delivery.sensors[row["sensor"]] = row["logger"]
    return list(found.values())


def delivered_last_utc(folder: Path) -> datetime:
    """Return when the last delivery came: the present of the invented museum."""
    with (folder / "deliveries.csv").open(encoding="utf-8", newline="") as lines:
        return max(datetime.fromisoformat(row["delivered_utc"]) for row in csv.DictReader(lines))


def build(stores: Stores, folder: Path) -> Iterator[UploadReceipt]:
    """Take the museum in; yields the receipt of each file. Doing it twice changes nothing.

    A new folder is noted as created on the museum's own clock, which stands still.
    """
    declare(stores.register, delivered_last_utc(folder))
    load_register(stores, folder / "register")
    for delivery in deliveries(folder):
        path = folder / "exports" / delivery.file
        first = next(iter(delivery.sensors.values()))
        named = {name: logger for name, logger in delivery.sensors.items() if name}
        yield take_in(
            stores,
            path,
            name=delivery.file,
            logger_id=first,
            zone=delivery.zone,
            sensors=named,
            by="demo",
        )
