"""How a logger's files were read the last time somebody confirmed it; offered the next time."""

from collections.abc import Mapping
from typing import Any

from service.storage.records import put
from service.storage.register import Register, now_utc
from service.storage.schema import ChoiceRow


def remembered(register: Register, logger_id: str) -> dict[str, Any] | None:
    """Return the plain values of the choice last confirmed for a logger, or None."""
    with register.reading() as session:
        row = session.get(ChoiceRow, logger_id)
        return None if row is None else dict(row.choice)


def remember(
    register: Register, logger_id: str, choice: Mapping[str, Any], *, by: str = ""
) -> bool:
    """Keep a confirmed choice in place of the earlier one; return whether it differs."""
    if remembered(register, logger_id) == dict(choice):
        return False
    values = {"choice": dict(choice), "confirmed_utc": now_utc(), "by": by}
    with register.writing() as session:
        return put(session, ChoiceRow, {"logger": logger_id}, values, by=by)
