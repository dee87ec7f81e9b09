"""The chain of a work at one hour as rows for a page or a terminal: numbers, words, small bars."""

from analysis.answers.chain_quantities import STEPS
from analysis.answers.explain import Chain, Link
from analysis.answers.sensitivity import Ends, Influence, strength_words, way_words
from analysis.results import Range
from analysis.simulation.drawn_parameters import UNITS
from dashboards.lines import InfluenceLine, ReasonLine, ReasonStep, Table
from dashboards.text import display_units, wording
from dashboards.text.judgement_text import spare_figure
from dashboards.text.parameters import LARGER_WORDS, PARAMETER_WORDS, SETTLED_BY

BARS = 3
FAINT = 0.2  # below this a bar is not worth drawing
FEW = 50.0  # effective draws below which a rank correlation must pass 0.4 to be more than chance
HARDLY = 0.05  # below this a range is not called narrower
NEARLY_ALL = 0.9  # from this on hardly any range is left
# Rows of the account of stretch: words, name of the links, and which way they count.
ACCOUNT = (
    ("Stretch at mounting", "prestrain", 1.0),
    ("The panel's movement", "panel_strain", 1.0),
    ("The print's movement", "print_strain", -1.0),
    ("Swings of moisture", "cycled", -1.0),
    ("Giving hinges", "crept", -1.0),
    ("Relaxation", "relaxed", -1.0),
    ("Left (below zero: slack)", "left", 1.0),
)
IN_ACCOUNT = ("prestrain", "cycled", "crept", "relaxed", "left")
NO_UNIT = ("1", "0 to 1", "0 or 1")


def reason_steps(chain: Chain) -> list[ReasonStep]:
    """Return the five steps, each with its leading rows and the others."""
    steps = []
    for step in STEPS:
        links = [link for link in chain.links if link.step == step]
        leading = [reason_line(link) for link in links if link.leading]
        others = [
            reason_line(link)
            for link in links
            if link.holds and not link.leading and not link.name.startswith(IN_ACCOUNT)
        ]
        steps.append(ReasonStep(step, leading, others))
    return steps


def reason_line(link: Link) -> ReasonLine:
    """Return one row: the number with its range, what decides it, what would settle that."""
    words = wording.capital(link.quantity)
    if not link.holds:
        return ReasonLine(words, "not told", "", "", "")
    return ReasonLine(
        words=words,
        value=value_words(link),
        sentence="" if link.sentence.startswith(words) else link.sentence,
        decides=link.decides,
        ends=ends_words(link),
        settled_by=settled_words(link),
        bars=[_bar(x, link) for x in link.influences[:BARS] if x.strength >= max(FAINT, x.chance)],
    )


def settled_words(link: Link) -> str:
    """Return what would settle the parameter that matters most; said where that brings little."""
    if not link.named:
        return ""
    by, known = SETTLED_BY[link.named], link.narrower.get(link.named)
    alone = known is not None and known < HARDLY
    return f"{by}; by itself that would hardly narrow it" if alone else by


def value_words(link: Link) -> str:
    """Return a link's number with its range."""
    if link.name.startswith("headroom"):
        return spare_figure(link.value)
    return wording.range_words(link.value, link.unit, link.decimals)


def _bar(one: Influence, link: Link) -> InfluenceLine:
    known = link.narrower.get(one.name)
    brought = "" if known is None else f"; known, {_share(known)}"
    return InfluenceLine(
        name=PARAMETER_WORDS[one.name],
        way=f"{way_words(one, LARGER_WORDS)} ({strength_words(one)}{brought})",
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
        return "hardly any range left"
    if narrower < HARDLY:
        return "hardly narrower"
    return f"{wording.number(100.0 * narrower)} % narrower"


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
    between = f"; in between: {middle} {link.unit}" if first.both_ways else ""
    return f"With {with_high}: {high} {link.unit}; {with_low}: {low} {link.unit}{between}."


def _how_often(ends: Ends, name: str) -> str:
    """Return how often a link is above zero at both ends, where both middles are alike."""
    high, low = (wording.percent(x) for x in (ends.high_some, ends.low_some))
    if high == low:
        return ""
    with_high, with_low = _where(name, ends)
    return f"With {with_high}: above zero in {high} of the draws; {with_low}: in {low}."


def _where(name: str, ends: Ends) -> tuple[str, str]:
    """Return "the load … at 129 N/m or more" and "at 52 N/m or less", in units people read."""
    if name == "grain_vertical":
        return "the grain upright", "level"
    shown, unit = display_units.shown(name, UNITS[name], Range(ends.below, ends.below, ends.above))
    unit = "" if unit in NO_UNIT else f" {unit}"
    digits = 2 if wording.significant(shown.high, 2) != wording.significant(shown.low, 2) else 3
    high, low = (wording.significant(x, digits) + unit for x in (shown.high, shown.low))
    return f"the {PARAMETER_WORDS[name]} at {high} or more", f"at {low} or less"


def few_draws_words(chain: Chain) -> str:
    """Return a sentence where too few draws count to tell what decides, or an empty text."""
    if chain.effective >= FEW:
        return ""
    count = wording.number(chain.effective)
    return f"After learning only about {count} draws count: little can be said of what decides."


def account(chain: Chain) -> Table | None:
    """Return where the stretch of the print went since mounting, across and along the grain."""
    links = {link.name: link for link in chain.links}
    if not links["left_cd"].holds:
        return None
    rows = []
    for words, name, sign in ACCOUNT:
        of_axes = [links.get(f"{name}_{axis}", links.get(name)) for axis in ("cd", "md")]
        rows.append((words, *(_signed(link.value, sign) for link in of_axes if link)))
    caption = (
        "What each added to the stretch, in mm per m, with its own range. In every draw the rows "
        "add up to what is left."
    )
    return Table(("Since mounting", "Across the grain", "Along the grain"), rows, caption, (1, 2))


def account_words(chain: Chain) -> str:
    """Return in a sentence what took most of the stretch across the grain, or an empty text."""
    links = {link.name: link for link in chain.links}
    if not links["left_cd"].holds:
        return ""
    start = links["prestrain"].value.mid
    added = {words: sign * links[f"{name}_cd"].value.mid for words, name, sign in ACCOUNT[1:-1]}
    worst = min(added, key=lambda words: added[words])
    if added[worst] > -0.1 * start:
        return "Most of its stretch at mounting is still there."
    left = links["left_cd"].value.mid
    took, of, still = (wording.number(x, 2) for x in (-added[worst], start, left))
    best = max(added, key=lambda words: added[words])
    gave = f" {best[0].lower()}{best[1:]} gave about {wording.number(added[best], 2)} back;"
    rest = f"{still} is left" if left > 0.0 else "nothing is left"
    return (
        f"{worst} took most from its stretch: about {took} mm per m across the grain;"
        f"{gave if added[best] > 0.1 * start else ''} of {of} at mounting, {rest}."
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
                lines.append(f"    What would narrow it: {line.settled_by}.")
        lines += [f"  {line.words}: {line.value}" for line in step.others]
    return lines
