"""What cannot be is told in five parts at every entry, or "cannot tell": never a number."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pandas as pd
import pytest

from analysis.air.room_air import RoomAir, hourly_air
from analysis.answers.judgement import judge
from analysis.errors import OutOfRangeError
from analysis.learning.posterior import Inspection, learn
from analysis.parameters import table
from analysis.results import Listing
from analysis.simulation import estimator
from analysis.simulation.drawn_parameters import BUILD_FACTS, LARGEST, UNITS
from analysis.simulation.lead_time import lead_time
from analysis.simulation.priors import Draws, draw
from analysis.works import Finish, FrameBuild, Override, Panel, Paper, Work
from dashboards.text.judgement_text import chain_sentences, mend, reason

Knowing = Callable[..., tuple[Work, Draws]]
AirOf = Callable[..., RoomAir]

AT = datetime(2025, 1, 10, tzinfo=UTC)
WORK = Work(
    "W1",
    "Quay",
    1500.0,
    1000.0,
    Paper.FIBRE_BASE,
    Finish.GLOSSY,
    panel=Panel.METAL_FACED,
    mounted_utc=datetime(2024, 1, 1, tzinfo=UTC),
    mounted_rh_pct=48.0,
    spacer_mm=8.0,
)


def stated(name: str, low: float, value: float, high: float) -> Work:
    return replace(WORK, overrides={name: Override(value, low, high, "entered")})


IMPOSSIBLE: dict[str, Work] = {
    "negative thickness": stated("thickness_mm", -0.3, -0.3, -0.3),
    "half-time 0": stated("half_time_h", 0.0, 0.0, 0.0),
    "no half-time": stated("half_time_h", 1.0, float("nan"), 3.0),
    "endless half-time": stated("half_time_h", 1.0, 2.0, float("inf")),
    "movement in millionths": stated("beta_cd", 80.0, 90.0, 100.0),
    "stiffness in MPa": stated("modulus_cd_gpa", 3500.0, 4000.0, 4500.0),
    "thickness in micrometres": stated("thickness_mm", 280.0, 300.0, 320.0),
    "humidity at mounting of 140 %": stated("mounted_rh_pct", 130.0, 140.0, 150.0),
    "a share of 2": stated("hinge_coverage", 1.0, 1.5, 2.0),
    "no width": replace(WORK, width_mm=0.0),
    "an unmeasured width": replace(WORK, width_mm=float("nan")),
    "negative spacer": replace(WORK, spacer_mm=-2.0),
    "negative free length": replace(WORK, hinge_free_length_mm=-5.0),
    "closed before mounted": replace(WORK, closed_utc=datetime(2023, 1, 1, tzinfo=UTC)),
    "a date without a zone": replace(WORK, mounted_utc=datetime(2024, 1, 1)),  # noqa: DTZ001
}
impossible = pytest.mark.parametrize("what", list(IMPOSSIBLE))


def five_parts(caught: pytest.ExceptionInfo[OutOfRangeError]) -> bool:
    told = caught.value
    return all((told.read, told.where, told.found, told.expected, told.action))


@impossible
def test_not_drawn(what: str) -> None:
    with pytest.raises(OutOfRangeError) as caught:
        draw(IMPOSSIBLE[what])
    assert five_parts(caught)
    assert "W1" in caught.value.read


@impossible
def test_not_run_on_draws_made_before(what: str, air_of: AirOf) -> None:
    good, air = draw(WORK, 8), air_of(20.0, 50.0, 300)
    with pytest.raises(OutOfRangeError) as caught:
        estimator.run([IMPOSSIBLE[what]], {"W1": good}, air)
    assert five_parts(caught)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("thickness_mm", -0.3),
        ("half_time_h", 0.0),
        ("beta_cd", np.nan),
        ("hinge_creep_days", np.inf),
        ("prestrain", -1e-3),
        ("wavelength_m", 0.0),
    ],
)
def test_not_run_on_draws_that_cannot_be(
    knowing: Knowing, air_of: AirOf, name: str, value: float
) -> None:
    work, draws = knowing(n=4, **{name: [1e-3, 1e-3, value, 1e-3]})
    with pytest.raises(OutOfRangeError, match=f"draws of {name}") as caught:
        estimator.run([work], {"W1": draws}, air_of(20.0, 50.0, 100))
    assert five_parts(caught)


def test_not_looked_ahead_and_not_learned_of(air_of: AirOf) -> None:
    air, good = air_of(20.0, 50.0, 400), draw(WORK, 8)
    found = estimator.run([WORK], {"W1": good}, air)
    bad = IMPOSSIBLE["no width"]
    with pytest.raises(OutOfRangeError):
        lead_time([bad], {"W1": good}, found.last, air)
    with pytest.raises(OutOfRangeError):
        learn([bad], {"W1": [Inspection(AT, 0)]}, air, 8)


def test_mounted_after_it_was_hung_is_not_told_of_before(air_of: AirOf) -> None:
    # it hung from the first hour of the record on, and was mounted on the eleventh day
    late = replace(WORK, mounted_utc=AT, closed_utc=AT, frame=FrameBuild.A)
    air = air_of(20.0, 50.0, 480)
    history = estimator.run([late], {"W1": draw(late, 8)}, air).histories["W1"]
    before = history.time_utc < np.datetime64("2025-01-10")
    assert set(history.refused[before]) == {"not yet mounted"}
    for name in ("print_rh_pct", "tension_n_m", "slope_mrad", "headroom_up_pct"):
        assert np.isnan(getattr(history, name)[before]).all()
    judged = judge(late, history, air, at_utc=AT - timedelta(days=2))
    assert judged.listing is Listing.CANNOT_TELL
    assert "not yet mounted" in reason(judged, "UTC")
    assert judged.headroom_up_pct is None


@pytest.mark.parametrize("frame", [FrameBuild.A, FrameBuild.D, FrameBuild.E])
def test_readings_too_far_apart_are_called_so_and_not_a_gap(
    museum_year: pd.DataFrame, frame: FrameBuild
) -> None:
    for every, refused in ((3, ""), (4, "interval")):
        readings = museum_year.iloc[: 24 * 30 : every]
        first, last = readings.index[0].to_pydatetime(), readings.index[-1].to_pydatetime()
        air = hourly_air(readings, start_utc=first, end_utc=last)
        work = replace(WORK, frame=frame, closing_rh_pct=48.0, closed_utc=AT)
        history = estimator.run([work], {"W1": draw(work, 8)}, air).histories["W1"]
        assert history.refused[-1] == refused


def test_clearance_unknown_is_no_number(air_of: AirOf) -> None:
    unknown = replace(WORK, spacer_mm=None, frame=FrameBuild.C)
    air = air_of(20.0, 60.0, 480, first=(60.0, 60.0))
    history = estimator.run([unknown], {"W1": draw(unknown, 20)}, air).histories["W1"]
    assert np.isnan(history.p_clearance).all()
    judged = judge(unknown, history, air, at_utc=AT)
    assert np.isnan(judged.p_clearance)
    assert "clearance cannot be told" in dict(chain_sentences(judged, "UTC"))["surface"]


def test_every_row_of_the_tables_could_be_stated() -> None:
    """No bound on stated values is narrower than what the tables themselves draw."""
    assert set(LARGEST) <= set(UNITS) | set(BUILD_FACTS)
    groups: list[Any] = [rows for rows in table("prints").values() if "beta_cd" in rows]
    for rows in groups:
        for name, row in rows.items():
            assert row.high <= LARGEST.get(name, np.inf), name


def test_what_a_record_holds_is_told_where_nothing_can_be_computed_with_it() -> None:
    judged = judge(WORK, None, None, at_utc=AT, impossible="a sheet 0 mm wide (works, width_mm)")
    assert reason(judged, "UTC") == (
        "Cannot tell: its record holds a sheet 0 mm wide (works, width_mm), with which nothing can "
        "be computed."
    )
    assert mend(judged)
