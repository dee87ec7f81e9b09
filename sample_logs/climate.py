"""The air in the museum's rooms: a small moisture balance driven by the weather outdoors.

Each room loses and gains air from outdoors, its walls and contents hold moisture back, people
breathe, and a plant (where there is one) pulls towards its set point as far as it can. What went
wrong stands in `INCIDENTS`; nothing else makes the stories of the demo.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from sample_logs.journey import air_away
from sample_logs.weather import Floats, outdoor_air, saturation_pa, wander

ZONE = "Europe/Dublin"
FIRST = pd.Timestamp("2025-01-20T00:00", tz="UTC")
NOW = pd.Timestamp("2026-03-22T23:00", tz="UTC")
STEP = pd.Timedelta("15min")
SEED = 20260322


@dataclass(frozen=True)
class Room:
    """How a room behaves.

    ``temp_c`` is its winter temperature, ``summer_c`` what summer adds, ``follow`` the share of
    an outdoor change that comes through within a day or two. ``air_changes_h`` is the exchange
    with outdoors, ``buffer_h`` the pull of walls and contents [1/h], ``plant_rh_pct`` the set
    point, ``humidify_pa_h`` and ``dry_pa_h`` what the plant can do, ``visitors_pa_h`` what people
    add on an ordinary open hour, ``damp_pa_h`` what rises from the ground at all hours.
    """

    room: str
    temp_c: float
    summer_c: float
    follow: float
    air_changes_h: float
    buffer_h: float
    plant_rh_pct: float
    humidify_pa_h: float
    dry_pa_h: float
    visitors_pa_h: float
    damp_pa_h: float = 0.0


@dataclass(frozen=True)
class Incident:
    """A stretch of time in which one room behaved otherwise.

    ``leak_h`` is added to the air changes, ``source_pa_h`` to the moisture, ``warmth_c`` to the
    temperature; ``plant`` is the share of the plant that still works.
    """

    room: str
    first: str
    last: str
    leak_h: float = 0.0
    source_pa_h: float = 0.0
    warmth_c: float = 0.0
    plant: float = 1.0


ROOMS = (
    Room("north", 20.3, 1.0, 0.08, 0.28, 0.30, 50.0, 190.0, 170.0, 14.0),
    Room("long", 20.8, 1.6, 0.10, 0.30, 0.25, 49.0, 170.0, 160.0, 16.0),
    Room("court", 20.0, 1.8, 0.10, 0.26, 0.25, 47.0, 150.0, 140.0, 10.0),
    Room("east", 20.6, 2.2, 0.16, 0.36, 0.25, 50.0, 0.0, 0.0, 22.0),
    Room("tower", 14.2, 4.2, 0.26, 0.34, 0.45, 58.0, 0.0, 0.0, 9.0, 52.0),
    Room("store", 17.2, 1.2, 0.04, 0.05, 0.80, 45.5, 60.0, 60.0, 0.0),
)

INCIDENTS = (
    # The dry cold spell strains every humidifier; the east room has none.
    # The plant of the Long Gallery stops on a Friday evening in August, found on Monday.
    Incident("long", "2025-08-08T16:30", "2025-08-11T09:15", 0.30, 75.0, 1.4, 0.0),
    # Autumn: the court's dehumidifier is off for a planned repair, declared beforehand.
    Incident("court", "2025-10-07T08:00", "2025-10-08T15:00", 0.15, 0.0, 0.0, 0.0),
    # A short loss of power in the whole house, a December night.
    *(
        Incident(room, "2025-12-12T02:10", "2025-12-12T08:40", 0.05, 0.0, -1.8, 0.0)
        for room in ("north", "long", "court")
    ),
    # A wet opening night: rain, three hundred guests in wet coats, the lobby doors held open.
    Incident("north", "2026-03-19T18:00", "2026-03-19T22:15", 0.80, 560.0, 1.1, 0.35),
    Incident("long", "2026-03-19T18:15", "2026-03-19T22:00", 0.30, 150.0, 0.5, 1.0),
    # After it the coats are gone, the doors shut late, the plant takes a day.
    Incident("north", "2026-03-19T22:15", "2026-03-20T11:00", 0.25, 150.0, 0.3, 0.40),
    # The court's humidifier sticks on, Sunday afternoon: still going at the end of the record.
    Incident("court", "2026-03-22T14:30", "2026-03-23T12:00", 0.0, 360.0, 0.0, 0.0),
)

OPEN_DAYS = (1, 2, 3, 4, 5, 6)
OPEN_HOURS = (10, 17)


def museum_air(seed: int = SEED) -> dict[str, pd.DataFrame]:
    """Return the true air of every room and outdoors, each quarter of an hour.

    Returns
    -------
    dict of str to pandas.DataFrame
        Keys are the rooms' short names and ``outdoors``; columns ``temp_c`` and ``rh_pct``, UTC.
    """
    times = pd.date_range(FIRST, NOW, freq=STEP)
    rng = np.random.default_rng(seed)
    outside = outdoor_air(times, rng)
    temp_c = np.column_stack([_room_temp_c(room, times, outside, rng) for room in ROOMS])
    rh_pct = _room_rh_pct(times, outside, temp_c, rng)
    air = {
        room.room: pd.DataFrame({"temp_c": temp_c[:, i], "rh_pct": rh_pct[:, i]}, index=times)
        for i, room in enumerate(ROOMS)
    }
    return air | {"outdoors": outside} | air_away(times, air["store"])


def _room_temp_c(
    room: Room, times: pd.DatetimeIndex, outside: pd.DataFrame, rng: np.random.Generator
) -> Floats:
    out_c = outside["temp_c"].to_numpy()
    slow = _lagged(out_c, 30.0, float(out_c[0]))
    season = np.clip((_lagged(out_c, 400.0, 5.0) - 6.0) / 9.0, 0.0, 1.2)
    crowd = _lagged(_visitors(times), 2.0, 0.0)
    warm = _during(room.room, times, "warmth_c").sum(axis=1)
    wobble = wander(rng, len(times), 24.0, 0.12)
    return (
        room.temp_c
        + room.summer_c * season
        + room.follow * (slow - 10.0)
        + 0.35 * crowd
        + _lagged(warm, 3.0, 0.0)
        + wobble
    )


def _room_rh_pct(
    times: pd.DatetimeIndex, outside: pd.DataFrame, temp_c: Floats, rng: np.random.Generator
) -> Floats:
    """Step the moisture balance of all rooms; shape (n, rooms)."""
    hours = STEP / pd.Timedelta("1h")
    e_out = outside["rh_pct"].to_numpy() / 100.0 * saturation_pa(outside["temp_c"].to_numpy())
    e_sat = saturation_pa(temp_c)
    leak, source, plant = _forcing(times, rng)
    buffer_h = np.array([room.buffer_h for room in ROOMS])
    humidify = np.array([room.humidify_pa_h for room in ROOMS]) * plant
    dry = np.array([room.dry_pa_h for room in ROOMS]) * plant
    e_set = _set_point_pct(times) / 100.0 * e_sat
    held = np.array([room.plant_rh_pct for room in ROOMS]) / 100.0
    e = held * e_sat[0]
    rh = np.empty_like(temp_c)
    for i in range(len(times)):
        pull = np.minimum(np.maximum(1.5 * (e_set[i] - e), -dry[i]), humidify[i])
        gain = leak[i] * (e_out[i] - e) + buffer_h * (held * e_sat[i] - e) + source[i] + pull
        e = np.minimum(np.maximum(e + hours * gain, 60.0), 0.985 * e_sat[i])
        rh[i] = e / e_sat[i]
        held += (rh[i] - held) * hours / 220.0
    return 100.0 * rh


def _forcing(times: pd.DatetimeIndex, rng: np.random.Generator) -> tuple[Floats, Floats, Floats]:
    """Return air changes [1/h], moisture source [Pa/h] and working share of the plants."""
    crowd = _visitors(times)
    leak, source, plant = [], [], []
    for room in ROOMS:
        draught = np.exp(wander(rng, len(times), 20.0, 0.22))
        leak.append(room.air_changes_h * draught + _during(room.room, times, "leak_h").sum(axis=1))
        people = room.visitors_pa_h * crowd + room.damp_pa_h
        source.append(people + _during(room.room, times, "source_pa_h").sum(axis=1))
        plant.append(_during(room.room, times, "plant").prod(axis=1))
    return np.column_stack(leak), np.column_stack(source), np.column_stack(plant)


def _set_point_pct(times: pd.DatetimeIndex) -> Floats:
    """Return the plants' set points: 2 % lower in winter, and never quite where they say."""
    day = 2.0 * np.pi * (times.day_of_year.to_numpy() - 28.0) / 365.25
    season = -2.0 * np.cos(day)[:, None]
    return np.array([room.plant_rh_pct for room in ROOMS])[None, :] + season


def _visitors(times: pd.DatetimeIndex) -> Floats:
    """Return how busy the house is, 0 when shut, 1 on an ordinary hour, 2 on a Sunday."""
    local = times.tz_convert(ZONE)
    hour = local.hour.to_numpy()
    weekday = local.day_of_week.to_numpy()
    is_open = np.isin(weekday, OPEN_DAYS) & (hour >= OPEN_HOURS[0]) & (hour < OPEN_HOURS[1])
    return np.where(is_open, np.where(weekday >= 5, 1.9, 0.9), 0.0)


def _during(room: str, times: pd.DatetimeIndex, what: str) -> Floats:
    """Return one column an incident of the room, shape (n, incidents or 1)."""
    neutral = 1.0 if what == "plant" else 0.0
    columns = [np.full(len(times), neutral)]
    for incident in INCIDENTS:
        if incident.room == room:
            columns.append(np.where(_within(times, incident), getattr(incident, what), neutral))
    return np.column_stack(columns)


def _within(times: pd.DatetimeIndex, incident: Incident) -> np.ndarray:
    first = pd.Timestamp(incident.first, tz="UTC")
    last = pd.Timestamp(incident.last, tz="UTC")
    return np.asarray((times >= first) & (times < last))


def _lagged(values: Floats, hours: float, start: float) -> Floats:
    """Return the values after a first-order lag of ``hours``."""
    share = 1.0 - float(np.exp(-(STEP / pd.Timedelta("1h")) / hours))
    level = start
    out = np.empty(len(values))
    for i, value in enumerate(values.tolist()):
        level += share * (value - level)
        out[i] = level
    return out


def behind_glass(air: pd.DataFrame, half_time_h: float, start_rh_pct: float) -> pd.DataFrame:
    """Return the air in a frame whose humidity follows the room's with a half-time."""
    rh_pct = _lagged(air["rh_pct"].to_numpy(), half_time_h / float(np.log(2.0)), start_rh_pct)
    temp_c = _lagged(air["temp_c"].to_numpy(), 0.5, float(air["temp_c"].iloc[0]))
    # RH at the same moisture content moves with temperature as well: 0.35 %RH per kelvin.
    drift = 0.35 * (temp_c - _lagged(temp_c, half_time_h, float(temp_c[0])))
    return pd.DataFrame({"temp_c": temp_c, "rh_pct": rh_pct + drift}, index=air.index)
