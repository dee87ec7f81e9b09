"""One cell of a register file: from text to a value and back."""

import math
import zoneinfo
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from enum import StrEnum
from typing import Any

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
YES_NO = {"yes": True, "no": False}
OPEN_ENDED = {0.0: "a number, 0 or more", float("-inf"): "a finite number"}
FLAGS = ("store", "on_loan", "sun_or_spot")


class CellError(ValueError):
    """A cell does not hold what its column holds; the text says what was expected."""


def value_of(file: str, column: str, text: str) -> Any:
    """Return the value of a cell that is not empty.

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
        return lambda text: YES_NO[_word(text, list(YES_NO))]
    if column == "grade":
        return lambda text: int(_word(text, ["0", "1", "2", "3", "4"]))
    if column == "channel":
        return lambda text: _word(text, ["rh_pct", "temp_c"])
    if (file, column) == ("sites.csv", "zone"):
        return _zone
    return str


def _word(text: str, known: list[str]) -> str:
    if text not in known:
        raise CellError("one of: " + ", ".join(known))
    return text


def _number(text: str, low: float, high: float) -> float:
    try:
        number = float(text)
    except ValueError:
        raise CellError("a number with a decimal point") from None
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


def _zone(text: str) -> str:
    try:
        zoneinfo.ZoneInfo(text)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        raise CellError("a time zone such as Europe/Vienna") from None
    return text
