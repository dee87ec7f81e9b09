"""What to bear in mind beside a work's numbers, each as one short sentence."""

from analysis.answers.caveats import Caveat, Flagged, Origin, Remedy
from dashboards.text import wording
from dashboards.text.half_time_text import outside_words
from dashboards.text.messages import N_, _
from dashboards.text.wording import duration

ORIGINS = {
    Origin.BUILD: N_(
        "Its half-time was not measured: {half} ({low} to {high}) is usual for its "
        "build{seen}{remedy}."
    ),
    Origin.BOARD: N_(
        "Its half-time was not measured: {half} ({low} to {high}) follows from its board "
        "and back{seen}{remedy}."
    ),
}
REMEDIES = {
    Remedy.LOGGER_INSIDE: N_("; the logger in it can tell"),
    Remedy.A_LOGGER: N_("; a logger left inside would tell"),
}


def caveat_words(flagged: Flagged, zone: str) -> str:
    """Return what to bear in mind, as one sentence."""
    if flagged.caveat is Caveat.NOT_MEASURED:
        return _not_measured(flagged)
    if flagged.caveat is Caveat.OUTSIDE_THE_FIT:
        return outside_words(flagged.outside)
    if flagged.caveat is Caveat.NOT_ISOTHERMAL:
        return _not_isothermal(flagged.figures["apart_k"])
    if flagged.caveat is Caveat.TWO_LAYERS:
        return _two_layers(flagged)
    day = "" if flagged.at_utc is None else wording.day_only(flagged.at_utc, zone)
    times = {name: duration(value) for name, value in flagged.figures.items()}
    return _(SENTENCES[flagged.caveat], day=day, **times)


SENTENCES = {
    Caveat.INTERVAL: N_(
        "A reading every {interval_h} misses short peaks at a frame with a half-time "
        "of {half_time_h}: they are read too low."
    ),
    Caveat.SLOW_BOARD: N_(
        "Its board takes {uptake_h} to take up half of what it can: the frame "
        "follows faster at first, and slower later, than one half-time says."
    ),
    Caveat.SHORT_RECORD: N_(
        "The record of {record_h} is shorter than one half-time of its frame "
        "({half_time_h}): where it began still counts."
    ),
    Caveat.LATELY_CLOSED: N_(
        "Its frame was closed on {day}: its state began anew then, and what was "
        "measured of it before no longer counts."
    ),
    Caveat.LATELY_MOVED: N_(
        "It was hung here on {day}: a frame that was carried may follow its room "
        "faster than before."
    ),
}


def _not_measured(flagged: Flagged) -> str:
    half, origin = flagged.half_time_h, flagged.origin
    if half is None or origin is None:
        raise ValueError("a half-time that was not measured has a range and an origin")
    return _(
        ORIGINS[origin],
        half=duration(half.mid),
        low=duration(half.low),
        high=duration(half.high),
        seen=_(" and fits what people saw") if flagged.fits_what_was_seen else "",
        remedy="" if flagged.remedy is None else _(REMEDIES[flagged.remedy]),
    )


def _not_isothermal(apart_k: float) -> str:
    apart = wording.with_unit(abs(apart_k), "K")
    if apart_k > 0:
        return _(
            "Behind it the wall is an outside wall: this week the print was up to about {apart} "
            "colder than the room. Front and back then differ, and its humidity may even move the "
            "other way.",
            apart=apart,
        )
    return _(
        "Behind it the wall is an outside wall: this week the print was up to about {apart} warmer "
        "than the room. Front and back then differ, and its humidity may even move the other way.",
        apart=apart,
    )


def _two_layers(flagged: Flagged) -> str:
    figures = flagged.figures
    return _(
        "It is coated on both faces: its image layer follows the frame within {image}{image_now}, "
        "its core half of the way in {core}{core_now}. It may curl before the core moves.",
        image=duration(figures["image_half_time_h"]),
        core=duration(figures["core_half_time_h"]),
        image_now=_now(figures.get("image_rh_pct")),
        core_now=_now(figures.get("core_rh_pct")),
    )


def _now(rh_pct: float | None) -> str:
    return "" if rh_pct is None else _(" (now about {rh})", rh=wording.rh(rh_pct))
