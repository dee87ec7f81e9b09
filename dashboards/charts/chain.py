"""The chain room → frame → print → tension → surface as a small picture."""

from collections.abc import Mapping, Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from analysis.answers.explain import Chain, Link
from dashboards.charts.style import PHONE_MM, SERIF, Sheet, drawn, text_width_mm, wrapped
from dashboards.inks import FELT, HAIR, INK, SOFT
from dashboards.text.judgement_text import STEP_WORDS
from dashboards.text.messages import N_, Worded, _
from dashboards.text.parameters import PARAMETER_WORDS
from dashboards.text.reasons import value_words, way_words
from dashboards.text.wording import with_unit

ROW_MM, LEFT_MM, RIGHT_MM = 15.0, 20.0, 2.0
SIZE, SMALL = 9.0, 8.0
SHORT = Worded(
    {
        "room_rh_pct": N_("humidity"),
        "frame_rh_pct": N_("humidity"),
        "print_rh_pct": N_("humidity"),
        "tension_n_m": N_("pull"),
        "headroom_up_pct": N_("headroom"),
        "slope_mrad": N_("slope"),
    }
)
AGAINST = Worded(
    {
        "room_rh_pct": N_("mounted at"),
        "headroom_up_pct": N_("slack below"),
        "slope_mrad": N_("seen from about"),
    }
)
Scales = Mapping[str, tuple[float, float]]


@drawn
def chain_figure(chain: Chain, width_mm: float = PHONE_MM) -> Figure:
    """Return one row a leading link: its range as a bar, its number, and what decides it most.

    The humidities share one scale, and stand against that at mounting.
    """
    links = chain.leading
    page = Sheet.new(width_mm, 5.0 + ROW_MM * len(links))
    scales = _scales(links)
    for i, link in enumerate(links):
        top = 4.0 + ROW_MM * i
        first = i == 0 or links[i - 1].step != link.step
        if first:
            page.write(1.0, top, STEP_WORDS[link.step], size=SIZE, family=SERIF, color=INK)
        page.write(1.0, top + 4.0, SHORT[link.name], size=SMALL, color=SOFT)
        axes = page.axes(LEFT_MM, top, width_mm - LEFT_MM - RIGHT_MM, ROW_MM)
        axes.set_axis_off()
        axes.set_xlim(*scales[link.name])
        axes.set_ylim(ROW_MM, 0.0)
        _row(axes, link, chain, width_mm - LEFT_MM - RIGHT_MM)
    return page.figure


def _scales(links: Sequence[Link]) -> Scales:
    """Return the scale of each link; that of the humidities is one."""
    humid = [link for link in links if link.name.endswith("rh_pct")]
    reached = [x for link in humid for x in (link.value.low, link.value.high)]
    reached += [link.against for link in humid if link.against is not None]
    low, high = min(reached), max(reached)
    spare = max(0.06 * (high - low), 1.0)
    scales = {link.name: (low - spare, high + spare) for link in humid}
    for link in links:
        if link.name not in scales:
            most = max(link.value.high, 1.3 * (link.against or 0.0), 1e-6)
            scales[link.name] = (min(0.0, link.value.low), 1.06 * most)
    return scales


def _row(axes: Axes, link: Link, chain: Chain, width_mm: float) -> None:
    if not link.holds:
        _write(axes, 0.0, _("not told"), SIZE, SOFT)
        return
    value = link.value
    axes.plot(axes.get_xlim(), [5.6, 5.6], color=HAIR, lw=0.6)
    if link.unit != "%RH":
        axes.plot([0.0, 0.0], [4.2, 7.0], color=HAIR, lw=0.8)
    if link.against is not None:
        _against(axes, link, width_mm)
    axes.fill_between([value.low, value.high], 4.6, 6.6, color=FELT, lw=0)
    axes.plot([value.mid, value.mid], [4.2, 7.2], color=INK, lw=1.4)
    _write(axes, 0.0, value_words(link), SIZE, INK)
    said = [wrapped(words, width_mm, SMALL) for words in _most(link)]
    fits = next((lines for lines in said if len(lines) == 1), said[-1])
    _write(axes, 8.2, fits[0] if len(fits) == 1 else f"{fits[0]} …", SMALL, SOFT)


def _against(axes: Axes, link: Link, width_mm: float) -> None:
    """Draw what the number is read against, and name it once."""
    if link.against is None:
        return
    axes.plot([link.against] * 2, [4.2, 7.6], color=SOFT, lw=0.8, ls=(0, (2, 1.4)))
    if link.name not in AGAINST:
        return
    words = f"{AGAINST[link.name]} {with_unit(link.against, link.unit)}"
    low, high = axes.get_xlim()
    taken = text_width_mm(words, SMALL) / width_mm * (high - low)
    left = min(max(link.against - taken / 2, low), high - taken)
    clear = text_width_mm(value_words(link), SIZE) / width_mm + 0.06
    left = max(left, low + clear * (high - low))
    axes.text(left, 0.2, words, size=SMALL, color=SOFT, va="top", style="italic", family=SERIF)


def _most(link: Link) -> Sequence[str]:
    """Return what decides a link most, the longest first."""
    if link.ends is None:
        return [_("no single thing decides it") if link.influences else _("all draws agree")]
    first = link.influences[0]
    name = _(PARAMETER_WORDS[first.name])
    certain = _("least certain: {name}", name=name)
    return [f"{certain}; {way_words(first)}", certain]


def _write(axes: Axes, top: float, words: str, size: float, color: str) -> None:
    axes.text(axes.get_xlim()[0], top, words, size=size, color=color, va="top", ha="left")


def chain_words(chain: Chain) -> str:
    """Return what the picture says, for people who do not see it."""
    sentences = [
        f"{STEP_WORDS[link.step]}, {SHORT[link.name]}: {value_words(link)}"
        if link.holds
        else _("{step}, {name}: not told", step=STEP_WORDS[link.step], name=SHORT[link.name])
        for link in chain.leading
    ]
    return "; ".join(sentences) + "."
