"""Why no number is given of a work, in sentences, and what would mend it."""

from collections.abc import Mapping

from analysis.results import Because, Judgement
from dashboards.text import wording
from dashboards.text.messages import _

# Key of a refusal → (why no number is given, what would mend it).
REFUSALS: Mapping[str, tuple[str, str]] = {
    "no readings": (
        "there are no usable readings of its room",
        "Bring in the readings of a logger that hangs in this room.",
    ),
    "record": (
        "its record holds {held}, with which nothing can be computed",
        "Correct or withdraw it in the work's record.",
    ),
    "not hung": (
        "it hangs in no room here, so that its air is not known",
        "Enter where it hangs, or bring the readings of where it was.",
    ),
    "not yet mounted": (
        "it was not yet mounted at that time",
        "Nothing: ask for a later time.",
    ),
    "not held": (
        "it was not held by tension at that time",
        "Nothing: ask for another time.",
    ),
    "sun or spot": (
        "sun or a spotlight warms it, so its temperature is not known",
        "Shade it, or measure the temperature at its surface and record it.",
    ),
    "conditioned": (
        "its frame holds desiccant, gel or a unit that conditions the air, of unknown strength",
        "Leave a logger inside the frame, and read that; or record when it was taken out.",
    ),
    "starting up": (
        "the readings began too recently for this frame",
        "Wait for more readings, or bring older ones.",
    ),
    "framed anew": (
        "its frame was closed too recently, at a humidity that is not recorded",
        "Record the humidity at closing, or wait until the frame has forgotten it.",
    ),
    "gap": (
        "readings are missing for too long",
        "Bring the missing readings, or wait until the frame has forgotten the gap.",
    ),
    "above 85 %RH": (
        "the print may be above 85 %RH, where no estimate holds",
        "Look at the work, and look for mould and sticking; a conservator decides.",
    ),
    "temperature": (
        "its temperature may lie below 0 °C or above 40 °C",
        "Check the logger and the room.",
    ),
    "condensation": (
        "its surface may have been at or below the dew point",
        "Look at the work and at the wall behind it; estimates start again from a wide range.",
    ),
    "after condensation": (
        "its surface may have been at or below the dew point a while ago, and how damp that left "
        "it is not known",
        "Look at the work and at the wall behind it; wait until the frame has forgotten it.",
    ),
    "interval": (
        "the readings are more than three hours apart",
        "Set the logger to record at least every hour.",
    ),
}
TOO_DAMP = ("above 85 %RH", "condensation")


def refusal_words(key: str) -> tuple[str, str]:
    """Return why no number is given, and what would mend it."""
    why, mend = REFUSALS[key]
    return _(why), _(mend)


def refusal_sentence(judgement: Judgement) -> str:
    """Return why no number is given; of damp that it is too damp for one, not that nothing is."""
    why = refusal_words(judgement.refusal)[0].format(held=judgement.impossible)
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
