"""All tables of the register, in one name space.

Only `service.storage` imports this module; everything else sees frozen records. A change to a
table needs a new step in ``migrations/versions``; a test compares the two.
"""

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
from service.storage.schema_places import (
    BandRow,
    CalibrationRow,
    EventRow,
    LoggerRow,
    PlacementRow,
    RoomRow,
    SiteRow,
)
from service.storage.schema_works import (
    FrameRow,
    HangingRow,
    InspectionRow,
    MountRow,
    OverrideRow,
    WorkRow,
)
from service.storage.tables import Table, UtcTime

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
