"""``stilltaut read``: show how a logger's file is understood; stores nothing."""

import json
import math
import re
from collections.abc import Sequence
from pathlib import Path

import click

from analysis.errors import StilltautError
from dashboards.text import wording
from dashboards.text.error_words import error_words, problem_words
from dashboards.text.messages import _, counted
from service.ingest.choice import SAID_BESIDE, Choice, options_merged
from service.ingest.files.opened import PART, files_in, load
from service.ingest.files.packed import Member, is_archive
from service.ingest.join import joined
from service.ingest.long.by_parts import read_long
from service.ingest.long.long_text import long_text
from service.ingest.quantities import POSSIBLE, WORDS
from service.ingest.read import FileReading, read_as
from service.ingest.understanding import Channel, Problem, Understanding

SHOWN_PROBLEMS = 12
_UNITS = {"": 1.0, "s": 1.0, "sec": 1.0, "ms": 0.001, "min": 60.0, "m": 60.0, "h": 3600.0}
_LETTERS = {"%Y": "yyyy", "%y": "yy", "%m": "mm", "%d": "dd", "%H": "HH", "%I": "hh", "%M": "MM"}
_LETTERS |= {"%S": "SS", "%b": "Mon", " %p": " AM/PM", "%z": " with offset", ".%f": ".fraction"}
_CANONICAL = {"_c": "°C", "_pct": "%", "_pa": "Pa", "_kg_kg": "kg/kg", "_g_m3": "g/m³"}


class Interval(click.ParamType[float]):
    """A duration such as 5s, 10min or 1h, as seconds."""

    name = "DURATION"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Return the duration in seconds."""
        match = re.fullmatch(r"\s*(\d+(?:[.,]\d+)?)\s*([a-z]*)\s*", str(value).lower())
        if not match or match[2] not in _UNITS or float(match[1].replace(",", ".")) <= 0:
            self.fail(
                _("{value} is no duration; write 5s, 10min or 1h.", value=repr(value)), param, ctx
            )
        return float(match[1].replace(",", ".")) * _UNITS[match[2]]


class ColumnSaid(click.ParamType[tuple[str, str]]):
    """A quantity and the heading that holds it, as QUANTITY=HEADING."""

    name = "QUANTITY=HEADING"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[str, str]:
        """Return quantity and heading."""
        quantity, sign, heading = str(value).partition("=")
        known = [*POSSIBLE, *SAID_BESIDE]
        if not sign or quantity.strip() not in known or not heading.strip():
            self.fail(
                _(
                    "{value}: write one of {known}, then = and a heading.",
                    value=repr(value),
                    known=", ".join(known),
                )
            )
        return quantity.strip(), heading.strip().strip('"')


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FILE…")
@click.option("--zone", metavar="ZONE", help="The logger's clock: Europe/Oslo, UTC+1, …")
@click.option("--json", "as_json", is_flag=True, help="Print the understanding as JSON.")
@click.option(
    "--column", "columns", multiple=True, type=ColumnSaid(), help="Say which column holds what."
)
@click.option("--start", metavar="TIME", help="Time of the first reading, for files without times.")
@click.option("--interval", type=Interval(), help="Time between readings, for files without times.")
@click.option(
    "--day-first/--month-first", default=None, help="Order of dates where the file does not tell."
)
def command(
    files: Sequence[Path],
    zone: str | None,
    as_json: bool,
    columns: Sequence[tuple[str, str]],
    start: str | None,
    interval: float | None,
    day_first: bool | None,
) -> int:
    """Show how logger files are understood. Nothing is stored.

    Several files that hold temperature and humidity apart are joined by time.
    """
    asked = Choice(zone, options_merged(columns), day_first, start, interval)
    readings, problems = _read_all(files, asked)
    for problem in problems:
        click.echo(f"stilltaut: {problem_words(problem)}", err=True)
    if as_json:
        objects = [reading.understanding.as_json() for reading in readings]
        shown = objects[0] if len(objects) == 1 else objects
        click.echo(json.dumps(shown, ensure_ascii=False, indent=2))
    else:
        click.echo("\n\n".join(_text(reading) for reading in readings))
    return 2 if problems else int(any(seen.understanding.needs_person for seen in readings))


def _read_all(
    files: Sequence[Path], asked: Choice
) -> tuple[list[FileReading], list[StilltautError]]:
    """Return the readings, halves joined, and what is wrong with single files of archives."""
    readings: list[FileReading] = []
    problems: list[StilltautError] = []
    for file in files:
        long = long_text(file, file.name)
        found = read_long(long, asked) if long else None
        if found is not None:
            readings.append(found)
            continue
        data = load(file)
        alone = PART in asked.columns or not is_archive(data)
        for one in [Member(file.name, data)] if alone else files_in(file.name, data):
            try:
                readings.append(read_as(one.name, one.data, asked))
            except StilltautError as problem:
                if alone:
                    raise
                problems.append(problem)
    if problems and not readings:
        raise problems[0]
    return joined(readings), problems


def _text(reading: FileReading) -> str:
    """Return an understanding as a short table."""
    seen = reading.understanding
    lines = [seen.file, *_rows(_facts(seen)), "", *_rows(_channels(seen.channels))]
    if seen.left_aside:
        names = ", ".join(seen.left_aside[:12])
        more = len(seen.left_aside) - 12
        if more > 0:
            names = _("{names} and {many} more", names=names, many=more)
        lines += ["", "  " + _("left aside: {names}", names=names)]
    lines += ["  " + _("note: {words}", words=error_words(note)) for note in seen.notes]
    for problem in seen.problems[:SHOWN_PROBLEMS]:
        lines.append(f"  {_problem(problem)}")
    if (many := len(seen.problems) - SHOWN_PROBLEMS) > 0:
        lines.append("  " + _("… and {many} more; --json lists them.", many=many))
    try:
        reading.require_zone()
    except StilltautError as question:
        lines += ["", f"  {error_words(question.action)}"]
    return "\n".join(lines)


def _problem(problem: Problem) -> str:
    where = _("line {line}", line=problem.line) if problem.line else _("whole file")
    return _(
        "{place}: found {found}; expected {expected}; kept: {kept}.",
        place=f"{where}, {problem.column}" if problem.column else where,
        found=error_words(problem.found),
        expected=error_words(problem.expected),
        kept=error_words(problem.kept),
    )


def _facts(seen: Understanding) -> list[list[str]]:
    marks = {
        "\t": _("tab"),
        ";": _("semicolon"),
        ",": _("comma"),
        "|": _("bar"),
        "blanks": _("blanks"),
    }
    delimiter = marks.get(seen.delimiter, seen.delimiter)
    time = seen.time
    zone = f"{time.zone} ({error_words(time.zone_from)})" if time.zone else _("not declared")
    first = time.first_utc.strftime("%Y-%m-%d %H:%M:%S UTC") if time.first_utc else None
    last = time.last_utc.strftime("%Y-%m-%d %H:%M:%S UTC") if time.last_utc else None
    ends = _("{first} to {last}", first=first or time.first_written, last=last or time.last_written)
    step = "" if time.interval_s is None else _("every {step}", step=duration(time.interval_s))
    rows = seen.rows
    above = counted(
        "{many} line above the readings", "{many} lines above the readings", seen.header_lines
    )
    decimal = _("decimal {mark}", mark=repr(seen.decimal))
    columns = " + ".join(time.columns) or _("counted")
    return [
        [_("layout"), f"{seen.encoding}, {delimiter}, {decimal}, {above}"],
        [_("time"), _("{columns}, as {form}", columns=columns, form=_spoken(time.format))
                    + f", {error_words(time.order)}"],
        [_("clock"), zone],
        [_("span"), f"{ends}, {step}" if step else ends],
        [_("rows"), f"{rows.total}: " + _(
            "{readings} with readings, {unreadable} unreadable, {repeated} repeated, "
            "{flagged} flagged",
            readings=rows.readings, unreadable=rows.unreadable,
            repeated=rows.duplicate, flagged=rows.flagged,
        )],
    ]  # fmt: skip


def _spoken(form: str) -> str:
    """Return a format with letters for its codes, as people write it."""
    for code, letters in _LETTERS.items():
        form = form.replace(code, letters)
    return form


def _channels(channels: Sequence[Channel]) -> list[list[str]]:
    named = [_("channel"), _("quantity"), _("column"), _("unit in file")]
    head = [*named, _("readings"), _("missing"), _("from"), _("to")]
    rows = [head]
    for channel in channels:
        unit = next(u for end, u in _CANONICAL.items() if channel.quantity.endswith(end))
        ends = [_number(channel.minimum, unit), _number(channel.maximum, unit)]
        counts = [str(channel.readings), str(channel.missing)]
        name = channel.name if channel.name != channel.column else "–"
        rows.append(
            [
                name,
                _(WORDS[channel.quantity]),
                channel.column,
                error_words(channel.unit),
                *counts,
                *ends,
            ]
        )
    if all(row[0] == "–" for row in rows[1:]):
        return [row[1:] for row in rows]
    return rows


def _number(value: float, unit: str) -> str:
    if math.isnan(value):
        return "–"
    large = abs(value) >= 1000
    return f"{wording.number(value) if large else wording.significant(value, 4)} {unit}"


def duration(seconds: float) -> str:
    """Return a duration in the unit that makes it shortest.

    Examples
    --------
    >>> duration(600.0), duration(5.0), duration(3600.0), duration(61.0)
    ('10 min', '5 s', '1 h', '61 s')
    """
    for size, unit in ((86_400.0, "d"), (3600.0, "h"), (60.0, "min")):
        if seconds >= size and seconds % size == 0:
            return f"{seconds / size:g} {unit}"
    return f"{seconds:g} s"


def _rows(rows: Sequence[Sequence[str]]) -> list[str]:
    """Return rows with their columns below one another."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return [
        "  " + "  ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]
