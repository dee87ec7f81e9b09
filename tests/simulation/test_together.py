"""Draws of many works side by side end as each work's own do, to the bit."""

from dataclasses import replace
from datetime import timedelta

import pytest
from bench.calibration import START, room_year
from bench.learning_speed import WORK

from analysis.simulation import layout, loop, together
from analysis.simulation.checkpoints import instant
from analysis.simulation.estimator import run
from analysis.simulation.passage import Passage
from analysis.simulation.priors import draw
from analysis.simulation.together import Together
from analysis.works import Finish, FrameBuild, Paper, Work

DAYS, N = 40, 9


def works() -> list[Work]:
    """Works with and without an image layer, mounted and closed before and within the hours."""
    found = []
    for i in range(20):
        mounted = START + timedelta(days=2.5 * (i - 8))
        found.append(
            replace(
                WORK,
                work_id=f"W{i}",
                paper=tuple(Paper)[i % 4],
                finish=tuple(Finish)[i % 3],
                frame=tuple(FrameBuild)[i % 5],
                mounted_utc=mounted,
                closed_utc=mounted + timedelta(days=i % 4),
                closing_rh_pct=None if i % 3 else 47.0,
            )
        )
    return found


@pytest.mark.parametrize("width", [64, 16])
def test_side_by_side_is_the_same_to_the_bit(width: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(together, "WIDTH", width)
    air, many = room_year(days=DAYS), works()
    drawn = {one.work_id: draw(one, N) for one in many}
    counts = [i % (N + 1) for i in range(len(many))]
    alone, beside = (Passage(many, drawn, air, None, None) for _ in range(2))
    side_by_side, before = Together(beside, counts), 0
    stops = {0, alone.last, *range(0, alone.last, 100), *alone.events()}
    for at in sorted(i for i in stops if 0 <= i <= alone.last):
        alone.advance(before, at, detail=False)
        alone.happen(at)
        side_by_side.advance(before, at)
        side_by_side.happen(at)
        before = at
    side_by_side.end()
    assert alone.active.tolist() == beside.active.tolist()
    assert alone.active.sum() > 0
    past = len(layout.STATE) - len(layout.PAST)  # what was seen when is not told on the way
    layered = {name: row for row, name in enumerate(layout.FIXED)}["image_share"]
    assert len({bool(share.max() > 0) for share in alone.fixed[:, layered]}) == 2
    for i, count in enumerate(counts):
        if alone.active[i]:
            one, other = (each.state[i][:past, :count] for each in (alone, beside))
            assert one.tobytes() == other.tobytes()


@pytest.mark.parametrize("n", [20, 9])
def test_few_draws_of_many_works_are_told_as_each_alone(
    n: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Chances and what is carried on are the same to the bit, from one work of a team to three."""
    air, many = room_year(days=DAYS), works()
    drawn = {one.work_id: draw(one, n) for one in many}
    beside = run(many, drawn, air, detail_from=instant(air.time_utc[-1]))
    monkeypatch.setattr(loop, "WIDTH", 0)
    alone = run(many, drawn, air, detail_from=instant(air.time_utc[-1]))
    for one in many:
        key = one.work_id
        assert beside.hourly[key].tobytes() == alone.hourly[key].tobytes()
        state = beside.last.states.get(key)
        assert state is None or state.tobytes() == alone.last.states[key].tobytes()
    assert len(alone.last.states) > 10
