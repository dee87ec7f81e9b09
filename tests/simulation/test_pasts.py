"""The years before the first reading: drawn once, lived from mounting, in steps that suffice."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from analysis.air.ahead import carried_on, joined
from analysis.air.room_air import RoomAir, part_of
from analysis.results import Floats
from analysis.simulation import estimator, layout
from analysis.simulation.checkpoints import Checkpoint
from analysis.simulation.estimator import run, simulated_before_record
from analysis.simulation.pasts import COUNT, STEPS, pasts_of
from analysis.simulation.phases import DrawnPhase
from analysis.simulation.priors import draw
from analysis.works import Adhesive, Finish, FrameBuild, Panel, Paper, Work

START = datetime(2025, 1, 1, tzinfo=UTC)
WORK = Work(
    "P1",
    "Quay",
    1500.0,
    1000.0,
    Paper.FIBRE_BASE,
    Finish.GLOSSY,
    mounted_utc=START - timedelta(days=3 * 365),
    mounted_rh_pct=48.0,
    adhesive=Adhesive.PRESSURE_SENSITIVE,
)


def room(days: int, amplitude: float = 6.0, *, southern: bool = False) -> RoomAir:
    """A room that is dampest on 1 August, with nights and a slow weather."""
    hour = np.arange(days * 24)
    season = np.cos(2 * np.pi * (hour / 8766.0 - 212.0 / 365.25))
    rh = 48.0 + amplitude * season + np.sin(2 * np.pi * hour / 24) + 2.0 * np.sin(hour / 37.0)
    return RoomAir(
        np.datetime64("2025-01-01T00", "s") + hour * np.timedelta64(3600, "s"),
        20.5 + 1.5 * season,
        rh,
        rh.copy(),
        np.full(len(hour), np.nan),
        np.ones(len(hour), dtype=np.bool_),
        3600.0,
        35.0,
        60.0,
        southern=southern,
    )


def summer_less_winter(air: RoomAir) -> float:
    month = air.time_utc.astype("datetime64[M]").astype(int) % 12 + 1
    rh = air.rh_low_pct
    return float(rh[(month == 7) | (month == 8)].mean() - rh[(month == 1) | (month == 2)].mean())


def test_a_year_of_record_gives_its_own_season_back() -> None:
    pasts = pasts_of(room(366))
    assert pasts.season_known
    for which in range(COUNT):
        past = pasts.air(which, 4 * 8766, 0, 3)
        assert summer_less_winter(past) == pytest.approx(11.6, abs=2.5)
        assert past.rh_low_pct.mean() == pytest.approx(48.0, abs=2.0)


def test_a_past_asked_for_between_others_is_the_one_that_stands_alone() -> None:
    asked = ((0, 900, 0, 1), (0, 600, 0, 1), (1, 900, 0, 1), (0, 900, 600, 3), (0, 900, 0, 1))
    pasts = pasts_of(room(60))
    for one in asked:
        together, alone = pasts.air(*one), pasts_of(room(60)).air(*one)
        np.testing.assert_array_equal(together.time_utc, alone.time_utc)
        np.testing.assert_array_equal(together.rh_low_pct, alone.rh_low_pct)
        np.testing.assert_array_equal(together.temp_c, alone.temp_c)


def test_years_differ_and_pasts_balance_each_other() -> None:
    pasts = pasts_of(room(366, amplitude=0.0))
    yearly = np.array(
        [
            [pasts.air(which, (y + 1) * 8766, y * 8766, 6).rh_low_pct.mean() for y in range(6)]
            for which in range(COUNT)
        ]
    )
    # pasts.toml, years.offset_pct: two deviations are 4 %RH; in every year all quarters of it
    assert yearly.std(axis=0) == pytest.approx(np.full(6, 2.0), abs=0.2)
    assert yearly.mean(axis=0) == pytest.approx(np.full(6, 48.0), abs=0.3)


def test_a_short_record_guesses_a_season_and_keeps_the_level() -> None:
    pasts = pasts_of(room(60))
    assert not pasts.season_known
    swings = [summer_less_winter(pasts.air(i, 8766, 0, 6)) for i in range(COUNT)]
    assert min(swings) > 2.0
    assert max(swings) / min(swings) > 2.0
    # January and February are the record: there the pasts are where it is, within their doubt
    months = [pasts.air(i, 8766, 0, 6) for i in range(COUNT)]
    winter = [a.rh_low_pct[a.time_utc.astype("datetime64[M]").astype(int) % 12 < 2] for a in months]
    measured = room(60).rh_low_pct.mean()
    assert np.mean([w.mean() for w in winter]) == pytest.approx(measured, abs=2.0)


def test_south_of_the_equator_the_guessed_season_is_turned() -> None:
    for southern, sign in ((False, 1.0), (True, -1.0)):
        pasts = pasts_of(room(30, southern=southern))
        swings = [sign * summer_less_winter(pasts.air(i, 8766, 0, 6)) for i in range(COUNT)]
        assert min(swings) > 1.0


def test_a_longer_past_adds_to_a_shorter_one_and_ends_on_the_first_reading() -> None:
    air = room(366)
    pasts = pasts_of(air)
    long, short = pasts.air(2, 6000, 0, 3), pasts.air(2, 3000, 0, 3)
    assert long.rh_low_pct[-len(short.rh_low_pct) :].tolist() == short.rh_low_pct.tolist()
    assert long.time_utc[-1] == air.time_utc[0]
    assert long.rh_low_pct[-1] == air.rh_low_pct[0]


def test_hours_that_nobody_read_yet_tell_no_past() -> None:
    """A work was explained by other years than it was judged by, weeks after the last reading."""
    air = room(70)
    end = START + timedelta(days=230)
    further = joined(air, carried_on(air, end))
    assert further.hours > 3 * air.hours
    assert further.hours_of_record == air.hours
    assert pasts_of(further).digest == pasts_of(air).digest
    cut = part_of(further, slice(120 * 24))
    assert pasts_of(cut).digest == pasts_of(air).digest
    assert pasts_of(replace(further, read_until_utc=None)).digest != pasts_of(air).digest


def test_pasts_stay_as_they_are_while_a_record_grows() -> None:
    air = room(500)

    def until(days: int) -> str:
        return pasts_of(part_of(air, slice(days * 24))).digest

    assert until(366) == until(400) == until(500)
    assert until(61) == until(100)
    assert until(100) != until(130)


@pytest.fixture(scope="module")
def works() -> list[Work]:
    frames = (FrameBuild.A, FrameBuild.C, FrameBuild.D)
    kinds = ((f, p, a) for f in frames for p in (Paper.FIBRE_BASE, Paper.RESIN_COATED)
             for a in Adhesive)  # fmt: skip
    return [
        replace(WORK, work_id=f"P{i}", frame=frame, paper=paper, adhesive=adhesive)
        for i, (frame, paper, adhesive) in enumerate(kinds)
    ]


def test_coarse_steps_end_where_hourly_ones_do(
    works: list[Work], monkeypatch: pytest.MonkeyPatch
) -> None:
    """At the print within 0.5 %RH in every draw; of strain half of the draws within 2e-6."""
    pasts, draws = pasts_of(room(366)), {w.work_id: draw(w, 60) for w in works}
    coarse = simulated_before_record(works, draws, pasts)
    assert [step for _, step in STEPS] == [1, 3, 6]
    monkeypatch.setattr(estimator, "STEPS", ((10**9, 1),))
    hourly = simulated_before_record(works, draws, pasts)

    def off(name: str) -> Floats:
        row = layout.STATE.index(name)
        return np.array(
            [np.abs(coarse.states[k][row] - hourly.states[k][row]) for k in coarse.states]
        )

    assert off("psi_core").max() < 0.005
    assert off("psi_panel").max() < 0.005
    for axis in ("md", "cd"):
        strain = off(f"above_{axis}")
        assert np.median(strain) < 2e-6
        assert np.quantile(strain, 0.95) < 3e-5


def test_a_lived_past_is_not_a_held_one(works: list[Work]) -> None:
    """Three winters on creeping hinges leave less spare than the same years at rest."""
    air = room(366)
    draws = {w.work_id: draw(w, 80) for w in works}
    early = [START + timedelta(days=60)]
    asked = {w.work_id: early for w in works}
    held = run(works, draws, air, probe=asked, detail_from=early[0])
    through = run(works, draws, air, probe=asked, detail_from=early[0], pasts=pasts_of(air))

    def spare(found: object, key: str) -> float:
        return float(np.median(found.probes[key]["headroom_up_pct"][0]))  # type: ignore[attr-defined]

    creeping = [w.work_id for w in works if w.adhesive is Adhesive.PRESSURE_SENSITIVE]
    less = [spare(held, key) - spare(through, key) for key in creeping]
    assert np.mean(less) > 1.0


def test_a_checkpoint_at_the_first_reading_saves_living_again(works: list[Work]) -> None:
    air = room(60)
    draws = {w.work_id: draw(w, 40) for w in works}
    pasts = pasts_of(air)
    end = simulated_before_record(works, draws, pasts)
    kept = Checkpoint(end.time_utc, {key: state.copy() for key, state in end.states.items()})
    whole = run(works, draws, air, pasts=pasts).last
    again = run(works, draws, air, since=kept).last
    for key, state in whole.states.items():
        assert again.states[key].tobytes() == state.tobytes()


def test_draws_share_the_pasts_out_and_keep_their_own() -> None:
    drawn = draw(WORK, 200)
    assert np.bincount(drawn["past"].astype(int)).tolist() == [50, 50, 50, 50]
    pasts = pasts_of(room(366))
    whole = simulated_before_record([WORK], {"P1": drawn}, pasts).states["P1"]
    some = np.array([3, 3, 17, 120, 5])
    part = simulated_before_record([WORK], {"P1": drawn.take(some)}, pasts).states["P1"]
    assert part == pytest.approx(whole[:, some], rel=1e-12)


def test_an_unknown_day_of_mounting_is_four_ages_and_a_later_one_is_not_lived() -> None:
    unknown = replace(WORK, mounted_utc=None)
    ages = np.unique(draw(unknown, 200)["mounted_years"])
    assert len(ages) == COUNT
    assert ages[0] < 1.0 < 5.0 < ages[-1]
    pasts = pasts_of(room(366))
    assert set(simulated_before_record([unknown], {"P1": draw(unknown, 40)}, pasts).states) == {
        "P1"
    }
    later = replace(WORK, mounted_utc=START + timedelta(days=3), panel=Panel.MUSEUM_BOARD)
    assert not simulated_before_record([later], {"P1": draw(later, 40)}, pasts).states


def test_a_work_mounted_anew_in_the_record_lived_its_first_mounting() -> None:
    anew = replace(WORK, mounting_no=1, mounted_utc=START + timedelta(days=20))
    before = DrawnPhase(WORK, START + timedelta(days=20), draw(WORK, 40))
    drawn = {"P1": draw(anew, 40)}
    pasts = pasts_of(room(60))
    states = simulated_before_record([anew], drawn, pasts, {"P1": [before]}).states
    alone = simulated_before_record([WORK], {"P1": before.draws}, pasts).states
    assert states["P1"].tobytes() == alone["P1"].tobytes()
