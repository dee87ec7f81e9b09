"""Columns that are not what they say: checked against the air beside them, and asked about."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.air.moist_air import absolute_humidity_g_m3, dew_point_c, vapour_pressure_pa
from service.errors import Answer, QuestionError
from service.ingest.columns import Column
from service.ingest.evidence import limit
from service.ingest.plausibility import Judged
from service.ingest.quantities import WORDS
from service.ingest.table import Floats, Table

LEAST_ROWS = 8
LOOKED_AT = 5_000
Wide = Mapping[str, Mapping[str, Judged]]


@dataclass(frozen=True)
class Doubt:
    """What speaks against a column, and the answers that would settle it."""

    found: str
    expected: str
    answers: tuple[Answer, ...]

    def question(self, name: str, headings: Sequence[str]) -> QuestionError:
        """Return the doubt as a question."""
        return QuestionError(
            read=name,
            where="column " + " and ".join(map(repr, headings)),
            found=self.found,
            expected=self.expected,
            action="Say which: "
            + "; ".join(f"{a.options()} ({a.words})" for a in self.answers)
            + ".",
            answers=self.answers,
        )


@dataclass(frozen=True)
class Beside:
    """The columns of one sensor: how each was judged, and some of its values."""

    judged: Mapping[str, Judged]
    values: Mapping[str, Floats]

    def heading(self, quantity: str) -> str:
        """Return the heading of a quantity's column."""
        return self.judged[quantity].column.heading

    def answers(self, *first: Answer, of: str) -> tuple[Answer, ...]:
        """Return answers with the two that always stand: leave it aside, or it is right."""
        heading = self.heading(of)
        aside = Answer(f"{heading!r} is left aside", {"aside": heading})
        return (*first, aside, Answer(f"{heading!r} is what it says", {"sure": heading}))


def require_what_they_say(name: str, wide: Wide, table: Table, sure: set[int]) -> None:
    """Raise if a column contradicts the air beside it.

    Parameters
    ----------
    name : str
        The file's name, for messages.
    wide : mapping of str to mapping of str to Judged
        The columns of each sensor.
    table : Table
        Their numbers.
    sure : set of int
        Columns that a person vouches for.

    Raises
    ------
    QuestionError
        With the evidence, and the readings to choose from.
    """
    for quantities in wide.values():
        some = {
            quantity: judged.values(_some(table.numbers[judged.column.index]))
            for quantity, judged in quantities.items()
        }
        beside = Beside(quantities, some)
        for check in (_the_same, _dew_point, _vapour):
            for quantity, doubt in check(beside):
                if quantities[quantity].column.index not in sure:
                    raise doubt.question(name, [beside.heading(quantity)])


def _some(values: Floats) -> Floats:
    return values[:: max(1, len(values) // LOOKED_AT)]


def _known(*columns: Floats) -> Iterator[Floats]:
    good = np.logical_and.reduce([np.isfinite(column) for column in columns])
    return (column[good] for column in columns)


def _the_same(air: Beside) -> Iterator[tuple[str, Doubt]]:
    """Doubt a humidity that is the temperature over again."""
    if not {"temp_c", "rh_pct"} <= set(air.values):
        return
    temp, rh = _known(air.values["temp_c"], air.values["rh_pct"])
    if len(temp) < LEAST_ROWS or len(np.unique(temp)) < limit("accept", "rows"):
        return
    if np.mean(temp == rh) < limit("air", "same"):
        return
    yield (
        "rh_pct",
        Doubt(
            f"the same numbers as {air.heading('temp_c')!r} in every row, "
            f"from {rh.min():g} to {rh.max():g}",
            "a humidity of its own",
            air.answers(
                Answer("it is the humidity, the other no temperature",
                       {"rh_pct": air.heading("rh_pct"), "aside": air.heading("temp_c")}),
                of="rh_pct",
            ),
        ),
    )  # fmt: skip


# Readings of a temperature column under another unit than the one it was given.
_UNITS: dict[str, Callable[[Floats], Floats]] = {
    "°F": lambda celsius: (celsius - 32.0) / 1.8,
    "°C": lambda celsius: celsius * 1.8 + 32.0,
}


def _dew_point(air: Beside) -> Iterator[tuple[str, Doubt]]:
    """Doubt a dew point that temperature and humidity beside it do not have."""
    if not {"temp_c", "rh_pct", "dew_point_c"} <= set(air.values):
        return
    temp, rh, dew = _known(*(air.values[q] for q in ("temp_c", "rh_pct", "dew_point_c")))
    # Below freezing some loggers write the frost point.
    wet = (dew > 0) & (rh > 1) & (rh <= 105) & (temp > -60) & (temp < 100)
    temp, rh, dew = temp[wet], rh[wet], dew[wet]
    if len(temp) < LEAST_ROWS or _apart(temp, rh, dew) <= limit("air", "beside_c"):
        return
    expected = f"about {np.median(dew_point_c(temp, np.clip(rh, 1, 100))):.1f} °C"
    found = (
        f"a dew point of about {np.median(dew):.1f} °C, where {air.heading('temp_c')!r} and "
        f"{air.heading('rh_pct')!r} make {expected}"
    )
    first = _explanations(air, temp, rh, dew)
    yield (
        "dew_point_c",
        Doubt(found, "three quantities of the same air", air.answers(*first, of="dew_point_c")),
    )


def _apart(temp: Floats, rh: Floats, dew: Floats) -> float:
    """Return the usual distance between a dew point written and one worked out [K]."""
    good = (rh > 1) & (rh <= 105) & (temp > -60) & (temp < 95)
    if np.count_nonzero(good) < max(LEAST_ROWS, 0.5 * len(good)):
        return np.inf
    worked_out = dew_point_c(temp[good], np.clip(rh[good], 1, 100))
    return float(np.median(np.abs(worked_out - dew[good])))


def _explanations(air: Beside, temp: Floats, rh: Floats, dew: Floats) -> Iterator[Answer]:
    """Return the answers under which the three agree."""
    near, names = limit("air", "beside_c"), {q: air.heading(q) for q in air.judged}
    if _apart(rh, temp, dew) <= near:
        yield Answer(
            "temperature and humidity are exchanged",
            {"temp_c": names["rh_pct"], "rh_pct": names["temp_c"]},
        )
    for unit, other in _UNITS.items():
        if _apart(other(temp), rh, dew) <= near:
            yield Answer(f"the temperature is in {unit}", {"temp_c": f"{names['temp_c']} [{unit}]"})
        if _apart(temp, rh, other(dew)) <= near:
            stated = {"dew_point_c": f"{names['dew_point_c']} [{unit}]"}
            yield Answer(f"the dew point is in {unit}", stated)
        if _apart(other(temp), rh, other(dew)) <= near:
            stated = {q: f"{names[q]} [{unit}]" for q in ("temp_c", "dew_point_c")}
            yield Answer(f"both are in {unit}", stated)


# What a column called absolute humidity may be, in the unit in which it is then written.
_VAPOUR: dict[tuple[str, str], Callable[[Floats, Floats], Floats]] = {
    ("vapour_pressure_pa", "kPa"): lambda t, rh: vapour_pressure_pa(t, rh) / 1000.0,
    ("vapour_pressure_pa", "hPa"): lambda t, rh: vapour_pressure_pa(t, rh) / 100.0,
    ("vapour_pressure_pa", "mmHg"): lambda t, rh: vapour_pressure_pa(t, rh) / 133.322,
    ("humidity_ratio_kg_kg", "g/kg"): lambda t, rh: 622.0 * vapour_pressure_pa(t, rh) / 101_325.0,
    ("dew_point_c", "°C"): lambda t, rh: dew_point_c(t, rh),
}


def _vapour(air: Beside) -> Iterator[tuple[str, Doubt]]:
    """Doubt an absolute humidity that temperature and humidity beside it do not have."""
    if not {"temp_c", "rh_pct", "absolute_humidity_g_m3"} <= set(air.values):
        return
    temp, rh, held = _known(
        *(air.values[q] for q in ("temp_c", "rh_pct", "absolute_humidity_g_m3"))
    )
    good = (rh > 1) & (rh <= 100) & (temp > -40) & (temp < 95)
    temp, rh, held = temp[good], rh[good], held[good]
    if len(temp) < LEAST_ROWS:
        return
    right = absolute_humidity_g_m3(temp, rh)
    if _off(held, right) <= limit("air", "beside_share"):
        return
    heading = air.heading("absolute_humidity_g_m3")
    answers = [
        Answer(f"it is the {WORDS[quantity]} in {unit}", {quantity: f"{heading} [{unit}]"})
        for (quantity, unit), work_out in _VAPOUR.items()
        if _off(held, work_out(temp, rh)) <= limit("air", "beside_share")
    ]
    found = (
        f"an absolute humidity of about {np.median(held):.3g} g/m³, where temperature and "
        f"humidity beside it make {np.median(right):.3g} g/m³"
    )
    yield (
        "absolute_humidity_g_m3",
        Doubt(
            found,
            "the water in the same air",
            air.answers(*answers, of="absolute_humidity_g_m3"),
        ),
    )


def _off(found: Floats, expected: Floats) -> float:
    """Return the usual difference as a share of what is expected."""
    return float(np.median(np.abs(found - expected) / np.maximum(np.abs(expected), 1e-9)))


def require_not_exchanged(
    name: str, columns: Sequence[Column], table: Table, sure: set[int]
) -> None:
    """Raise if a temperature warmer than rooms stands beside a humidity like a room's warmth.

    Raises
    ------
    QuestionError
        With the readings to choose from. Units are not yet settled here.
    """
    by = {q: [c for c in columns if c.quantity == q] for q in ("temp_c", "rh_pct")}
    if any(len(found) != 1 for found in by.values()):
        return
    warm, damp = by["temp_c"][0], by["rh_pct"][0]
    if warm.index in sure or (warm.unit is not None and warm.unit.name != "°C"):
        return
    temp, rh = _known(_some(table.numbers[warm.index]), _some(table.numbers[damp.index]))
    if len(temp) < limit("accept", "rows"):
        return
    low, high = np.percentile(rh, [5, 95])
    quarter, most = np.percentile(temp, [25, 95])
    hot = 0.9 * limit("air", "temp_high")
    if not (quarter >= hot and most <= 105 and low > 2 and high <= limit("air", "temp_high")):
        return
    swap = Answer("the two are exchanged", {"temp_c": damp.heading, "rh_pct": warm.heading})
    degrees = Answer("the temperature is in °F", {"unit": f"{warm.heading} [°F]"})
    right = Answer("both are what they say", {"sure": f"{warm.heading}+{damp.heading}"})
    doubt = Doubt(
        f"temperatures from {temp.min():g} to {temp.max():g} beside a humidity from "
        f"{rh.min():g} to {rh.max():g}, as if they were exchanged",
        "a temperature that rooms have",
        (swap, *([degrees] if warm.unit is None else []), right),
    )
    raise doubt.question(name, [warm.heading, damp.heading])
