"""What somebody saw on a round that cannot wait: a loose hinge, contact, release, a crack.

Such a notice ends when a later look says otherwise, never by the estimate.
"""

from collections.abc import Sequence
from datetime import datetime

from analysis.learning.grades import CALL
from analysis.records.inspection_records import Inspection
from analysis.records.work_records import Hanging
from service.notices.causes import Cause, Kind


def seen_causes(
    inspections: Sequence[Inspection], hangings: Sequence[Hanging], title: str
) -> list[Cause]:
    """Return what was seen at one work that calls for somebody.

    Parameters
    ----------
    inspections : sequence of Inspection
        All that count, oldest first.
    hangings : sequence of Hanging
        Where the work hung; the notice belongs to the room of the first look.
    title : str
        The work's title.

    Returns
    -------
    list of Cause
        One for a hinge found loose and one for a grade that calls for a conservator, each from
        the first such look until a later one that found otherwise.
    """
    found = []
    for what, is_so, clears in (
        ("hinge", _loose, _holds),
        ("surface", _calls, _does_not_call),
    ):
        first: Inspection | None = None
        last: Inspection | None = None
        for inspection in inspections:
            if is_so(inspection):
                first, last = first or inspection, inspection
            elif first is not None and clears(inspection):
                found.append(_cause(first, last or first, inspection.at_utc, what, hangings, title))
                first = last = None
        if first is not None:
            found.append(_cause(first, last or first, None, what, hangings, title))
    return found


def calls(inspection: Inspection) -> bool:
    """Return whether a look found something that cannot wait."""
    return _loose(inspection) or _calls(inspection)


def _loose(inspection: Inspection) -> bool:
    return inspection.released is True


def _holds(inspection: Inspection) -> bool:
    return inspection.released is False


def _calls(inspection: Inspection) -> bool:
    return inspection.grade >= CALL


def _does_not_call(inspection: Inspection) -> bool:
    return inspection.grade < CALL


def _cause(
    first: Inspection,
    last: Inspection,
    until_utc: datetime | None,
    what: str,
    hangings: Sequence[Hanging],
    title: str,
) -> Cause:
    seen = "a hinge is loose" if what == "hinge" else "contact, release, a crack or a stain"
    words = f"{title}: {seen}"
    if last.note:
        words = f"{words} (“{last.note}”)"
    return Cause(
        Kind.SEEN,
        _room_at(hangings, first.at_utc),
        first.at_utc,
        until_utc,
        shape=f"{what} {first.work_id}",
        over_half=(),
        words=f"{words}, seen by {last.by}" if last.by else words,
    )


def _room_at(hangings: Sequence[Hanging], at_utc: datetime) -> str | None:
    """Return the room in which a work hung at a time, or None."""
    for hanging in hangings:
        begun = hanging.from_utc is None or hanging.from_utc <= at_utc
        if begun and (hanging.to_utc is None or at_utc < hanging.to_utc):
            return hanging.room
    return None
