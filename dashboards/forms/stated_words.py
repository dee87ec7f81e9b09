"""Stated numbers in words: their fields, the tables' ranges, what strips and boards give."""

from collections.abc import Mapping, Sequence
from typing import Any

from analysis.learning.board_back import PERMEANCE_UNITS
from analysis.learning.offcut import DAMP_PCT, Movement, Strip, lets_go
from analysis.learning.stated_values import OF_A_FRAME, OF_A_HANGING, OTHERWISE, STATED_UNITS
from analysis.parameters import Parameter, parameter
from analysis.records import REGISTER, Field, Kind
from analysis.references import status_words
from analysis.results import Range
from analysis.simulation.drawer import OF_A_MOUNTING
from dashboards.text import wording
from dashboards.text.messages import N_, Worded, _, translated
from dashboards.text.parameters import STATED_WORDS as WORDS, scale, shown
from dashboards.text.wording import capital, listed, number, significant, with_range

GROUP_WORDS: Mapping[str, str] = Worded(
    {
        "print": N_("The print"),
        "panel": N_("The panel"),
        "hinges": N_("The hinges"),
        "frame": N_("The frame and its wall"),
        "mounting": N_("The day of mounting"),
        "surface": N_("What is seen"),
    }
)
STRIPS = 4
AXES = (("beta_cd", N_("across the grain")), ("beta_md", N_("along the grain")))
MEASURED = REGISTER["overrides.csv"].fields
ORIGIN = MEASURED["origin"]


def since_field(name: str) -> Field:
    """Return the field of the day from which a number holds, and what leaving it empty means."""
    whole = _("it counts for the whole record")
    if name in OF_A_FRAME:
        whole = _("it counts for the first frame of the record")
    if name in OF_A_HANGING:
        whole = _("it counts for the first place where the work hung")
    if name.startswith(OF_A_MOUNTING):
        whole = _("it counts for the first mounting of the record")
    return MEASURED["from_utc"].model_copy(update={"without": whole})


def label(name: str) -> str:
    """Return what a number is, in words.

    Examples
    --------
    >>> label("half_time_h")
    'Half-time of the frame'
    """
    return capital(WORDS[name])


def rounded(value: float) -> str:
    """Return a number to three significant digits, small ones with their power of ten."""
    return significant(value, 3)


def range_text(name: str, value: float, low: float, high: float) -> str:
    """Return a number with its range in the unit a person reads.

    Examples
    --------
    >>> range_text("beta_cd", 9e-5, 6e-5, 1.4e-4)
    '0.09 mm per m per %RH (0.06 to 0.14)'
    >>> range_text("image_share", 0.0, 0.0, 0.0), range_text("hinge_stiffness_n_m", 1e5, 4e4, 3e5)
    ('0 %', '100,000 N/m (40,000 to 300,000)')
    """
    seen, unit = shown(name, STATED_UNITS[name], Range(low, value, high))
    unit = "" if unit == "1" else unit
    return with_range(rounded(seen.mid), rounded(seen.low), rounded(seen.high), unit)


def table_text(name: str, row: Parameter | None) -> str:
    """Return what the tables hold of a number, or where it comes from otherwise."""
    if row is None:
        return _(OTHERWISE[name]) if name in OTHERWISE else _("worked out")
    return range_text(name, row.value, row.low, row.high)


def number_fields(name: str) -> tuple[Field, ...]:
    """Return the fields in which a number is stated, in the unit a person reads."""
    unit = scale(name, STATED_UNITS[name])[1]
    unit = "" if unit == "1" else unit
    told = {
        "value": {"label": capital(WORDS[name])},
        "low": {"help": _("Where nobody knows how far off it is: the least it could be at all.")},
        "high": {},
    }
    numbers = (
        MEASURED[which].model_copy(update={"unit": unit, "example": "", **words})
        for which, words in told.items()
    )
    return (*numbers, ORIGIN, since_field(name))


def _number(name: str, label: str, unit: str = "", example: str = "", **more: Any) -> Field:
    """Return a field of a number that no record keeps as such: it is worked with."""
    about: dict[str, Any] = {"name": name, "label": label, "unit": unit, "example": example, **more}
    return Field(kind=Kind.NUMBER, low=-1e6, high=1e6, **about)


def strip_fields(which: int) -> tuple[Field, ...]:
    """Return the fields of one strip; the first is needed, the others are welcome."""
    first = which == 1
    longer = _("Longer: plus; shorter: minus.") if first else ""
    return (
        _number(f"length_mm_{which}", _("Length"), "mm", "300", needed=first),
        _number(f"rh_before_pct_{which}", _("First humidity"), "%RH", "33", needed=first),
        _number(f"rh_after_pct_{which}", _("Second humidity"), "%RH", "70", needed=first),
        _number(
            f"change_mm_{which}",
            _("Change in length"),
            "mm",
            "0.95",
            needed=first,
            help=longer,
        ),
    )


def strip_about() -> tuple[Field, ...]:
    """Return the fields that hold for all strips."""
    rule = parameter("offcuts", "rule", "reading_mm")
    scan = parameter("offcuts", "scanner", "reading_mm")
    salts = parameter("offcuts", "salts", "rh_pct")
    return (
        Field(name="axis", label=_("The strips run"), kind=Kind.CHOICE, choices=AXES, needed=True),
        _number(
            "reading_mm",
            _("A reading of the length may be off by"),
            "mm",
            help=_(
                "For example {rule} with a steel rule, {scan} with a scan.",
                rule=number(rule.value, 1),
                scan=number(scan.value, 2),
            ),
            without=_("{value} mm is taken", value=number(rule.value, 1)),
        ),
        _number(
            "rh_pct",
            _("A humidity may be off by"),
            "%RH",
            help=_("For example {value} over saturated salts.", value=number(salts.value, 1)),
            without=_("{value} %RH is taken", value=number(salts.value, 1)),
        ),
    )


BOARD = (
    _number(
        "mass",
        N_("Absorbent board around the print, weight per area"),
        "kg/m²",
        "1.0",
        help="1.4 mm of museum board. Weigh an offcut and divide by its area; add up backing, "
        "window mount and panel faces.",
        needed=True,
    ),
    _number("mass_low", N_("At least"), "kg/m²", "0.9", needed=True),
    _number("mass_high", N_("At most"), "kg/m²", "1.1", needed=True),
    _number(
        "back",
        N_("How much vapour the back lets through"),
        help=N_("For example 0.04 as an equivalent air layer in m."),
        without=N_("that of common board, untaped, is taken"),
    ),
    _number("back_low", N_("At least"), without=N_("the value itself is taken")),
    _number("back_high", N_("At most"), without=N_("the value itself is taken")),
    Field(
        name="unit", label=N_("stated as"), kind=Kind.CHOICE, choices=tuple(PERMEANCE_UNITS.items())
    ),
)


def movement_words(name: str, found: Movement, row: Parameter | None) -> list[str]:
    """Return what strips gave, beside what the table has."""
    factor = scale(name, STATED_UNITS[name])[0]
    told = [
        _(
            "{words}: {range}, with its 95 % range.",
            words=capital(WORDS[name]),
            range=range_text(name, found.value, found.low, found.high),
        )
    ]
    if len(found.strips) > 1:
        told.append(
            _(
                "Each strip by itself: {strips}.",
                strips=listed([rounded(factor * x) for x in found.strips]),
            )
        )
    if found.scatter > 1.0:
        told.append(
            _(
                "The strips differ {scatter} times as much as misreading explains; the range is "
                "widened by that.",
                scatter=number(found.scatter, 1),
            )
        )
    if row is not None:
        told.append(
            _("The table has {range}.", range=range_text(name, row.value, row.low, row.high))
        )
        if not row.low <= found.value <= row.high:
            told.append(_("That is outside the table’s range: look for a misreading first."))
    return told


def half_time_words(found: Range, row: Parameter | None, stated: bool) -> list[str]:
    """Return the half-time that board and back give, beside what the table has."""
    told = [
        _(
            "Half-time of the frame: {range}, at 20 °C and 50 %RH.",
            range=range_text("half_time_h", found.mid, found.low, found.high),
        )
    ]
    if row is not None:
        told.append(
            _(
                "The table has {range} for this build.",
                range=range_text("half_time_h", row.value, row.low, row.high),
            )
        )
    if stated:
        told.append(_("A half-time is stated for this work: it counts before this one."))
    return told


def measured_notes(row: Parameter | None) -> Sequence[str]:
    """Return what to know of the table's number."""
    if row is None:
        return ()
    note = f" {capital(translated(row.note))}." if row.note else ""
    where = f"{row.source}, {translated(row.place)} ({translated(status_words(row))})"
    return (_("Where the table’s number comes from: {where}.{note}", where=where, note=note),)


STRIP_CAUTIONS = (
    N_("Cut the strips from an offcut of the same paper, never from the work."),
    N_(
        "Leave each strip until two readings a day apart agree; fibre base takes days, "
        "resin-coated "
        "paper weeks."
    ),
    N_(
        "Bring the strip to the first humidity from the same side each time: damp and dry "
        "histories "
        "differ by some %RH."
    ),
    N_(
        "Salt solutions: gloves and eye protection, a labelled closed box on a tray, nowhere "
        "near a "
        "work; read the safety sheet and follow local rules."
    ),
)


def strip_cautions(strips: Sequence[Strip]) -> tuple[str, ...]:
    """Return what to mind when strips are measured over salts, as sentences."""
    lines = [_(caution) for caution in STRIP_CAUTIONS]
    if lets_go(strips):
        lines.append(
            _(
                "Above {rh} a strip may let go of strain that was dried in, and end shorter: use "
                "only steps below it.",
                rh=wording.rh(DAMP_PCT),
            )
        )
    return tuple(lines)
