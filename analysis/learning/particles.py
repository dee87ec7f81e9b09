"""Draws of works with inspections, as levels: what they show at each look, and how that fits."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from analysis.air.room_air import RoomAir
from analysis.learning.inspections import Inspection
from analysis.learning.likelihood import LOOKED_AT, log_likelihood
from analysis.results import Floats
from analysis.simulation.estimator import run
from analysis.simulation.phases import DrawnPhase, Phase, drawn_at, mounted_anew
from analysis.simulation.priors import Draws
from analysis.simulation.redraw import draws_from, surface_at
from analysis.works import Work

Levels = Mapping[str, Floats]
# Doubts on which nothing of the chain depends up to the slope: only what is seen of it.
SEEN_ONLY = ("visible_slope_mrad", "wavelength_m")


@dataclass(frozen=True)
class Looked:
    """A work, what it was before, and the looks at it that count, in order."""

    work: Work
    earlier: tuple[Phase, ...]
    looks: tuple[Inspection, ...]

    def drawn(self, levels: Levels) -> tuple[Draws, tuple[DrawnPhase, ...]]:
        """Return the draws that stand at levels, of the work now and of what it was before."""
        return draws_from(self.work, levels), drawn_at(self.earlier, levels)

    def mountings(self) -> list[int]:
        """Return under which mounting each look fell, counted from 0."""
        lives = [*(one.work for one in self.earlier), self.work]
        begins = [
            one.until_utc
            for one, after in zip(self.earlier, lives[1:], strict=True)
            if mounted_anew(one.work, after)
        ]
        return [sum(begin <= look.at_utc for begin in begins) for look in self.looks]


@dataclass(frozen=True)
class Particles:
    """Draws of one work by their levels.

    Parameters
    ----------
    levels : mapping of str to ndarray, shape (n,)
    shown : mapping of str to ndarray, shape (looks, n)
        What they show at each look, by the names in `analysis.learning.likelihood.LOOKED_AT`.
    fit : ndarray, shape (n,)
        Log likelihood of all looks.
    """

    levels: Levels
    shown: Mapping[str, Floats]
    fit: Floats

    def take(self, index: npt.NDArray[np.intp]) -> "Particles":
        """Return the draws at ``index``."""
        return Particles(
            {name: level[index] for name, level in self.levels.items()},
            {name: values[:, index] for name, values in self.shown.items()},
            self.fit[index],
        )

    def moved(self, to: "Particles", where: npt.NDArray[np.bool_]) -> "Particles":
        """Return these draws, and those of ``to`` where told."""
        return Particles(
            {name: np.where(where, to.levels[name], level) for name, level in self.levels.items()},
            {name: np.where(where, to.shown[name], values) for name, values in self.shown.items()},
            np.where(where, to.fit, self.fit),
        )


def simulated(works: Sequence[Looked], levels: Sequence[Levels], air: RoomAir) -> list[Particles]:
    """Return the draws at these levels, after the chain was run for the works that were looked at.

    Looks at a work that is not held by tension, or not mounted yet, say nothing.
    """
    drawn = [looked.drawn(level) for looked, level in zip(works, levels, strict=True)]
    shown = _shown(works, drawn, air)
    return [
        Particles(level, shown[i], _fit(looked, shown[i], drawn[i][0]["visible_slope_mrad"]))
        for i, (looked, level) in enumerate(zip(works, levels, strict=True))
    ]


def seen_otherwise(looked: Looked, now: Particles, levels: Levels) -> Particles:
    """Return draws that differ in nothing but `SEEN_ONLY`, without running the chain again.

    The height of waves is proportional to their length, at the same excess length of the sheet.
    """
    changed = {**now.levels, **{name: levels[name] for name in SEEN_ONLY if name in levels}}
    before, after = (surface_at(looked.work, given) for given in (now.levels, changed))
    longer = after["wavelength_m"] / before["wavelength_m"]
    shown = {**now.shown, "wave_mm": now.shown["wave_mm"] * longer}
    return Particles(changed, shown, _fit(looked, shown, after["visible_slope_mrad"]))


def _shown(
    works: Sequence[Looked],
    drawn: Sequence[tuple[Draws, tuple[DrawnPhase, ...]]],
    air: RoomAir,
) -> list[dict[str, Floats]]:
    """Return what the draws of each work show at its looks."""
    probes: Mapping[str, Mapping[str, Floats]] = {}
    asked = [(w, *found) for w, found in zip(works, drawn, strict=True) if w.looks]
    if asked:
        end = max(look.at_utc for looked, _, _ in asked for look in looked.looks)
        probes = run(
            [looked.work for looked, _, _ in asked],
            {now.work_id: now for _, now, _ in asked},
            until(air, end),
            detail_from=end,
            week_starts=[end],
            keep_weeks=0,
            probe={w.work.work_id: [one.at_utc for one in w.looks] for w, _, _ in asked},
            earlier={now.work_id: before for _, now, before in asked},
        ).probes
    nothing = [
        np.full((len(w.looks), now.n), np.nan) for w, (now, _) in zip(works, drawn, strict=True)
    ]
    return [
        {name: probes.get(w.work.work_id, {}).get(name, blank) for name in LOOKED_AT}
        for w, blank in zip(works, nothing, strict=True)
    ]


def _fit(looked: Looked, shown: Mapping[str, Floats], visible_mrad: Floats) -> Floats:
    return log_likelihood(looked.looks, shown, looked.work.finish, visible_mrad, looked.mountings())


def until(air: RoomAir, end_utc: datetime) -> RoomAir:
    """Return a room's air up to the hour after an instant, two hours at least."""
    hours = int(np.searchsorted(air.time_utc, stamp(end_utc + timedelta(hours=1)), "right"))
    keep = slice(0, max(hours, 2))
    names = ("time_utc", "temp_c", "rh_low_pct", "rh_high_pct", "outdoor_temp_c", "measured")
    return replace(air, **{name: getattr(air, name)[keep] for name in names})


def stamp(at_utc: datetime) -> np.datetime64:
    """Return an instant as the hourly grid has it."""
    return np.datetime64(int(at_utc.timestamp()), "s")
