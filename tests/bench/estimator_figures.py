"""Draw the figures of the guide to the estimate from real runs, and print their numbers.

    python -m bench.estimator_figures

The figures go to ``dashboards/guides/figures``.
"""

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from analysis.air.room_air import RoomAir
from analysis.chain.relaxation import log_law, prony_left
from analysis.results import Floats, History
from analysis.simulation.estimator import run
from analysis.simulation.priors import draw
from analysis.works import Finish, FrameBuild, Panel, Paper, Work
from bench.calibration import MOUNTED, room_year
from bench.validation_figures import FIGURES
from dashboards.charts.style import SERIF, TALL_A4_MM, Sheet, drawn, svg, wrapped
from dashboards.inks import FELT, GREY, HAIR, INDIGO, INK, MADDER, OCHRE, SEA, SOFT, WASH

EXAMPLE = Work(
    "example",
    "Example",
    1500.0,
    1000.0,
    Paper.FIBRE_BASE,
    Finish.GLOSSY,
    panel=Panel.METAL_FACED,
    frame=FrameBuild.D,
    mounted_utc=MOUNTED,
    mounted_rh_pct=46.0,
    spacer_mm=10.0,
)
EVERY_H = 12


@dataclass(frozen=True)
class Layer:
    """A layer of the frame in the section: its name, where it begins, how thick it is drawn."""

    name: str
    left_mm: float
    width_mm: float
    ink: str
    hatch: str = ""


LAYERS = (
    Layer("room", 6.0, 34.0, "none"),
    Layer("glazing", 40.0, 3.0, HAIR),
    Layer("air", 43.0, 15.0, "none"),
    Layer("print", 58.0, 1.6, INK),
    Layer("panel", 60.6, 12.0, WASH, "xxx"),
    Layer("back", 78.0, 5.0, FELT),
    Layer("gap", 83.0, 12.0, "none"),
    Layer("wall", 95.0, 18.0, HAIR, "///"),
)
LINKS = (
    ("1  room", "water in the air, from temperature and humidity, give or take the sensor"),
    ("2  frame", "the half-time of the package; a temperature between room and wall"),
    ("3  print and panel", "each at its own pace; movement along the grain and across it"),
    ("4  tension", "print and hinges share the stretch; it relaxes; a sheet is never pushed"),
    ("5  surface", "surplus length becomes waves: their slope, height and distance to the glazing"),
)


@drawn
def section_figure() -> Figure:
    """Return a section through a framed print, with the five links of the chain."""
    page = Sheet.new(TALL_A4_MM, 104.0)
    page.write(4.0, 3.0, "A section through the frame, and the chain", family=SERIF, size=12)
    axes = page.margin(4.0, 12.0, 116.0, 88.0)
    for layer in LAYERS:
        _layer(axes, layer)
    _hinges(axes)
    _waves(axes)
    axes.annotate("", (60.0, 30.0), (12.0, 30.0), arrowprops=_arrow(SEA))
    axes.text(12.0, 32.0, "water", color=SEA, size=7.5)
    axes.annotate("", (68.0, 24.0), (110.0, 24.0), arrowprops=_arrow(MADDER))
    axes.text(
        110.0, 20.0, "cold, on an\noutside wall", color=MADDER, size=7.5, ha="right", va="top"
    )
    for row, (name, words) in enumerate(LINKS):
        page.write(124.0, 22.0 + 14.5 * row, name, family=SERIF, size=9.5)
        for i, line in enumerate(wrapped(words, 62.0, 7.5)):
            page.write(124.0, 27.0 + 14.5 * row + 3.8 * i, line, size=7.5, color=SOFT)
    return page.figure


def _arrow(ink: str) -> dict[str, object]:
    return {"arrowstyle": "-|>", "color": ink, "lw": 1.1, "shrinkA": 0, "shrinkB": 0}


def _layer(axes: Axes, layer: Layer) -> None:
    low, high = 8.0, 78.0
    if layer.ink != "none":
        box = Rectangle(
            (layer.left_mm, low),
            layer.width_mm,
            high - low,
            facecolor=layer.ink,
            edgecolor=SOFT,
            lw=0.4,
            hatch=layer.hatch or None,
        )
        axes.add_patch(box)
    middle = layer.left_mm + layer.width_mm / 2.0
    axes.text(middle, 4.5, layer.name, ha="center", va="center", size=7, color=SOFT)


def _hinges(axes: Axes) -> None:
    """Draw the two hinges that hold the print, turned round the panel's edges."""
    for edge, out in ((78.0, 1.0), (8.0, -1.0)):
        axes.plot(
            [58.8, 58.8, 74.2, 74.2],
            [edge - 4.0 * out, edge + 1.4 * out, edge + 1.4 * out, edge - 9.0 * out],
            color=OCHRE,
            lw=1.6,
            solid_capstyle="round",
        )
    axes.text(66.0, 82.5, "hinge", ha="center", va="center", size=7, color=OCHRE)


def _waves(axes: Axes) -> None:
    """Draw the print when it is slack, before the panel."""
    y = np.linspace(8.0, 78.0, 300)
    x = 56.6 - 2.2 * np.sin(np.pi * (y - 8.0) / 70.0) * (1.0 - np.cos(2 * np.pi * (y - 8.0) / 17.5))
    axes.plot(x, y, color=INDIGO, lw=0.9, ls=(0, (3, 1.5)))
    axes.text(47.0, 70.0, "slack", size=7.5, color=INDIGO, ha="left")


def example_year() -> tuple[RoomAir, History]:
    """Return a year of invented room air, and the example through it."""
    air = room_year()
    found = run([EXAMPLE], {EXAMPLE.work_id: draw(EXAMPLE)}, air)
    return air, found.histories[EXAMPLE.work_id]


@drawn
def year_figure(air: RoomAir, history: History) -> Figure:
    """Return the chain of one print through a year, link by link."""
    page = Sheet.new(TALL_A4_MM, 152.0)
    page.write(4.0, 3.0, "One invented print through a year", family=SERIF, size=12)
    days = (history.time_utc - air.time_utc[0]).astype("timedelta64[s]").astype(float) / 86400.0
    rows = (
        ("room", "%RH", None),
        ("print", "%RH", history.print_rh_pct),
        ("tension", "N/m", history.tension_n_m),
        ("headroom", "%RH", history.headroom_up_pct),
        ("slope", "mrad", history.slope_mrad),
    )
    for row, (name, unit, values) in enumerate(rows):
        axes = page.axes(24.0, 13.0 + 26.5 * row, 150.0, 21.0)
        if values is None:
            axes.plot(days[::EVERY_H], air.rh_low_pct[1::EVERY_H], color=SEA, lw=0.5)
        else:
            _band(axes, days, values)
        _marks(axes, name)
        axes.set_ylabel(f"{name}\n{unit}", size=7.5)
        axes.set_xlim(0.0, 366.0)
        axes.set_xticks(range(0, 366, 61), [] if row < len(rows) - 1 else None)
    axes.set_xlabel("day of the year   (line: median; band: 5 to 95 % of the draws)")
    return page.figure


def _band(axes: Axes, days: Floats, values: Floats) -> None:
    days, values = days[::EVERY_H], values[::EVERY_H]
    axes.fill_between(days, values[:, 0], values[:, 2], color=FELT, alpha=0.7, lw=0)
    axes.plot(days, values[:, 1], color=INK, lw=0.7)


def _marks(axes: Axes, name: str) -> None:
    """Mark what a row is read against."""
    if name in ("room", "print") and EXAMPLE.mounted_rh_pct is not None:
        axes.axhline(EXAMPLE.mounted_rh_pct, color=OCHRE, lw=0.6, ls=(0, (4, 2)))
        axes.text(367.0, EXAMPLE.mounted_rh_pct, "mounted", size=6.5, color=OCHRE, va="center")
    if name == "headroom":
        axes.axhline(0.0, color=INDIGO, lw=0.6, ls=(0, (4, 2)))
        axes.text(367.0, 0.0, "slack", size=6.5, color=INDIGO, va="center")
    if name == "slope":
        axes.axhspan(2.0, 20.0, color=WASH, lw=0)
        axes.text(367.0, 10.0, "seen", size=6.5, color=SOFT, va="center")


def dry_spell(hours: int = 24 * 110) -> tuple[RoomAir, History]:
    """Return a month of dry air between two of ordinary air, and the example in the open in it."""
    time = np.datetime64("2025-01-01", "s") + np.arange(hours) * np.timedelta64(1, "h")
    day = np.arange(hours) / 24.0
    rh = 46.0 - 12.0 * np.clip(np.minimum(day - 30.0, 62.0 - day) / 2.0, 0.0, 1.0)
    temp, known = np.full(hours, 20.0), np.ones(hours, dtype=np.bool_)
    air = RoomAir(time, temp, rh, rh, temp * np.nan, known, 3600.0, 46.0, 46.0)
    begun = datetime(2025, 1, 1, tzinfo=UTC) - timedelta(days=1)
    work = replace(EXAMPLE, frame=FrameBuild.A, mounted_utc=begun)
    plain = draw(work)
    nothing = dict.fromkeys(("season_cos_pct", "season_sin_pct", "path_share"), np.zeros(plain.n))
    return air, run([work], {work.work_id: plain.replace(**nothing)}, air).histories[work.work_id]


@drawn
def dry_spell_figure(air: RoomAir, history: History) -> Figure:
    """Return what a dry month leaves behind, beside the law of relaxation it comes from."""
    page = Sheet.new(TALL_A4_MM, 84.0)
    page.write(4.0, 3.0, "What a dry month leaves behind", family=SERIF, size=12)
    days = np.arange(1, air.hours) / 24.0
    for row, (name, unit, values) in enumerate(
        (("print", "%RH", history.print_rh_pct), ("headroom", "%RH", history.headroom_up_pct))
    ):
        axes = page.axes(20.0, 13.0 + 30.0 * row, 92.0, 25.0)
        _band(axes, days, values)
        axes.set_ylabel(f"{name}\n{unit}", size=7.5)
        axes.set_xlim(0.0, 110.0)
        if name == "headroom":
            axes.axhline(0.0, color=INDIGO, lw=0.6, ls=(0, (4, 2)))
            axes.set_xlabel("day")
        else:
            axes.set_xticks([])
    _relaxation(page.axes(136.0, 13.0, 48.0, 55.0))
    return page.figure


def _relaxation(axes: Axes) -> None:
    at = np.geomspace(3600.0, 365.25 * 86400.0, 200)
    hours = at / 3600.0
    axes.fill_between(hours, log_law(at, 0.12), log_law(at, 0.04), color=FELT, alpha=0.7, lw=0)
    axes.plot(hours, log_law(at, 0.07), color=INK, lw=0.9)
    axes.plot(hours, prony_left(at, 0.07), color=MADDER, lw=0.9, ls=(0, (3, 2)))
    axes.set_xscale("log")
    axes.set_xticks([], minor=True)
    axes.set_xticks([1, 24, 168, 720, 8766], ["1 h", "1 d", "1 w", "1 m", "1 y"])
    axes.set_ylim(0.0, 1.0)
    axes.set_title("tension left when held still", size=8, loc="left", color=SOFT)
    axes.text(1.3, 0.06, "line: the law, dashed: as it is reckoned", size=6.5, color=GREY)


def main() -> None:
    """Draw the figures and print the numbers behind them."""
    FIGURES.mkdir(parents=True, exist_ok=True)
    air, year = example_year()
    spell, after = dry_spell()
    pictures = {
        "frame-section": section_figure(),
        "chain-year": year_figure(air, year),
        "dry-month": dry_spell_figure(spell, after),
    }
    for name, figure in pictures.items():
        (FIGURES / f"{name}.svg").write_bytes(svg(figure))
        print(f"Written: {name}.svg")
    before, since = (after.headroom_up_pct[24 * day, 1] for day in (29, 80))
    print(f"headroom before the dry month {before:.1f} %RH, after it {since:.1f} %RH")


if __name__ == "__main__":
    main()
