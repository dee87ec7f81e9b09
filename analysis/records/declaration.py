"""One field of the register as plain data, and what follows from it: check and JSON schema."""

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import MISSING, dataclass, fields as dataclass_fields
from datetime import UTC, datetime
from enum import StrEnum
from functools import cache
from typing import Annotated, Any, get_args, get_type_hints
from unicodedata import category
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import pydantic

from analysis.errors import OutOfRangeError

LONGEST_NAME = 80
LONGEST_TEXT = 2000
# Photography begins in 1826; what is planned lies within the lives of its planners.
EARLIEST, LATEST = datetime(1826, 1, 1, tzinfo=UTC), datetime(2200, 1, 1, tzinfo=UTC)
ILLEGIBLE = ("Cc", "Zl", "Zp", "Cs")  # controls, ends of lines, halves of signs
OFFSET = re.compile(r"(utc|gmt|ut|z)?\s*([+\-−]\s*\d{1,2}(:?\d{2})?)?", re.IGNORECASE)
FIXED = re.compile(
    r"[\s,]+(no[-_ ]?dst|without (summer time|dst)|standard( time)?|winter time)$", re.IGNORECASE
)
TIME_OF_DAY = re.compile(r"([01]\d|2[0-3]):[0-5]\d")
ADDRESSES = (
    "new",
    "import",
    ".",
    "..",
)  # stand for other pages where the name of a record would stand


class Kind(StrEnum):
    """What a field holds."""

    TEXT = "text"
    NOTE = "note"  # text of several lines
    NAME = "name"  # names a record in addresses
    SHORT_NAME = "short name"  # the same, and a folder too
    NUMBER = "number"
    CHOICE = "choice"
    YES_NO = "yes or no"
    WHEN = "when"
    ZONE = "time zone"
    CLOCK = "clock"
    TIME_OF_DAY = "time of day"
    REFERENCE = "another record"


@dataclass(frozen=True)
class Span:
    """A number known as a range only: "about 40 to 55".

    Examples
    --------
    >>> str(Span(40.0, 55.5))
    '40 to 55.5'
    """

    low: float
    high: float

    @property
    def mid(self) -> float:
        """Middle of the range."""
        return (self.low + self.high) / 2.0

    def __str__(self) -> str:
        """Return it as it stands in a cell."""
        return f"{plain_number(self.low)} to {plain_number(self.high)}"


def plain_number(value: float) -> str:
    """Return a number to its last digit, as it stands in a cell.

    Examples
    --------
    >>> plain_number(48.0), plain_number(0.1)
    ('48', '0.1')
    """
    return repr(float(value)).removesuffix(".0")


class Field(pydantic.BaseModel):
    """One field: everything about it that is not code.

    Parameters
    ----------
    label : str
        What a form and a page call it.
    low, high : float
        Bounds of a number, both allowed; ``above`` says that ``low`` itself is not.
    choices : tuple of (str, str)
        For a choice: the word that is kept, and the words that are shown.
    example : str
        As it stands in a cell of a file.
    words : str
        What the column holds, where the label does not say it.
    without : str
        What it costs not to know, as the end of a sentence.
    needed : bool
        Whether it must be filled; else it may be unknown, or has a usual value. A file may leave
        it out all the same where ``needed_in_files`` is False: it is then the record's short name.
    may_be_unknown : bool
        Whether "not known" (None) is kept as such.
    empty : str
        What it means to leave it empty, in a few words.
    may_be_range : bool
        Whether a range may stand in place of the number.
    of : str
        For another record: its file.
    asked : bool
        Whether its form asks for it.
    since : str
        Release of the program from which the field exists; empty: from the first.
    """

    model_config = pydantic.ConfigDict(frozen=True, extra="forbid")

    label: str
    kind: Kind = Kind.TEXT
    name: str = ""
    unit: str = ""
    low: float = -math.inf
    high: float = math.inf
    above: bool = False
    whole: bool = False
    choices: tuple[tuple[str, str], ...] = ()
    example: str = ""
    words: str = ""
    help: str = ""
    without: str = ""
    needed: bool = False
    needed_in_files: bool = True
    may_be_unknown: bool = False
    empty: str = "not known"
    may_be_range: bool = False
    remember: bool = False
    asked: bool = True
    of: str = ""
    since: str = ""

    @property
    def expected(self) -> str:
        """What may stand in it, as the end of "expected …"."""
        return EXPECTED[self.kind](self)

    def type(self) -> Any:
        """Return the pydantic type of its values."""
        made = TYPES[self.kind](self)
        return made | None if self.may_be_unknown else made

    def sound(self, value: Any) -> bool:
        """Whether a value may stand in it."""
        try:
            _adapter(self).validate_python(value)
        except pydantic.ValidationError:
            return False
        return True


def _number_words(one: Field) -> str:
    kind = "a whole number" if one.whole else "a number"
    unit = f" {one.unit}" if one.unit else ""
    low, high = plain_number(one.low), plain_number(one.high)
    if math.isinf(one.low) and math.isinf(one.high):
        words = f"{kind}{f', in {one.unit}' if one.unit else ''}"
    elif one.above:
        words = f"{kind} above {low}, at most {high}{unit}"
    else:
        words = f"{kind} from {low} to {high}{unit}"
    return words + (", or a range such as 40 to 55" if one.may_be_range else "")


EXPECTED: Mapping[Kind, Callable[[Field], str]] = {
    Kind.TEXT: lambda _: f"text on one line, at most {LONGEST_TEXT} signs",
    Kind.NOTE: lambda _: f"text of at most {LONGEST_TEXT} signs",
    Kind.NAME: lambda _: f"a name of at most {LONGEST_NAME} signs on one line, other than 'new'",
    Kind.SHORT_NAME: lambda _: (
        f"a short name of at most {LONGEST_NAME} signs, without / \\ ? #, other than 'new'"
    ),
    Kind.NUMBER: _number_words,
    Kind.CHOICE: lambda one: "one of: " + ", ".join(value for value, _ in one.choices),
    Kind.YES_NO: lambda _: "one of: yes, no",
    Kind.WHEN: lambda _: (
        f"a time such as 2025-03-01T09:30Z, or a date, from {EARLIEST:%Y} to {LATEST:%Y}"
    ),
    Kind.ZONE: lambda _: "a time zone such as Europe/Vienna",
    Kind.CLOCK: lambda _: "a clock such as Europe/Dublin, UTC or +01:00",
    Kind.TIME_OF_DAY: lambda _: "a time of day such as 22:00",
    Kind.REFERENCE: lambda one: f"a name that stands in {one.of}",
}


def _require(fact: bool) -> None:
    if not fact:
        raise ValueError("not sound")


def _legible(value: str) -> bool:
    return all(category(sign) not in ILLEGIBLE for sign in value) and len(value) <= LONGEST_TEXT


def _one_line(value: str) -> str:
    _require(_legible(value))
    return value


def _filled_line(value: str) -> str:
    _require(bool(value.strip()))
    return _one_line(value)


def _lines(value: str) -> str:
    _require(_legible(value.replace("\r", "").replace("\n", "").replace("\t", "")))
    return value


def _name(value: str) -> str:
    _require(value.isprintable() and value == value.strip())
    _require(0 < len(value) <= LONGEST_NAME and value.casefold() not in ADDRESSES)
    return value


def _short_name(value: str) -> str:
    _require(not any(sign in value for sign in "/\\?#"))
    return _name(value)


def _clock(value: str) -> str:
    plain = FIXED.sub("", value.strip())
    return value if not plain or OFFSET.fullmatch(plain) else _zone(plain)


def _time_of_day(value: str) -> str:
    _require(not value or TIME_OF_DAY.fullmatch(value) is not None)
    return value


def _zone(value: str) -> str:
    try:
        ZoneInfo(value)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise ValueError("no zone") from None
    return value


def _within(value: datetime) -> datetime:
    _require(EARLIEST <= value <= LATEST)
    return value


def _number_type(one: Field) -> Any:
    whole: Any = int if one.whole else float
    least = {"gt": one.low} if one.above else {"ge": one.low}
    bounds: dict[str, float] = {
        k: v for k, v in (least | {"le": one.high}).items() if abs(v) < 1e300
    }
    number = Annotated[whole, pydantic.Field(strict=True, allow_inf_nan=False, **bounds)]
    if not one.may_be_range:
        return number

    def rising(span: Any) -> Any:
        _require(span.low < span.high)
        return span

    span = pydantic.create_model(
        "Span", low=(number, ...), high=(number, ...), __config__={"from_attributes": True}
    )
    return number | Annotated[span, pydantic.AfterValidator(rising)]


def _checked(check: Callable[[str], str]) -> Any:
    return Annotated[str, pydantic.AfterValidator(check)]


def _choice_type(one: Field) -> Any:
    values = [value for value, _ in one.choices]

    def known(value: str) -> str:
        _require(value in values)
        return str(value)

    enum = pydantic.Field(json_schema_extra={"enum": list(values)})
    return Annotated[str, pydantic.AfterValidator(known), enum]


TYPES: Mapping[Kind, Callable[[Field], Any]] = {
    Kind.TEXT: lambda one: _checked(_filled_line if one.needed else _one_line),
    Kind.NOTE: lambda _: _checked(_lines),
    Kind.NAME: lambda _: _checked(_name),
    Kind.SHORT_NAME: lambda _: _checked(_short_name),
    Kind.NUMBER: _number_type,
    Kind.CHOICE: _choice_type,
    Kind.YES_NO: lambda _: Annotated[bool, pydantic.Field(strict=True)],
    Kind.WHEN: lambda _: Annotated[pydantic.AwareDatetime, pydantic.AfterValidator(_within)],
    Kind.ZONE: lambda _: _checked(_zone),
    Kind.CLOCK: lambda _: _checked(_clock),
    Kind.TIME_OF_DAY: lambda _: _checked(_time_of_day),
    Kind.REFERENCE: lambda _: _checked(_name),
}


@cache
def _adapter(one: Field) -> pydantic.TypeAdapter[Any]:
    return pydantic.TypeAdapter(one.type(), config={"from_attributes": True})


@dataclass(frozen=True)
class Fault:
    """What is wrong with one field: what stands there, and what may."""

    field: str
    found: str
    expected: str


@dataclass(frozen=True)
class Declaration:
    """One kind of record: its class, whose fields are declared, and how one is told from another.

    Parameters
    ----------
    file, table : str
        Its file among those of the register, and its table.
    record : type
        A frozen dataclass, each field ``Annotated`` with its `Field`.
    key : tuple of str
        Fields that name one record.
    words : str
        What the file is for.
    rising : tuple of (str, str)
        Pairs of which the first is less than the second.
    in_order : tuple of (str, str)
        Pairs of which the second is not less than the first.
    together : tuple of (str, str)
        Pairs that are both known, or neither.
    apart : tuple of (str, str)
        Pairs that are never alike.
    may_touch : bool
        Whether the two of a rising pair may be alike.
    """

    file: str
    table: str
    record: Any
    key: tuple[str, ...]
    words: str
    rising: tuple[tuple[str, str], ...] = ()
    in_order: tuple[tuple[str, str], ...] = ()
    together: tuple[tuple[str, str], ...] = ()
    apart: tuple[tuple[str, str], ...] = ()
    may_touch: bool = False

    @property
    def fields(self) -> Mapping[str, Field]:
        """Its fields, by name."""
        fields: Mapping[str, Field] = declared(self.record)
        return fields

    def asked(self, *without: str) -> tuple[Field, ...]:
        """Return the fields that its form asks for."""
        return tuple(one for one in self.fields.values() if one.asked and one.name not in without)


@cache
def declared(record: Any) -> Mapping[str, Field]:
    """Return the fields of a record's class, by name, in order.

    Examples
    --------
    >>> @dataclass(frozen=True)
    ... class Sheet:
    ...     width_mm: Annotated[float, Field(label="Width", kind=Kind.NUMBER, low=10, high=20000)]
    >>> declared(Sheet)["width_mm"].needed
    True
    """
    hints = get_type_hints(record, include_extras=True)
    found = {}
    for one in dataclass_fields(record):
        hint, *about = get_args(hints[one.name])
        base = next(item for item in about if isinstance(item, Field))
        bare = one.default is MISSING and one.default_factory is MISSING
        changes = {
            "name": one.name,
            "needed": base.needed or bare,
            "may_be_unknown": type(None) in get_args(hint),
        }
        found[one.name] = base.model_copy(update=changes)
    return found


def faults_of(declaration: Declaration, values: Mapping[str, Any]) -> list[Fault]:
    """Return everything that is wrong with the values of a record, by what is declared of it.

    Parameters
    ----------
    values : mapping of str to value
        Those that are there; what is left out is not looked at.
    """
    faults = [
        Fault(name, shown(value), declaration.fields[name].expected)
        for name, value in values.items()
        if not declaration.fields[name].sound(value)
    ]
    return faults or _between(declaration, values)


def _between(declaration: Declaration, values: Mapping[str, Any]) -> list[Fault]:
    """Return what is wrong between two values that are sound each by itself."""
    faults = []
    for first, second in declaration.rising:
        low, high = values.get(first), values.get(second)
        if low is None or high is None or low < high or (low == high and declaration.may_touch):
            continue
        faults.append(Fault(second, shown(high), f"more than {first}, {shown(low)}"))
    for first, second in declaration.in_order:
        early, late = values.get(first), values.get(second)
        if early is not None and late is not None and late < early:
            faults.append(Fault(second, shown(late), f"not before {first}, {shown(early)}"))
    for first, second in declaration.apart:
        if first in values and values[first] == values.get(second):
            faults.append(Fault(second, "the same twice", f"another than {first}"))
    for first, second in declaration.together:
        if (values.get(first) is None) != (values.get(second) is None):
            faults.append(Fault(second, "half of a pair", f"both {first} and {second}, or none"))
    return faults


def require_sound(declaration: Declaration, values: Mapping[str, Any]) -> None:
    """Raise if a record's values are not as its fields are declared.

    Raises
    ------
    OutOfRangeError
        Naming the first field that is wrong.
    """
    faults = faults_of(declaration, values)
    if faults:
        named = ", ".join(shown(values[one]) for one in declaration.key[:1] if one in values)
        raise OutOfRangeError(
            read=f"{declaration.table} {named}".strip(),
            where=faults[0].field,
            found=faults[0].found,
            expected=faults[0].expected,
            action="Correct it and send it again. Nothing was stored.",
        )


def shown(value: Any) -> str:
    r"""Return a value as an error names it.

    Examples
    --------
    >>> shown("two\\nlines"), shown(float("nan")), shown(None)
    ("'two\\\\nlines'", 'nan', 'nothing')
    """
    if value is None:
        return "nothing"
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, str):
        return repr(str(value)[:80])
    return plain_number(value) if isinstance(value, float) else str(value)[:80]


@cache
def model_of(declaration: Declaration) -> type[pydantic.BaseModel]:
    """Return the pydantic model of a record: it checks as `faults_of` does, and gives the schema.

    Examples
    --------
    >>> from analysis.records import REGISTER
    >>> schema = model_of(REGISTER["works.csv"]).model_json_schema()
    >>> schema["properties"]["width_mm"]["maximum"]
    20000.0
    """
    made: dict[str, Any] = {}
    defaults = {one.name: one.default for one in dataclass_fields(declaration.record)}
    for name, one in declaration.fields.items():
        usual: Any = ... if one.needed or defaults[name] is MISSING else defaults[name]
        about = pydantic.Field(
            usual,
            title=one.label,
            description=one.words or one.expected,
            json_schema_extra={"unit": one.unit} if one.unit else {},
        )
        made[name] = (one.type(), about)
    config = pydantic.ConfigDict(extra="forbid", from_attributes=True)
    return pydantic.create_model(declaration.record.__name__, __config__=config, **made)
