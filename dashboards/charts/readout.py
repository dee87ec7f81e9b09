"""What a picture says at a place: the arrays it is drawn from, as finished words beside it.

A page's script only looks up which words stand nearest to a pointer, a finger or the arrow keys;
numbers, dates and sentences are made here, by the formatters of everything else.
"""

import json
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
import pandas as pd
from markupsafe import Markup, escape
from matplotlib.artist import Artist
from matplotlib.figure import Figure

from analysis.results import Floats
from dashboards.text import dates

MARK = "reads:"  # begins the label of what can be read, in a figure
AIR = "air"  # the line of a room
TIMES = ("day", "clock")
Coded = tuple[list[str], list[int]]
Value = TypeVar("Value", bound=Hashable)
Boxes = Mapping[str, tuple[float, float, float, float]]


@dataclass(frozen=True)
class Line:
    """One thing that can be read along a picture.

    Attributes
    ----------
    say : Coded
        The sentence of a place, ``{name}`` for its own name and for each of ``words``; no numbers
        where the first holds everywhere.
    places_h : ndarray, shape (n,)
        Where its values stand, ascending [h since the picture's begin].
    length_h : float
        The time that the picture spans [h].
    words : mapping of str to Coded
        For each placeholder the different words, and which of them stands at each place.
    name : str
        What is read: a work's title.
    """

    say: Coded
    places_h: Floats
    length_h: float
    words: Mapping[str, Coded]
    name: str = ""


def coded(values: Iterable[Value], words: Mapping[Value, str]) -> Coded:
    """Return finished words, each once, and which of them stands at each place.

    Examples
    --------
    >>> coded([44, 45, 44], {44: "44 %RH", 45: "45 %RH"})
    (['44 %RH', '45 %RH'], [0, 1, 0])
    """
    numbers: dict[str, int] = {}
    places = [numbers.setdefault(words[value], len(numbers)) for value in values]
    return list(numbers), places


def coded_times(times_utc: Any, zone: str) -> dict[str, Coded]:
    """Return the local day and the time of day of instants, in the house's way."""
    index = pd.DatetimeIndex(times_utc)
    index = index.tz_localize("UTC") if index.tz is None else index
    here = index.tz_convert(zone)
    days, minutes = here.normalize().asi8.tolist(), (here.hour * 60 + here.minute).tolist()
    instants = index.to_pydatetime()
    return {
        "day": coded(days, {d: dates.day(instants[i], zone) for i, d in _first(days)}),
        "clock": coded(minutes, {m: dates.clock(instants[i], zone) for i, m in _first(minutes)}),
    }


def _first(values: Sequence[Value]) -> list[tuple[int, Value]]:
    """Return each different value with the place where it stands first."""
    first: dict[Value, int] = {}
    for place, value in enumerate(values):
        first.setdefault(value, place)
    return [(place, value) for value, place in first.items()]


def reads(artist: Artist, key: str) -> None:
    """Let the line of that key be read from the part of a figure that an artist covers."""
    artist.set_label(f"{MARK}{key}")


def boxes(figure: Figure) -> Boxes:
    """Return where the lines of a figure are read: left, top, width, height, of its own size."""
    return {
        str(one.get_label()).removeprefix(MARK): _box(one, figure)
        for one in figure.findobj(lambda one: str(one.get_label()).startswith(MARK))
    }


def _box(artist: Artist, figure: Figure) -> tuple[float, float, float, float]:
    found = artist.get_window_extent().transformed(figure.transFigure.inverted())
    left, top, width, height = found.x0, 1.0 - found.y1, found.width, found.height
    return (round(left, 4), round(top, 4), round(width, 4), round(height, 4))


def boxes_attribute(figure: Figure) -> Markup:
    """Return where a figure is read, as an attribute of its picture, or nothing."""
    found = boxes(figure)
    return Markup(f' data-boxes="{escape(_compact(found))}"') if found else Markup("")


def values_script(lines: Mapping[str, Line]) -> Markup:
    """Return lines as data beside their pictures, within the page: `values_json`."""
    text = values_json(lines).replace("<", "\\u003c")
    return Markup(f'<script type="application/json" class="values">{text}</script>')


def values_json(lines: Mapping[str, Line]) -> str:
    """Return lines as data for a page's script; times that lines share stand once.

    Numbers stand as their steps, each with how often it comes: a reading every quarter of an hour
    is one step.
    """
    times: list[dict[str, Any]] = []
    told = {}
    for key, line in lines.items():
        own = {name: _packed(line.words[name]) for name in TIMES if name in line.words}
        minutes = np.rint(60.0 * line.places_h).astype(int).tolist()
        shared = {"at": steps(minutes), "length": round(60.0 * line.length_h), **own}
        if shared not in times:
            times.append(shared)
        told[key] = {
            "say": _packed(line.say),
            "name": line.name,
            "times": times.index(shared),
            "words": {n: _packed(found) for n, found in line.words.items() if n not in TIMES},
        }
    return _compact({"times": times, "lines": told})


def _packed(found: Coded) -> tuple[list[str], list[int]]:
    return found[0], steps(found[1])


def steps(numbers: Sequence[int]) -> list[int]:
    """Return numbers as their steps from zero on: a step, how often it comes, the next one.

    Examples
    --------
    >>> steps([0, 15, 30, 45, 45])
    [0, 1, 15, 3, 0, 1]
    """
    found: list[int] = []
    for step in np.diff(numbers, prepend=0).tolist():
        if found and found[-2] == step:
            found[-1] += 1
        else:
            found += [step, 1]
    return found


def _compact(found: object) -> str:
    return json.dumps(found, ensure_ascii=False, separators=(",", ":"))
