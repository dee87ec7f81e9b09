"""Temperature against water in the air: where a room spent its time, and which way events went."""

import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure

from analysis.air.psychrometric_picture import PsychrometricPicture, Trail
from analysis.results import Band
from dashboards.charts.air_values import mark_rows
from dashboards.charts.style import SERIF, Sheet, drawn
from dashboards.inks import FELT, HAIR, INK, MADDER, PAPER, SOFT, WASH
from dashboards.text import wording
from dashboards.text.messages import _

Floats = npt.NDArray[np.float64]
WIDTH_MM, HEIGHT_MM = 150.0, 112.0
PER_G = 1000.0
DENSITY = LinearSegmentedColormap.from_list("density", [FELT, "#8f8677", INK])
SHARE = 0.9  # the sentence says where nine tenths of the time were spent


@drawn
def psychrometric_chart(picture: PsychrometricPicture, band: Band | None = None) -> Figure:
    """Return the density of a room's air over temperature and humidity ratio.

    Parameters
    ----------
    picture : PsychrometricPicture
        From `analysis.air.psychrometric_picture`.
    band : Band, optional
        Names the outlined band.
    """
    sheet = Sheet.new(WIDTH_MM, HEIGHT_MM)
    axes = sheet.axes(16.0, 8.0, WIDTH_MM - 34.0, HEIGHT_MM - 24.0)
    _frame(axes, picture)
    if picture.band_outline is not None:
        _band(axes, picture.band_outline, band)
    _density(axes, picture)
    mark_rows(axes, "water", picture.ratio_edges_kg_kg * PER_G)
    _rh_lines(axes, picture)
    for number, trail in enumerate(picture.trails, start=1):
        _trail(axes, trail, number)
    sheet.write(4.0, 2.0, _("Water in the air, g/kg of dry air"), size=8, color=SOFT)
    warmth = _("Temperature, °C")
    sheet.write(WIDTH_MM - 18.0, HEIGHT_MM - 8.0, warmth, size=8, color=SOFT, ha="right")
    return sheet.figure


def _frame(axes: Axes, picture: PsychrometricPicture) -> None:
    ratio = picture.ratio_edges_kg_kg * PER_G
    trails = [t.humidity_ratio_kg_kg * PER_G for t in picture.trails]
    up = np.concatenate([ratio, *trails])
    axes.set_xlim(*drawn_across(picture))
    axes.set_ylim(max(0.0, up.min() - 0.5), up.max() + 0.7)
    axes.tick_params(labelsize=8)


def drawn_across(picture: PsychrometricPicture) -> tuple[float, float]:
    """Return from where to where the picture is drawn [°C]."""
    temp = np.concatenate([picture.temp_edges_c, *(t.temp_c for t in picture.trails)])
    return float(temp.min()), float(temp.max())


def _density(axes: Axes, picture: PsychrometricPicture) -> None:
    hours = np.ma.masked_less_equal(picture.hours, 0.0)
    if hours.count() == 0:
        return
    axes.pcolormesh(picture.temp_edges_c, picture.ratio_edges_kg_kg * PER_G, np.sqrt(hours),
                    cmap=DENSITY, rasterized=True, zorder=2)  # fmt: skip


def _band(axes: Axes, outline: tuple[Floats, Floats], band: Band | None) -> None:
    temp, ratio = outline[0], outline[1] * PER_G
    axes.fill(temp, ratio, facecolor=WASH, edgecolor=HAIR, linewidth=0.6, zorder=0.5)
    if band is not None:
        low, high = axes.get_xlim()
        inside = (temp > low + 0.03 * (high - low)) & (np.arange(temp.size) > temp.size // 2)
        place = np.flatnonzero(inside)[-2] if inside.sum() > 1 else int(ratio.argmax())
        axes.annotate(band.name, (temp[place], ratio[place]), xytext=(2, -3), size=8, va="top",
                      textcoords="offset points", style="italic", color=SOFT, family=SERIF,
                      zorder=3)  # fmt: skip


def _rh_lines(axes: Axes, picture: PsychrometricPicture) -> None:
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    for rh, (temp, ratio) in picture.rh_lines.items():
        curve = ratio * PER_G
        axes.plot(temp, curve, color=SOFT, linewidth=0.4, alpha=0.7, zorder=2.5)
        seen = (curve >= low) & (curve <= high) & (temp >= left) & (temp <= right)
        if seen.any():
            last = int(np.flatnonzero(seen)[-1])
            axes.annotate(wording.rh(rh), (temp[last], curve[last]), xytext=(3, 0), size=7,
                          textcoords="offset points", va="center", color=SOFT,
                          annotation_clip=False)  # fmt: skip


def _trail(axes: Axes, trail: Trail, number: int) -> None:
    temp, ratio = trail.temp_c, trail.humidity_ratio_kg_kg * PER_G
    axes.plot(temp, ratio, color=MADDER, linewidth=0.9, alpha=0.9, zorder=4)
    axes.text(temp[0], ratio[0], str(number), size=8, weight="bold", ha="center", va="center",
              bbox={"boxstyle": "circle,pad=0.16", "fc": PAPER, "ec": MADDER, "lw": 0.7},
              zorder=5)  # fmt: skip


def psychrometric_words(picture: PsychrometricPicture) -> str:
    """Return what the picture shows: where nine tenths of the time were spent."""
    if not picture.hours.sum():
        return _("Nothing was measured in this period.")
    temp = _middle_share(picture.temp_edges_c, picture.hours.sum(axis=0))
    water = _middle_share(picture.ratio_edges_kg_kg * PER_G, picture.hours.sum(axis=1))
    said = _(
        "The stronger the ink, the longer. Nine tenths of the time the air was from {temp} and "
        "held {water} of water.",
        temp=wording.span(*temp, "°C"),
        water=wording.span(*water, "g/kg", 1),
    )
    if not picture.trails:
        return said
    return _(
        "{said} Red lines follow events from their number on: straight across is warming or "
        "cooling, up or down is water coming or going.",
        said=said,
    )


def _middle_share(edges: Floats, hours: Floats) -> tuple[float, float]:
    """Return the ends of the middle nine tenths of the time along one scale."""
    share = np.concatenate([[0.0], np.cumsum(hours)]) / hours.sum()
    rest = (1.0 - SHARE) / 2
    return float(np.interp(rest, share, edges)), float(np.interp(1.0 - rest, share, edges))
