"""A frame's half-time in words and rows, for its page and for the command line alike."""

from collections.abc import Sequence
from datetime import datetime

from analysis.learning.half_time import HalfTimeFit
from analysis.learning.output_error import Bound
from analysis.learning.paired_loggers import SAMPLES_A_HALF_TIME
from analysis.records.inspection_records import Measured
from analysis.results import Range
from analysis.works import FRAME_WORDS, GLAZED, Override, Work
from dashboards.lines import Table
from dashboards.text import wording
from dashboards.text.wording import duration

HEADINGS = ("Half-time", "Low", "Typical", "High")
BEHIND = (
    "How much warmer the frame is than the room’s logger is not taken from this record: on an "
    "outside wall, or one of which nobody wrote down what it is, the cold behind is in it too."
)


def question(work: Work) -> str:
    """Return what is asked."""
    return f"How fast does the frame of {work.title} follow the room?"


def answer_words(work: Work, found: HalfTimeFit | None, default_h: Range) -> str:
    """Return the answer in one sentence: fitted, bounded on one side, measured, or only usual."""
    stated = work.overrides.get("half_time_h")
    if found is not None and found.fit.bound is not Bound.NONE:
        return _fitted_words(found)
    if found is None and stated is not None:
        return (
            f"Half of the way in about {duration(stated.value)} "
            f"({duration(stated.low)} to {duration(stated.high)}), as was measured."
        )
    usual = f"{duration(default_h.low)} to {duration(default_h.high)}"
    start = "Nobody has measured it" if found is None else "The record does not tell it"
    return f"{start}: half of the way may take {usual}, as is usual for its build."


def _fitted_words(found: HalfTimeFit) -> str:
    fit = found.fit
    low, high = duration(fit.low_h), duration(fit.high_h)
    if fit.bound is Bound.AT_LEAST:
        return f"Half of the way takes at least {low}; the record does not say how much longer."
    if fit.bound is Bound.AT_MOST:
        return f"Half of the way takes at most {high}; the record does not say how much less."
    said = f"Half of the way in about {duration(fit.half_time_h)}, probably {low} to {high}"
    return f"{said}." if found.sound else f"{said}, but the record leaves doubts."


def facts_words(logger: str, room_name: str, span: tuple[datetime, datetime], zone: str) -> str:
    """Return which logger was in the frame, beside which room's, and from when to when."""
    first, last = (wording.date_time(at, zone).split(",")[0] for at in span)
    return f"logger {logger} in the frame, beside those of {room_name}, {first} to {last}"


def in_use_words(stated: Override, since_utc: datetime | None, zone: str) -> str:
    """Return which measured half-time is in use, since when, and where it came from."""
    since = "" if since_utc is None else f" since {wording.day(since_utc, zone)}"
    return (
        f"In use{since}: {duration(stated.value)} ({duration(stated.low)} to "
        f"{duration(stated.high)}), {stated.origin}."
    )


def warmth_words(warmer: Measured | None) -> str:
    """Return how much warmer the frame was than the room's logger; None: why that is not taken."""
    if warmer is None:
        return BEHIND
    value = abs(round(warmer.value, 1))
    which = "warmer" if warmer.value > 0 else "colder"
    said = f"{wording.with_unit(value, 'K', 1)} {which} than" if value else "as warm as"
    between = wording.joined(wording.signed(warmer.low, 1), wording.signed(warmer.high, 1), "K")
    return (
        f"In the mean over the record the frame was {said} the room’s logger ({between}); used "
        "with the half-time, this takes the place of the tables’ doubt while the work hangs there."
    )


def apart_words(near: Sequence[str]) -> str:
    """Return that nobody knows how near the room's loggers hang, with what is written of it.

    ``near`` holds where the loggers hang, and last where the work does.
    """
    loggers = "; ".join(place for place in near[:-1] if place) or "not written down"
    work = near[-1] or "not written down"
    return (
        "The room's logger should hang within 1 m of the frame, on the same wall. Whether it does "
        f"is not recorded as a distance: loggers, {loggers}; work, {work}."
    )


def table(work: Work, found: HalfTimeFit | None, default_h: Range) -> Table:
    """Return the half-time before and after the fit."""
    rows = [_row(f"Usual for its build: {FRAME_WORDS[work.frame]}", default_h)]
    if "board_mass_kg_m2" in work.overrides:
        rows = [_row("From its board and back", default_h)]
    if found is not None and found.fit.bound is Bound.BOTH:
        fit = found.fit
        rows.append(_row("Fitted from this record", Range(fit.low_h, fit.half_time_h, fit.high_h)))
    if stated := work.overrides.get("half_time_h"):
        rows.append(_row("In use now", Range(stated.low, stated.value, stated.high)))
    return Table(HEADINGS, rows, "At 20 °C and 50 %RH", (1, 2, 3))


def _row(name: str, hours: Range) -> tuple[str, ...]:
    return (name, *(duration(value) for value in (hours.low, hours.mid, hours.high)))


def how_to_measure(work: Work, default_h: Range) -> list[str]:
    """Return how to get a record, step by step; for an unglazed work, why there is none to get."""
    if work.frame not in GLAZED:
        return [
            "This work has no glazing: its face is in the room's air and follows within minutes to "
            "an hour. A logger behind it would tell of its back, not of its face."
        ]
    most = duration(default_h.low / SAMPLES_A_HALF_TIME)
    return [
        "Lay a small logger beside the room’s for 24 to 48 hours: this tells the offset between "
        "the two sensors.",
        "Wait until the frame is opened anyway, by those who may open it; never open one for this. "
        "Let them leave the logger inside, clear of the print and its hinges, recording "
        "temperature and relative humidity.",
        f"Set both loggers to a reading at least every {most}, a fifth of the shortest half-time "
        "of this build.",
        "Leave it for at least one half-time, better three: for this build usually "
        f"{duration(default_h.mid)} to {duration(3.0 * default_h.mid)}, in a tight one up "
        f"to {duration(3.0 * default_h.high)}.",
        "Enter in the register that the logger is in the frame of this work, since when, and since "
        "when the frame is closed; then bring both records in.",
    ]
