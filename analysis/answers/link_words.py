"""The numbers of the chain in words: one sentence a link."""

from analysis.air.room_air import RoomAir
from analysis.answers.chain_quantities import Quantity
from analysis.chain.headroom import MOST_PCT
from analysis.duration_words import hours_words
from analysis.results import Range
from analysis.words import fixed, whole
from analysis.works import FRAME_WORDS, Work


def spread(quantity: Quantity, value: Range) -> str:
    """Return "67 N/m, between 22 and 151"."""
    low, mid, high = (fixed(x, quantity.decimals) for x in (value.low, value.mid, value.high))
    return f"{mid} {quantity.unit}" + ("" if low == high else f", between {low} and {high}")


def print_words(work: Work, value: Range) -> str:
    """Return what the print has taken up, against its mounting."""
    said = f"The {work.paper.value} print has taken up about {whole(value.mid)} %RH"
    if work.mounted_rh_pct is None:
        return f"{said}; its RH at mounting is not recorded."
    change = round(value.mid - work.mounted_rh_pct)
    way = "above" if change > 0 else "below"
    than = f"{abs(change)} %RH {way} that at mounting" if change else "as at mounting"
    return f"{said}, {than}."


def slope_words(quantity: Quantity, value: Range, seen: Range) -> str:
    """Return the steepest slope, and from where waves are seen."""
    steepest = spread(quantity, value)
    return f"Its steepest slope is {steepest}; waves are seen from about {whole(seen.mid)} mrad."


def headroom_words(value: Range) -> str:
    """Return how far its RH may rise."""
    if value.mid > MOST_PCT - 1.0:
        return "The panel moves as much as the print, so a rise of RH would not slacken it."
    if abs(value.mid) < 0.5:
        return f"No headroom is left ({_reach(value)} %RH)."
    if value.mid < 0.0:
        return f"It is {whole(-value.mid)} %RH too damp to be taut (headroom {_reach(value)})."
    return f"Its RH may rise by {whole(value.mid)} %RH ({_reach(value)}) before it goes slack."


def headroom_down_words(value: Range) -> str:
    """Return how far its RH may fall."""
    if value.mid > MOST_PCT - 1.0:
        return "However far its RH falls, the hinges bear the load."
    return (
        f"Its RH may fall by {whole(value.mid)} %RH ({_reach(value)}) before the hinges are loaded "
        f"to what they bear for weeks."
    )


def _reach(value: Range) -> str:
    """Return "low to high"; what lies beyond the search is left open."""
    if value.high > MOST_PCT - 1.0:
        return f"{whole(value.low)} or more"
    return f"{whole(value.low)} to {whole(value.high)}"


def growth_words(quantity: Quantity, value: Range) -> str:
    """Return a growth as "has grown" or "has shrunk"."""
    what, _, rest = quantity.words.removeprefix("growth of the ").partition(" since mounting")
    verb = "shrunk" if value.mid < 0.0 else "grown"
    if value.mid < 0.0:
        value = Range(-value.high, -value.mid, -value.low)
    return f"The {what} has {verb}{rest.replace(',', '')} by {spread(quantity, value)}."


def room_words(air: RoomAir) -> str:
    """Return what was measured, or that nothing was."""
    if not air.measured[-1]:
        return "The room was not measured at that hour: a low and a high course are followed."
    return (
        f"The room was measured at {whole(air.rh_low_pct[-1])} %RH and "
        f"{fixed(air.temp_c[-1], 1)} °C; the range is that of the sensor."
    )


def frame_words(work: Work, half: Range) -> str:
    """Return how fast the frame follows."""
    return (
        f"The frame ({FRAME_WORDS[work.frame]}) goes half the way in {hours_words(half.mid)}, "
        f"between {hours_words(half.low)} and {hours_words(half.high)} at 20 °C."
    )
