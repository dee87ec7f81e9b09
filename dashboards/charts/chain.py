"""The chain room → frame → print → tension → surface as a small picture."""

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from analysis.explain import Chain, Link
from dashboards.charts.style import PHONE_MM, Sheet, drawn, wrapped
from dashboards.inks import FELT, HAIR, INK, SOFT
from dashboards.wording import number

ROW_MM = 15.0


@drawn
def chain_figure(chain: Chain, width_mm: float = PHONE_MM) -> Figure:
    """Return one row a link: its name, its range as a bar, its middle as a stroke, its number."""
    page = Sheet.new(width_mm, 4.0 + ROW_MM * len(chain.links))
    for i, link in enumerate(chain.links):
        top = 2.0 + ROW_MM * i
        page.write(2.0, top, link.step, size=8.5, color=INK)
        for j, line in enumerate(wrapped(link.quantity, 30.0, 6.5)[:3]):
            page.write(2.0, top + 4.0 + 3.0 * j, line, size=6.5, color=SOFT)
        axes = page.axes(36.0, top, width_mm - 40.0, ROW_MM - 6.0)
        _bar(axes, link)
        if i + 1 < len(chain.links):
            page.write(26.0, top + 0.2, "↓" if link.step != chain.links[i + 1].step else "", size=8)
    return page.figure


def _bar(axes: Axes, link: Link) -> None:
    value = link.value
    reach = max(value.high, 1e-9) if link.unit != "%RH" or value.high < 30.0 else 100.0
    axes.set_xlim(min(0.0, value.low), 1.15 * reach if reach != 100.0 else 100.0)
    axes.set_ylim(0.0, 1.0)
    axes.axhline(0.35, color=HAIR, lw=0.6)
    axes.fill_between([value.low, value.high], 0.2, 0.5, color=FELT, lw=0)
    axes.plot([value.mid, value.mid], [0.12, 0.58], color=INK, lw=1.4)
    words = f"{number(value.mid)} {link.unit}  ({number(value.low)} to {number(value.high)})"
    axes.text(0.0, 1.0, words, transform=axes.transAxes, va="top", ha="left", size=7)
    axes.set_axis_off()
