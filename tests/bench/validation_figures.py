"""Draw the figures of the validation guide from real runs, and print their numbers.

    python -m bench.validation_figures FOLDER [WORKS] [DRAWS]

FOLDER holds the measured sets of `bench.measured_pairs`; the figures go to
``dashboards/guides/figures``.
"""

import sys
from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from analysis.learning.inspections import Inspection
from analysis.learning.posterior import learn
from analysis.results import Floats
from analysis.simulation.estimator import run
from analysis.simulation.priors import draw
from analysis.works import Finish, Paper, Work
from bench.calibration import MOUNTED, START, Checked, main as print_calibration, room_year
from bench.measured_pairs import AtticFits, CavityFit, attic_fits, cavity_fits, main as print_pairs
from dashboards.charts.style import SERIF, TALL_A4_MM, Sheet, drawn, svg
from dashboards.inks import FELT, GREY, INDIGO, INK, MADDER, OCHRE, SEA, SOFT, WASH

FIGURES = Path(__file__).resolve().parents[2] / "dashboards" / "guides" / "figures"
NAMES = {
    "beta_cd": "movement across the grain",
    "prestrain": "stretch at mounting",
    "half_time_h": "half-time of the frame",
    "mounted_rh_pct": "humidity at mounting",
    "hinge_capacity_n_m": "load that the hinges hold",
    "wavelength_m": "length of the waves",
    "visible_slope_mrad": "slope at which a wave is seen",
    "headroom_up_pct": "headroom a month later",
    "print_rh_pct": "humidity of the print a month later",
}
SEASON_INKS = {"winter": INDIGO, "spring": OCHRE, "summer": MADDER}
EXAMPLE = Work(
    "example",
    "Example",
    1500.0,
    1000.0,
    Paper.FIBRE_BASE,
    Finish.GLOSSY,
    mounted_utc=MOUNTED,
    mounted_rh_pct=48.0,
)
SEEN = tuple(
    Inspection(START + timedelta(days=30 * i, hours=10), grade)
    for i, grade in enumerate((0, 0, 0, 1, 2, 2), start=1)
)


@drawn
def calibration_figure(checked: Sequence[Checked]) -> Figure:
    """Return how often the 90 % ranges held the truth, before and after learning."""
    page = Sheet.new(TALL_A4_MM, 22.0 + 8.0 * len(checked))
    page.write(4.0, 3.0, "Do the 90 % ranges hold the truth?", family=SERIF, size=12)
    axes = page.axes(62.0, 14.0, 80.0, 8.0 * len(checked) - 4.0)
    axes.axvspan(85.0, 95.0, color=WASH, lw=0)
    for row, one in enumerate(checked):
        before, after = 100.0 * one.held_before, 100.0 * one.held_after
        axes.plot([before], [row], "o", mfc="none", mec=GREY, ms=5)
        axes.plot([after], [row], "o", color=INK, ms=5)
        words = f"width after / before {one.narrower:.2f}"
        axes.text(101.0, row, words, va="center", size=7, color=SOFT)
    axes.set_yticks(range(len(checked)), [NAMES[one.name] for one in checked])
    axes.set_xlim(70.0, 100.0)
    axes.set_ylim(len(checked) - 0.5, -0.5)
    axes.set_xlabel("held the truth, % of works   (open: before learning, full: after)")
    return page.figure


@drawn
def attic_figure(attic: AtticFits) -> Figure:
    """Return the residual against the half-time, for each season and the whole record."""
    page = Sheet.new(TALL_A4_MM, 92.0)
    page.write(4.0, 3.0, "One half-time does not hold over a year", family=SERIF, size=12)
    axes = page.axes(16.0, 14.0, 140.0, 62.0)
    fits = {"whole record": attic.whole, **attic.by_season}
    for name, fitted in fits.items():
        fit = fitted.fit
        ink = SEASON_INKS.get(name, SOFT)
        axes.plot(fit.profile_h, fit.profile_rms, color=ink, lw=1.3)
        best = int(np.argmin(fit.profile_rms))
        axes.plot(fit.profile_h[best], fit.profile_rms[best], "o", color=ink, ms=5)
        _label(axes, fit.profile_h[-1], fit.profile_rms[-1], name, ink)
    _log_scale(axes, (1, 10, 100, 1000))
    axes.set_ylim(0.0, None)
    axes.set_xlabel("half-time at 20 °C, h")
    axes.set_ylabel("left over, %RH rms")
    return page.figure


@drawn
def cavity_figure(fits: Sequence[CavityFit]) -> Figure:
    """Return the time constants of the wall cavity by the two ways of looking, with ranges."""
    page = Sheet.new(TALL_A4_MM, 62.0)
    page.write(4.0, 3.0, "Levels and changes ask for different lags", family=SERIF, size=12)
    axes = page.axes(46.0, 14.0, 130.0, 34.0)
    for row, one in enumerate(fits):
        axes.plot([one.low_min, one.high_min], [row, row], color=FELT, lw=5, solid_capstyle="butt")
        axes.plot([one.tau_min], [row], "|", color=INK, ms=10, mew=1.6)
    for place, minutes in (("mid bay", 165.0), ("corner", 290.0)):
        rows = [row for row, one in enumerate(fits) if one.place == place]
        axes.plot([minutes, minutes], [min(rows) - 0.4, max(rows) + 0.4], color=SEA, lw=1, ls=":")
    axes.set_yticks(range(len(fits)), [f"{one.place}, {one.looked_at}" for one in fits])
    axes.set_ylim(len(fits) - 0.5, -0.5)
    _log_scale(axes, (150, 200, 300, 500, 1000))
    axes.set_xlabel("time constant, min   (dotted: stated with the data)")
    return page.figure


def learning_ranges() -> tuple[Floats, Floats, Floats]:
    """Return days, and headroom of the example before and after learning, shape (days, 3)."""
    air = room_year()
    found = learn([EXAMPLE], {EXAMPLE.work_id: SEEN}, air)[EXAMPLE.work_id]
    prior = {EXAMPLE.work_id: draw(EXAMPLE)}
    before = run([EXAMPLE], prior, air).histories[EXAMPLE.work_id]
    weights = {EXAMPLE.work_id: found.weights}
    after = run([EXAMPLE], {EXAMPLE.work_id: found.draws}, air, weights=weights)
    taught = after.histories[EXAMPLE.work_id]
    without, taught_by_day = (_daily(h.headroom_up_pct) for h in (before, taught))
    days = np.arange(len(without), dtype=np.float64) + np.float64(0.5)
    return days.astype(np.float64), without, taught_by_day


def _daily(hourly: Floats) -> Floats:
    """Return the mean of each day; a day with a refused hour has none."""
    whole = len(hourly) // 24 * 24
    return np.asarray(hourly[:whole].reshape(-1, 24, hourly.shape[1]).mean(axis=1))


@drawn
def learning_figure(days: Floats, before: Floats, after: Floats) -> Figure:
    """Return the headroom of one invented work with and without six inspections."""
    page = Sheet.new(TALL_A4_MM, 84.0)
    page.write(4.0, 3.0, "What six looks teach", family=SERIF, size=12)
    axes = page.axes(16.0, 14.0, 150.0, 54.0)
    axes.fill_between(days, before[:, 0], before[:, 2], color=FELT, alpha=0.5, lw=0)
    axes.plot(days, before[:, 1], color=GREY, lw=0.9, ls=(0, (4, 2)))
    axes.fill_between(days, after[:, 0], after[:, 2], color=SEA, alpha=0.35, lw=0)
    axes.plot(days, after[:, 1], color=SEA, lw=1.2)
    axes.axhline(0.0, color=INK, lw=0.6)
    for one in SEEN:
        day = (one.at_utc - START) / timedelta(days=1)
        axes.annotate(str(one.grade), (day, 27.0), ha="center", va="center", size=8)
        axes.plot([day, day], [-30.0, 25.0], color=SOFT, lw=0.4, ls=":")
    _label(axes, days[-1], float(before[-7:, 1].mean()), "before", GREY)
    _label(axes, days[-1], float(after[-7:, 1].mean()), "after", SEA)
    axes.set_ylim(-30.0, 30.0)
    axes.set_xlim(0.0, 366.0)
    axes.set_xlabel("day of the year   (numbers: grades seen)")
    axes.set_ylabel("headroom, %RH   (cut at ±30)")
    return page.figure


def _log_scale(axes: Axes, ticks: Sequence[int]) -> None:
    axes.set_xscale("log")
    axes.set_xticks([], minor=True)
    axes.set_xticks(list(ticks), [str(tick) for tick in ticks])


def _label(axes: Axes, x: float, y: float, words: str, ink: str) -> None:
    axes.annotate(
        words, (x, y), xytext=(4, 0), textcoords="offset points", color=ink, va="center", size=7.5
    )


def main(folder: Path, works: int, draws: int) -> None:
    """Draw the figures and print the numbers behind them."""
    FIGURES.mkdir(parents=True, exist_ok=True)
    print_pairs(folder)
    cavity = cavity_figure(cavity_fits(folder / "wall_cavity_pair"))
    attic = attic_figure(attic_fits(folder / "attic_paper_pair"))
    learned = learning_figure(*learning_ranges())
    checked = print_calibration(works, draws)
    pictures = {
        "wall-cavity": cavity,
        "attic-paper": attic,
        "learning": learned,
        "calibration": calibration_figure(checked),
    }
    for name, figure in pictures.items():
        (FIGURES / f"{name}.svg").write_bytes(svg(figure))
        print(f"Written: {name}.svg")


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[2:4]]
    main(Path(sys.argv[1]), *(given if len(given) == 2 else (200, 200)))
