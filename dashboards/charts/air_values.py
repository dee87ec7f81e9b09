"""What can be read of a room's year: each hour of its carpet, each field of warmth and water.

Rows of fields are lines that lie over one another: arrow keys up and down go from row to row.
"""

from collections.abc import Iterator
from datetime import UTC, datetime
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from analysis.air.moist_air import humidity_ratio_kg_kg
from analysis.air.psychrometric_picture import Carpet, PsychrometricPicture
from dashboards.charts.readout import Coded, Line, coded, reads
from dashboards.text import dates, wording
from dashboards.text.messages import N_, translated

Floats = npt.NDArray[np.float64]
PER_G = 1000.0


def mark_rows(axes: Axes, name: str, edges: Floats) -> None:
    """Let each row between two edges be read over the whole width of a picture."""
    left, right = axes.get_xlim()
    for number, (low, high) in enumerate(pairwise(edges.tolist())):
        row = Rectangle((left, low), right - left, high - low, visible=False)
        axes.add_patch(row)
        reads(row, f"{name}-{number}")


def carpet_lines(carpet: Carpet) -> dict[str, Line]:
    """Return the hours of a carpet: a line for each hour of the day, along the days."""
    count = carpet.days.size
    if not count:
        return {}
    said = {
        True: translated(N_("{day}, {clock}: {rh} on average over the hour.")),
        False: translated(N_("{day}, {clock}: not measured.")),
    }
    days = [day.astype(object) for day in carpet.days]
    named = coded(days, {day: dates.date_words(day) for day in days})
    places = 24.0 * (np.arange(count, dtype=np.float64) + 0.5)
    lines = {}
    for hour, row in enumerate(carpet.values):
        rounded = [None if np.isnan(value) else round(float(value)) for value in row]
        lines[f"hour-{hour}"] = Line(
            say=coded([value is not None for value in rounded], said),
            places_h=places,
            length_h=24.0 * count,
            words={
                "day": named,
                "clock": _always(_clock(hour), count),
                "rh": coded(rounded, {value: wording.rh(value) for value in set(rounded)}),
            },
        )
    return lines


def _clock(hour: int) -> str:
    return dates.clock(datetime(2000, 1, 1, hour, tzinfo=UTC), "UTC")


def _always(words: str, count: int) -> Coded:
    return [words], [0] * count


def picture_lines(picture: PsychrometricPicture, across: tuple[float, float]) -> dict[str, Line]:
    """Return the fields in which air was: a line for each step of water, along the temperature.

    Parameters
    ----------
    picture : PsychrometricPicture
        What is drawn.
    across : (float, float)
        From where to where the picture is drawn [°C].
    """
    return dict(_field_rows(picture, across))


def _field_rows(
    picture: PsychrometricPicture, across: tuple[float, float]
) -> Iterator[tuple[str, Line]]:
    temp, water = picture.temp_edges_c, picture.ratio_edges_kg_kg * PER_G
    total, (left, right) = picture.hours.sum(), across
    said = translated(N_("{temp}, {water} of water: {share} of the time, {spent}; about {rh}."))
    for number, hours in enumerate(picture.hours):
        seen = np.flatnonzero(hours > 0)
        if not seen.size:
            continue
        middles = (temp[seen] + temp[seen + 1]) / 2
        ratio = picture.ratio_edges_kg_kg[number : number + 2].mean()
        words = {
            "temp": [wording.span(temp[at], temp[at + 1], "°C", 1) for at in seen],
            "water": [wording.span(water[number], water[number + 1], "g/kg", 1)] * seen.size,
            "share": [wording.share(hours[at] / total) for at in seen],
            "spent": [wording.duration(hours[at]) for at in seen],
            "rh": [wording.rh(_rh_pct(one, ratio, picture.pressure_pa)) for one in middles],
        }
        # The script goes along hours; here a kelvin stands for a hundred.
        yield (
            f"water-{number}",
            Line(
                say=([said], []),
                places_h=100.0 * (middles - left),
                length_h=100.0 * (right - left),
                words={name: coded(found, {w: w for w in found}) for name, found in words.items()},
            ),
        )


def _rh_pct(temp_c: float, ratio_kg_kg: float, pressure_pa: float) -> float:
    """Return the humidity of air that holds so much water; from none to all it could hold."""
    scale = np.linspace(0.0, 100.0, 1001)
    held = humidity_ratio_kg_kg(temp_c, scale, pressure_pa=pressure_pa)
    return float(np.interp(ratio_kg_kg, held, scale))
