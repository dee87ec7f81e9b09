"""All tables of the register: those of declared records, and the journal beside them.

Only `service.storage` imports this module; everything else sees frozen records. A change to a
table needs a new step in ``migrations/versions``; a test compares the two.
"""

from sqlalchemy import CheckConstraint

from analysis.records import BY_TABLE
from service.storage.schema_arrivals import (
    ChoiceRow,
    JobRow,
    SpanRow,
    TokenRow,
    UploadRow,
    VersionRow,
)
from service.storage.schema_journal import (
    AuditRow,
    ContactRow,
    IncidentRow,
    JudgedUntilRow,
    LeaseRow,
    LetterRow,
    NoticeRow,
    ReleaseRow,
    SettingRow,
    UserRow,
)
from service.storage.tables import Table, UtcTime, table_of


def _ends_after_it_begins() -> CheckConstraint:
    return CheckConstraint("to_utc > from_utc", name="ends_after_it_begins")


SiteRow = table_of(BY_TABLE["sites"])
RoomRow = table_of(BY_TABLE["rooms"])
BandRow = table_of(BY_TABLE["bands"])
LoggerRow = table_of(BY_TABLE["loggers"])
WorkRow = table_of(
    BY_TABLE["works"], CheckConstraint("width_mm > 0 AND height_mm > 0", name="has_a_size")
)
PlacementRow = table_of(BY_TABLE["placements"], _ends_after_it_begins())
CalibrationRow = table_of(
    BY_TABLE["calibrations"],
    CheckConstraint("channel IN ('temp_c', 'rh_pct')", name="channel_known"),
)
SideBySideRow = table_of(BY_TABLE["side_by_side"], _ends_after_it_begins())
EventRow = table_of(BY_TABLE["events"])
MountRow = table_of(BY_TABLE["mounts"])
FrameRow = table_of(BY_TABLE["frames"])
HangingRow = table_of(BY_TABLE["hangings"], _ends_after_it_begins())
OverrideRow = table_of(
    BY_TABLE["overrides"],
    CheckConstraint("low <= value AND value <= high", name="value_in_its_range"),
)
InspectionRow = table_of(
    BY_TABLE["inspections"], CheckConstraint("grade BETWEEN 0 AND 4", name="grade_0_to_4")
)

__all__ = [
    "AuditRow",
    "BandRow",
    "CalibrationRow",
    "ChoiceRow",
    "ContactRow",
    "EventRow",
    "FrameRow",
    "HangingRow",
    "IncidentRow",
    "InspectionRow",
    "JobRow",
    "JudgedUntilRow",
    "LeaseRow",
    "LetterRow",
    "LoggerRow",
    "MountRow",
    "NoticeRow",
    "OverrideRow",
    "PlacementRow",
    "ReleaseRow",
    "RoomRow",
    "SettingRow",
    "SideBySideRow",
    "SiteRow",
    "SpanRow",
    "Table",
    "TokenRow",
    "UploadRow",
    "UserRow",
    "UtcTime",
    "VersionRow",
    "WorkRow",
]
