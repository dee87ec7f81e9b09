"""What was written down of a look, in a line; and what a second one within minutes asks."""

from datetime import datetime

from analysis.learning.grades import GRADE_WORDS
from dashboards.text import wording
from dashboards.text.messages import _


def saved_words(title: str, grade: int, released: bool | None) -> str:
    """Return what was saved.

    Examples
    --------
    >>> saved_words("Slipway", 1, None), saved_words("Slipway", 0, True)
    ('Slipway, 1 (seen only in raking light)', 'Slipway, 0 (flat), a hinge is loose')
    """
    seen = _("{title}, {grade} ({words})", title=title, grade=grade, words=_(GRADE_WORDS[grade]))
    if released is None:
        return seen
    loose, hold = _("a hinge is loose"), _("all edges hold")
    return f"{seen}, {loose if released else hold}"


def twice_words(title: str, before: int, at_utc: datetime, grade: int, zone: str) -> str:
    """Return what is asked of a second grade within minutes.

    Examples
    --------
    >>> from datetime import UTC
    >>> twice_words("Slipway", 0, datetime(2026, 3, 2, 9, 30, tzinfo=UTC), 1, "UTC")
    'Slipway was graded 0 at 09:30. Does 1 replace it, or was it looked at twice?'
    """
    return _(
        "{title} was graded {before} at {time}. Does {grade} replace it, or was it looked at "
        "twice?",
        title=title,
        before=before,
        time=wording.clock(at_utc, zone),
        grade=grade,
    )
