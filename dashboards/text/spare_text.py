"""How far the humidity of a print may move, and which limit comes first: never a permission."""

import math

from analysis.chain.headroom import MOST_PCT
from analysis.harm.gelatin import bounded_spare, image_layer_bounds
from analysis.results import Judgement, Range
from dashboards.text import wording
from dashboards.text.messages import _


def spare_pairs(judgement: Judgement) -> list[tuple[str, str]]:
    """Return every spare of a print with its name, the quick one beside the slow one."""
    now = judgement.now
    quick, dry = (None, None) if now is None else (now.headroom_quick_pct, now.headroom_dry_pct)
    pairs = [
        (_("To spare before it goes slack, in a slow rise"), judgement.headroom_up_pct),
        (_("In a spike, which its panel does not follow"), quick),
        (_("To spare as it dries, before its hinges are overloaded"), judgement.headroom_down_pct),
    ]
    if dry is not None and dry.mid < MOST_PCT - 1.0:
        pairs.append((_("As it dries, before its panel shrinks away from under it"), dry))
    return [(name, spare_figure(spare)) for name, spare in pairs]


def image_layer_words(judgement: Judgement) -> str:
    """Return what the image layer bears beside what hinges and panel would; "" without figures.

    The bounds are recalled, not read, and it is said.
    """
    held, up, down = judgement.print_rh_pct, judgement.headroom_up_pct, judgement.headroom_down_pct
    if held is None or up is None or down is None or math.isnan(held.mid):
        return ""
    bounds = image_layer_bounds()
    said = _(
        "These are limits of hinges and panel, no permission. Below about {low} to {high} an image "
        "layer of gelatin stiffens and may crack, above about {ceiling} it softens and may stick "
        "(recalled, not read)",
        low=wording.number(bounds.floor.low),
        high=wording.rh(bounds.floor.high),
        ceiling=wording.rh(bounds.ceiling.value),
    )
    least = bounded_spare(held.mid, max(up.mid, 0.0), max(down.mid, 0.0))
    return _(
        "{said}: at the print that leaves {up} upwards and {down} downwards at most.",
        said=said,
        up=wording.rh(least.up_pct),
        down=wording.rh(least.down_pct),
    )


def spare_words(up: Range, print_rh: Range | None = None) -> str:
    """Return how much damper the print may become before it goes slack [%RH].

    With the print's own humidity it is said where its image layer would soften before that.

    Examples
    --------
    >>> spare_words(Range(4.0, 11.2, 50.0))
    '11 %RH to spare at the print before it goes slack (4 or more)'
    >>> spare_words(Range(4.0, 11.2, 50.0), Range(50.0, 52.0, 54.0)).split('; ')[1]
    'above about 60 %RH its image layer softens'
    >>> spare_words(Range(-19.0, -15.1, -9.0))
    'already 15 %RH past the point where it goes slack (9 to 19)'
    """
    bound = "" if print_rh is None else softens_first(up, print_rh)
    if up.mid > MOST_PCT - 1.0:
        still = _("its panel moves as much as it does, so damper air would not slacken it")
        return still + bound
    if up.mid <= -0.5:
        past = Range(-up.high, -up.mid, -up.low)
        return _(
            "already {past} past the point where it goes slack ({reach})",
            past=wording.rh(past.mid),
            reach=spare_reach(past),
        )
    if up.mid < 0.5:
        return _("nothing to spare before it goes slack ({reach})", reach=spare_reach(up, "%RH"))
    said = _(
        "{spare} to spare at the print before it goes slack ({reach})",
        spare=wording.rh(up.mid),
        reach=spare_reach(up),
    )
    return said + bound


def softens_first(up: Range, print_rh: Range) -> str:
    """Return that the image layer of a print softens before the print goes slack, or nothing."""
    ceiling = image_layer_bounds().ceiling.value
    if up.mid <= 0.0 or print_rh.mid + up.mid <= ceiling:
        return ""
    return _("; above about {rh} its image layer softens", rh=wording.rh(ceiling))


def stiffens_first(down: Range, print_rh: Range) -> str:
    """Return that an image layer stiffens before the hinges are loaded, or nothing.

    Examples
    --------
    >>> stiffens_first(Range(4.0, 9.0, 12.0), Range(44.0, 46.0, 48.0))
    ''
    >>> stiffens_first(Range(20.0, 48.0, 50.0), Range(44.0, 46.0, 48.0)).split(" (")[0]
    'Below about 25 to 30 %RH an image layer of gelatin stiffens and may crack'
    """
    floor = image_layer_bounds().floor
    if print_rh.mid - down.mid >= floor.high:
        return ""
    return _(
        "Below about {low} to {high} an image layer of gelatin stiffens and may crack (recalled, "
        "not read).",
        low=wording.number(floor.low),
        high=wording.rh(floor.high),
    )


def spare_reach(spare: Range, unit: str = "") -> str:
    """Return "low to high"; an end beyond what is reckoned is left open."""
    if spare.high > MOST_PCT - 1.0:
        return _("{low} or more", low=wording.with_unit(spare.low, unit))
    if spare.low < 1.0 - MOST_PCT:
        return _("up to {high}", high=wording.with_unit(spare.high, unit))
    return wording.span(spare.low, spare.high, unit)


def spare_figure(spare: Range | None) -> str:
    """Return how far the humidity of the print can move, for a table.

    Examples
    --------
    >>> spare_figure(Range(5.0, 15.2, 50.0)), spare_figure(Range(50.0, 50.0, 50.0))
    ('15 %RH (5 or more)', '50 %RH or more')
    >>> spare_figure(Range(-19.0, -15.1, -9.0))
    'already 15 %RH past it (9 to 19)'
    """
    if spare is None or math.isnan(spare.mid):
        return wording.NONE
    if spare.mid >= MOST_PCT:
        return _("{most} or more", most=wording.rh(MOST_PCT))
    if spare.mid <= -0.5:
        past = Range(-spare.high, -spare.mid, -spare.low)
        return _(
            "already {past} past it ({reach})", past=wording.rh(past.mid), reach=spare_reach(past)
        )
    if spare.high < MOST_PCT:
        return wording.range_words(spare, "%RH")
    return f"{wording.rh(spare.mid)} ({spare_reach(spare)})"
