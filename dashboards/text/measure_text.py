"""What to measure next, in words: acts, places, and what they are expected to settle."""

from collections.abc import Mapping, Sequence

from analysis.answers.measuring import NextMeasurement
from dashboards.text import wording
from dashboards.text.messages import N_, Worded, _

ACT_WORDS = Worded(
    {
        "look": N_("Look at it in raking light, and write down what is seen"),
        "wall": N_("Write down what kind of wall it hangs on"),
        "grain": N_("Find out which way the grain of the paper runs"),
        "adhesive": N_("Find out with what its hinges are stuck"),
        "panel": N_("Find out what panel it is mounted on"),
        "mounting": N_("Find out at what humidity it was mounted"),
        "salt": N_("Compare the room’s logger over a calibration salt"),
        "frame_logger": N_(
            "Leave a logger in its frame for two weeks, when the frame is next open anyway"
        ),
        "hinges": N_("Measure the free length of its hinges, when the back is next open anyway"),
        "strip": N_("Measure two offcut strips of its paper over two salts"),
    }
)
NOTES = (
    N_(
        "Each work is asked twice: is it taut now, and would it still be if the humidity rose a "
        "little "
        "more? An answer that might as well be tossed for is one open answer; 0.5 in the list "
        "means "
        "that half of such an answer is expected to go."
    ),
    N_(
        "What an act settles is worked out from the draws of the present estimate; it is an "
        "expectation, and a surprise may settle less or open more. Minutes are assumed: days of "
        "waiting and the opening of a frame are not counted."
    ),
    N_(
        "Never open a frame or touch a print for a measurement: strips are of offcuts, loggers go "
        "in "
        "when the frame is open anyway, by those who may open it. A conservator decides."
    ),
)


def answer_words(found: Sequence[NextMeasurement], rooms: Mapping[str, str]) -> str:
    """Return the first act as a sentence, or that none would settle anything."""
    if not found:
        return _("Nothing that could be measured now would settle an answer that is open.")
    first = found[0]
    act = ACT_WORDS[first.act]
    settled = wording.number(first.settles, 1)
    minutes = wording.number(first.minutes.value)
    return _(
        "{act}: {where}. It is expected to settle {settled} of the open answers in about "
        "{minutes} min.",
        act=act,
        where=where_words(first, rooms),
        settled=settled,
        minutes=minutes,
    )


def where_words(one: NextMeasurement, rooms: Mapping[str, str]) -> str:
    """Return which work, or which room and how many of its works."""
    room = rooms.get(one.room_id, one.room_id)
    if one.act == "salt":
        return _("{room}, for {works}", room=room, works=wording.plural(len(one.works), "work"))
    return f"{one.works[0].title} ({room})"
