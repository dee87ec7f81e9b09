"""Columns that nothing claimed: what their names are near to, and what their values could be."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from service.errors import Answer, QuestionError, remark
from service.ingest.axis import Sample
from service.ingest.columns import ALSO, READINGS, Column, columns_stated
from service.ingest.evidence import limit
from service.ingest.fields import MISSING_NUMBERS
from service.ingest.headings import Heading
from service.ingest.layout import Layout
from service.ingest.quantities import (
    WORDS,
    is_other,
    is_quality,
    near_quantity,
    quantity_of,
    words_of,
)
from service.ingest.sensorcolumns import is_named
from service.ingest.table import Floats
from service.ingest.timecolumns import heading_speaks
from service.ingest.units import unit_in, unit_of

_DEGREES = re.compile(r"[°º]\s?[CFK]?|(?<=[\s,(/\[_])[CFK]\W*$|[Cc]elsius|[Ff]ahrenheit|[Kk]elvin")
MOST_SHOWN = 6


@dataclass(frozen=True)
class Unclaimed:
    """A column that nothing claimed, with its numbers in some rows that follow one another."""

    heading: Heading
    values: Floats

    def known(self) -> Floats:
        """Return the numbers, without those that stand where a value is missing."""
        return self.values[np.isfinite(self.values) & ~np.isin(self.values, MISSING_NUMBERS)]

    def could_be(self, quantity: str) -> bool:
        """Return whether the values lie and move as the quantity's do."""
        known = self.known()
        if quantity == "temp_c" and _has_degrees(self.heading):
            return len(known) > 0
        if len(known) < limit("accept", "rows"):
            return False
        low, high = np.percentile(known, [5, 95])
        if quantity == "temp_c":
            within = limit("air", "temp_low") <= low and high <= limit("air", "temp_high")
        else:
            fraction = low >= 0.05 and high <= 1.05
            within = fraction or (limit("air", "rh_low") <= low and high <= 105.0)
        return bool(within) and moves(known) and len(np.unique(known)) > 2

    def could_be_kelvin(self) -> bool:
        """Return whether the values lie and move as temperatures in kelvin do."""
        return Unclaimed(self.heading, self.known() - 273.15).could_be("temp_c")

    def could_be_fahrenheit(self) -> bool:
        """Return whether the values lie and move as temperatures in degrees Fahrenheit do."""
        return Unclaimed(self.heading, (self.known() - 32) / 1.8).could_be("temp_c")

    def described(self) -> str:
        """Return its heading, and from where to where its values run."""
        known, shown = self.known(), self.heading.shown
        if not len(known):
            return remark(f"{shown!r} without numbers")
        return remark(f"{shown!r} from {known.min():g} to {known.max():g}")

    def spread(self) -> str:
        """Return from where to where the values run."""
        known = self.known()
        return remark(f"from {known.min():g} to {known.max():g}" if len(known) else "none")


def _has_degrees(heading: Heading) -> bool:
    """Return whether a heading states a unit of temperature."""
    return any(_DEGREES.search(text) for text in (*heading.texts, heading.unit))


def _by_unit(one: "Unclaimed") -> str:
    """Return the quantity that a column's unit speaks for, of a share only if it moves like one."""
    if _has_degrees(one.heading):
        return "temp_c"
    stated = [unit_in(text)[0] for text in (*one.heading.texts, one.heading.unit) if text]
    share = any(unit is not None and unit.name == "%" for unit in stated)
    return "rh_pct" if share and one.could_be("rh_pct") else ""


def moves(values: Floats) -> bool:
    """Return whether numbers go from one to the next as air does, rather than at random.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> moves(np.cumsum(rng.normal(size=200))), moves(rng.uniform(0, 100, 200))
    (True, False)
    """
    known = values[np.isfinite(values)]
    if len(known) < limit("air", "moves_rows"):
        return True
    mixed = np.random.default_rng(len(known)).permutation(known)
    at_random = float(np.mean(np.abs(np.diff(mixed))))
    return at_random == 0 or float(np.mean(np.abs(np.diff(known)))) <= (
        limit("air", "moves") * at_random
    )


def require_claimed(
    name: str,
    free: Sequence[Unclaimed],
    lacking: Sequence[str],
) -> None:
    """Raise if a column that nothing claimed may be a temperature or a humidity.

    Parameters
    ----------
    name : str
        The file's name, for messages.
    free : sequence of Unclaimed
        Columns of numbers that nothing claimed.
    lacking : sequence of str
        Which of temperature and humidity no column was taken for.

    Raises
    ------
    QuestionError
        With the evidence, and the readings to choose from.
    """
    near = [(one, q) for one in free if (q := near_to(one.heading) or _by_unit(one))]
    if near:
        raise _near_miss(name, *near[0]) if len(near) == 1 else _near_misses(name, near)
    for quantity in lacking if len(lacking) == 1 else ():
        like = [one for one in free if one.could_be(quantity)]
        if like:
            raise _could_be(name, quantity, like)


def require_temperature(name: str, columns: Sequence[Column], sure: set[int]) -> None:
    """Raise if there are two humidities, or a humidity and a dew point, and no temperature.

    Raises
    ------
    QuestionError
        If one of the two is rather a temperature whose heading was damaged.
    """
    by: dict[str, list[Column]] = {}
    for column in columns:
        by.setdefault(column.quantity, []).append(column)
    damp, dew = by.get("rh_pct", []), [*by.get("dew_point_c", []), *by.get("wet_bulb_c", [])]
    if by.get("temp_c") or not damp or {c.index for c in columns} <= sure:
        return
    alike = len(damp) > 1 and len({c.label.casefold() for c in damp}) == 1
    if not alike and not dew:
        return
    pairs = [(t, h) for t in (dew or damp) for h in damp if t != h][:MOST_SHOWN]
    answers = [
        Answer(
            f"temperature {t.heading!r}, humidity {h.heading!r}",
            {"temp_c": t.heading, "rh_pct": h.heading},
        )
        for t, h in pairs
    ]
    every = "+".join(c.heading for c in columns)
    answers.append(Answer("there is no temperature in the file", {"sure": every}))
    raise QuestionError(
        read=name,
        where="headings",
        found="no temperature beside " + ", ".join(repr(c.heading) for c in (*damp, *dew)),
        expected="a temperature, or to be told that there is none",
        action="Say it: " + " or ".join(answer.options() for answer in answers) + ".",
        answers=answers,
    )


def require_no_rival(name: str, columns: Sequence[Column], free: Sequence[Unclaimed]) -> None:
    """Raise if a per cent sign alone made a column the humidity, and another moves as one too.

    Raises
    ------
    QuestionError
        With both: a battery's charge is a per cent as well.
    """
    bare = [c for c in columns if c.quantity == "rh_pct" and not c.stated]
    bare = [c for c in bare if re.fullmatch(r"\W*%\W*", c.heading)]
    rivals = [one for one in free if one.could_be("rh_pct")]
    if len(bare) != 1 or not rivals:
        return
    names = [bare[0].heading, *(one.heading.shown for one in rivals[:MOST_SHOWN])]
    answers = [
        Answer(f"{text!r} is the relative humidity",
               {"rh_pct": text, "aside": "+".join(o for o in names if o != text)})
        for text in names
    ]  # fmt: skip
    raise QuestionError(
        read=name,
        where="columns " + " and ".join(map(repr, names)),
        found=f"a per cent sign alone above one, and values {rivals[0].spread()} that move as a "
        "humidity does in another",
        expected="to know which is the relative humidity",
        action="Say it: " + " or ".join(answer.options() for answer in answers) + ".",
        answers=answers,
    )


def require_motion(name: str, column: Column, values: Floats) -> None:
    """Raise if a column with next to no name has numbers that jump about as no air does.

    Raises
    ------
    QuestionError
        With the values, and the readings to choose from.
    """
    words = words_of(unit_in(column.heading)[1])
    if column.stated or (words and column.quantity != "rh_pct") or len(words) > 1 or moves(values):
        return
    known = values[np.isfinite(values)]
    answers = (
        Answer(f"it is the {WORDS[column.quantity]}", {column.quantity: column.heading}),
        Answer("it is something else", {"aside": column.heading}),
    )
    raise QuestionError(
        read=name,
        where=f"column {column.heading!r}",
        found=f"values from {known.min():g} to {known.max():g} that jump about as no air does",
        expected=f"to know whether it is the {WORDS[column.quantity]}",
        action=f"Say it: {answers[0].options()}, or leave it aside: {answers[1].options()}.",
        answers=answers,
    )


def unclaimed(
    layout: Layout,
    headings: Sequence[Heading],
    sample: Callable[[], Sample],
    taken: set[int],
    stated: Mapping[str, str],
    sensors: Sequence[Heading] = (),
) -> list[Unclaimed]:
    """Return the columns of numbers that nothing claimed, and no person set aside.

    Values of several ``sensors`` stand one sensor after another.
    """
    aside = columns_stated(headings, stated, "aside")
    free = [
        heading
        for heading in headings
        if heading.index not in taken | aside
        and layout.kinds[heading.index] == "number"
        and not _is_known(heading)
    ]
    if not free:
        return []
    keys = list(zip(*(sample().column(h.index) for h in sensors), strict=True))
    order = sorted(range(len(sample().rows)), key=lambda row: keys[row] if keys else ())
    found = [Unclaimed(h, sample().table.numbers[h.index][order]) for h in free]
    return [one for one in found if heading_speaks(one.heading) < 1.0 or not _may_tell_time(one)]


def _may_tell_time(one: Unclaimed) -> bool:
    """Return whether the numbers below a word of time can be parts of one, or counts of it.

    A heading such as "h" may stand above humidity too: its numbers then are no hours, and move.
    """
    known = one.known()
    rising = bool(np.all(np.diff(known) >= 0)) or bool(np.all(np.diff(known) <= 0))
    parts = bool(np.all(known % 1 == 0)) and known.max(initial=0.0) <= 24
    return rising or parts or not moves(known)


def _is_known(heading: Heading) -> bool:
    """Return whether a heading names something known that is neither warmth nor moisture."""
    for text in heading.texts:
        unit, bare = unit_in(text)
        words = words_of(bare) or words_of(text)
        if is_quality(words) or is_other(words) or quantity_of(words) not in (None, *READINGS):
            return True
        if unit is not None and unit.family not in ("temperature", "share"):
            return True
    cell = unit_of(heading.unit) if heading.unit else None
    if cell is not None and cell.family not in ("temperature", "share"):
        return True
    counts = any(
        w in ("#", "no", "nr", "id", "index", "number") for w in map(words_of, heading.texts)
    )
    place = is_named(heading) and _numbered(heading) and not near_to(heading)
    place = place and not any(unit_in(text)[0] for text in heading.texts)
    return counts or place


def _numbered(heading: Heading) -> bool:
    """Return whether a heading speaks of sensors without a number of its own."""
    return not any(character.isdecimal() for text in heading.texts for character in text)


def near_to(heading: Heading) -> str:
    """Return the quantity to whose word a heading is near without being it, or "".

    Examples
    --------
    >>> [near_to(Heading(0, t, (t,))) for t in ("Tempertaure", "Humidty %", "Channel 1")]
    ['temp_c', 'rh_pct', '']
    """
    for text in heading.texts:
        words = words_of(unit_in(text)[1])
        for token in [*words.split(), words.replace(" ", "")]:
            quantity = near_quantity(token)
            if quantity:
                return quantity
    return ""


def _near_miss(name: str, one: Unclaimed, quantity: str) -> QuestionError:
    shown = one.heading.shown
    answers = (
        Answer(f"it is the {WORDS[quantity]}", {ALSO[quantity]: shown}),
        Answer("it is something else", {"aside": shown}),
    )
    return QuestionError(
        read=name,
        where=f"column {shown!r}",
        found=f"a heading near to {WORDS[quantity]}, or in its unit, above values {one.spread()}",
        expected="to know whether it is that",
        action=f"Say it: {answers[0].options()}, or leave it aside: {answers[1].options()}.",
        answers=answers,
    )


def _near_misses(name: str, near: Sequence[tuple[Unclaimed, str]]) -> QuestionError:
    """Return the question about several columns at once: all, one alone, or none of them."""
    named: dict[str, str] = {}
    for one, quantity in near:
        key, shown = ALSO[quantity], one.heading.shown
        named[key] = f"{named[key]}+{shown}" if key in named else shown
    every = "+".join(one.heading.shown for one, _ in near)
    words = ", ".join(f"{one.heading.shown!r} {WORDS[q]}" for one, q in near[:MOST_SHOWN])
    more = f" and {len(near) - MOST_SHOWN} more" if len(near) > MOST_SHOWN else ""
    answers = [
        Answer(f"each is what its heading is near to: {words}{more}", named),
        Answer("none of them is a reading of the air", {"aside": every}),
    ]
    for one, quantity in near[:MOST_SHOWN]:
        shown = one.heading.shown
        others = "+".join(o.heading.shown for o, _ in near if o is not one)
        alone = {ALSO[quantity]: shown, "aside": others}
        answers.append(Answer(f"only {shown!r}, as {WORDS[quantity]}", alone))
    found = "; ".join(one.described() for one, _ in near[:MOST_SHOWN])
    return QuestionError(
        read=name,
        where=f"{len(near)} columns",
        found=f"headings near to temperature or humidity, or in their units: {found}{more}",
        expected="to know whether each is what its heading is near to",
        action="Say it: " + " or ".join(answer.options() for answer in answers[:2]) + ".",
        answers=answers,
    )


def _could_be(name: str, quantity: str, like: Sequence[Unclaimed]) -> QuestionError:
    shown = [one.heading.shown for one in like[:MOST_SHOWN]]
    answers = [Answer(f"{text!r} is the {WORDS[quantity]}", {quantity: text}) for text in shown]
    answers.append(Answer("there is none in the file", {"aside": "+".join(
        one.heading.shown for one in like)}))  # fmt: skip
    values = "; ".join(one.described() for one in like[:MOST_SHOWN])
    return QuestionError(
        read=name,
        where="headings",
        found=f"no column named for {WORDS[quantity]}, but values that move as one: {values}",
        expected=f"to know whether it is the {WORDS[quantity]}",
        action="Say it: " + " or ".join(answer.options() for answer in answers) + ".",
        answers=answers,
    )


def neither_named(name: str, like: Sequence[Unclaimed], other_than: str) -> QuestionError | None:
    """Return the question which of some unnamed columns is which, or None without evidence.

    ``other_than`` is what else was found of the columns.
    """
    warm = [one for one in like if one.could_be("temp_c")]
    damp = [one for one in like if one.could_be("rh_pct")]
    if not warm:
        return _in_other_units(name, like, damp, other_than)
    pairs = [(t, h) for t in warm for h in damp if t.heading != h.heading]
    pairs.sort(key=lambda pair: abs(_middle(pair[0]) - 21.0) + abs(_middle(pair[1]) - 48.0) / 2)
    answers = [
        Answer(f"temperature {t.heading.shown!r}, humidity {h.heading.shown!r}",
               {"temp_c": t.heading.shown, "rh_pct": h.heading.shown})
        for t, h in pairs[:MOST_SHOWN]
    ]  # fmt: skip
    others = [one for one in damp if one not in warm]
    if 1 < len(warm) == len(others):
        several = {
            "temp_c": "+".join(one.heading.shown for one in warm),
            "rh_pct": "+".join(one.heading.shown for one in others),
        }
        answers.insert(0, Answer(f"{len(warm)} sensors, in the order of their columns", several))
    answers += [
        Answer(f"temperature {one.heading.shown!r} alone", {"temp_c": one.heading.shown})
        for one in (warm if not pairs else ())[:MOST_SHOWN]
    ]
    shown = [one for one in like if one in warm or one in damp]
    return _which_is_which(name, _unnamed(like), shown, other_than, answers)


def _in_other_units(
    name: str, like: Sequence[Unclaimed], damp: Sequence[Unclaimed], other_than: str
) -> QuestionError | None:
    """Return the question which column is a temperature in K or °F, and which the humidity."""
    kelvin = [(one, "K") for one in like if one.could_be_kelvin()]
    other = [(one, "°F") for one in like if one.could_be_fahrenheit()]
    warm = kelvin or (other if len(damp) > 1 else [])
    answers = [
        Answer(f"temperature {t.heading.shown!r} in {unit}, humidity {h.heading.shown!r}",
               {"temp_c": f"{t.heading.shown} [{unit}]", "rh_pct": h.heading.shown})
        for t, unit in warm for h in damp if t.heading != h.heading
    ]  # fmt: skip
    shown = [one for one in like if one in damp or any(one is t for t, _ in warm)]
    return _which_is_which(name, _unnamed(like), shown, other_than, answers[:MOST_SHOWN])


def _which_is_which(
    name: str,
    lacking: str,
    shown: Sequence[Unclaimed],
    other_than: str,
    answers: Sequence[Answer],
) -> QuestionError | None:
    if not answers:
        return None
    values = "; ".join(one.described() for one in shown[:MOST_SHOWN])
    return QuestionError(
        read=name,
        where="headings",
        found=f"{lacking}, but values that may be: {values}{other_than}",
        expected="to know which is which",
        action="Say it: " + " or ".join(answer.options() for answer in answers[:2]) + ".",
        answers=answers,
    )


def _unnamed(like: Sequence[Unclaimed]) -> str:
    if any(one.heading.name for one in like):
        return remark("no column named for temperature or humidity")
    return remark("columns without headings")


def _middle(one: Unclaimed) -> float:
    return float(np.nanmedian(one.values))
