"""Every kind of record the register holds, by the name of its file, in the order of reading in."""

from collections.abc import Mapping

from analysis.records.declaration import Declaration
from analysis.records.house_records import EVENTS, NOTICE_LIMITS
from analysis.records.inspection_records import OF_INSPECTIONS
from analysis.records.room_records import OF_ROOMS
from analysis.records.work_records import OF_WORKS

# What is named comes before what names it.
ORDER = (
    "sites.csv",
    "rooms.csv",
    "bands.csv",
    "loggers.csv",
    "works.csv",
    "placements.csv",
    "calibrations.csv",
    "side_by_side.csv",
    "mounts.csv",
    "frames.csv",
    "hangings.csv",
    "overrides.csv",
    "inspections.csv",
    "events.csv",
    "notice_limits.csv",
)
EVERY = (*OF_ROOMS, *OF_WORKS, *OF_INSPECTIONS, *EVENTS, *NOTICE_LIMITS)
BY_FILE: Mapping[str, Declaration] = {one.file: one for one in EVERY}
REGISTER: Mapping[str, Declaration] = {file: BY_FILE[file] for file in ORDER}
BY_TABLE: Mapping[str, Declaration] = {one.table: one for one in BY_FILE.values()}
