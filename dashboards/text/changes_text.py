"""What changed of a work, in sentences."""

from analysis.results import Change, ChangeAt
from dashboards.text import wording
from dashboards.text.messages import N_, _
from dashboards.text.parameters import STATED_WORDS

SENTENCES = {
    Change.ARRIVED: N_("It has hung in this room since {day}."),
    Change.WALL: N_("It has hung on an {detail} since {day}."),
    Change.SUN_GONE: N_("No sun or spotlight has reached it since {day}."),
    Change.MOUNTED: N_("Mounted anew on {day}: the estimate starts again from there."),
    Change.FRAMED: N_("Framed anew on {day}: the estimate of its air starts again from there."),
    Change.MEASURED: N_("Measured, and so counted since {day}: {detail}."),
}


def change_sentence(one: ChangeAt, zone: str) -> str:
    """Return what changed, and when.

    Examples
    --------
    >>> from datetime import UTC, datetime
    >>> at = datetime(2026, 3, 12, tzinfo=UTC)
    >>> change_sentence(ChangeAt(Change.WALL, "room", at, "inside wall"), "UTC")
    'It has hung on an inside wall since 12 March 2026.'
    """
    detail = STATED_WORDS.get(one.detail, one.detail)
    day = wording.day_only(one.at_utc, zone)
    return _(SENTENCES[one.change], day=day, detail=_(detail) if detail else "")
