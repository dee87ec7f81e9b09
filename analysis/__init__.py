"""Numbers in, numbers out.

Nothing in this package opens a file other than its own tables in ``published``, reads a clock,
talks to a network or draws. Times are UTC, temperatures °C, humidities per cent, pressures Pa;
lengths are SI inside a calculation and millimetres where a person writes them down.

What an analyst needs stands here under one name each, in the order of the work: readings in, what
the room's air did, a work and its draws, the run, the judgement. A name is fetched when it is first
asked for, so that importing the package costs nothing.

Examples
--------
>>> from analysis import dew_point_c
>>> float(dew_point_c(20.0, 50.0).round(1))
9.3
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analysis.air.moist_air import dew_point_c
    from analysis.air.quality import flag_readings
    from analysis.air.room_air import RoomAir, hourly_air
    from analysis.air.room_statistics import room_statistics
    from analysis.answers.judgement import JudgementLimits, judge
    from analysis.events.event_finding import find_events
    from analysis.series import readings_frame
    from analysis.simulation.estimator import run
    from analysis.simulation.lead_time import lead_time
    from analysis.simulation.priors import draw
    from analysis.works import Work

PLACES = {
    "readings_frame": "analysis.series",
    "flag_readings": "analysis.air.quality",
    "dew_point_c": "analysis.air.moist_air",
    "room_statistics": "analysis.air.room_statistics",
    "find_events": "analysis.events.event_finding",
    "hourly_air": "analysis.air.room_air",
    "RoomAir": "analysis.air.room_air",
    "Work": "analysis.works",
    "draw": "analysis.simulation.priors",
    "run": "analysis.simulation.estimator",
    "lead_time": "analysis.simulation.lead_time",
    "JudgementLimits": "analysis.answers.judgement",
    "judge": "analysis.answers.judgement",
}

__all__ = [
    "JudgementLimits",
    "RoomAir",
    "Work",
    "dew_point_c",
    "draw",
    "find_events",
    "flag_readings",
    "hourly_air",
    "judge",
    "lead_time",
    "readings_frame",
    "room_statistics",
    "run",
]


def __getattr__(name: str) -> object:
    """Return an exported name from the module in which it stands."""
    if name not in PLACES:
        raise AttributeError(f"module 'analysis' has no attribute {name!r}; it has {__all__}")
    return getattr(import_module(PLACES[name]), name)
