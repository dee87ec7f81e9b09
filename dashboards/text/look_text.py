"""What was written down of a look, what a second one within minutes asks, and what looks taught."""

import math
from datetime import datetime

from analysis.learning.grades import GRADE_WORDS
from dashboards.text import wording
from dashboards.text.messages import _, counted


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


def contradicts(grade: int, p_visible: float) -> bool:
    """Return whether a look goes strongly against the chance that waves show.

    Examples
    --------
    >>> contradicts(0, 0.81), contradicts(0, 0.5), contradicts(2, 0.1), contradicts(1, 0.1)
    (True, False, True, False)
    """
    if grade == 0:
        return p_visible > wording.PROBABLY
    return grade in (2, 3) and p_visible < wording.MAY


def answered_words(grade: int, before: float | None, now: float) -> str:
    """Return what a look did to an estimate that had strongly said otherwise; "" where it agreed.

    Parameters
    ----------
    before, now : float
        Chance that waves show, as it was told before the look, and as it is told with it.

    Examples
    --------
    >>> answered_words(0, 0.81, 0.4)
    'It was seen flat; the estimate had said 81 % that waves show, and now says 40 %.'
    >>> answered_words(0, 0.4, 0.1)
    ''
    """
    if before is None or math.isnan(now) or not contradicts(grade, before):
        return ""
    said = {"before": wording.percent(before), "now": wording.percent(now)}
    if grade == 0:
        told = _(
            "It was seen flat; the estimate had said {before} that waves show, and now says {now}.",
            **said,
        )
    else:
        told = _(
            "Waves were seen; the estimate had said {before} that they show, and now says {now}.",
            **said,
        )
    if not contradicts(grade, now):
        return told
    doubt = _(
        "That is still far from what was seen: something in its record, or in its room’s readings, "
        "may be wrong."
    )
    return f"{told} {doubt}"


def narrowed_words(what: str, many: int, before: str, after: str) -> str:
    """Return what inspections taught of a fact that nobody recorded.

    Examples
    --------
    >>> narrowed_words("humidity at mounting", 3, "46 %RH (30 to 65)", "48 %RH (44 to 52)")
    'Nobody recorded the humidity at mounting; three looks narrow it to 48 %RH (44 to 52), \
from 46 %RH (30 to 65).'
    """
    return counted(
        "Nobody recorded the {what}; one look narrows it to {after}, from {before}.",
        "Nobody recorded the {what}; {looks} looks narrow it to {after}, from {before}.",
        many,
        what=what,
        looks=wording.count(many),
        before=before,
        after=after,
    )
