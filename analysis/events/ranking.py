"""The few events that matter, and the crowd of the others as counts."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from analysis.parameters import parameter
from analysis.results import Event

SWING = "24-hour swing"
SILENCE = "no data"


@dataclass(frozen=True)
class Crowd:
    """Events of one kind that are counted and not told one by one."""

    kind: str
    count: int
    largest: float
    quantity: str
    first_utc: datetime
    last_utc: datetime


@dataclass(frozen=True)
class RankedEvents:
    """``reported``: the few that matter, in order of time; ``crowds``: the rest, a count a kind."""

    reported: tuple[Event, ...]
    crowds: tuple[Crowd, ...]


def ranked_events(events: Sequence[Event], most: int = 8) -> RankedEvents:
    """Return the events that matter most, and how many others there were of each kind.

    What still goes on comes first, then silences, then the largest, in units of what makes an event
    of its kind. Of wide days, which a lively room has every few days, no more than the widest
    ``rank.swings`` are told, and only those that are wider than the rest by ``rank.swing_share``.

    Parameters
    ----------
    events : sequence of Event
        As from `analysis.events.event_finding.find_events`, of any number of sensors.
    most : int
        How many there is room for.
    """
    crowded = _ordinary_swings(events)
    worth = sorted(
        (event for event in events if id(event) not in crowded),
        key=lambda event: (event.over, event.kind != SILENCE, -_severity(event)),
    )
    reported = sorted(worth[:most], key=lambda event: event.start_utc)
    single = {id(event) for event in reported}
    return RankedEvents(
        tuple(reported), _crowds([event for event in events if id(event) not in single])
    )


def _ordinary_swings(events: Sequence[Event]) -> set[int]:
    """Return the identities of the wide days that are like the others of their record."""
    swings = sorted((e for e in events if e.kind == SWING), key=lambda e: -abs(e.size))
    widest = int(parameter("events", "rank", "swings").value)
    share = parameter("events", "rank", "swing_share").value
    if len(swings) <= widest:
        return set()
    usual = abs(swings[len(swings) // 2].size)
    return {
        id(event)
        for place, event in enumerate(swings)
        if event.over and (place >= widest or abs(event.size) < share * usual)
    }


def _severity(event: Event) -> float:
    """Return how large an event is, in units of what makes an event of its kind."""
    if event.kind == SILENCE:
        return (event.end_utc - event.start_utc).total_seconds() / 3600.0
    if event.quantity == "temp_c":
        return abs(event.size) / parameter("events", "rank", "temp_c").value
    unit = {
        SWING: parameter("events", "swing", "rh_pct").value,
        "day–night cycling": parameter("events", "cycling", "rh_pct").value,
        "spike": parameter("events", "spike", "rh_pct").value,
        "step": parameter("events", "spike", "rh_pct").value / 2.0,
    }
    beyond = parameter("events", "rank", "beyond_rh_pct").value
    return abs(event.size) / unit.get(event.kind, beyond)


def _crowds(rest: Sequence[Event]) -> tuple[Crowd, ...]:
    kinds = sorted({event.kind for event in rest})
    crowds = []
    for kind in kinds:
        these = [event for event in rest if event.kind == kind]
        sizes = [abs(event.size) for event in these if event.size == event.size]
        crowds.append(
            Crowd(
                kind=kind,
                count=len(these),
                largest=max(sizes, default=float("nan")),
                quantity=these[0].quantity,
                first_utc=min(event.start_utc for event in these),
                last_utc=max(event.end_utc for event in these),
            )
        )
    return tuple(sorted(crowds, key=lambda crowd: -crowd.count))
