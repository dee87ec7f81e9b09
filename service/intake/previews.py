"""What was understood of a file that waits, as its page shows it; nothing is stored yet."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import pandas as pd
from markupsafe import Markup

from analysis.errors import StilltautError
from analysis.records.room_records import Placement
from dashboards.charts.arrival import arrival_picture
from dashboards.charts.style import inline_svg
from dashboards.file_lines import (
    FileInHand,
    FilePreview,
    FileQuestion,
    LoggerChoice,
    ProblemLine,
    SensorLine,
)
from dashboards.lines import Choice
from dashboards.text import wording
from dashboards.text.error_words import error_words
from dashboards.text.messages import N_, _
from service.answers.museum import Museum
from service.errors import Answer, QuestionError
from service.ingest.files.opened import texts_of
from service.ingest.files.parts import as_before
from service.ingest.layout import Layout, layout_of
from service.ingest.read import FileReading
from service.ingest.understanding import Understanding
from service.intake.arrivals import by_logger, opening, original_at_hand, read_source
from service.intake.column_choices import (
    columns_taken,
    marked,
    rows_of,
    told_apart,
    unread_columns,
)
from service.intake.files_in_hand import receipt_from_json
from service.intake.forecast_files import FORECAST, forecast_of, is_forecast
from service.intake.import_options import (
    NEW,
    ImportOptions,
    answer_text,
    answered_besides,
    options_of,
    places_stated,
)
from service.intake.proposals import (
    asked_rhythm,
    is_first_of_its_room,
    proposed_logger,
    with_new_names,
)
from service.intake.suspicions import doubts, known_already
from service.intake.taking_in import PRESENT, remembered_choice
from service.storage import loggers
from service.storage.job_records import STORED, JobRecord, JobState
from service.storage.uploads import uploads

LETTERS = {
    "%Y": "YYYY",
    "%y": "YY",
    "%m": "MM",
    "%d": "DD",
    "%b": "Mon",
    "%B": "Month",
    "%H": "hh",
    "%I": "hh",
    "%M": "mm",
    "%S": "ss",
    "%f": "fff",
    "%p": "AM/PM",
    "%z": "+hh:mm",
    "%j": "day of the year",
}
PROBLEMS_SHOWN = 12
CHOOSE = N_("Choose below how it is to be read, or correct a copy of the file and bring that.")


def file_in_hand(museum: Museum, job: JobRecord) -> FileInHand:
    """Return one file as its page shows it, whatever state it is in."""
    given = job.arguments
    shown = FileInHand(
        job_id=job.job_id,
        file_name=given["name"],
        sha256=given["sha256"],
        state=job.state,
        step=job.step.replace(STORED, _("stored"), 1),
        stored=job.state in (JobState.WAITING, JobState.RUNNING) and job.step.startswith(STORED),
        logger_id=options_of(given["said"]).logger,
    )
    if job.state == JobState.DONE and job.result is not None:
        return replace(shown, receipt=receipt_from_json(job.result))
    if job.state in (JobState.PREVIEW, JobState.FAILED):
        return _looked_at(museum, job, shown)
    return shown


def open_points(museum: Museum, job: JobRecord) -> Sequence[str]:
    """Return what a person must answer before a file is taken in; empty when nothing is open."""
    shown = _looked_at(museum, job, FileInHand(job.job_id, job.title, "", job.state))
    if shown.preview is None:
        return [_("It cannot be read yet.")]
    return shown.preview.asked


def _looked_at(museum: Museum, job: JobRecord, shown: FileInHand) -> FileInHand:
    """Return a file with what is understood of it, or the question or problem that stands there."""
    with original_at_hand(museum.stores.originals, job.arguments["sha256"]) as data:
        return _understood(museum, job, shown, data)


def _understood(
    museum: Museum, job: JobRecord, shown: FileInHand, data: Path | bytes
) -> FileInHand:
    given = job.arguments
    form = dict(given["said"])
    failed = _parts(job.problem) if job.problem else ()
    try:
        options = options_of(form)
        reading = _read(museum, given["name"], data, options)
        if is_forecast(options):
            forecast_of(museum, _on_a_clock(reading, museum.zone), options.issued)
    except StilltautError as problem:
        layout = _layout_or_none(given["name"], data, places_stated(form))
        shown = replace(_with_choices(museum, shown, form, None), problem=failed)
        shown = replace(shown, columns=unread_columns(layout, form), first_rows=rows_of(layout, {}))
        if isinstance(problem, QuestionError):
            return replace(shown, question=_question(problem, form))
        return replace(shown, problem=_parts(vars_of(problem)))
    layout = _layout_or_none(given["name"], data, reading.choice.columns)
    suggested = (
        proposed_logger(museum, given["name"], reading) if not form.get("logger") else ("", "")
    )
    if suggested[0]:
        form["logger"] = suggested[0]
        options = options_of(form)
        reading = _read_or(museum, given["name"], data, options, reading)
    shown = _with_choices(museum, shown, form, reading)
    return replace(
        shown,
        problem=failed,
        suggested=suggested[1],
        earlier=bool(uploads(museum.stores.register, sha256=given["sha256"], states=PRESENT)),
        columns=columns_taken(reading, layout),
        told_apart=told_apart(reading, layout),
        first_rows=rows_of(layout, marked(reading)),
        preview=_preview(museum, reading, options, given["sha256"]),
    )


def _read(museum: Museum, name: str, data: Path | bytes, options: ImportOptions) -> FileReading:
    known = loggers.logger_named(museum.stores.register, options.logger) if options.logger else None
    zone = options.zone or (known.zone if known else "")
    remembered = remembered_choice(museum.stores, options.logger) if options.logger else None
    asked = replace(options.choice, zone=zone or None)
    return read_source(name, data, asked, remembered, room=museum.stores.folder)


def _read_or(
    museum: Museum, name: str, data: Path | bytes, options: ImportOptions, otherwise: FileReading
) -> FileReading:
    try:
        return _read(museum, name, data, options)
    except StilltautError:
        return otherwise


def _preview(
    museum: Museum, reading: FileReading, options: ImportOptions, sha256: str
) -> FilePreview:
    known = reading.understanding
    reading = _on_a_clock(reading, museum.zone)
    frames = _frames(reading, options)
    found = doubts(museum.stores, frames, sha256=sha256, now_utc=museum.clock(), zone=museum.zone)
    stored, new = known_already(museum.stores, frames)
    asked = [doubt.words for doubt in found if doubt.asked]
    choice = remembered_choice(museum.stores, options.logger) if options.logger else None
    fits = choice is not None and choice.headings == reading.choice.headings
    return FilePreview(
        readings=known.rows.readings,
        unreadable=known.rows.unreadable,
        picture=_picture(reading, museum.zone),
        facts=_facts(known, museum.zone),
        more=_more(known),
        doubts=[doubt.words for doubt in found if not doubt.asked],
        asked=asked,
        sensors=_sensors(museum, reading, options),
        problems=[
            ProblemLine(
                p.line or None,
                p.column,
                error_words(p.found),
                error_words(p.expected),
                "apart" not in p.kept,
            )
            for p in known.problems[:PROBLEMS_SHOWN]
        ],
        remembered=_("The last file of {logger} was read in this way.", logger=options.logger)
        if fits
        else "",
        known=stored,
        new=new,
    )


def _on_a_clock(reading: FileReading, zone: str) -> FileReading:
    """Return a reading without a clock as if its logger followed the site's; for a look only."""
    if reading.understanding.time.zone is not None:
        return reading
    sensors = {
        name: frame.set_axis(
            pd.DatetimeIndex(frame.index)
            .tz_localize(None)
            .tz_localize(zone, ambiguous="NaT", nonexistent="NaT")
            .tz_convert("UTC"),
            axis=0,
        )
        for name, frame in reading.sensors.items()
    }
    kept = {name: frame[frame.index.notna()] for name, frame in sensors.items()}
    kept = {name: frame[~frame.index.duplicated()].sort_index() for name, frame in kept.items()}
    return replace(reading, sensors=kept)


def _frames(reading: FileReading, options: ImportOptions) -> Mapping[str, pd.DataFrame]:
    if not options.logger or is_forecast(options):
        return {}
    try:
        return by_logger(reading, options.logger, options.sensors)
    except StilltautError:
        return {}


def _picture(reading: FileReading, zone: str) -> Markup | None:
    frames = [frame for frame in reading.sensors.values() if len(frame)]
    frames = [frame for frame in frames if frame[["temp_c", "rh_pct"]].notna().any(axis=None)]
    if not frames:
        return None
    longest = max(frames, key=len)
    return inline_svg(arrival_picture(longest, zone), _("Temperature and humidity over the file"))


def _question(question: QuestionError, stated: Mapping[str, str]) -> FileQuestion:
    return FileQuestion(
        where=error_words(question.where),
        found=error_words(question.found),
        expected=error_words(question.expected),
        action="" if question.answers else _for_people(question.action),
        answers=[_answer(one, stated) for one in question.answers],
    )


def _answer(one: Answer, stated: Mapping[str, str]) -> Choice:
    """Return an answer as a form sends it, those to earlier questions with it."""
    return Choice(
        answer_text(*answered_besides(stated, one.columns, one.day_first)), error_words(one.words)
    )


def _for_people(action: str) -> str:
    """Return what to do, without options of the commands."""
    return _(CHOOSE) if "--" in action else error_words(action)


def _parts(problem: Mapping[str, str]) -> list[tuple[str, str]]:
    words = {
        "where": _("Where"),
        "found": _("Found"),
        "expected": _("Needed"),
        "action": _("What to do"),
    }
    stated = ((name, _for_people(str(problem.get(key, "")))) for key, name in words.items())
    return [(name, text) for name, text in stated if text]


def vars_of(problem: StilltautError) -> dict[str, str]:
    """Return the five parts of an error."""
    return {part: str(getattr(problem, part)) for part in ("where", "found", "expected", "action")}


def _with_choices(
    museum: Museum, shown: FileInHand, stated: Mapping[str, str], reading: FileReading | None
) -> FileInHand:
    stated = with_new_names(museum, stated, shown.file_name)
    chosen = stated.get("logger", "")
    zone = stated.get("zone", "")
    logger_id = "" if chosen == FORECAST else options_of_or_empty(stated)
    rhythms, why = asked_rhythm(stated, None if chosen == FORECAST else reading)
    in_file = reading.understanding.time.zone if reading else None
    return replace(
        shown,
        stated=dict(stated),
        logger_id=logger_id,
        rhythms=rhythms,
        rhythm_why=why,
        rhythm_asked=bool(logger_id) and is_first_of_its_room(museum, stated, logger_id),
        loggers=logger_choices(museum, chosen),
        rooms=[
            Choice(room.room, room.name, room.room == stated.get("room", ""))
            for room in museum.every_room()
        ],
        zones=_zones(museum.zone, zone, _own_clock(museum, stated, in_file if not zone else None)),
    )


def options_of_or_empty(stated: Mapping[str, str]) -> str:
    """Return the logger that was said, whatever else is wrong with the form."""
    return stated.get("new_logger", "") if stated.get("logger") == NEW else stated.get("logger", "")


def _facts(known: Understanding, zone: str) -> list[tuple[str, str]]:
    time = known.time
    facts = [(_("Times from"), ", ".join(time.columns) or _("counted"))]
    if time.first_utc and time.last_utc:
        span = (wording.date_time(t, zone) for t in (time.first_utc, time.last_utc))
        facts.append((_("On the site’s clock"), wording.joined(*span)))
    else:
        facts.append(
            (
                _("In the file"),
                wording.joined(time.first_written, time.last_written),
            )
        )
    if time.interval_s:
        facts.append((_("One reading every"), wording.interval(time.interval_s)))
    facts.append((_("Clock"), time.zone or _("not declared yet: please choose one")))
    if known.left_aside:
        facts.append((_("Left aside"), ", ".join(known.left_aside)))
    return facts


def _more(known: Understanding) -> list[tuple[str, str]]:
    names = {
        "\t": _("tab"),
        " ": _("blanks"),
        ",": _("comma"),
        ";": _("semicolon"),
        "|": _("bar"),
    }
    return [
        (_("Encoding"), known.encoding),
        (_("Columns parted by"), names.get(known.delimiter, known.delimiter)),
        (_("Decimal mark"), names.get(known.decimal, known.decimal)),
        (_("Times written as"), as_written(known.time.format)),
        (_("Lines before the readings"), str(known.header_lines)),
        (_("Rows"), wording.number(known.rows.total)),
        *((_("Note"), words) for words in _notes(known)),
    ]


def _notes(known: Understanding) -> list[str]:
    """Return what was concluded of a file, without what is for commands alone."""
    said = (without_options(error_words(note)) for note in known.notes)
    return [words for words in said if words]


def without_options(note: str) -> str:
    """Return a note without its sentences that name options of the commands.

    Examples
    --------
    >>> without_options("'Node' tells 2 sensors apart. If not, say so: --column sensor=none.")
    "'Node' tells 2 sensors apart."
    """
    return " ".join(part for part in re.split(r"(?<=\.) ", note) if "--" not in part)


def as_written(shape: str) -> str:
    """Return the shape of a file's times in letters that people know.

    Examples
    --------
    >>> as_written("%d/%m/%Y %H:%M"), as_written("epoch s")
    ('DD/MM/YYYY hh:mm', 'epoch s')
    """
    for code, letters in LETTERS.items():
        shape = shape.replace(code, letters)
    return shape


def _layout_or_none(name: str, data: Path | bytes, places: Mapping[str, str]) -> Layout | None:
    try:
        return layout_of(as_before(texts_of(name, opening(data), places), places)[0])
    except (StilltautError, IndexError):
        return None


def _sensors(museum: Museum, reading: FileReading, options: ImportOptions) -> list[SensorLine]:
    """Return the sensors of a file that holds several, each with the loggers it may go to."""
    if len(reading.sensors) < 2 or is_forecast(options):
        return []
    known = [one.logger for one in loggers.loggers(museum.stores.register)]
    return [
        SensorLine(name, len(frame), _targets(name, known, options))
        for name, frame in reading.sensors.items()
    ]


def _targets(sensor: str, known: Iterable[str], options: ImportOptions) -> tuple[Choice, ...]:
    chosen = options.sensors.get(sensor, "")
    same = next((one for one in known if one.casefold() == sensor.casefold()), "")
    return (
        Choice("", _("a logger of its own, named after the sensor"), not (chosen or same)),
        *(Choice(one, one, one == (chosen or same)) for one in known),
    )


def _own_clock(museum: Museum, stated: Mapping[str, str], in_file: str | None) -> str:
    """Return in words which clock is taken where none is chosen."""
    known = loggers.logger_named(museum.stores.register, options_of_or_empty(stated))
    if known is not None and known.zone:
        return _("the logger’s own: {zone}", zone=known.zone)
    return (
        _("as the file says: {in_file}", in_file=in_file)
        if in_file
        else _("the logger’s own, as it is kept")
    )


def _zones(site_zone: str, chosen: str, own: str) -> list[Choice]:
    words = {
        "": own,
        site_zone: _("{zone}, with summer time", zone=site_zone),
        f"{site_zone} no-dst": _("{zone}, winter time all year", zone=site_zone),
        "UTC": "UTC",
    }
    if chosen and chosen not in words:
        words = {chosen: chosen} | words
    return [Choice(zone, stated, zone == chosen) for zone, stated in words.items()]


def logger_choices(museum: Museum, chosen: str = "") -> list[LoggerChoice]:
    """Return the loggers a file may belong to, each with the room it hangs in and its clock."""
    hung: dict[str, Placement] = {p.logger: p for p in museum.placements()}
    names = {room.room: room.name for room in museum.every_room()}
    return [
        LoggerChoice(
            logger_id=one.logger,
            room_name=names.get(hung[one.logger].room, "") if one.logger in hung else "",
            clock=one.zone,
            chosen=one.logger == chosen,
            shown=one.shown,
        )
        for one in loggers.loggers(museum.stores.register)
    ]
