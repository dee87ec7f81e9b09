"""What a person says of a file on its form, as the reader and the stores take it.

A form holds, for each column, ``column_N`` (what it is, ``temp_c|°F``), ``column_N_is`` (its
heading) and ``column_N_was`` (what it was taken for); for each sensor ``sensor_N`` and
``sensor_N_is``; besides, the fields of `FIELDS`. All files that came together stand on one form:
each name there follows that of its file, ``FILE.logger``.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from analysis.errors import StilltautError
from analysis.records.room_records import RHYTHM_WORDS
from service.ingest.choice import Choice
from service.ingest.files.opened import WIDTHS
from service.ingest.times.dateorder import ORDER, YEAR_FIRST

YES_NO = {"yes": True, "no": False}
NEW = "+new"
# What a form says besides columns and sensors.
FIELDS = (
    "logger",
    "new_logger",
    "room",
    "new_room",
    "rhythm",
    "zone",
    "day_first",
    "start",
    "interval_min",
    "answer",
    "columns",
    "told_apart",
    "widths",
    "instead",
    "sure",
    "issued",
)
OF_TIME = ("time", "date", "sensor")
COLUMN_FIELDS = ("column_", "sensor_")


@dataclass(frozen=True)
class ImportOptions:
    """How one file is to be read, and where it goes."""

    choice: Choice = field(default_factory=Choice)
    zone: str = ""
    logger: str = ""
    sensors: Mapping[str, str] = field(default_factory=dict)
    room: str = ""
    new_room: str = ""
    rhythm: str = ""
    instead: bool = False
    sure: bool = False
    issued: str = ""


def fields_of(sent: Mapping[str, str], file: str) -> dict[str, str]:
    """Return what a form says of one of its files.

    Examples
    --------
    >>> fields_of({"a1.logger": "north-1", "b2.logger": "store-1"}, "b2")
    {'logger': 'store-1'}
    """
    before = f"{file}."
    return {
        name.removeprefix(before): value for name, value in sent.items() if name.startswith(before)
    }


def stored_fields(sent: Mapping[str, str]) -> dict[str, str]:
    """Return what is kept of a form that was sent: its own fields, trimmed, empty ones left out.

    Columns named by hand are kept as such, since the next form shows them as understood.
    """
    known = {name: value.strip() for name, value in sent.items() if _is_known(name)}
    try:
        columns = changed_columns(known)
    except StilltautError:
        columns = {}  # said again where the file is read
    known["columns"] = json.dumps(columns, ensure_ascii=False) if columns else ""
    return {name: value for name, value in known.items() if value}


def options_of(sent: Mapping[str, str]) -> ImportOptions:
    """Return what a form says of a file.

    Raises
    ------
    StilltautError
        If the interval is no number, or two columns are taken for the same quantity.

    Examples
    --------
    >>> sent = {"column_0": "rh_pct|fraction", "column_0_is": "Feuchte", "interval_min": "15"}
    >>> found = options_of(sent).choice
    >>> found.columns, found.interval_s
    ({'rh_pct': 'Feuchte [fraction]'}, 900.0)
    """
    answered, day_first = _answer(sent.get("answer", ""))
    stated = YES_NO.get(sent.get("day_first", ""))
    answered |= {ORDER: YEAR_FIRST} if sent.get("day_first") == "year" else {}
    return ImportOptions(
        choice=Choice(
            columns=answered | changed_columns(sent) | _named_outright(sent),
            day_first=day_first if stated is None else stated,
            start=sent.get("start") or None,
            interval_s=_seconds(sent.get("interval_min", "")),
        ),
        zone=sent.get("zone", ""),
        logger=_named(sent, "logger", "new_logger"),
        sensors=_sensors(sent),
        room=_named(sent, "room", "new_room"),
        new_room=sent.get("new_room", "") if sent.get("room") == NEW else "",
        rhythm=_rhythm(sent.get("rhythm", "")),
        instead=sent.get("instead") == "yes",
        sure=sent.get("sure") == "yes",
        issued=sent.get("issued", ""),
    )


def changed_columns(sent: Mapping[str, str]) -> dict[str, str]:
    """Return the columns as a person named them, or nothing where all were understood rightly.

    ``columns`` holds what was named before: the form shows it as understood.

    Examples
    --------
    >>> sent = {"column_0": "rh_pct|%", "column_0_was": "dew_point_c|", "column_0_is": "F"}
    >>> changed_columns(sent)
    {'rh_pct': 'F [%]'}
    """
    before = _texts(sent.get("columns", ""), "columns")
    numbers = [name.removesuffix("_is") for name in sent if _is_heading(name)]
    if all(sent.get(name, "") == sent.get(f"{name}_was", "") for name in numbers):
        return before
    if any(sent.get(f"{name}_among") for name in numbers):
        return _among_several(sent, numbers, before)
    named: dict[str, str] = {}
    for name in numbers:
        quantity, _, unit = sent.get(name, "").partition("|")
        heading, new = sent[f"{name}_is"], sent.get(name, "") != sent.get(f"{name}_was", "")
        if not quantity or (quantity in OF_TIME and not new and before.get(quantity) != heading):
            continue
        if quantity in named and quantity == "time":
            named["time"] += f"+{heading}"
            continue
        if quantity in named:
            raise _twice(quantity, named[quantity], heading)
        stated = unit and (new or quantity in before)
        named[quantity] = f"{heading} [{unit}]" if stated else heading
    aside = _left_aside(sent, numbers, before.get("aside", ""))
    return named | ({"aside": "+".join(aside)} if aside else {})


def _left_aside(sent: Mapping[str, str], numbers: Sequence[str], before: str) -> list[str]:
    """Return the columns that hold something and are not to be used, now or before.

    Examples
    --------
    >>> sent = {"column_0": "", "column_0_was": "rh_pct|%", "column_0_is": "RH"}
    >>> changed_columns(sent)
    {'aside': 'RH'}
    """
    aside = []
    for name in numbers:
        heading, was = sent[f"{name}_is"], sent.get(f"{name}_was", "").partition("|")[0]
        again = not was and f"+{heading}+" in f"+{before}+"
        if not sent.get(name) and (again or (was and was not in OF_TIME)):
            aside.append(heading)
    return aside


def _among_several(
    sent: Mapping[str, str], numbers: Sequence[str], before: Mapping[str, str]
) -> dict[str, str]:
    """Return what a person changed of the columns of a file with several sensors.

    Examples
    --------
    >>> sent = {"column_0": "", "column_0_was": "temp_c|°C", "column_0_is": "A T",
    ...         "column_0_among": "yes"}
    >>> changed_columns(sent)
    {'aside': 'A T'}
    """
    named = dict(before)
    for name in numbers:
        now, was, heading = sent.get(name, ""), sent.get(f"{name}_was", ""), sent[f"{name}_is"]
        quantity, _, unit = now.partition("|")
        if now == was:
            continue
        if not quantity:
            key, text = "aside", heading
        elif quantity == was.partition("|")[0]:
            key, text = "unit", f"{heading} [{unit}]"
        else:
            key, text = quantity, f"{heading} [{unit}]" if unit else heading
        several = key in named and key not in OF_TIME
        if not several or f"+{text}+" not in f"+{named[key]}+":
            named[key] = f"{named[key]}+{text}" if several else text
    return named


def _named_outright(sent: Mapping[str, str]) -> dict[str, str]:
    """Return what is said of a whole file: what tells sensors apart, how wide its columns are."""
    keys = {"told_apart": "sensor", "widths": WIDTHS}
    return {key: sent[name] for name, key in keys.items() if sent.get(name)}


def places_stated(sent: Mapping[str, str]) -> dict[str, str]:
    """Return what is said of where in a file its table stands, and how it is cut."""
    try:
        answered, _ = _answer(sent.get("answer", ""))
    except StilltautError:
        return {}
    return answered | _named_outright(sent)


def answered_besides(
    sent: Mapping[str, str], columns: Mapping[str, str], day_first: bool | None
) -> tuple[dict[str, str], bool | None]:
    """Return an answer together with those that were given before."""
    try:
        before, order = _answer(sent.get("answer", ""))
    except StilltautError:
        before, order = {}, None
    return before | dict(columns), order if day_first is None else day_first


def answer_text(columns: Mapping[str, str], day_first: bool | None) -> str:
    """Return an answer to a question as one field of a form holds it."""
    return json.dumps({"columns": dict(columns), "day_first": day_first}, ensure_ascii=False)


def _answer(text: str) -> tuple[dict[str, str], bool | None]:
    arguments = _json(text, "answer")
    day_first = arguments.get("day_first")
    columns = json.dumps(arguments.get("columns", {}))
    return _texts(columns, "answer"), day_first if isinstance(day_first, bool) else None


def _rhythm(text: str) -> str:
    """Return how often a room is read if it is one of those there are, else an empty text."""
    return text if text in RHYTHM_WORDS else ""


def _texts(text: str, where: str) -> dict[str, str]:
    return {str(key): str(value) for key, value in _json(text, where).items()}


def _json(text: str, where: str) -> dict[str, Any]:
    try:
        arguments = json.loads(text) if text else {}
    except ValueError:
        arguments = None
    if isinstance(arguments, dict):
        return arguments
    raise StilltautError(
        read="the form",
        where=where,
        found=repr(text[:60]),
        expected="one of the answers offered",
        action="Go back and choose again. No reading was stored.",
    )


def _sensors(sent: Mapping[str, str]) -> dict[str, str]:
    """Return which sensor of a file goes to which logger, those that were chosen."""
    numbers = [n.removesuffix("_is") for n in sent if n.startswith("sensor_") and n.endswith("_is")]
    return {sent[f"{number}_is"]: sent[number] for number in numbers if sent.get(number)}


def _named(sent: Mapping[str, str], name: str, new: str) -> str:
    return sent.get(new, "") if sent.get(name) == NEW else sent.get(name, "")


def _is_known(name: str) -> bool:
    return name in FIELDS or name.startswith(COLUMN_FIELDS)


def _is_heading(name: str) -> bool:
    return name.startswith("column_") and name.endswith("_is")


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
            action="Correct it and look again. No reading was stored.",
        ) from None


def _twice(quantity: str, first: str, second: str) -> StilltautError:
    return StilltautError(
        read="the form",
        where="columns",
        found=f"{first!r} and {second!r} both taken for {quantity}",
        expected="one column for each quantity",
        action="Choose again. No reading was stored.",
    )
