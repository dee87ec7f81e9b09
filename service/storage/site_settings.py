"""Limits and delays that a site has set: dated, owned, with the reason; never overwritten."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from service.storage.records import find, put
from service.storage.register import Register, now_utc
from service.storage.schema import SettingRow


@dataclass(frozen=True)
class SiteSetting:
    """A value, since when, by whom, why. ``value`` is any plain value."""

    name: str
    value: Any
    from_utc: datetime
    by: str
    why: str = ""


def setting_at(register: Register, name: str, time: datetime | None = None) -> SiteSetting | None:
    """Return the setting that holds at a time (now, when None), or None."""
    time = time or now_utc()
    begun = [setting for setting in settings(register, name) if setting.from_utc <= time]
    return begun[-1] if begun else None


def settings(register: Register, name: str | None = None) -> tuple[SiteSetting, ...]:
    """Return all settings, or those of one name, in order of time."""
    where = [] if name is None else [SettingRow.name == name]
    with register.reading() as session:
        found = find(
            session, SiteSetting, SettingRow, *where, order=(SettingRow.name, SettingRow.from_utc)
        )
    return tuple(SiteSetting(s.name, s.value["value"], s.from_utc, s.by, s.why) for s in found)


def put_setting(register: Register, setting: SiteSetting) -> bool:
    """Add a setting; return whether anything changed."""
    key = {"name": setting.name, "from_utc": setting.from_utc}
    values = {"value": {"value": setting.value}, "by": setting.by, "why": setting.why}
    with register.writing() as session:
        return put(session, SettingRow, key, values, by=setting.by)
