"""One cell of a register's file, one input of its forms: from text to a value and back."""

import math
import re
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from typing import Any, Literal

from analysis.records.declaration import Field, Kind, Span, plain_number

# As people write it, and as spreadsheets do.
YES_NO = {"yes": True, "no": False, "true": True, "false": False, "1": True, "0": False}
# Units that may stand behind a number, and what one of them is in the field's own.
LENGTHS = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "inch": 25.4, "inches": 25.4, '"': 25.4}
OTHER_UNITS: Mapping[str, Mapping[str, float]] = {
    "mm": LENGTHS,
    "%RH": {"%rh": 1.0, "%": 1.0, "% rh": 1.0, "rh": 1.0, "per cent": 1.0},
    "%": {"%": 1.0, "per cent": 1.0},
    "°C": {"°c": 1.0, "c": 1.0},
    "s": {"s": 1.0, "min": 60.0, "h": 3600.0},
    "h": {"h": 1.0, "hours": 1.0, "days": 24.0, "min": 1.0 / 60.0},
    "days": {"days": 1.0, "day": 1.0, "h": 1.0 / 24.0, "weeks": 7.0},
    "m": {"m": 1.0},
}
NUMBER = r"[+\-−]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][+\-]?\d+)?"
ONE = re.compile(rf"({NUMBER})\s*(.*)")
RANGE = re.compile(
    rf"({NUMBER})\s*([^\d.,+\-−–]*?)\s*(?:to|–|-|…|\.\.+|bis|and)\s*({NUMBER})\s*(.*)"
)
# 1,500 may be one and a half or fifteen hundred.
EITHER = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")
Mark = Literal["point", "comma", "either"]


class CellError(ValueError):
    """A cell does not hold what its field holds; the text says what was expected."""


def value_of(one: Field, text: str, *, mark: Mark = "point") -> Any:
    """Return the value of a text that is not empty.

    Parameters
    ----------
    mark : {'point', 'comma', 'either'}
        Which sign marks the decimals of numbers.

    Raises
    ------
    CellError
        If the text is not of the field's kind. Its message says what was expected.

    Examples
    --------
    >>> width = Field(label="Width", kind=Kind.NUMBER, unit="mm", low=10, high=20000)
    >>> value_of(width, "160 cm"), value_of(width, "1600,5", mark="comma")
    (1600.0, 1600.5)
    """
    value = READERS[one.kind](one, text, mark)
    if not one.sound(value):
        raise CellError(one.expected)
    return value


def text_of(value: Any) -> str:
    """Return a value as it stands in a cell; `value_of` gives it back."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return _time_text(value.astimezone(UTC))
    return plain_number(value) if isinstance(value, float) else str(value)


def _time_text(time: datetime) -> str:
    if not (time.hour or time.minute or time.second or time.microsecond):
        return f"{time:%Y-%m-%d}"
    short = time.second == 0 and time.microsecond == 0
    return time.isoformat(timespec="minutes" if short else "auto").replace("+00:00", "Z")


def _word(known: Mapping[str, Any], text: str, expected: str) -> Any:
    """Return what one of the known words stands for, whatever capitals it was written with."""
    plain = " ".join(text.split()).casefold()
    for word, value in known.items():
        if word.casefold() == plain:
            return value
    raise CellError(expected)


def _number(one: Field, text: str, mark: Mark) -> float | int | Span:
    single = ONE.fullmatch(text)
    between = RANGE.fullmatch(text) if one.may_be_range else None
    if between is not None and (single is None or _factor(one, single.group(2)) is None):
        first, unit, second, last = between.groups()
        low = _in_unit(one, first, unit or last, mark)
        return Span(low, _in_unit(one, second, last, mark))
    if single is None:
        raise CellError(one.expected)
    number = _in_unit(one, single.group(1), single.group(2), mark)
    return int(number) if one.whole and number == int(number) else number


def _factor(one: Field, unit: str) -> float | None:
    """Return what one of a unit is in the field's own; None where it is none of its units."""
    known = {one.unit.casefold(): 1.0, "": 1.0} | dict(OTHER_UNITS.get(one.unit, {}))
    return known.get(" ".join(unit.split()).casefold())


def _in_unit(one: Field, digits: str, unit: str, mark: Mark) -> float:
    """Return a number in the field's own unit, or raise `CellError`."""
    factor = _factor(one, unit)
    if factor is None:
        raise CellError(one.expected)
    if mark == "either" and EITHER.fullmatch(digits):
        plain = digits.replace(",", "")
        raise CellError(f"{plain} or {digits.replace(',', '.')}: the comma may mean either")
    wrong = "," if mark == "point" else "." if mark == "comma" else ""
    if wrong and wrong in digits:
        sign = "point" if mark == "point" else "comma"
        raise CellError(f"a number with a decimal {sign}, nothing between thousands")
    value = float(digits.replace(",", ".").replace("−", "-"))
    if not math.isfinite(value):
        raise CellError(one.expected)
    return value if factor == 1.0 else float(f"{factor * value:.12g}")


def _time(one: Field, text: str) -> datetime:
    try:
        time = datetime.fromisoformat(text)
        return time.replace(tzinfo=UTC) if time.tzinfo is None else time.astimezone(UTC)
    except (ValueError, OverflowError):
        raise CellError(one.expected) from None


def _choice(one: Field, text: str) -> str:
    return str(_word({value: value for value, _ in one.choices}, text, one.expected))


Reader = Callable[[Field, str, Mark], Any]
READERS: Mapping[Kind, Reader] = {
    Kind.TEXT: lambda _, text, __: text,
    Kind.NOTE: lambda _, text, __: text,
    Kind.NAME: lambda _, text, __: text,
    Kind.SHORT_NAME: lambda _, text, __: text,
    Kind.NUMBER: _number,
    Kind.CHOICE: lambda one, text, _: _choice(one, text),
    Kind.YES_NO: lambda one, text, _: _word(YES_NO, text, one.expected),
    Kind.WHEN: lambda one, text, _: _time(one, text),
    Kind.ZONE: lambda _, text, __: text,
    Kind.CLOCK: lambda _, text, __: text,
    Kind.TIME_OF_DAY: lambda _, text, __: text,
    Kind.REFERENCE: lambda _, text, __: text,
}
