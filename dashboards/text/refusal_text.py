"""Why no number is given of a work, in sentences, and what would mend it."""

from collections.abc import Mapping

from analysis.results import Because, Judgement
from dashboards.text import wording
from dashboards.text.messages import N_, _

# Key of a refusal → (why no number is given, what would mend it).
REFUSALS: Mapping[str, tuple[str, str]] = {
    "no readings": (
        N_("there are no usable readings of its room"),
        N_("Bring in the readings of a logger that hangs in this room."),
    ),
    "record": (
        N_("its record holds {held}, with which nothing can be computed"),
        N_("Correct or withdraw it in the work's record."),
    ),
    "not hung": (
        N_("it hangs in no room here, so that its air is not known"),
        N_("Enter where it hangs, or bring the readings of where it was."),
    ),
    "not yet mounted": (
        N_("it was not yet mounted at that time"),
        N_("Nothing: ask for a later time."),
    ),
    "not held": (
        N_("it was not held by tension at that time"),
        N_("Nothing: ask for another time."),
    ),
    "sun or spot": (
        N_("sun or a spotlight warms it, so its temperature is not known"),
        N_("Shade it, or measure the temperature at its surface and record it."),
    ),
    "conditioned": (
        N_("its frame holds desiccant, gel or a unit that conditions the air, of unknown strength"),
        N_("Leave a logger inside the frame, and read that; or record when it was taken out."),
    ),
    "starting up": (
        N_("the readings began too recently for this frame"),
        N_("Wait for more readings, or bring older ones."),
    ),
    "framed anew": (
        N_("its frame was closed too recently, at a humidity that is not recorded"),
        N_("Record the humidity at closing, or wait until the frame has forgotten it."),
    ),
    "gap": (
        N_("readings are missing for too long"),
        N_("Bring the missing readings, or wait until the frame has forgotten the gap."),
    ),
    "above 85 %RH": (
        N_("the print may be above 85 %RH, where no estimate holds"),
        N_("Look at the work, and look for mould and sticking; a conservator decides."),
    ),
    "temperature": (
        N_("its temperature may lie below 0 °C or above 40 °C"),
        N_("Check the logger and the room."),
    ),
    "condensation": (
        N_("its surface may have been at or below the dew point"),
        N_("Look at the work and at the wall behind it; estimates start again from a wide range."),
    ),
    "after condensation": (
        N_(
            "its surface may have been at or below the dew point a while ago, and how damp that "
            "left "
            "it is not known"
        ),
        N_("Look at the work and at the wall behind it; wait until the frame has forgotten it."),
    ),
    "interval": (
        N_("the readings are more than three hours apart"),
        N_("Set the logger to record at least every hour."),
    ),
}
TOO_DAMP = (N_("above 85 %RH"), "condensation")


def refusal_words(key: str, held: str = "") -> tuple[str, str]:
    """Return why no number is given, and what would mend it.

    `held` is what the record holds, where nothing can be computed with that.

    Examples
    --------
    >>> refusal_words("record", "a sheet 0 mm wide (works, width_mm)")[0]
    'its record holds a sheet 0 mm wide (works, width_mm), with which nothing can be computed'
    """
    why, mend = REFUSALS[key]
    return _(why, held=held), _(mend)


def problem_sentence(held: str) -> str:
    """Return what a record holds that nothing can be computed with, and what to do.

    Examples
    --------
    >>> problem_sentence("-2.0 (spacer_mm)")[-44:]
    "Correct or withdraw it in the work's record."
    """
    why, mend = refusal_words("record", held)
    return _("Cannot tell: {why}.", why=why) + " " + mend


def hour_refused(key: str) -> str:
    """Return why nothing is told of one hour, where a sentence is kept for it, else ""."""
    why = "" if key == "record" or key not in REFUSALS else REFUSALS[key][0]
    return _(why) if why else ""


def refusal_sentence(judgement: Judgement) -> str:
    """Return why no number is given; of damp that it is too damp for one, not that nothing is."""
    why = refusal_words(judgement.refusal, judgement.impossible)[0]
    if Because.TOO_DAMP_TO_TELL in judgement.because and judgement.refusal in TOO_DAMP:
        return _("Too damp for a figure: {why}.", why=why)
    return _("Cannot tell: {why}.", why=why)


def too_damp_sentence(judgement: Judgement, zone: str) -> str:
    """Return that it was too damp for any estimate since somebody looked, or ""."""
    since = judgement.since
    if since is None or since.beyond_utc is None or judgement.refusal in TOO_DAMP:
        return ""
    if Because.TOO_DAMP_TO_TELL not in judgement.because:
        return ""
    return _(
        "It may have been above 85 %RH until {day}, and nobody has looked since: look for mould "
        "and for a surface that sticks; a conservator decides.",
        day=wording.day_only(since.beyond_utc, zone),
    )
