"""Names for everything a result was computed from, so that it is reused only while it holds."""

import hashlib
import json
import platform
from collections.abc import Mapping, Sequence
from dataclasses import fields
from datetime import UTC, datetime
from functools import cache
from importlib.metadata import version
from importlib.resources import files
from pathlib import Path

import numpy as np
import numpy.typing as npt

from analysis.air.room_air import RoomAir
from analysis.chain.compiled import target
from analysis.results import Floats
from analysis.simulation import layout
from analysis.simulation.drawer import release
from analysis.simulation.phases import DrawnPhase
from analysis.simulation.priors import Draws
from analysis.works import Work

WEEK_H = 7 * 24
# 1970-01-05 was a Monday: hours since 1970 fall into weeks after taking off four days.
FIRST_MONDAY_H = 4 * 24


@cache
def program() -> str:
    """Return what identifies the calculation itself: release, tables, state, what calculates."""
    names = "/".join((*layout.STATE, *layout.FIXED))
    return _digest(version("stilltaut"), release(), names, repr(sorted(machine().items())))


@cache
def machine() -> Mapping[str, str]:
    """Return all of a machine that the last digits of a result hang on, by name."""
    processor, instructions = target()
    loops = json.dumps(np.lib.introspect.opt_func_info(), sort_keys=True)
    return {
        "processor": processor,
        "its instructions": _digest(instructions)[:8],
        "vector loops": _digest(loops)[:8],
        "C library": " ".join(platform.libc_ver()),
        **{name: version(name) for name in ("numba", "llvmlite", "numpy", "scipy", "pandas")},
    }


@cache
def calculation() -> Mapping[str, str]:
    """Return the same with the release and its source: equal where every digit is the same."""
    parts = [files(name) for name in ("analysis", "service")]
    sources = (path for part in parts for path in sorted(Path(str(part)).rglob("*")))
    read = (path.read_bytes() for path in sources if path.suffix in (".py", ".toml"))
    return {**machine(), "stilltaut": version("stilltaut"), "its source": _digest(*read)[:8]}


def work_facts(work: Work) -> str:
    """Return a name for all facts of a work that the calculation uses, the same in every process.

    A set of words has another order in each process, and so has what Python writes of it.
    """
    facts = (f"{one.name}={_in_order(getattr(work, one.name))}" for one in fields(work))
    return _digest(program(), *facts)


def _in_order(value: object) -> str:
    if isinstance(value, frozenset):
        return repr(sorted(value))
    return repr(sorted(value.items())) if isinstance(value, Mapping) else repr(value)


def draws_facts(work: Work, draws: Draws, weights: Floats | None) -> str:
    """Return a name for a work with the draws it is run with, and their weights."""
    weighing = b"" if weights is None else _bytes(weights)
    arrays = (_bytes(draws.values[name]) for name in sorted(draws.values))
    return _digest(work_facts(work), weighing, *arrays)


def life_facts(
    work: Work, draws: Draws, weights: Floats | None, earlier: Sequence[DrawnPhase] = ()
) -> tuple[tuple[datetime | None, str], ...]:
    """Return names for a work's phases, each with the one before: (since when, name).

    A phase that begins later, or the date at which the present one will end, changes no name.
    """
    phases = [(one.work, one.draws, one.until_utc) for one in earlier]
    facts: list[tuple[datetime | None, str]] = []
    begin: datetime | None = None
    before = ""
    for was, drawn, until in [*phases, (work, draws, None)]:
        before = _digest(before, repr(begin), draws_facts(was, drawn, weights))
        facts.append((begin, before))
        begin = until
    return tuple(facts)


def facts_at(facts: Sequence[tuple[datetime | None, str]], time: datetime) -> str:
    """Return the name for all that a work had been by a time."""
    return [name for begin, name in facts if begin is None or begin <= time][-1]


def air_chain(air: RoomAir, before_it: str = "") -> Mapping[datetime, str]:
    """Return, for each Monday 00:00 UTC within the air, a name for all air up to that hour.

    The name of a week contains the one before: a late file changes the names of its own week and
    of those after it, and no others. ``before_it`` names what the years before the air were taken
    to be.
    """
    hours = air.time_utc.astype("datetime64[h]").astype(np.int64)
    mondays = np.flatnonzero((hours - FIRST_MONDAY_H) % WEEK_H == 0)
    chain = _digest(
        str(hours[0]),
        before_it,
        repr((air.interval_s, air.first_low_pct, air.first_high_pct, air.checked_utc)),
    )
    found: dict[datetime, str] = {}
    before = 0
    for at in mondays:
        chain = air_between(air, before, int(at) + 1, chain)
        found[datetime.fromtimestamp(int(hours[at]) * 3600, tz=UTC)] = chain
        before = int(at) + 1
    return found


def air_between(air: RoomAir, first: int, last: int, chain: str = "") -> str:
    """Return a name for a stretch of air, after what came before it."""
    columns = (air.temp_c, air.rh_low_pct, air.rh_high_pct, air.outdoor_temp_c, air.measured)
    return _digest(chain, *(_bytes(column[first:last]) for column in columns))


def _bytes(array: npt.NDArray[np.generic]) -> bytes:
    return np.ascontiguousarray(array).tobytes()


def _digest(*parts: str | bytes) -> str:
    made = hashlib.blake2b(digest_size=16)
    for part in parts:
        made.update(part.encode() if isinstance(part, str) else part)
        made.update(b"\0")
    return made.hexdigest()
