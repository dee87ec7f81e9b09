"""The chain of a work at one hour as rows for a page or a terminal: numbers, words, small bars."""

from collections.abc import Sequence

from analysis.answers.chain_quantities import STEPS
from analysis.answers.explain import Chain, Link
from analysis.answers.sensitivity import Ends, Influence
from analysis.chain.headroom import MOST_PCT
from analysis.results import AirNow, Range
from analysis.simulation.drawn_parameters import UNITS
from analysis.works import FRAME_WORDS, Work
from dashboards.lines import InfluenceLine, ReasonLine, ReasonStep, Table
from dashboards.text import parameters, wording
from dashboards.text.judgement_text import STEP_WORDS, against_mounting
from dashboards.text.messages import N_, _
from dashboards.text.parameters import LARGER_WORDS, PARAMETER_WORDS, SETTLED_BY
from dashboards.text.spare_text import (
    spare_figure,
    spare_reach,
    spare_words,
    stiffens_first,
)

BARS = 3
FAINT = 0.2  # below this a bar is not worth drawing
FEW = 50.0  # effective draws below which a rank correlation must pass 0.4 to be more than chance
HARDLY = 0.05  # below this a range is not called narrower
NEARLY_ALL = 0.9  # from this on hardly any range is left
# Rows of the account of stretch: words, name of the links, and which way they count.
ACCOUNT = (
    (N_("Stretch at mounting"), "prestrain", 1.0),
    (N_("The panel's movement"), "panel_strain", 1.0),
    (N_("The print's movement"), "print_strain", -1.0),
    (N_("Swings of moisture"), "cycled", -1.0),
    (N_("Giving hinges"), "crept", -1.0),
    (N_("Relaxation"), "relaxed", -1.0),
    (N_("Left (below zero: slack)"), "left", 1.0),
)
IN_ACCOUNT = ("prestrain", "cycled", "crept", "relaxed", "left")
NO_UNIT = ("1", "0 to 1", "0 or 1")


def reason_steps(chain: Chain) -> list[ReasonStep]:
    """Return the five steps, each with its leading rows and the others."""
    steps = []
    for step in STEPS:
        links = [link for link in chain.links if link.step == step]
        leading = [reason_line(chain, link) for link in links if link.leading]
        others = [
            reason_line(chain, link)
            for link in links
            if link.holds and not link.leading and not link.name.startswith(IN_ACCOUNT)
        ]
        steps.append(ReasonStep(STEP_WORDS[step], leading, others))
    return steps


def reason_line(chain: Chain, link: Link) -> ReasonLine:
    """Return one row: the number with its range, what decides it, what would settle that."""
    words = wording.capital(_(link.quantity))
    sentence = link_sentence(chain, link)
    if not link.holds:
        return ReasonLine(words, _("not told"), "", "", "")
    return ReasonLine(
        words=words,
        value=value_words(link),
        sentence="" if sentence.startswith(words) else sentence,
        decides=decides_sentence(link.influences, _(link.quantity)),
        ends=ends_words(link),
        settled_by=settled_words(link),
        bars=[_bar(x, link) for x in link.influences[:BARS] if x.strength >= max(FAINT, x.chance)],
    )


def link_sentence(chain: Chain, link: Link) -> str:
    """Return a number of the chain in words."""
    if link.name.startswith(("print_strain", "panel_strain")):
        return _growth_sentence(link)
    if link.name == "room_rh_pct":
        return _room_sentence(chain.measured)
    if link.name == "frame_rh_pct":
        half = chain.half_time_h
        return _(
            "The frame ({frame}) goes half the way in {time}, from {low} to {high}, at 20 °C.",
            frame=_(FRAME_WORDS[chain.work.frame]),
            time=wording.duration(half.mid),
            low=wording.duration(half.low),
            high=wording.duration(half.high),
        )
    if link.name == "print_rh_pct":
        return _print_sentence(chain.work, link.value)
    if link.name == "tension_n_m":
        return _("Where it is least taut, it pulls with {pull}.", pull=_spread(link))
    if link.name == "headroom_up_pct":
        return wording.capital(spare_words(link.value, _print_rh(chain))) + "."
    if link.name == "headroom_down_pct":
        said, held = _down_sentence(link.value), _print_rh(chain)
        caution = "" if held is None else stiffens_first(link.value, held)
        return f"{said} {caution}".strip()
    if link.name == "slope_mrad":
        return _(
            "Its steepest slope is {slope}; waves are seen from about {seen}.",
            slope=_spread(link),
            seen=wording.with_unit(chain.seen_mrad.mid, "mrad"),
        )
    return f"{wording.capital(_(link.quantity))}: {_spread(link)}."


def _print_rh(chain: Chain) -> Range | None:
    return next((one.value for one in chain.links if one.name == "print_rh_pct"), None)


def _spread(link: Link) -> str:
    return wording.range_words(link.value, link.unit, link.decimals)


def _room_sentence(air: AirNow) -> str:
    if not air.measured:
        return _("The room was not measured at that hour: a low and a high course are followed.")
    return _(
        "The room was measured at {rh} and {temp}; the range is that of the sensor.",
        rh=wording.rh(air.rh_pct),
        temp=wording.temp(air.temp_c),
    )


def _print_sentence(work: Work, value: Range) -> str:
    taken = {"paper": _(work.paper.value), "rh": wording.rh(value.mid)}
    if work.mounted_rh_pct is None:
        return _(
            "The {paper} print has taken up about {rh}; its RH at mounting is not recorded.",
            **taken,
        )
    than = against_mounting(value, work.mounted_rh_pct)
    return _("The {paper} print has taken up about {rh}{than}.", than=than, **taken)


def _down_sentence(value: Range) -> str:
    if value.mid > MOST_PCT - 1.0:
        return _("However far its RH falls, the hinges bear the load.")
    return _(
        "{spare} to spare as it dries before the hinges are loaded to what they bear for weeks "
        "({reach}).",
        spare=wording.rh(value.mid),
        reach=spare_reach(value),
    )


def _growth_sentence(link: Link) -> str:
    """Return a growth as "has grown" or "has shrunk"."""
    value, of_print = link.value, link.name.startswith("print")
    what = _("print") if of_print else _("panel")
    axis = _("across the grain") if link.name.endswith("_cd") else _("along the grain")
    if value.mid < 0.0:
        size = Range(-value.high, -value.mid, -value.low)
        by = wording.range_words(size, link.unit, link.decimals)
        return _("The {what} has shrunk {axis} by {size}.", what=what, axis=axis, size=by)
    by = _spread(link)
    return _("The {what} has grown {axis} by {size}.", what=what, axis=axis, size=by)


def decides_sentence(found: Sequence[Influence], outcome: str) -> str:
    """Return which parameter matters most to an outcome.

    Examples
    --------
    >>> decides_sentence([Influence("prestrain", -0.8)], "slope")
    'What decides the slope most is the stretch at mounting: the larger, the less (rank correlation
    −0.8).'
    """
    of = _(outcome)
    if not found:
        return _("All draws agree on the {outcome}: no parameter decides.", outcome=of)
    first = found[0]
    name = _(PARAMETER_WORDS.get(first.name, first.name))
    if not first.clear:
        return _(
            "No single parameter decides the {outcome}; the nearest is the {name}.",
            outcome=of,
            name=name,
        )
    return _(
        "What decides the {outcome} most is the {name}: {way} ({strength}).",
        outcome=of,
        name=name,
        way=way_words(first),
        strength=strength_words(first),
    )


def way_words(one: Influence) -> str:
    """Return which way a parameter acts.

    Examples
    --------
    >>> way_words(Influence("prestrain", -0.8)), way_words(Influence("x", 0.1, 0.4))
    ('the larger, the less', 'it acts both ways')
    """
    if one.both_ways:
        return _("it acts both ways")
    larger = _(LARGER_WORDS.get(one.name, "the larger"))
    if one.correlation > 0.0:
        return _("{larger}, the more", larger=larger)
    return _("{larger}, the less", larger=larger)


def strength_words(one: Influence) -> str:
    """Return the measure that a statement rests on.

    Examples
    --------
    >>> strength_words(Influence("prestrain", -0.8)), strength_words(Influence("x", 0.1, 0.4))
    ('rank correlation −0.8', '40 % of the spread')
    """
    if one.both_ways:
        return _("{share} of the spread", share=wording.share(one.share))
    return _("rank correlation {figure}", figure=wording.number(one.correlation, 1))


def settled_words(link: Link) -> str:
    """Return what would settle the parameter that matters most; said where that brings little."""
    if not link.named:
        return ""
    by, known = SETTLED_BY[link.named], link.narrower.get(link.named)
    alone = known is not None and known < HARDLY
    return _("{by}; by itself that would hardly narrow it", by=by) if alone else by


def value_words(link: Link) -> str:
    """Return a link's number with its range."""
    if link.name.startswith("headroom"):
        return spare_figure(link.value)
    return wording.range_words(link.value, link.unit, link.decimals)


def _bar(one: Influence, link: Link) -> InfluenceLine:
    known = link.narrower.get(one.name)
    brought = "" if known is None else _("; known, {narrower}", narrower=_share(known))
    return InfluenceLine(
        name=PARAMETER_WORDS[one.name],
        way=f"{way_words(one)} ({strength_words(one)}{brought})",
        size=one.strength if one.correlation > 0.0 else -one.strength,
        both_ways=one.both_ways,
    )


def _share(narrower: float) -> str:
    """Return by how much a range would be narrower.

    Examples
    --------
    >>> _share(0.44), _share(0.02), _share(0.997)
    ('44 % narrower', 'hardly narrower', 'hardly any range left')
    """
    if narrower >= NEARLY_ALL:
        return _("hardly any range left")
    if narrower < HARDLY:
        return _("hardly narrower")
    return _("{share} narrower", share=wording.with_unit(100.0 * narrower, "%"))


def ends_words(link: Link) -> str:
    """Return what a link is where the parameter that matters most is high and where it is low."""
    ends = link.ends
    if ends is None:
        return ""
    first = link.influences[0]
    low, middle, high = (
        wording.number(x, link.decimals) for x in (ends.low, ends.middle, ends.high)
    )
    if high == low and not first.both_ways:
        return _how_often(ends, first.name)
    with_high, with_low = _where(first.name, ends)
    between = (
        _("; in between: {middle} {unit}", middle=middle, unit=wording.unit_words(link.unit))
        if first.both_ways
        else ""
    )
    unit = wording.unit_words(link.unit)
    return _(
        "With {with_high}: {high} {unit}; {with_low}: {low} {unit}{between}.",
        with_high=with_high,
        high=high,
        with_low=with_low,
        low=low,
        unit=unit,
        between=between,
    )


def _how_often(ends: Ends, name: str) -> str:
    """Return how often a link is above zero at both ends, where both middles are alike."""
    high, low = (wording.percent(x) for x in (ends.high_some, ends.low_some))
    if high == low:
        return ""
    with_high, with_low = _where(name, ends)
    return _(
        "With {with_high}: above zero in {high} of the draws; {with_low}: in {low}.",
        with_high=with_high,
        high=high,
        with_low=with_low,
        low=low,
    )


def _where(name: str, ends: Ends) -> tuple[str, str]:
    """Return "the load … at 129 N/m or more" and "at 52 N/m or less", in units people read."""
    if name == "grain_vertical":
        return _("the grain upright"), _("level")
    shown, unit = parameters.shown(name, UNITS[name], Range(ends.below, ends.below, ends.above))
    unit = "" if unit in NO_UNIT else f" {wording.unit_words(unit)}"
    digits = 2 if wording.significant(shown.high, 2) != wording.significant(shown.low, 2) else 3
    high, low = (wording.significant(x, digits) + unit for x in (shown.high, shown.low))
    return _("the {parameter} at {high} or more", parameter=_(PARAMETER_WORDS[name]), high=high), _(
        "at {low} or less", low=low
    )


def few_draws_words(chain: Chain) -> str:
    """Return a sentence where too few draws count to tell what decides, or an empty text."""
    if chain.effective >= FEW:
        return ""
    count = wording.number(chain.effective)
    return _(
        "After learning only about {count} draws count: little can be said of what decides.",
        count=count,
    )


def account(chain: Chain) -> Table | None:
    """Return where the stretch of the print went since mounting, across and along the grain."""
    links = {link.name: link for link in chain.links}
    if not links["left_cd"].holds:
        return None
    rows = []
    for words, name, sign in ACCOUNT:
        of_axes = [links.get(f"{name}_{axis}", links.get(name)) for axis in ("cd", "md")]
        rows.append((_(words), *(_signed(link.value, sign) for link in of_axes if link)))
    caption = _(
        "What each added to the stretch, in mm per m, with its own range. In every draw the rows "
        "add up to what is left."
    )
    return Table(
        (_("Since mounting"), _("Across the grain"), _("Along the grain")), rows, caption, (1, 2)
    )


def account_words(chain: Chain) -> str:
    """Return in a sentence what took most of the stretch across the grain, or an empty text."""
    links = {link.name: link for link in chain.links}
    if not links["left_cd"].holds:
        return ""
    start = links["prestrain"].value.mid
    added = {_(words): sign * links[f"{name}_cd"].value.mid for words, name, sign in ACCOUNT[1:-1]}
    worst = min(added, key=lambda words: added[words])
    if added[worst] > -0.1 * start:
        return _("Most of its stretch at mounting is still there.")
    left = links["left_cd"].value.mid
    took, of, still = (wording.number(x, 2) for x in (-added[worst], start, left))
    best = max(added, key=lambda words: added[words])
    gave = _(
        " {lower}{best} gave about {added} back;",
        lower=best[0].lower(),
        best=best[1:],
        added=wording.number(added[best], 2),
    )
    rest = _("{still} is left", still=still) if left > 0.0 else _("nothing is left")
    return _(
        "{worst} took most from its stretch: about {took} mm per m across the grain;{gave} of "
        "{of} at mounting, {rest}.",
        worst=worst,
        took=took,
        gave=gave if added[best] > 0.1 * start else "",
        of=of,
        rest=rest,
    )


def _signed(value: Range, sign: float) -> str:
    """Return what a row adds, with its range."""
    if sign < 0.0:
        value = Range(-value.high, -value.mid, -value.low)
    middle, inside = wording.signed(value.mid, 2), wording.span(value.low, value.high, "", 2)
    return middle if inside in middle else f"{middle} ({inside})"


def reason_text(chain: Chain) -> list[str]:
    """Return the chain as lines for a terminal."""
    lines = []
    for step in reason_steps(chain):
        lines.append(step.step)
        for line in step.leading:
            lines.append(f"  {line.words}: {line.value}")
            bars = [f"{bar.name}: {bar.way}" for bar in line.bars] or [line.decides]
            lines += [f"    {words}" for words in (line.sentence, *bars, line.ends) if words]
            if line.settled_by:
                lines.append(
                    _("    What would narrow it: {settled_by}.", settled_by=line.settled_by)
                )
        lines += [f"  {line.words}: {line.value}" for line in step.others]
        lines += [
            f"    {words}" for words in _cautions(chain) if step.step == STEP_WORDS["tension"]
        ]
    return lines


def _cautions(chain: Chain) -> list[str]:
    """Return what limits a fall of humidity before the hinges do."""
    held = _print_rh(chain)
    spares = [one.value for one in chain.links if one.name == "headroom_down_pct" and one.holds]
    said = [stiffens_first(one, held) for one in spares if held is not None]
    return [words for words in said if words]
