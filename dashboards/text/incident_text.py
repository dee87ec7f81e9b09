"""An incident in words: what happened, who was told, what each work had of it."""

from collections.abc import Sequence
from datetime import datetime

from analysis.learning.grades import GRADE_WORDS
from analysis.results import Range
from dashboards.text import wording
from dashboards.text.messages import N_, _, counted

CAUSES = (
    ("unknown", N_("not known")),
    ("suspected", N_("suspected")),
    ("known", N_("known")),
)


def incidents_answer(still_open: int, learned: int) -> str:
    """Return how many incidents are open, and how many left a lesson.

    Examples
    --------
    >>> incidents_answer(0, 0)
    'No incident has been written down.'
    >>> incidents_answer(1, 2)
    'One incident is open. Two were closed with a lesson.'
    """
    if not still_open and not learned:
        return _("No incident has been written down.")
    first = counted(
        "{count} incident is open.",
        "{count} incidents are open.",
        still_open,
        count=wording.capital(wording.count(still_open)),
    )
    second = counted(
        "{count} was closed with a lesson.",
        "{count} were closed with a lesson.",
        learned,
        count=wording.capital(wording.count(learned)),
    )
    return f"{first} {second}" if learned else first


def happened(what: str, since_utc: datetime, last_utc: datetime | None, zone: str) -> str:
    """Return what happened, since when, and until when."""
    since = wording.date_time(since_utc, zone)
    if last_utc is None:
        return _("{what}, since {since}; it goes on.", what=what, since=since)
    until = wording.date_time(last_utc, zone)
    return _("{what}, from {since} to {until}.", what=what, since=since, until=until)


def line_words(text: str, by: str, at_utc: datetime, zone: str) -> str:
    """Return a line that somebody has written down, with who and when."""
    when = wording.date_time(at_utc, zone)
    return _("{text} ({by}, {when})", text=text, by=by, when=when)


def closed_words(
    cause: str, state: str, lesson: str, by: str, closed_utc: datetime, zone: str
) -> str:
    """Return how an incident was closed."""
    day = wording.day(closed_utc, zone)
    words = _(dict(CAUSES).get(state, state))
    said = _("Closed by {by} on {day}. Learned: {lesson}", by=by, day=day, lesson=lesson)
    if not cause:
        return said
    return _("Cause ({state}): {cause}. {said}", state=words, cause=cause, said=said)


def dose_words(
    peak: Range | None,
    waves_h: float,
    mounted_rh_pct: float | None,
    counted_from: datetime | None,
    zone: str,
) -> str:
    """Return what a work had of an incident, by the estimate."""
    if peak is None:
        return _("nothing can be told of it for that time.")
    parts = [
        _(
            "by the estimate up to {span} at the print",
            span=wording.span(peak.low, peak.high, "%RH"),
        )
    ]
    if mounted_rh_pct is not None:
        parts.append(_("mounted at {rh}", rh=wording.rh(mounted_rh_pct)))
    if waves_h >= 1.0:
        hours = wording.duration(waves_h)
        parts.append(_("waves more likely than not for {hours}", hours=hours))
    else:
        parts.append(_("waves never more likely than not"))
    if counted_from is not None:
        parts.append(_("counted from {day}", day=wording.day(counted_from, zone)))
    return "; ".join(parts) + "."


def look_words(grade: int, by: str, at_utc: datetime, note: str, zone: str) -> str:
    """Return one look in one line."""
    when = wording.date_time(at_utc, zone)
    said = _("{grade}, {words}", grade=grade, words=GRADE_WORDS[grade])
    return "; ".join(_present((f"{when}: {said}", note, by)))


def _present(parts: Sequence[str]) -> list[str]:
    return [part for part in parts if part]


def opened_words(by: str, at_utc: datetime, zone: str) -> str:
    """Return who opened an incident, and when."""
    return _("Opened by {by}, {when}.", by=by, when=wording.date_time(at_utc, zone))


def on_loan(title: str) -> str:
    """Return the title of a work with the word that it is here on loan."""
    return _("{title} (on loan: tell the registrar)", title=title)
