"""What to measure next: how many works' answers each possible act would settle, for its time.

A work is asked twice: is it taut now, and would it be after a small rise? While the chance p of an
answer is neither 0 nor 1 the answer is open by 4 p (1 - p), which is 1 where it might as well be
tossed for. What an act settles is how much of that it is expected to take away.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import ndtri

from analysis.learning.grades import grade_probabilities
from analysis.learning.weighted import resampled
from analysis.parameters import Parameter, parameter
from analysis.results import Floats
from analysis.simulation.priors import Draws
from analysis.works import GLAZED, Grain, Work


@dataclass(frozen=True)
class OpenAnswer:
    """A work whose answer is open: its draws, and what each shows now.

    Parameters
    ----------
    headroom_pct : ndarray, shape (n,)
        How far humidity may rise before it goes slack [%RH].
    slope_mrad : ndarray, shape (n,)
        Steepest slope of its surface [mrad].
    weights : ndarray, shape (n,)
    """

    work: Work
    room_id: str
    draws: Draws
    headroom_pct: Floats
    slope_mrad: Floats
    weights: Floats

    def evenly(self) -> "OpenAnswer":
        """Return the same with draws of equal weight."""
        at = resampled(self.weights, 0.5)
        n, far = len(at), parameter("measuring", "question", "far_pct").value
        return OpenAnswer(
            self.work,
            self.room_id,
            self.draws.take(at),
            np.clip(self.headroom_pct[at], -far, far),
            self.slope_mrad[at],
            np.full(n, 1.0 / n),
        )


@dataclass(frozen=True)
class Act:
    """A thing a person may do: a group of the table, and the drawn numbers that it tells.

    ``of_a_room``: done once for all works of a room.
    """

    name: str
    tells: tuple[str, ...]
    possible: Callable[[Work], bool]
    of_a_room: bool = False

    @property
    def minutes(self) -> Parameter:
        """How long it takes a person."""
        return parameter("measuring", self.group, "minutes")

    @property
    def group(self) -> str:
        """The group of the table that its cost stands in."""
        return self.name if self.name in GROUPS else "fact"

    @property
    def left(self) -> float:
        """Share of the doubt that stays when it is done."""
        return parameter("measuring", self.group, "left").value


def _unstated(work: Work, *names: str) -> bool:
    return any(name not in work.overrides for name in names)


GROUPS = ("look", "mounting", "salt", "frame_logger", "hinges", "strip")
LOOK = "look"
ACTS = (
    Act("wall", ("wall_factor", "outdoor_temp_c"), lambda w: "wall" in w.unknown),
    Act("grain", ("grain_vertical",), lambda w: w.grain is Grain.UNKNOWN),
    Act(
        "adhesive",
        ("hinge_capacity_n_m", "hinge_sustained_n_m", "hinge_creep_days"),
        lambda w: "adhesive" in w.unknown,
    ),
    Act(
        "panel",
        ("panel_beta_along_md", "panel_beta_along_cd", "panel_half_time_h"),
        lambda w: "panel" in w.unknown,
    ),
    Act(
        "mounting",
        ("mounted_rh_pct",),
        lambda w: w.mounted_rh_pct is None and _unstated(w, "mounted_rh_pct"),
    ),
    Act("salt", ("sensor_offset_pct", "logger_drift_pct_a"), lambda w: True, of_a_room=True),
    Act(
        "frame_logger",
        ("half_time_h", "frame_minus_logger_k"),
        lambda w: w.frame in GLAZED and not w.conditioned and _unstated(w, "half_time_h"),
    ),
    Act(
        "hinges",
        ("hinge_free_length_mm", "hinge_coverage"),
        lambda w: w.hinge_free_length_mm is None and _unstated(w, "hinge_free_length_mm"),
    ),
    Act("strip", ("beta_md", "beta_cd"), lambda w: _unstated(w, "beta_md", "beta_cd")),
)


@dataclass(frozen=True)
class NextMeasurement:
    """One act, at one work or for all works of a room, and what it is expected to settle.

    ``settles`` counts answers: 1 is one work whose answer was a toss-up and no longer is.
    """

    act: str
    works: tuple[Work, ...]
    room_id: str
    settles: float
    minutes: Parameter

    @property
    def per_quarter_hour(self) -> float:
        """Answers settled in a quarter of an hour of a person's time."""
        return self.settles * 15.0 / self.minutes.value

    @property
    def per_quarter_hour_range(self) -> tuple[float, float]:
        """The same where it takes as long, or is as quick, as the table allows."""
        return self.settles * 15.0 / self.minutes.high, self.settles * 15.0 / self.minutes.low


def next_measurements(answers: Sequence[OpenAnswer]) -> list[NextMeasurement]:
    """Return all acts that would settle something, the one that settles most for its time first.

    Parameters
    ----------
    answers : sequence of OpenAnswer
        The works of the house that are held by tension.
    """
    least = parameter("measuring", "question", "least_settled").value
    minutes = parameter("measuring", LOOK, "minutes")
    found: list[NextMeasurement] = []
    rooms: dict[tuple[str, str], list[tuple[Work, float]]] = {}
    for one in (answer.evenly() for answer in answers):
        work, room = one.work, one.room_id
        found.append(NextMeasurement(LOOK, (work,), room, settled_by_look(one), minutes))
        for act in ACTS:
            if not act.possible(work):
                continue
            settles = settled_by_numbers(one, act.tells, act.left)
            if act.of_a_room:
                rooms.setdefault((act.name, room), []).append((work, settles))
            else:
                found.append(NextMeasurement(act.name, (work,), room, settles, act.minutes))
    found += [_of_room(name, room, parts) for (name, room), parts in rooms.items()]
    worth = [one for one in found if one.settles >= least]
    return sorted(worth, key=lambda one: (-one.per_quarter_hour, one.act, one.works[0].work_id))


def leading(found: Sequence[NextMeasurement], count: int) -> list[NextMeasurement]:
    """Return the first of a ranked list, with the best of every kind of act among them."""
    best = {one.act: one for one in reversed(found)}
    chosen = [one for one in found if best[one.act] is one]
    chosen += [one for one in found if best[one.act] is not one][: max(count - len(chosen), 0)]
    return sorted(chosen, key=lambda one: -one.per_quarter_hour)


def _of_room(name: str, room: str, parts: Sequence[tuple[Work, float]]) -> NextMeasurement:
    act = next(one for one in ACTS if one.name == name)
    least = parameter("measuring", "question", "least_settled").value / max(len(parts), 1)
    gaining = tuple(work for work, settles in parts if settles >= least) or (parts[0][0],)
    return NextMeasurement(name, gaining, room, sum(s for _, s in parts), act.minutes)


def openness(headroom_pct: Floats) -> float:
    """Return how open a work's answer is, 0 to 1, from headroom of equally likely draws.

    Examples
    --------
    >>> openness(np.array([-9.0, -8.0])), openness(np.array([-1.0, 9.0]))
    (0.0, 1.0)
    """
    return float(np.mean([_open(float(np.mean(headroom_pct < rise))) for rise in _rises()]))


def _rises() -> tuple[float, float]:
    return 0.0, parameter("measuring", "question", "rise_pct").value


def _open(p: Floats | float) -> Floats:
    return np.asarray(4.0 * np.asarray(p) * (1.0 - np.asarray(p)))


def settled_by_look(one: OpenAnswer) -> float:
    """Return how much of an open answer a look is expected to settle: from what it may find."""
    threshold = one.draws["visible_slope_mrad"]
    likely = grade_probabilities(one.slope_mrad, one.work.finish, threshold)  # (n, grades)
    tempered = likely ** parameter("discrepancy", "learning", "tempering").value
    found = likely.mean(axis=0)
    weights = tempered / np.maximum(tempered.sum(axis=0), 1e-300)
    parts = []
    for rise in _rises():
        slack = (one.headroom_pct < rise).astype(np.float64)
        after = weights.T @ slack
        parts.append(float(_open(slack.mean()) - found @ _open(after)))
    return max(float(np.mean(parts)), 0.0)


def settled_by_numbers(one: OpenAnswer, names: Sequence[str], left: float) -> float:
    """Return how much of an open answer it is expected to settle to know some drawn numbers.

    Headroom is regressed on the numbers' normal scores and their squares; what the regression
    leaves over stays open (STRONG2014).

    Parameters
    ----------
    names : sequence of str
        The numbers that would be told.
    left : float
        Share of their doubt that stays.
    """
    told, residual = _regressed(one.headroom_pct, {name: one.draws[name] for name in names})
    variance = float(np.var(one.headroom_pct))
    share = 0.0 if variance == 0.0 else float(np.var(told)) / variance
    if share <= 0.0:
        return 0.0
    kept = np.sqrt(1.0 - left * left)
    middle, known = one.headroom_pct.mean(), share * (1.0 - left * left)
    spread = np.sqrt(max(1.0 - known, 0.0) * variance / max(float(np.var(residual)), 1e-12))
    expected = middle + kept * (told - middle)
    parts = []
    for rise in _rises():
        after = (expected[:, None] + spread * residual[None, :] < rise).mean(axis=1)
        parts.append(float(_open(after.mean()) - _open(after).mean()))
    return max(float(np.mean(parts)), 0.0)


def _regressed(values: Floats, numbers: Mapping[str, Floats]) -> tuple[Floats, Floats]:
    """Return what is foretold by some numbers, shrunk by what chance alone would, and the rest."""
    scores = [_score(drawn) for drawn in numbers.values() if np.ptp(drawn) > 0.0]
    middle = values.mean()
    if not scores:
        return np.full_like(values, middle), values - middle
    columns = [np.ones_like(values), *scores, *(score**2 for score in scores)]
    matrix = np.column_stack(columns)
    found, *_ = np.linalg.lstsq(matrix, values, rcond=None)
    told = matrix @ found
    n, k = len(values), len(columns) - 1
    explained = float(np.var(told)) / max(float(np.var(values)), 1e-12)
    adjusted = max(1.0 - (1.0 - explained) * (n - 1) / max(n - k - 1, 1), 0.0)
    shrunk = middle + np.sqrt(adjusted / max(explained, 1e-12)) * (told - middle)
    return np.asarray(shrunk), np.asarray(values - told)


def _score(values: Floats) -> Floats:
    """Return normal scores of some draws."""
    return np.asarray(ndtri((pd.Series(values).rank().to_numpy() - 0.5) / len(values)))
