"""A work begins as it was mounted, whatever the room's logger or the wall say at that hour."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pytest

from analysis.air.room_air import RoomAir
from analysis.results import Floats
from analysis.simulation import estimator
from analysis.simulation.priors import Draws
from analysis.works import FrameBuild, Work

Knowing = Callable[..., tuple[Work, Draws]]
AirOf = Callable[..., RoomAir]

MOUNTED = datetime(2025, 1, 1, 6, tzinfo=UTC)
JUST_AFTER = datetime(2025, 1, 1, 7, tzinfo=UTC)
# Nothing has time to move within the hour.
STILL = {"half_time_h": 1e6, "core_half_time_h": 1e5, "panel_half_time_h": 1e5}


def headroom_after(knowing: Knowing, air: RoomAir, **values: Any) -> Floats:
    """Return the headroom of every draw an hour after it was mounted at 50 %RH and 20 °C."""
    work, draws = knowing(**STILL, **values)
    work = replace(work, mounted_utc=MOUNTED)
    found = estimator.run([work], {"W1": draws}, air, probe={"W1": [JUST_AFTER]})
    return np.asarray(found.probes["W1"]["headroom_up_pct"][0])


def test_the_offset_of_the_rooms_logger_is_no_change_since_mounting(
    knowing: Knowing, air_of: AirOf
) -> None:
    # the offset is that of the room's logger against the one used at mounting
    headroom = headroom_after(knowing, air_of(20.0, 50.0, 48), n=3, sensor_offset_pct=[-2.0, 0, 2])
    # pre-strain 3e-4 over 80e-6 per %RH
    assert headroom == pytest.approx(np.full(3, 3.75), abs=0.02)


def test_hung_on_a_cold_wall_it_brings_its_moisture_along(knowing: Knowing, air_of: AirOf) -> None:
    walls = headroom_after(
        knowing, air_of(20.0, 50.0, 48, outdoor_c=-5.0), n=2, wall_factor=[0.0, 0.3]
    )
    assert walls == pytest.approx(np.full(2, 3.75), abs=0.02)
    warm = headroom_after(knowing, air_of(26.0, 50.0, 48), n=1)
    assert warm == pytest.approx(np.full(1, 3.75), abs=0.02)


def test_what_was_locked_in_at_closing_is_free_of_the_offset(
    knowing: Knowing, air_of: AirOf
) -> None:
    work, draws = knowing(n=3, **STILL, sensor_offset_pct=[-2.0, 0, 2], closing_rh_pct=50.0)
    sealed = replace(work, frame=FrameBuild.F, closed_utc=work.mounted_utc, closing_rh_pct=50.0)
    air = air_of(20.0, 50.0, 48, first=(45.0, 55.0))
    found = estimator.run([sealed], {"W1": draws}, air, probe={"W1": [JUST_AFTER]})
    assert found.probes["W1"]["print_rh_pct"][0] == pytest.approx(np.full(3, 50.0), abs=0.1)
