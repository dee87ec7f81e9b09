"""What the values themselves say: a unit that is not written, a quantity that cannot be."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from service.errors import Answer, QuestionError, remark
from service.ingest.columns import Column
from service.ingest.evidence import limit
from service.ingest.fields import MISSING_NUMBERS
from service.ingest.quantities import FAMILY, POSSIBLE, WORDS, unit_for
from service.ingest.table import Floats
from service.ingest.units import UNITS, Unit

# Practice, no source: air where photographs, loggers and weather stations are is not warmer.
WARMEST_AIR_C = 60.0
COLDEST_AIR_C = -60.0
# Kelvin without a unit are believed only where people live.
COLDEST_KELVIN = 250.0
# No room's humidity has its middle below this; rain and counts have.
DRIEST_RH_PCT = 2.0
# What a thermometer may have written besides °C and °F.
OTHER_DEGREES = ("K", "0.1 °C", "0.1 °F")
# The least share of a column's values that must be possible for it to be the quantity.
POSSIBLE_SHARE = 0.5
# So many of the columns that a question is about are shown with their values.
MOST_SHOWN = 6


@dataclass(frozen=True)
class Judged:
    """A column with its unit settled, and how the unit is shown."""

    column: Column
    unit: Unit
    shown: str
    note: str = ""

    def values(self, written: Floats) -> Floats:
        """Return written numbers in the unit of the quantity's name, sentinels as NaN.

        They are the numbers themselves, no copy, where nothing of them changes.
        """
        values = self.plain(written)
        if values is written and not written.flags.writeable:
            values = written.copy()
        low, high = POSSIBLE[self.column.quantity]
        odd = np.flatnonzero((values < low) | (values > high))
        if len(odd):
            sentinel = np.isin(written[odd], MISSING_NUMBERS)
            values = values.copy() if values is written and sentinel.any() else values
            values[odd[sentinel]] = np.nan
        return values

    def plain(self, written: Floats) -> Floats:
        """Return written numbers in the unit of the quantity's name."""
        if self.unit.scale == 1.0 and self.unit.offset == 0.0:
            return written
        if self.unit.name in ("0.1 °C", "0.1 %"):
            return written / 10.0
        if self.unit.name in ("°F", "0.1 °F"):
            degrees = written if self.unit.name == "°F" else written / 10.0
            return (degrees - 32.0) * 5.0 / 9.0
        return written * self.unit.scale + self.unit.offset


@dataclass(frozen=True)
class Spread:
    """Where nine tenths of a column's numbers lie, their middle, and whether all are whole."""

    low: float
    middle: float
    high: float
    whole: bool

    @classmethod
    def of(cls, written: Floats) -> "Spread | None":
        """Return the spread of the numbers that are no sentinel, or None where there are none."""
        some = _some(written)
        some = some[np.isfinite(some) & ~np.isin(some, MISSING_NUMBERS)]
        if not len(some):
            return None
        aside = 0 if len(some) < 3 else max(1, len(some) // 20)
        inner = np.sort(some)[aside : len(some) - aside]
        whole = bool(np.all(some == np.round(some)))
        return cls(float(inner[0]), float(np.median(inner)), float(inner[-1]), whole)


def _some(written: Floats) -> Floats:
    """Return numbers from the whole length of a column, enough to judge it by."""
    return written[:: max(1, len(written) // 20_000)]


def judged(name: str, column: Column, written: Floats, beside: Unit | None = None) -> Judged | None:
    """Return a column with its unit settled, or None where the values cannot be the quantity.

    Parameters
    ----------
    name : str
        The file's name, for messages.
    column : Column
        A column taken for a quantity by its heading.
    written : numpy.ndarray, shape (n,)
        Its numbers as written.
    beside : Unit, optional
        The unit judged for the temperature beside a dew point without a stated unit.

    Raises
    ------
    QuestionError
        If the values contradict the stated unit, or fit two units.
    """
    spread = Spread.of(written)
    if spread is None:
        unit = column.unit or unit_for(column.quantity)
        return Judged(column, unit, unit.name if column.unit else f"{unit.name} (not stated)")
    if column.unit is None and beside is not None and FAMILY[column.quantity] == beside.family:
        settled = Judged(column, beside, f"{beside.name} (as the temperature)")
    elif column.unit is not None:
        settled = _stated(name, column, column.unit, spread)
    else:
        found = _from_values(name, column, spread)
        if found is None:
            return None
        settled = found
    return settled if column.stated or _possible(settled, written, spread) else None


def _stated(name: str, column: Column, unit: Unit, spread: Spread) -> Judged:
    """Return a column with its stated unit, unless no air has such values in it."""
    in_doubt = None if column.stated else _degrees_in_doubt(unit, spread)
    if in_doubt and column.quantity == "temp_c":
        raise _which_degrees(name, column, spread, remark(f"under the unit {unit.name}"), in_doubt)
    share_of_one = unit.name == "%" and 0 < spread.high <= 1.05 and not spread.whole
    if share_of_one and column.quantity == "rh_pct":
        raise QuestionError(
            read=name,
            where=f"column {column.heading!r}",
            found=f"values from {spread.low:g} to {spread.high:g} under the unit %",
            expected="relative humidity from 0 to 100 %, or a fraction from 0 to 1",
            action=f"Say which: --column unit='{column.heading} [fraction]' or "
            f"--column unit='{column.heading} [0.1 %]'.",
            answers=[
                Answer(f"in {unit}", {"unit": f"{column.heading} [{unit}]"})
                for unit in ("fraction", "0.1 %")
            ],
        )
    return Judged(column, unit, unit.name)


def _degrees_in_doubt(unit: Unit, spread: Spread) -> tuple[str, str] | None:
    """Return the two degrees between which the values leave a doubt, the likelier first."""
    if unit.name == "°F" and spread.low >= 5 and spread.high <= limit("air", "cold_f"):
        return ("°C", "°F")
    if unit.name == "°C" and spread.low >= limit("air", "temp_high") + 5:
        return ("°F", "°C")
    return None


def _which_degrees(
    name: str, column: Column, spread: Spread, where: str, likely: tuple[str, str]
) -> QuestionError:
    fits = [unit for unit in (*likely, *OTHER_DEGREES) if _air_can_have(unit, spread)]
    answers = [Answer(f"in {u}", {"unit": f"{column.heading} [{u}]"}) for u in fits]
    if not set(likely) & set(fits):
        # Air has such values in neither: it may be none, or be right all the same.
        answers.append(Answer("it is no temperature of the air", {"aside": column.heading}))
        stated = {"unit": f"{column.heading} [{likely[-1]}]"}
        answers.append(Answer(f"in {likely[-1]} all the same, kept in doubt", stated))
    return QuestionError(
        read=name,
        where=f"column {column.heading!r}",
        found=f"values from {spread.low:g} to {spread.high:g} {where}",
        expected="to know whether they are °C or °F: rooms are seldom warmer than 40 °C, and "
        "seldom always below freezing"
        if set(likely) & set(fits)
        else "to know what they are: air has such values neither in °C nor in °F",
        action="Say which: " + " or ".join(answer.options() for answer in answers) + ".",
        answers=answers,
    )


def _air_can_have(unit: str, spread: Spread) -> bool:
    """Return whether values in a unit of temperature are such as air can have."""
    column = Column(0, "", "temp_c", "", UNITS[unit])
    low, high = Judged(column, UNITS[unit], "").plain(np.array([spread.low, spread.high]))
    whole = spread.whole or not unit.startswith("0.1")
    return bool(whole and low >= COLDEST_AIR_C and high <= WARMEST_AIR_C)


def asked_once(doubts: Sequence[QuestionError]) -> QuestionError:
    """Return the first of some doubts about units, asked of all columns of which it is doubted.

    They are those between the same units; where the columns differ, each can be named alone.
    """
    first, words = doubts[0], [answer.words for answer in doubts[0].answers]
    alike = [one for one in doubts if [answer.words for answer in one.answers] == words]
    if len(alike) == 1:
        return first
    answers = [
        Answer(f"all {text}", {key: "+".join(one.answers[n].columns[key] for one in alike)})
        for n, text in enumerate(words)
        for key in first.answers[n].columns
    ]
    ranges = "; ".join(f"{one.where}: {one.found}" for one in alike[:MOST_SHOWN])
    return QuestionError(
        read=first.read,
        where=f"{len(alike)} columns",
        found=ranges + ("; …" if len(alike) > MOST_SHOWN else ""),
        expected=first.expected,
        action="Say which: "
        + " or ".join(answer.options() for answer in answers)
        + f". Where they differ, of each alone: {first.answers[0].options()}.",
        answers=answers,
    )


def _possible(settled: Judged, written: Floats, spread: Spread) -> bool:
    """Return whether most values can be the quantity at all."""
    quantity = settled.column.quantity
    if quantity == "rh_pct" and settled.plain(np.array([spread.middle]))[0] < DRIEST_RH_PCT:
        return False
    low, high = POSSIBLE[quantity]
    values = settled.values(_some(written))
    known = values[np.isfinite(values)]
    inside = np.count_nonzero((known >= low) & (known <= high))
    return bool(inside >= POSSIBLE_SHARE * len(known))


def _from_values(name: str, column: Column, spread: Spread) -> Judged | None:
    family = FAMILY[column.quantity]
    if family == "temperature":
        return _temperature(name, column, spread)
    if family == "share":
        return _share(column, spread)
    if family == "pressure":
        return _pressure(name, column, spread)
    if family == "ratio" and spread.high > 0.06:
        return _inferred(column, "g/kg", "")
    return Judged(
        column, unit_for(column.quantity), f"{unit_for(column.quantity).name} (not stated)"
    )


def _inferred(column: Column, unit: str, why: str) -> Judged:
    note = remark(f"{column.heading!r} states no unit; {why}, so it is read as {unit}.")
    note = note if why else ""
    return Judged(column, UNITS[unit], f"{unit} (judged from the values)", note)


def _temperature(name: str, column: Column, spread: Spread) -> Judged | None:
    """Return the temperature's unit: °C where that can be, else °F, tenths or kelvin."""
    low, high = spread.low, spread.high
    if (
        low >= 32
        and limit("air", "warm_f") <= high <= WARMEST_AIR_C
        and column.quantity == "temp_c"
    ):
        raise _which_degrees(name, column, spread, remark("without a unit"), ("°F", "°C"))
    if low >= COLDEST_AIR_C and high <= WARMEST_AIR_C:
        return Judged(column, UNITS["°C"], "°C (not stated)")
    values = remark(f"values from {low:g} to {high:g} are too warm for air in °C")
    as_f = [(x - 32.0) * 5.0 / 9.0 for x in (low, high)]
    if as_f[0] >= COLDEST_AIR_C and as_f[1] <= WARMEST_AIR_C:
        return _inferred(column, "°F", values)
    tenths = spread.whole and low >= 10 * COLDEST_AIR_C and high <= 10 * WARMEST_AIR_C
    kelvin = low >= COLDEST_KELVIN and high <= 273.15 + WARMEST_AIR_C
    if tenths and kelvin:
        raise QuestionError(
            read=name,
            where=f"column {column.heading!r}",
            found=f"whole numbers from {low:g} to {high:g} without a unit",
            expected="to know whether they are tenths of a degree or kelvin",
            action=f"Say it: --column unit='{column.heading} [0.1 °C]' or '… [K]'.",
            answers=[
                Answer(f"in {u}", {"unit": f"{column.heading} [{u}]"}) for u in ("0.1 °C", "K")
            ],
        )
    if tenths:
        return _inferred(column, "0.1 °C", values)
    return _inferred(column, "K", values) if kelvin else None


def _share(column: Column, spread: Spread) -> Judged | None:
    """Return the humidity's unit: %, a fraction, or tenths of a per cent."""
    if spread.low >= 0.0 and spread.high <= 1.05 and not spread.whole:
        return _inferred(
            column, "fraction", remark(f"values from {spread.low:g} to {spread.high:g}")
        )
    if spread.high <= POSSIBLE["rh_pct"][1]:
        return Judged(column, UNITS["%"], "% (not stated)")
    if spread.whole and spread.low >= 50 and spread.high <= 1050:
        return _inferred(
            column, "0.1 %", remark(f"whole numbers from {spread.low:g} to {spread.high:g}")
        )
    return None


def _pressure(name: str, column: Column, spread: Spread) -> Judged | None:
    fits = [
        unit
        for unit in ("hPa", "kPa", "Pa", "0.1 hPa", "mmHg", "inHg")
        if 60_000.0 <= spread.middle * UNITS[unit].scale <= 108_500.0
    ]
    if {"hPa", "mmHg"} <= set(fits) and column.quantity == "pressure_pa":
        raise QuestionError(
            read=name,
            where=f"column {column.heading!r}",
            found=f"a pressure near {spread.middle:g} without a unit",
            expected="to know whether it is mm of mercury, or hPa high in the mountains",
            action=f"Say which: --column unit='{column.heading} [mmHg]' or '… [hPa]'.",
            answers=[
                Answer(f"in {u}", {"unit": f"{column.heading} [{u}]"}) for u in ("mmHg", "hPa")
            ],
        )
    if column.quantity == "sea_level_pressure_pa" and "mmHg" in fits:
        fits = ["mmHg"]
    return _inferred(column, fits[0], remark(f"values near {spread.middle:g}")) if fits else None


def refused(column: Column, written: Floats) -> str:
    """Return the sentence that says why a column was not taken for its heading's quantity."""
    spread = Spread.of(written)
    values = f"from {spread.low:g} to {spread.high:g}" if spread else "none"
    return remark(
        f"{column.heading!r} is named like {WORDS[column.quantity]}, but its values ({values}) "
        "cannot be that; it is left aside."
    )
