"""One cell of a register file: from text to a value and back."""

import math
import re
import zoneinfo
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from enum import StrEnum
from typing import Any

from analysis.errors import StilltautError
from analysis.simulation.drawn_parameters import BUILD_FACTS, UNITS
from analysis.works import (
    Adhesive,
    Finish,
    FrameBuild,
    Glazing,
    Grain,
    Mount,
    Panel,
    Paper,
    Wall,
)
from service.ingest.timebase import time_base
from service.storage.events import EventKind
from service.storage.loggers import Place

PERCENT = (0.0, 100.0)
AIR_C = (-60.0, 80.0)
POSITIVE = (1e-9, float("inf"))
ANY = (float("-inf"), float("inf"))

NUMBERS: Mapping[str, tuple[float, float]] = {
    "altitude_m": (-500.0, 9000.0),
    "rh_low_pct": PERCENT,
    "rh_high_pct": PERCENT,
    "temp_low_c": AIR_C,
    "temp_high_c": AIR_C,
    "interval_s": POSITIVE,
    "read_1": ANY,
    "true_1": ANY,
    "read_2": ANY,
    "true_2": ANY,
    "uncertainty": (0.0, float("inf")),
    "width_mm": POSITIVE,
    "height_mm": POSITIVE,
    "hinge_free_length_mm": (0.0, float("inf")),
    "hinge_coverage": (0.0, 1.0),
    "mounted_rh_pct": PERCENT,
    "mounted_temp_c": AIR_C,
    "closing_rh_pct": PERCENT,
    "spacer_mm": (0.0, float("inf")),
    "value": ANY,
    "low": ANY,
    "high": ANY,
    "wave_mm": (0.0, float("inf")),
}
CHOICES: Mapping[str, type[StrEnum]] = {
    "paper": Paper,
    "finish": Finish,
    "grain": Grain,
    "mount": Mount,
    "panel": Panel,
    "adhesive": Adhesive,
    "frame": FrameBuild,
    "glazing": Glazing,
    "wall": Wall,
    "kind": EventKind,
}
# The same word heads different columns in these files.
FILE_CHOICES: Mapping[tuple[str, str], type[StrEnum]] = {("placements.csv", "place"): Place}
# As people write it, and as spreadsheets do.
YES_NO = {"yes": True, "no": False, "true": True, "false": False, "1": True, "0": False}
OPEN_ENDED = {0.0: "a number, 0 or more", float("-inf"): "a finite number"}
FLAGS = ("store", "on_loan", "sun_or_spot", "conditioned", "released")
# What a line is called; it stands in addresses, and must not be taken for another page there.
NAMES = (
    ("sites.csv", "site"),
    ("rooms.csv", "room"),
    ("loggers.csv", "logger"),
    ("works.csv", "work_id"),
)
LONGEST_NAME = 80
TAKEN_NAMES = ("new", ".", "..")
POINT = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", re.IGNORECASE)
COMMA = re.compile(r"[+-]?(\d+,?\d*|,\d+)(e[+-]?\d+)?", re.IGNORECASE)


class CellError(ValueError):
    """A cell does not hold what its column holds; the text says what was expected."""


def value_of(file: str, column: str, text: str, *, decimal_comma: bool = False) -> Any:
    """Return the value of a cell that is not empty.

    Parameters
    ----------
    decimal_comma : bool
        Whether numbers are written with a decimal comma.

    Raises
    ------
    CellError
        If the text is not of the column's kind. Its message says what was expected.

    Examples
    --------
    >>> value_of("works.csv", "width_mm", "600")
    600.0
    >>> value_of("frames.csv", "closed_utc", "2025-03-01").isoformat()
    '2025-03-01T00:00:00+00:00'
    """
    if decimal_comma and column in NUMBERS:
        return _number(_with_point(text), *NUMBERS[column])
    return _reader(file, column)(text)


def text_of(value: Any) -> str:
    """Return a value as it stands in a cell; `value_of` gives it back."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return _time_text(value.astimezone(UTC))
    if isinstance(value, float):
        return repr(value).removesuffix(".0")
    return str(value)


def _time_text(time: datetime) -> str:
    if not (time.hour or time.minute or time.second or time.microsecond):
        return f"{time:%Y-%m-%d}"
    short = time.second == 0 and time.microsecond == 0
    return time.isoformat(timespec="minutes" if short else "auto").replace("+00:00", "Z")


def _reader(file: str, column: str) -> Callable[[str], Any]:
    choices = FILE_CHOICES.get((file, column)) or CHOICES.get(column)
    if choices is not None:
        return lambda text: _word(text, [str(choice) for choice in choices])
    if column in NUMBERS:
        return lambda text: _number(text, *NUMBERS[column])
    if column.endswith("_utc") or column in ("band_since", "band_review"):
        return _time
    if column in FLAGS:
        return _yes_no
    if column == "grade":
        return lambda text: int(_word(text, ["0", "1", "2", "3", "4"]))
    if (file, column) == ("overrides.csv", "name"):
        return lambda text: _word(text, [*UNITS, *BUILD_FACTS])
    if column == "channel":
        return lambda text: _word(text, ["rh_pct", "temp_c"])
    if (file, column) == ("sites.csv", "zone"):
        return _zone
    if (file, column) == ("loggers.csv", "zone"):
        return _clock
    return _name if (file, column) in NAMES else str


def _word(text: str, known: list[str]) -> str:
    """Return one of the known words, whatever capitals it was written with."""
    plain = " ".join(text.split()).casefold()
    for word in known:
        if word.casefold() == plain:
            return word
    raise CellError("one of: " + ", ".join(known))


def _yes_no(text: str) -> bool:
    try:
        return YES_NO[_word(text, list(YES_NO))]
    except CellError:
        raise CellError("one of: yes, no") from None


def _name(text: str) -> str:
    """Return a name that can stand in an address."""
    bad = not text.isprintable() or any(sign in text for sign in "/\\?#")
    if bad or text.casefold() in TAKEN_NAMES or len(text) > LONGEST_NAME:
        raise CellError(
            f"a name of at most {LONGEST_NAME} signs, without / \\ ? #, other than 'new'; "
            "for example 2018.07 in place of 2018/07"
        )
    return text


def _with_point(text: str) -> str:
    """Return a number written with a decimal comma as one with a point."""
    if not COMMA.fullmatch(text):
        raise CellError("a number with a decimal comma, nothing between thousands")
    return text.replace(",", ".")


def _number(text: str, low: float, high: float) -> float:
    if not POINT.fullmatch(text) and text.lower() not in ("nan", "inf", "-inf"):
        raise CellError("a number with a decimal point, nothing between thousands")
    number = float(text)
    if not (low <= number <= high and math.isfinite(number)):
        if high == float("inf"):
            raise CellError(OPEN_ENDED.get(low, "a number above 0"))
        raise CellError(f"a number from {low:g} to {high:g}")
    return number


def _time(text: str) -> datetime:
    try:
        time = datetime.fromisoformat(text)
    except ValueError:
        raise CellError("a time such as 2025-03-01T09:30Z, or a date") from None
    return time.replace(tzinfo=UTC) if time.tzinfo is None else time.astimezone(UTC)


def _clock(text: str) -> str:
    try:
        time_base("loggers.csv", text)
    except StilltautError:
        raise CellError("a clock such as Europe/Dublin, UTC or +01:00") from None
    return text


def _zone(text: str) -> str:
    try:
        zoneinfo.ZoneInfo(text)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        raise CellError("a time zone such as Europe/Vienna") from None
    return text
