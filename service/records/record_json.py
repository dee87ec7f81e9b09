"""The record of a work or a room as JSON: every declared field, described by its declaration."""

from typing import Any

import pydantic

from analysis.records import REGISTER, model_of
from service.storage.loggers import placements
from service.storage.places import bands, room_named
from service.storage.records import values_of
from service.storage.register import Register
from service.storage.works import work_record


def _model(file: str) -> Any:
    return model_of(REGISTER[file])


def _models(file: str) -> Any:
    return list[_model(file)]  # type: ignore[misc]


WorkRecordOut: Any = pydantic.create_model(
    "WorkRecordOut",
    print=(_model("works.csv"), ...),
    mountings=(_models("mounts.csv"), ...),
    framings=(_models("frames.csv"), ...),
    hangings=(_models("hangings.csv"), ...),
    measured=(_models("overrides.csv"), ...),
)
RoomRecordOut: Any = pydantic.create_model(
    "RoomRecordOut",
    room=(_model("rooms.csv"), ...),
    loggers=(_models("placements.csv"), ...),
    bands=(_models("bands.csv"), ...),
)


def work_record_json(register: Register, work_id: str) -> dict[str, Any]:
    """Return everything the register holds of a work, each part in order of time."""
    record = work_record(register, work_id)
    parts = ("mountings", "framings", "hangings", "measured")
    return {"print": values_of(record.print)} | {
        part: [values_of(one) for one in getattr(record, part)] for part in parts
    }


def room_record_json(register: Register, room_id: str) -> dict[str, Any]:
    """Return everything the register holds of a room, each part in order of time."""
    hung = [one for one in placements(register) if one.room == room_id]
    return {
        "room": values_of(room_named(register, room_id)),
        "loggers": [values_of(one) for one in hung],
        "bands": [values_of(one) for one in bands(register, room_id)],
    }
