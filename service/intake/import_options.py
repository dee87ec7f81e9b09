"""What a person says of a file on a form, as the reader takes it.

The fields named ``said_…`` are offered on every preview and where a question is open; the
``column_…`` ones are the choices beside the columns that were understood.
"""

from collections.abc import Mapping

from analysis.errors import StilltautError
from service.ingest.choice import Choice

COLUMNS = {"said_temp_c": "temp_c", "said_rh_pct": "rh_pct"}
FIELDS = (*COLUMNS, "said_day_first", "said_start", "said_interval_min")
YES_NO = {"yes": True, "no": False}


def as_sent(sent: Mapping[str, str]) -> dict[str, str]:
    """Return the ``said_…`` fields of a form, each with its text, empty where nothing was said."""
    return {name: sent.get(name, "").strip() for name in FIELDS}


def choice_of(sent: Mapping[str, str]) -> Choice:
    """Return what a form says of a file: columns, order of day and month, start, interval.

    Raises
    ------
    StilltautError
        If the interval is no number, or two columns are taken for the same quantity.

    Examples
    --------
    >>> choice_of({"said_rh_pct": "Feuchte", "said_interval_min": "15"}).columns
    {'rh_pct': 'Feuchte'}
    """
    said = as_sent(sent)
    columns = changed_columns(sent)
    columns |= {quantity: said[name] for name, quantity in COLUMNS.items() if said[name]}
    day_first = sent.get("day_first") or said["said_day_first"]
    return Choice(
        columns=columns,
        day_first=YES_NO.get(day_first),
        start=said["said_start"] or None,
        interval_s=_seconds(said["said_interval_min"]),
    )


def changed_columns(sent: Mapping[str, str]) -> dict[str, str]:
    """Return the columns a person named otherwise, or nothing when all were right.

    ``column_0`` holds the quantity chosen, ``column_0_was`` the one understood, ``column_0_is``
    the heading.

    Examples
    --------
    >>> changed_columns({"column_0": "rh_pct", "column_0_was": "dew_point_c", "column_0_is": "F"})
    {'rh_pct': 'F'}
    """
    numbers = [name.removesuffix("_is") for name in sent if name.endswith("_is")]
    if all(sent.get(name) == sent.get(f"{name}_was") for name in numbers):
        return {}
    named: dict[str, str] = {}
    for name in numbers:
        quantity = sent.get(name, "")
        if quantity in named:
            raise _twice(quantity, named[quantity], sent[f"{name}_is"])
        named[quantity] = sent[f"{name}_is"]
    return named


def _seconds(text: str) -> float | None:
    if not text:
        return None
    try:
        return 60.0 * float(text.replace(",", "."))
    except ValueError:
        raise StilltautError(
            read="the form",
            where="minutes between readings",
            found=repr(text),
            expected="a number of minutes",
            action="Go back and correct it.",
        ) from None


def _twice(quantity: str, first: str, second: str) -> StilltautError:
    return StilltautError(
        read="the form",
        where="columns",
        found=f"{first!r} and {second!r} both taken for {quantity}",
        expected="one column for each quantity",
        action="Go back and choose again. No reading was stored.",
    )
