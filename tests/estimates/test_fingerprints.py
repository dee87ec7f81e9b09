"""Names of inputs: every input counts, and a late file renames its own week and those after."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from analysis.air.room_air import RoomAir
from analysis.simulation.phases import DrawnPhase
from analysis.simulation.priors import draw
from analysis.works import Finish, FrameBuild, Mount, Paper, Work
from service.estimates.fingerprints import air_chain, draws_facts, facts_at, life_facts, work_facts

HOURS = 24 * 7 * 4 + 50
WORK = Work(
    "W-1", "Work", 1000.0, 800.0, Paper.FIBRE_BASE, Finish.GLOSSY, Mount.TENSION_HELD,
    mounted_rh_pct=45.0, frame=FrameBuild.C, spacer_mm=8.0,
)  # fmt: skip


def air(**changed: float) -> RoomAir:
    start = np.datetime64("2026-01-07T05", "s")
    rh = 45.0 + np.sin(np.arange(HOURS))
    return RoomAir(
        time_utc=start + np.arange(HOURS) * np.timedelta64(3600, "s"),
        temp_c=np.full(HOURS, 20.0),
        rh_low_pct=rh,
        rh_high_pct=rh.copy(),
        outdoor_temp_c=np.full(HOURS, np.nan),
        measured=np.ones(HOURS, dtype=np.bool_),
        interval_s=changed.get("interval_s", 3600.0),
        first_low_pct=changed.get("first_low_pct", 44.0),
        first_high_pct=46.0,
    )


def test_names_stand_on_mondays() -> None:
    mondays = list(air_chain(air()))
    assert mondays[0] == datetime(2026, 1, 12, tzinfo=UTC)
    assert {day.weekday() for day in mondays} == {0}
    assert len(mondays) == 4


@settings(deadline=None, max_examples=30)
@given(
    st.integers(0, HOURS - 1),
    st.sampled_from(["rh_low_pct", "rh_high_pct", "temp_c", "outdoor_temp_c", "measured"]),
)
def test_a_changed_hour_renames_its_week_and_those_after_alone(hour: int, column: str) -> None:
    before, late = air_chain(air()), air()
    array = getattr(late, column)
    array[hour] = not array[hour] if column == "measured" else 33.0
    after = air_chain(late)
    at = int(late.time_utc[hour].astype("datetime64[s]").astype(np.int64))
    same = {monday for monday, name in before.items() if after[monday] == name}
    assert same == {monday for monday in before if monday.timestamp() < at}


@pytest.mark.parametrize("changed", [{"interval_s": 300.0}, {"first_low_pct": 43.0}])
def test_what_holds_for_the_whole_record_renames_every_week(changed: dict[str, float]) -> None:
    before, after = air_chain(air()), air_chain(air(**changed))
    assert not set(before.values()) & set(after.values())


@pytest.mark.parametrize(
    "changed", [{"mounted_rh_pct": 45.5}, {"spacer_mm": None}, {"frame": FrameBuild.D}]
)
def test_every_fact_of_a_work_counts(changed: dict[str, object]) -> None:
    assert work_facts(WORK) == work_facts(replace(WORK))
    assert work_facts(WORK) != work_facts(replace(WORK, **changed))  # type: ignore[arg-type]


def test_draws_and_their_weights_count() -> None:
    draws = draw(WORK, 8)
    even, uneven = np.full(8, 1 / 8), np.linspace(0.5, 1.5, 8) / 8
    names = {
        draws_facts(WORK, draws, None),
        draws_facts(WORK, draws, even),
        draws_facts(WORK, draws, uneven),
        draws_facts(WORK, draw(WORK, 9), None),
    }
    assert len(names) == 4
    assert draws_facts(WORK, draw(WORK, 8), even) == draws_facts(WORK, draws, even.copy())


NEW_FRAME = datetime(2026, 1, 20, 9, tzinfo=UTC)
BEFORE = replace(WORK, frame=FrameBuild.D)


def names(now: Work, *earlier: DrawnPhase) -> list[str]:
    """Return what a life is called on each Monday of the air."""
    facts = life_facts(now, draw(now, 8), None, earlier)
    return [facts_at(facts, monday) for monday in air_chain(air())]


def phase(work: Work, until: datetime) -> DrawnPhase:
    return DrawnPhase(work, until, draw(work, 8))


def test_a_phase_renames_the_weeks_from_its_beginning_on_alone() -> None:
    always, later = names(BEFORE), names(WORK, phase(BEFORE, NEW_FRAME))
    assert [a == b for a, b in zip(always, later, strict=True)] == [True, True, False, False]
    on_monday = datetime(2026, 1, 19, tzinfo=UTC)
    assert names(WORK, phase(BEFORE, on_monday))[0] == always[0]
    assert names(WORK, phase(BEFORE, on_monday))[1] != always[1]


def test_what_was_corrected_of_an_earlier_phase_renames_all_weeks_after() -> None:
    before = names(WORK, phase(BEFORE, NEW_FRAME))
    corrected = names(WORK, phase(replace(BEFORE, spacer_mm=5.0), NEW_FRAME))
    assert not set(before) & set(corrected)
    an_hour = names(WORK, phase(BEFORE, NEW_FRAME + timedelta(hours=1)))
    assert [a == b for a, b in zip(before, an_hour, strict=True)] == [True, True, False, False]


def test_a_life_without_earlier_phases_has_one_name() -> None:
    assert len(set(names(WORK))) == 1
    assert set(names(WORK)) != set(names(BEFORE))
