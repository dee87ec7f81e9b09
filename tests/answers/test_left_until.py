"""Until when a work can be left: no longer than what its room may do allows."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from analysis.air.ahead import carried_on
from analysis.air.room_air import RoomAir
from analysis.answers.judgement import JudgementLimits
from analysis.answers.left_until import left_until
from analysis.simulation.estimator import run
from analysis.simulation.priors import Draws
from analysis.works import Work

Knowing = Callable[..., tuple[Work, Draws]]

BEGUN = datetime(2025, 1, 1, tzinfo=UTC)


def year_of_air(winter_rh_pct: float, summer_rh_pct: float, days: int) -> RoomAir:
    """Return a room's humidity over a year of seasons, up to a day."""
    hours = np.arange(24 * days)
    mid, swing = (winter_rh_pct + summer_rh_pct) / 2, (summer_rh_pct - winter_rh_pct) / 2
    rh = mid - swing * np.cos(2 * np.pi * hours / 8766.0)
    return RoomAir(
        time_utc=np.datetime64("2025-01-01", "s") + hours * np.timedelta64(3600, "s"),
        temp_c=np.full(len(hours), 20.0),
        rh_low_pct=rh,
        rh_high_pct=rh,
        outdoor_temp_c=np.full(len(hours), np.nan),
        measured=np.ones(len(hours), dtype=np.bool_),
        interval_s=3600.0,
        first_low_pct=float(rh[0]),
        first_high_pct=float(rh[0]),
    )


def until(knowing: Knowing, air: RoomAir) -> datetime | None:
    work, draws = knowing(half_time_h=1.0)
    now = run([work], {"W1": draws}, air, keep_weeks=0).last
    return left_until([work], {"W1": draws}, now, air, JudgementLimits()).get("W1")


def test_a_room_that_grows_damp_at_this_season_shortens_it(knowing: Knowing) -> None:
    """The record holds last year's damp summer; in April the work cannot be left to July."""
    found = until(knowing, year_of_air(40.0, 56.0, 455))
    now = BEGUN + timedelta(days=455)
    assert found is not None
    assert now + timedelta(days=2) < found < now + timedelta(days=75)


def test_a_steady_room_leaves_it_be(knowing: Knowing) -> None:
    assert until(knowing, year_of_air(45.0, 45.5, 455)) is None


def test_a_damper_summer_leaves_it_less_long(knowing: Knowing) -> None:
    damp, damper = (until(knowing, year_of_air(40.0, top, 455)) for top in (56.0, 58.0))
    assert damp is not None
    assert damper is not None
    assert damper < damp


def test_the_record_and_not_the_day_asked_decides(knowing: Knowing) -> None:
    """Asked some days after the last reading, the same band is gone along."""
    air = year_of_air(40.0, 56.0, 455)
    work, one = knowing(half_time_h=1.0)
    draws = {"W1": one}
    last = run([work], draws, air, keep_weeks=0).last
    later = carried_on(air, last.time_utc + timedelta(days=5))
    on = run([work], draws, later, since=last, keep_weeks=0).last
    first = left_until([work], draws, last, air, JudgementLimits())
    assert first
    assert left_until([work], draws, on, air, JudgementLimits()) == first


@pytest.mark.parametrize("latest_days", [0.0, 0.02])
def test_a_limit_that_looks_no_further_finds_nothing(knowing: Knowing, latest_days: float) -> None:
    """A site may set the limit so; the round goes on answering."""
    air = year_of_air(40.0, 56.0, 20)
    work, one = knowing(half_time_h=1.0)
    last = run([work], {"W1": one}, air, keep_weeks=0).last
    limits = JudgementLimits(latest_days=latest_days)
    assert left_until([work], {"W1": one}, last, air, limits) == {}
