"""Files between their arrival and their receipt: kept, looked at, confirmed, taken in.

Every step is written down before it is answered: the bytes among the originals, what a person said
in the job that waits in the register. Whoever serves next goes on from there.
"""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import Any

from analysis.errors import StilltautError, UnknownNameError
from analysis.records.room_records import Logger, Placement, Room
from dashboards.file_lines import ConflictLine, Receipt
from dashboards.text import wording
from dashboards.text.messages import _
from service.answers.museum import NEW_MUSEUM, Museum
from service.ingest.files.opened import files_in
from service.ingest.files.packed import is_archive
from service.intake.arrivals import original_at_hand, printable
from service.intake.forecast_files import is_forecast, take_forecast
from service.intake.import_options import ImportOptions, options_of, stored_fields
from service.intake.proposals import keep_rhythm
from service.intake.receipts import Outcome, UploadReceipt
from service.intake.taking_in import receipt_of, take_in
from service.jobs import OthersFirstError, Task, Work, five_parts
from service.notices.after_arrival import rooms_of
from service.notices.follow_up import follow_up_all
from service.storage import loggers, places
from service.storage.job_records import (
    STORED,
    JobRecord,
    JobState,
    change_preview,
    claim_job,
    confirm_job,
    finish,
    let_go,
    note_beside,
    others_wait,
    put_job,
)
from service.storage.notices import notices
from service.storage.records import put_record
from service.storage.register import Register
from service.storage.uploads import upload_numbered

TAKE_IN = "take in"
CONFLICTS_SHOWN = 20
# A file up to this size is stored while its sender waits; a larger one when its turn comes.
AT_ONCE_BYTES = 20_000_000


def receive(
    museum: Museum, files: Sequence[tuple[str, Path | bytes]], logger: str = "", batch: str = ""
) -> str:
    """Keep files as they came and write down that they wait for a person; return their batch.

    An archive is kept as it came, and each file in it waits for itself.
    """
    stores = museum.stores
    stores.register.require_writable()
    waiting: list[tuple[str, str]] = []
    for name, data in files:
        if isinstance(data, bytes) and is_archive(data):
            stores.originals.keep(data)
        for member in _members(printable(name) or "upload", data):
            waiting.append((member[0], stores.originals.keep(member[1])))
    stated = {"logger": logger} if logger else {}
    with stores.register.writing():
        for name, sha256 in waiting:
            arguments = {"sha256": sha256, "name": name, "said": stated}
            job = put_job(
                stores.register, TAKE_IN, name, arguments, batch=batch, state=JobState.PREVIEW
            )
            batch = job.batch
    return batch


def restated(museum: Museum, job: JobRecord, sent: Mapping[str, str]) -> JobRecord:
    """Keep what a person said of a file that waits."""
    arguments = {**job.arguments, "said": stored_fields(sent)}
    return change_preview(museum.stores.register, job.job_id, arguments)


def noted_beside(museum: Museum, job: JobRecord, sent: Mapping[str, str]) -> None:
    """Keep what stands on the form for a file that waits, while another of the form is sent."""
    arguments = {**job.arguments, "said": stored_fields(sent)}
    note_beside(museum.stores.register, job.job_id, arguments)


def confirm(museum: Museum, job: JobRecord, sent: Mapping[str, str]) -> JobRecord:
    """Promise to take a file in: room and logger named anew are made in the same transaction.

    Raises
    ------
    StilltautError
        If what was said cannot be: then nothing is promised.
    """
    stated = stored_fields(sent)
    options = options_of(stated)
    register = museum.stores.register
    if not options.logger:
        known = [one.logger for one in loggers.loggers(register)]
        raise UnknownNameError(read="the form, logger", name="", known=known)
    if is_forecast(options):
        with register.writing():
            arguments = {**job.arguments, "said": stated}
            return confirm_job(register, job.job_id, arguments)
    with register.writing():
        room = _room(register, options)
        if room:
            _placed(register, options.logger, room)
        keep_rhythm(museum, options.logger, options.rhythm)
        zone = options.zone or _zone_of(register, options.logger)
        in_hand = {k: v for k, v in job.arguments.items() if k not in ("upload", "outcome")}
        told = {**stated, "logger": options.logger, "zone": zone}
        for name in ("new_logger", "room", "new_room", "rhythm"):
            told.pop(name, None)
        return confirm_job(register, job.job_id, {**in_hand, "said": told})


def store_at_once(museum: Museum, job: JobRecord) -> None:
    """Store a confirmed file of usual size now; the works are judged when their turn comes."""
    register, options = museum.stores.register, options_of(job.arguments["said"])
    sha256 = job.arguments["sha256"]
    if is_forecast(options) or museum.stores.originals.is_longer(sha256, AT_ONCE_BYTES):
        return
    held = claim_job(register, job.job_id)
    if held is None:
        return
    try:
        _stored_now(museum, Task(register, held), options)
    except StilltautError as problem:
        finish(register, held.job_id, problem=five_parts(problem))
        return
    except BaseException:
        let_go(register, held.job_id)
        raise
    let_go(register, held.job_id)


def take_in_work(museum: Museum) -> Work:
    """Return what is done for a file that was confirmed: taken in, works judged, receipt kept.

    Works are judged once every file that waits is stored.
    """

    def work(task: Task) -> Mapping[str, Any]:
        arguments = task.record.arguments
        options = options_of(arguments["said"])
        if is_forecast(options):
            task.step(_("reading the forecast"))
            name, sha256 = arguments["name"], arguments["sha256"]
            came = task.record.queued_utc
            return receipt_json(take_forecast(museum, name, sha256, options, came))
        taken = _stored_before(museum, arguments) or _stored_now(museum, task, options)
        if others_wait(museum.stores.register, TAKE_IN):
            raise OthersFirstError
        rooms = rooms_of(museum, [sensor.logger_id for sensor in taken.sensors])
        follow_up_all(museum, rooms)
        return receipt_json(receipt_line(museum, taken, rooms, task.record.queued_utc))

    return work


def _stored_before(museum: Museum, arguments: Mapping[str, Any]) -> UploadReceipt | None:
    """Return the receipt of a file that this job has stored, though it may be taken back by now."""
    if "upload" not in arguments:
        return None
    upload = upload_numbered(museum.stores.register, arguments["upload"])
    return receipt_of(upload, Outcome(arguments["outcome"]))


def _stored_now(museum: Museum, task: Task, options: ImportOptions) -> UploadReceipt:
    """Take a file in, and write down that its readings are stored."""
    arguments = task.record.arguments
    task.step(_("reading the file and storing its readings"))
    with original_at_hand(museum.stores.originals, arguments["sha256"]) as source:
        taken = take_in(
            museum.stores,
            source,
            name=arguments["name"],
            logger_id=options.logger,
            zone=options.zone or None,
            columns=options.choice.columns or None,
            day_first=options.choice.day_first,
            start=options.choice.start,
            interval_s=options.choice.interval_s,
            sensors=options.sensors or None,
            by=arguments.get("by", "page"),
            keep_unread=True,
            instead=options.instead,
        )
    taken = _as_first_answered(museum, task.record, taken)
    new = wording.plural(taken.added + taken.filled, "new reading")
    judging = _("{new}. The works in the room are being judged", new=new)
    words = f"{STORED}: {judging}"
    task.step(words, upload=taken.upload, outcome=str(taken.outcome))
    return taken


def receipt_line(
    museum: Museum, taken: UploadReceipt, rooms: Sequence[str], since: datetime
) -> Receipt:
    """Return a receipt as pages show it, with the notices raised in its rooms since a time."""
    room = museum.room(rooms[-1]) if rooms else None
    firsts = [s.first_utc for s in taken.sensors if s.first_utc]
    lasts = [s.last_utc for s in taken.sensors if s.last_utc]
    arguments = notices(museum.stores.register)
    return Receipt(
        file_name=taken.name,
        sha256=taken.sha256,
        logger_id=", ".join(dict.fromkeys(s.logger_id for s in taken.sensors)),
        room_id=room.room if room else "",
        room_name=room.name if room else "",
        rows=taken.rows,
        new=taken.added + taken.filled,
        already_known=taken.same,
        conflicts=taken.conflicts,
        unreadable=taken.unreadable,
        flagged=taken.flagged,
        first_utc=min(firsts, default=None),
        last_utc=max(lasts, default=None),
        already_stored=taken.outcome is Outcome.ALREADY_THERE,
        notices=[
            one.headline
            for one in arguments
            if one.room in rooms and one.changed_utc is not None and one.changed_utc >= since
        ],
        upload=taken.upload,
        received_utc=taken.received_utc,
        conflicts_listed=[
            ConflictLine(item.time_utc, sensor.logger_id, item.channel, item.kept, item.offered)
            for sensor in taken.sensors
            for item in sensor.merged.conflicts
        ][:CONFLICTS_SHOWN],
    )


TIMES = ("first_utc", "last_utc", "received_utc", "forecast_utc")


def receipt_json(receipt: Receipt) -> dict[str, Any]:
    """Return a receipt as plain values."""
    values = asdict(receipt)
    values |= {name: values[name] and values[name].isoformat() for name in TIMES}
    for line in values["conflicts_listed"]:
        line["at_utc"] = line["at_utc"].isoformat()
    return values


def receipt_from_json(values: Mapping[str, Any]) -> Receipt:
    """Return the receipt kept by `receipt_json`."""
    times = {
        name: values[name] and datetime.fromisoformat(values[name])
        for name in TIMES
        if name in values
    }
    listed = [
        ConflictLine(**{**line, "at_utc": datetime.fromisoformat(line["at_utc"])})
        for line in values["conflicts_listed"]
    ]
    return Receipt(**{**values, **times, "conflicts_listed": listed})


def _members(name: str, data: Path | bytes) -> list[tuple[str, Path | bytes]]:
    """Return the files in an archive; the file itself where it is none, or cannot be opened."""
    if isinstance(data, Path):
        return [(name, data)]
    try:
        return [(printable(one.name) or "upload", one.data) for one in files_in(name, data)]
    except StilltautError:
        return [(name, data)]


def _as_first_answered(museum: Museum, job: JobRecord, taken: UploadReceipt) -> UploadReceipt:
    """Return the receipt as it would have been told the first time, had nothing interrupted it."""
    mine = taken.received_utc >= job.queued_utc
    if job.tries > 1 and mine and taken.outcome is Outcome.ALREADY_THERE:
        upload = upload_numbered(museum.stores.register, taken.upload)
        return receipt_of(upload, Outcome.COMPLETED)
    return taken


def _room(register: Register, options: ImportOptions) -> str:
    """Return the room a logger is put in, made now where it is new."""
    if not options.new_room:
        return options.room
    known = {room.name.casefold(): room.room for room in places.rooms(register)}
    if options.new_room.casefold() in known:
        return known[options.new_room.casefold()]
    if not places.sites(register):
        put_record(register, NEW_MUSEUM, by="page")
    name = places.free_short_name(register, options.new_room)
    site = places.sites(register)[0].site
    put_record(register, Room(name, site, options.new_room), by="page")
    return name


def _placed(register: Register, logger_id: str, room: str) -> None:
    """Put a logger that hangs nowhere into a room, since always."""
    loggers.ensure_logger(register, Logger(logger_id), by="page")
    if not loggers.placements(register, logger_id):
        put_record(register, Placement(logger_id, room), by="page")


def _zone_of(register: Register, logger_id: str) -> str:
    known = loggers.logger_named(register, logger_id)
    return known.zone if known is not None else ""
