"""Which file of the register holds which records, and how they get in and out."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from service.storage import calibrations, events, inspections, loggers, places, works
from service.storage.records import Dataclass, find, values_of
from service.storage.register import Register
from service.storage.schema import FrameRow, HangingRow, MountRow, OverrideRow
from service.storage.tables import Table
from service.storage.works import DatedType

BAND = (
    "band_name",
    "rh_low_pct",
    "rh_high_pct",
    "temp_low_c",
    "temp_high_c",
    "band_owner",
    "band_since",
    "band_review",
)


@dataclass(frozen=True)
class Sheet:
    """One file: ``take`` puts a line's values in, ``lines`` gives all lines back."""

    take: Callable[[Register, dict[str, Any], str], bool]
    lines: Callable[[Register], Iterable[Mapping[str, Any]]]


def _plain(
    kind: type[Any],
    put: Callable[..., bool],
    all_records: Callable[[Register], Iterable[Dataclass]],
) -> Sheet:
    """Return the sheet of a file whose columns are the fields of one record."""

    def take(register: Register, values: dict[str, Any], by: str) -> bool:
        return put(register, kind(**values), by=by)

    return Sheet(take, lambda register: [values_of(item) for item in all_records(register)])


def _take_site(register: Register, values: dict[str, Any], by: str) -> bool:
    return places.put_site(register, places.Site(**({"name": values["site"]} | values)), by=by)


def _take_room(register: Register, values: dict[str, Any], by: str) -> bool:
    band = {name: values.pop(name) for name in BAND if name in values}
    room = places.Room(**({"name": values["room"]} | values))
    changed = places.put_room(register, room, by=by)
    return (_take_band(register, {"room": room.room} | band, by) if band else False) or changed


def _take_band(register: Register, values: dict[str, Any], by: str) -> bool:
    band = places.AgreedBand(**({"band_name": "agreed band"} | values))
    return places.put_band(register, band, by=by)


def _room_lines(register: Register) -> Iterable[Mapping[str, Any]]:
    for room in places.rooms(register):
        newest = places.bands(register, room.room)[-1:]
        yield {**values_of(room), **(values_of(newest[0]) if newest else {})}


def _earlier_bands(register: Register) -> Iterable[Mapping[str, Any]]:
    for room in places.rooms(register):
        yield from map(values_of, places.bands(register, room.room)[:-1])


def _parts(kind: type[DatedType], table: type[Table]) -> Callable[[Register], Iterable[Dataclass]]:
    """Return a function that gives one part of every work's record, each in order of time."""

    def parts(register: Register) -> Iterable[Dataclass]:
        with register.reading() as session:
            found = find(session, kind, table)
        return sorted(found, key=_work_and_time)

    return parts


def _work_and_time(part: works.Dated) -> tuple[str, float]:
    begins = works.since(part)
    return part.work_id, begins.timestamp() if begins else float("-inf")


def _all_inspections(register: Register) -> Iterable[Dataclass]:
    return inspections.inspections(register, with_withdrawn=True)


# In the order in which they are read: what is named comes before what names it.
SHEETS: Mapping[str, Sheet] = {
    "sites.csv": Sheet(_take_site, lambda register: map(values_of, places.sites(register))),
    "rooms.csv": Sheet(_take_room, _room_lines),
    "bands.csv": Sheet(_take_band, _earlier_bands),
    "loggers.csv": _plain(loggers.Logger, loggers.put_logger, loggers.loggers),
    "works.csv": _plain(works.Print, works.put_print, works.prints),
    "placements.csv": _plain(loggers.Placement, loggers.put_placement, loggers.placements),
    "calibrations.csv": _plain(
        calibrations.Calibration, calibrations.put_calibration, calibrations.calibrations
    ),
    "mounts.csv": _plain(works.Mounting, works.put_mounting, _parts(works.Mounting, MountRow)),
    "frames.csv": _plain(works.Framing, works.put_framing, _parts(works.Framing, FrameRow)),
    "hangings.csv": _plain(works.Hanging, works.put_hanging, _parts(works.Hanging, HangingRow)),
    "overrides.csv": _plain(
        works.Measured, works.put_measured, _parts(works.Measured, OverrideRow)
    ),
    "inspections.csv": _plain(inspections.Inspection, inspections.put_inspection, _all_inspections),
    "events.csv": _plain(events.CalendarEvent, events.put_event, events.calendar),
}
