"""``stilltaut add``: take logger files in."""

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import click

from analysis.errors import StilltautError
from dashboards.text import wording
from dashboards.text.days_text import forecast_kept
from dashboards.text.error_words import error_words, problem_words
from dashboards.text.messages import _
from service.commands.clock_option import as_if_option
from service.ingest.choice import Choice
from service.ingest.files.opened import PART, files_in
from service.ingest.files.packed import is_archive
from service.ingest.read import FileReading
from service.intake.arrivals import bytes_of, held, pairs
from service.intake.import_options import ImportOptions
from service.intake.receipts import UploadReceipt
from service.intake.taking_in import finish_received, take_in
from service.settings import Settings, load_settings
from service.site_locale import opened_stores
from service.storage.stores import Stores


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FILE…")
@click.option("--logger", "logger_id", help="Logger the readings belong to.")
@click.option("--forecast", is_flag=True, help="No logger: a forecast of outdoor air, no reading.")
@click.option("--issued", help="When the forecast was made: 2026-03-22T06:00, by the site's clock.")
@click.option("--zone", help="Clock of the logger: Europe/Oslo, UTC+1, 'Europe/Oslo no-dst'.")
@click.option("--column", "columns", multiple=True, help='As rh_pct="heading"; may be repeated.')
@click.option("--sensor", "sensors", multiple=True, help="As NAME=LOGGER; may be repeated.")
@click.option("--day-first/--month-first", default=None, help="Order in dates like 03/04/2025.")
@click.option("--start", help="Time of the first reading, for a file without times.")
@click.option("--interval", "interval_s", type=float, help="Seconds between its readings.")
@click.option("--instead", is_flag=True, help="Take back an earlier reading of the same file.")
@click.option("--by", default="command line", help="Who does it, for the audit trail.")
@as_if_option
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object a file.")
@click.option("--data", "data_dir", type=click.Path(path_type=Path), help="Folder of the stores.")
def command(
    files: Sequence[Path],
    data_dir: Path | None,
    columns: Sequence[str],
    sensors: Sequence[str],
    as_json: bool,
    as_if: str | None,
    forecast: bool,
    issued: str | None,
    **asked: str | float | bool | None,
) -> int:
    """Take FILES in for a logger, or keep them as a forecast of outdoor air.

    What is understood of each is shown first. The same file a second time changes nothing. Where
    two files give different values for one instant, the first is kept, and the conflict shown. A
    forecast is kept apart from all readings.
    """
    settings = load_settings().with_changes(data_dir=data_dir, as_if=as_if)
    _require_one_kind(forecast, issued, asked)
    if forecast:
        choice = Choice(
            columns=pairs(columns, "--column"),
            **{name: asked[name] for name in ("day_first", "start", "interval_s")},  # type: ignore[arg-type]
        )
        options = ImportOptions(choice, str(asked["zone"] or ""), issued=issued or "")
        return _keep_forecasts(settings, files, options, as_json=as_json)
    stated = {
        **asked,
        "columns": pairs(columns, "--column") or None,
        "sensors": pairs(sensors, "--sensor") or None,
        "on_read": _ignore if as_json else _show_understanding,
    }
    with opened_stores(settings) as stores:
        for receipt in finish_received(stores):
            click.echo("\n".join(receipt.lines()), err=as_json)
        outcomes = [
            _take_in(stores, one, stated) for file in files for one in _files(stores, file, stated)
        ]
        receipts = [outcome for outcome in outcomes if isinstance(outcome, UploadReceipt)]
        for receipt in receipts:
            click.echo(_json(receipt) if as_json else "\n".join(receipt.lines()))
        told = _tell(stores, settings)
    if len(receipts) < len(outcomes):
        return 2
    return int(told or any(receipt.needs_person for receipt in receipts))


def _require_one_kind(forecast: bool, issued: str | None, asked: Mapping[str, object]) -> None:
    """Raise unless the files are either a logger's or a forecast."""
    if forecast == bool(asked["logger_id"]):
        raise click.UsageError(
            _("Name the logger with --logger, or say --forecast: one of the two.")
        )
    if issued and not forecast:
        raise click.UsageError(_("--issued says when a forecast was made: it needs --forecast."))


def _keep_forecasts(
    settings: Settings, files: Sequence[Path], options: ImportOptions, *, as_json: bool
) -> int:
    """Keep each file as a forecast; say what is wrong with one and go on with the next."""
    from service.answers.museum import Museum
    from service.intake.files_in_hand import receipt_json
    from service.intake.forecast_files import take_forecast

    refused = 0
    with opened_stores(settings) as stores:
        museum = Museum(stores, settings)
        for file in files:
            try:
                stores.register.require_writable()
                kept = stores.originals.keep(bytes_of(file))
                receipt = take_forecast(museum, file.name, kept, options, museum.clock())
            except StilltautError as problem:
                click.echo(f"stilltaut: {problem_words(problem)}", err=True)
                refused += 1
                continue
            told = json.dumps(receipt_json(receipt), ensure_ascii=False)
            click.echo(told if as_json else f"{file.name}: {forecast_kept(receipt, museum.zone)}")
        opened = _tell(stores, settings)
    return 2 if refused else int(opened)


@dataclass(frozen=True)
class Given:
    """A file to take in: its name, and its bytes or where they lie."""

    name: str
    source: Path | bytes


def _files(
    stores: Stores, file: Path, stated: Mapping[str, object]
) -> Iterator[Given | StilltautError]:
    """Return a file, or the files in an archive, which is kept as it came; or what is wrong."""
    columns = stated["columns"]
    try:
        data = held(file)
        if isinstance(data, Path):
            yield Given(file.name, data)
            return
        if PART in (columns if isinstance(columns, dict) else ()):
            yield Given(file.name, data)
            return
        found = files_in(file.name, data)
        if is_archive(data):
            stores.register.require_writable()
            stores.originals.keep(data)
        yield from (Given(one.name, one.data) for one in found)
    except StilltautError as problem:
        yield problem


def _take_in(
    stores: Stores, file: Given | StilltautError, stated: Mapping[str, object]
) -> UploadReceipt | None:
    """Take one file in; say what is wrong with it and go on with the next."""
    take: Callable[..., UploadReceipt] = take_in
    try:
        if isinstance(file, StilltautError):
            raise file
        return take(stores, file.source, name=file.name, **stated)
    except StilltautError as problem:
        click.echo(f"stilltaut: {problem_words(problem)}", err=True)
        return None


def _ignore(_reading: FileReading) -> None:
    """Show nothing: the caller reads JSON."""


def _show_understanding(reading: FileReading) -> None:
    seen = reading.understanding
    columns = ", ".join(seen.time.columns) or _("counted")
    click.echo(
        _(
            "{file}: times from {columns}, clock {zone}, {order}",
            file=seen.file,
            columns=columns,
            zone=seen.time.zone,
            order=error_words(seen.time.order),
        )
    )
    for channel in seen.channels:
        unit = f" [{error_words(channel.unit)}]" if channel.unit else ""
        span = wording.joined(
            wording.significant(channel.minimum, 6), wording.significant(channel.maximum, 6)
        )
        span = span if channel.readings else _("no readings")
        source = f"{channel.column!r}{unit}"
        said = _("{quantity} from {column}", quantity=channel.quantity, column=source)
        click.echo(f"  {said}: {span}")
    if seen.left_aside:
        click.echo("  " + _("left aside: {names}", names=", ".join(seen.left_aside)))
    for note in seen.notes:
        click.echo("  " + _("note: {words}", words=error_words(note)))


def _json(receipt: UploadReceipt) -> str:
    return json.dumps(receipt.as_json(), ensure_ascii=False)


def _tell(stores: Stores, settings: Settings) -> bool:
    """Bring the notices of the rooms concerned up to date; return whether one is new."""
    # Only now: judging works loads far more than taking a file in.
    from service.answers.museum import Museum
    from service.notices.follow_up import follow_up_all

    opened = follow_up_all(Museum(stores, settings)).opened
    for notice in opened:
        click.echo(_("notice: {headline}", headline=notice.headline), err=True)
    return bool(opened)
