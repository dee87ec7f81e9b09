"""Do the ranges hold truths that are not the program's own? Works of ten laws, lived from mounting.

    python -m bench.foreign_calibration [WORKS] [DRAWS] [SEED] [FOLDER]

Each invented work is lived from its mounting, years before the record begins, by one of the laws of
`bench.foreign_truths`, the laws in turn. The program is given what a museum has: the record of a
year, and what an observer wrote down once a month. Its 90 % ranges in the middle of each month are
held against the truth, before any look and after 3, 6 and 12.
"""

import json
import sys
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from matplotlib.figure import Figure

from analysis.air.room_air import RoomAir
from analysis.learning.grades import grade_probabilities
from analysis.learning.inspections import Inspection
from analysis.learning.posterior import Learned, learn
from analysis.learning.weighted import weighted_range
from analysis.results import Floats
from analysis.simulation.estimator import run
from analysis.simulation.pasts import pasts_of
from analysis.simulation.priors import Draws, draw
from analysis.works import Adhesive, Panel, Work
from bench.calibration import invented_works, measured_heights, noticed, truths
from bench.foreign_truths import LAWS, YEAR_H, LoggedAir, Member, lived, rooms_through_years
from dashboards.charts.style import SERIF, TALL_A4_MM, Sheet, drawn, svg
from dashboards.inks import GREY, INK, WASH

START = datetime(2025, 1, 1, tzinfo=UTC)
PAST_YEARS, ROOMS = 3.0, 16
LOOKED = tuple(START + timedelta(days=30 * i, hours=10) for i in range(1, 13))
JUDGED = tuple(START + timedelta(days=30 * i - 15, hours=10) for i in range(1, 13))
AFTER = (0, 3, 6, 12)
QUANTITIES = (
    "headroom_up_pct",
    "headroom_down_pct",
    "print_rh_pct",
    "slope_mrad",
    "tension_n_m",
    "load_n_m",
)
MISS = 2.0 / 0.1  # what a miss of a 90 % range costs, in its own unit
TENTHS = 10
TURN = "/"  # between a work's name and which of its sets of true numbers it obeys
ASKED = 0.05  # stated chances shall come true within so much in each tenth
# Doubts that stand for laws that are not the program's: no truth has them of itself.
STANDS_FOR_OTHERS = ("hinge_slip",)
PANELS = (
    ("headroom_up_pct", "headroom up"),
    ("headroom_down_pct", "headroom down"),
    ("print_rh_pct", "print humidity"),
    ("slope_mrad", "slope"),
    ("load_n_m", "hinge load"),
)


@dataclass(frozen=True)
class Found:
    """One quantity under one law after so many looks, over works and months.

    Parameters
    ----------
    held_pct, error_pct : float
        How often the 90 % range held the truth, and its standard error over works.
    score, width : float
        Mean interval score and width of the range, in the quantity's unit.
    """

    law: str
    looks: int
    quantity: str
    held_pct: float
    error_pct: float
    score: float
    width: float


@dataclass(frozen=True)
class Chance:
    """Stated chances that waves are visible, in one tenth, and how often they were.

    Parameters
    ----------
    count, works : int
        Months whose chance lies in the tenth, and the works they are of, whose months go together.
    stated, came_true : float
        Mean of what was stated, and share of the months that had waves.
    error : float
        Standard error over works of how far the two lie apart; infinite with one work.
    """

    law: str
    looks: int
    tenth: int
    count: int
    works: int
    stated: float
    came_true: float
    error: float

    @property
    def works_asked(self) -> float:
        """How many times as many works would show it to `ASKED`, two standard errors."""
        return (2.0 * self.error / ASKED) ** 2


@dataclass(frozen=True)
class Calibration:
    """All that was found; ``effective`` holds, by looks, the draws that count of each work."""

    found: Sequence[Found]
    chances: Sequence[Chance]
    effective: Mapping[int, Sequence[float]]


def works_of_all_laws(count: int, truths_each: int = 1) -> list[tuple[str, Work]]:
    """Return works, each so many times for every law, under names of their own."""
    return [
        (law, _named(k, replace(work, work_id=f"{work.work_id}{TURN}{turn}")))
        for turn in range(truths_each)
        for k, law in enumerate(LAWS)
        for work in _mounted(count)
    ]


def works_of_one_law(count: int) -> list[tuple[str, Work]]:
    """Return works that obey one law each, the laws in turn."""
    names, turn = list(LAWS), len(LAWS)
    which = [(7 * i + i // turn) % turn for i in range(count)]
    return [(names[k], _named(k, work)) for k, work in zip(which, _mounted(count), strict=True)]


def _named(law: int, work: Work) -> Work:
    return replace(work, work_id=f"{law}-{work.work_id}")


def plain_name(work: Work) -> str:
    """Return a work's name without its law's number: works alike in it share true numbers."""
    return work.work_id.split("-", 1)[1]


def sheet_of(work: Work) -> str:
    """Return which of the invented works it is, whatever its law and its true numbers."""
    return plain_name(work).split(TURN)[0]


def _room_of(work: Work) -> int:
    return int(sheet_of(work).lstrip("C")) % ROOMS


def _mounted(count: int) -> list[Work]:
    mounted = START - timedelta(hours=PAST_YEARS * YEAR_H)
    return [
        replace(
            work,
            adhesive=list(Adhesive)[i % 2],
            panel=list(Panel)[i % 3],
            mounted_utc=mounted,
        )
        for i, work in enumerate(invented_works(count))
    ]


def record_of(air: LoggedAir, room: int) -> RoomAir:
    """Return what a museum has of a room: the year that was logged."""
    rh, temp = air.rh_pct[room, air.record :], air.temp_c[room, air.record :]
    low, high = np.quantile(rh[:720], [0.01, 0.99])
    return RoomAir(
        np.datetime64("2025-01-01T00", "s") + np.arange(len(rh)) * np.timedelta64(3600, "s"),
        temp,
        rh,
        rh.copy(),
        np.full(len(rh), np.nan),
        np.ones(len(rh), dtype=np.bool_),
        3600.0,
        float(low),
        float(high),
    )


@dataclass(frozen=True)
class Case:
    """One work under one law: its room, what is true of it, what was written down of it."""

    law: str
    work: Work
    room: int
    true: Mapping[str, Floats]
    visible: np.typing.NDArray[np.bool_]
    looks: Sequence[Inspection]


def cases(named: Sequence[tuple[str, Work]], air: LoggedAir, seed: int) -> list[Case]:
    """Return works with their truths in the middle of each month, and what was seen of them.

    Works of one plain name hang in one room and share what is true of them, but for their law.
    """
    plain = list(dict.fromkeys(plain_name(work) for _, work in named))
    first = {plain_name(work): work for _, work in reversed(named)}
    named_plain = [replace(first[name], work_id=name) for name in plain]
    parameters = truths(named_plain, seed=seed + 6, left_out=STANDS_FOR_OTHERS)
    members = [
        Member(work, parameters[plain_name(work)], _room_of(work), LAWS[law]) for law, work in named
    ]
    hours = [air.record + round((at - START) / timedelta(hours=1)) for at in (*JUDGED, *LOOKED)]
    order = np.argsort(hours)
    shown = lived(members, air, 0, [hours[i] for i in order])
    back = np.argsort(order)
    shown = {name: values[back] for name, values in shown.items()}
    rng = np.random.default_rng(seed + 8)
    return [_case(law, member, i, shown, rng) for i, ((law, _), member) in
            enumerate(zip(named, members, strict=True))]  # fmt: skip


def _case(
    law: str, member: Member, i: int, shown: Mapping[str, Floats], rng: np.random.Generator
) -> Case:
    months = len(JUDGED)
    true = {name: shown[name][:months, i] for name in QUANTITIES}
    seen = {name: values[months:, i] for name, values in shown.items()}
    threshold = member.true["visible_slope_mrad"]
    p = grade_probabilities(seen["slope_mrad"], member.work.finish, threshold)
    grades = [int(rng.choice(4, p=row / row.sum())) for row in p]
    heights, released = measured_heights(seen["wave_mm"], rng), noticed(seen["overload"], rng)
    found = zip(LOOKED, grades, heights, released, strict=True)
    looks = [Inspection(at, g, wave_mm=height, released=gone) for at, g, height, gone in found]
    return Case(law, member.work, member.room, true, true["slope_mrad"] > threshold, looks)


Stated = Mapping[str, Floats]
Told = dict[int, dict[str, tuple[Stated, Floats]]]


def stated(
    some: Sequence[Case], air: RoomAir, learned: Mapping[str, Learned], n: int
) -> dict[str, tuple[Stated, Floats]]:
    """Return the 90 % ranges of each work, shape (months, 2), and the chance of visible waves."""
    works = [one.work for one in some]
    draws: dict[str, Draws] = {
        w.work_id: learned[w.work_id].draws if learned else draw(w, n) for w in works
    }
    weights = {key: one.weights for key, one in learned.items()}
    probes = run(
        works,
        draws,
        air,
        weights=weights,
        detail_from=JUDGED[-1],
        keep_weeks=0,
        probe={w.work_id: JUDGED for w in works},
        pasts=pasts_of(air),
    ).probes
    return {key: ranges_of(probes[key], draws[key], weights.get(key)) for key in draws}


def ranges_of(
    probes: Mapping[str, Floats], draws: Draws, weights: Floats | None
) -> tuple[Stated, Floats]:
    """Return the 90 % ranges of one work in each month, and its chance of visible waves."""
    shown = {**probes, "load_n_m": np.maximum(probes["tension_md"], probes["tension_cd"])}
    spans = {
        name: np.array([[r.low, r.high] for r in (weighted_range(v, weights) for v in shown[name])])
        for name in QUANTITIES
    }
    visible = shown["slope_mrad"] > draws["visible_slope_mrad"]
    return spans, np.average(visible, axis=1, weights=weights)


@dataclass(frozen=True)
class RoomTold:
    """What the program says of one room's works, by looks, and how many draws of each count."""

    told: Told
    effective: dict[int, list[float]]


def room_told(some: Sequence[Case], record: RoomAir, n: int) -> RoomTold:
    """Return what the program says of one room's works before and after looks."""
    told: Told = {}
    effective: dict[int, list[float]] = {}
    learned: dict[str, Learned] = {}
    for looks in AFTER:
        if looks:
            seen = {one.work.work_id: one.looks[:looks] for one in some}
            learned = learn([one.work for one in some], seen, record, n, resume=learned)
            effective[looks] = [one.effective for one in learned.values()]
        told[looks] = stated(some, record, learned, n)
    return RoomTold(told, effective)


def kept(place: Path, some: Sequence[Case], record: RoomAir, n: int) -> RoomTold:
    """Return `room_told`, read from a file where it was worked out before."""
    if not place.exists():
        found = room_told(some, record, n)
        told = {
            looks: {
                key: [{name: span.tolist() for name, span in ranges.items()}, p.tolist()]
                for key, (ranges, p) in by_work.items()
            }
            for looks, by_work in found.told.items()
        }
        place.write_text(json.dumps({"told": told, "effective": found.effective}))
    read = json.loads(place.read_text())
    return RoomTold(
        {
            int(looks): {
                key: ({k: np.array(span) for k, span in ranges.items()}, np.array(p))
                for key, (ranges, p) in by_work.items()
            }
            for looks, by_work in read["told"].items()
        },
        {int(looks): counts for looks, counts in read["effective"].items()},
    )


def calibrate(count: int, n: int, folder: Path, seed: int) -> Calibration:
    """Return how the ranges fare under every law, before and after looks.

    What was worked out of a room is kept in ``folder``: a run that was broken off goes on.
    """
    air = rooms_through_years(ROOMS, PAST_YEARS, seed=seed)
    every = cases(works_of_one_law(count), air, seed)
    told: Told = {looks: {} for looks in AFTER}
    effective: dict[int, list[float]] = {looks: [] for looks in AFTER[1:]}
    for room in range(min(ROOMS, count)):
        some = [one for one in every if one.room == room]
        place = folder / f"foreign-{count}-{n}-{seed}-room-{room}.json"
        found = kept(place, some, record_of(air, room), n)
        for looks in AFTER:
            told[looks] |= found.told[looks]
            if looks:
                effective[looks] += found.effective[looks]
    return Calibration(
        [one for looks in AFTER for one in found_of(every, told[looks], looks)],
        [one for looks in AFTER for one in chances_of(every, told[looks], looks)],
        effective,
    )


def found_of(
    every: Sequence[Case], told: Mapping[str, tuple[Stated, Floats]], looks: int
) -> list[Found]:
    """Return cover and score of every quantity after so many looks, law by law."""
    out = []
    for law in LAWS:
        some = [one for one in every if one.law == law]
        for name in QUANTITIES:
            true = np.array([one.true[name] for one in some])
            ranges = np.array([told[one.work.work_id][0][name] for one in some])
            low, high = ranges[..., 0], ranges[..., 1]
            held = (low - 1e-9 <= true) & (true <= high + 1e-9)
            missed = np.maximum(low - true, 0.0) + np.maximum(true - high, 0.0)
            score = high - low + MISS * missed
            by_work = 100.0 * held.mean(axis=1)
            error = float(by_work.std() / np.sqrt(len(some)))
            out.append(Found(law, looks, name, float(by_work.mean()), error,
                             float(score.mean()), float((high - low).mean())))  # fmt: skip
    return out


def chances_of(
    every: Sequence[Case], told: Mapping[str, tuple[Stated, Floats]], looks: int
) -> list[Chance]:
    """Return stated chances of visible waves and how often they came true, law by law.

    Works that share true numbers count as one.
    """
    out = []
    for law in (*LAWS, "every law"):
        some = [one for one in every if law in (one.law, "every law")]
        some.sort(key=lambda one: plain_name(one.work))
        shape = (len({plain_name(one.work) for one in some}), -1)
        p = np.stack([told[one.work.work_id][1] for one in some]).reshape(shape)
        came = np.stack([one.visible for one in some]).astype(np.float64).reshape(shape)
        which = np.minimum((p * TENTHS).astype(int), TENTHS - 1)
        tenths = [(tenth, which == tenth) for tenth in range(TENTHS)]
        out += [_chance(law, looks, t, p, came, inside) for t, inside in tenths if inside.any()]
    return out


def _chance(
    law: str, looks: int, tenth: int, p: Floats, came: Floats, inside: np.typing.NDArray[np.bool_]
) -> Chance:
    """Return one tenth; arrays of shape (works, months)."""
    stated, true = float(p[inside].mean()), float(came[inside].mean())
    by_work = np.where(inside, came - p - (true - stated), 0.0).sum(axis=1)
    works, count = int(inside.any(axis=1).sum()), int(inside.sum())
    of_sum = np.sqrt((by_work**2).sum() * works / (works - 1)) if works > 1 else np.inf
    return Chance(law, looks, tenth, count, works, stated, true, float(of_sum) / count)


def lines(calibration: Calibration) -> list[str]:
    """Return the tables as text: cover and score of each quantity, and the chances."""
    by = {(one.law, one.looks, one.quantity): one for one in calibration.found}
    out = []
    for name in QUANTITIES:
        out.append(f"{name}: held % (interval score) before, and after {AFTER[1:]} looks")
        for law in LAWS:
            cells = [by[law, looks, name] for looks in AFTER]
            told = "  ".join(
                f"{c.held_pct:5.1f} ±{c.error_pct:3.1f} ({c.score:6.1f})" for c in cells
            )
            out.append(f"  {law:28} {told}")
    for looks in AFTER:
        out.append(f"chances of visible waves after {looks} looks, every law: stated, came true")
        out += [
            f"  {c.tenth / 10:.1f} to {(c.tenth + 1) / 10:.1f}: {c.stated:.3f} {c.came_true:.3f} "
            f"±{c.error:.3f} ({c.count} months of {c.works} works; "
            f"asked: {c.works_asked:.1f} times the works)"
            for c in calibration.chances
            if c.looks == looks and c.law == "every law"
        ]
    for looks, counts in calibration.effective.items():
        few = np.mean(np.array(counts) < 30)
        out.append(
            f"effective draws after {looks} looks: median {np.median(counts):.0f}, "
            f"under 30 in {100 * few:.0f} %"
        )
    return out


@drawn
def held_figure(found: Calibration) -> Figure:
    """Return how often the 90 % ranges held each truth, and how often stated chances came true."""
    laws_mm = 5.5 * len(LAWS)
    page = Sheet.new(TALL_A4_MM, 72.0 + laws_mm)
    page.write(4.0, 3.0, "Do the 90 % ranges hold truths of other laws?", family=SERIF, size=12)
    _held(page, found, laws_mm)
    page.write(4.0, 31.0 + laws_mm, "Do stated chances come true?", family=SERIF, size=12)
    _came_true(page, found, 42.0 + laws_mm)
    return page.figure


def _held(page: Sheet, found: Calibration, height_mm: float) -> None:
    """Draw the share held of each quantity, law by law, before looks and after twelve."""
    by = {(one.law, one.looks, one.quantity): one.held_pct for one in found.found}
    for column, (quantity, words) in enumerate(PANELS):
        axes = page.axes(46.0 + 25.0 * column, 16.0, 21.0, height_mm - 2.0)
        axes.axvspan(85.0, 97.0, color=WASH, lw=0)
        for row, law in enumerate(LAWS):
            axes.plot([by[law, 0, quantity]], [row], "o", mfc="none", mec=GREY, ms=4)
            axes.plot([by[law, 12, quantity]], [row], "o", color=INK, ms=4)
        axes.set_yticks(range(len(LAWS)), list(LAWS) if column == 0 else [""] * len(LAWS))
        axes.set_xlim(65.0, 101.0)
        axes.set_xticks([70, 85, 97])
        axes.set_ylim(len(LAWS) - 0.5, -0.5)
        axes.set_title(words, size=7, loc="left")
    key = "per cent of works and months; open: no look, full: after twelve; shaded: 85 to 97 %"
    page.write(46.0, 20.0 + height_mm, key, size=7)


def _came_true(page: Sheet, found: Calibration, top_mm: float) -> None:
    """Draw stated chances of visible waves against how often waves were there, all laws."""
    for column, looks in enumerate(AFTER):
        axes = page.axes(46.0 + 31.0 * column, top_mm, 20.0, 18.0)
        axes.fill_between([0.0, 1.0], [-0.05, 0.95], [0.05, 1.05], color=WASH, lw=0)
        some = [c for c in found.chances if c.looks == looks and c.law == "every law"]
        area = [1.5 + 0.02 * c.count for c in some]
        axes.scatter([c.stated for c in some], [c.came_true for c in some], area, color=INK)
        axes.set_xlim(0.0, 1.0)
        axes.set_ylim(0.0, 1.0)
        axes.set_xticks([0.0, 0.5, 1.0])
        axes.set_yticks([0.0, 0.5, 1.0])
        title = "no look" if not looks else f"after {looks} looks"
        axes.set_title(title, size=7, loc="left")
    key = "across: stated, up: came true; shaded: within 5 points; size: works and months"
    page.write(46.0, top_mm + 24.5, key, size=7)


def main(count: int, n: int, seed: int, folder: Path) -> Calibration:
    """Print the calibration and return it; into the folder, the guide's figure."""
    began = time.perf_counter()
    found = calibrate(count, n, folder, seed)
    print(f"{count} works, {len(LAWS)} laws, {n} draws, {PAST_YEARS:g} years before the record")
    print("\n".join(lines(found)))
    print(f"{time.perf_counter() - began:.0f} s")
    (folder / "foreign-truths.svg").write_bytes(svg(held_figure(found)))
    return found


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:4]]
    works, draws, chosen = given if len(given) == 3 else (200, 200, 53)
    if len(sys.argv) > 4:
        main(works, draws, chosen, Path(sys.argv[4]))
    else:
        with TemporaryDirectory() as temporary:
            main(works, draws, chosen, Path(temporary))
