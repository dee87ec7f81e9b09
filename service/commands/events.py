"""``stilltaut events``: swings, excursions and spikes of a file, with times, size and cause."""

from collections.abc import Sequence
from pathlib import Path

import click
import pandas as pd

from analysis.air.quality import flag_readings
from analysis.events.air_record import USELESS
from analysis.events.event_finding import events_frame, find_events
from analysis.events.ranking import ranked_events
from analysis.results import Band, Event
from dashboards.text import wording
from dashboards.text.event_words import crowd_note
from dashboards.text.messages import _, counted
from dashboards.text.sentences import event_sentence
from service.commands.air import utc_text
from service.commands.file_options import (
    FileAsked,
    aside_lines,
    channel_name,
    file_options,
    open_for_writing,
    people_zone,
)

SHOWN = 20


@click.command()
@file_options
@click.option("--band", nargs=2, type=float, help="Agreed humidity, low and high [%RH].")
@click.option("--out", type=click.Path(path_type=Path), help="Write all events to this CSV file.")
def command(
    asked: FileAsked,
    band: tuple[float, float] | None,
    out: Path | None,
) -> None:
    """Swings, excursions, spikes and silences of FILE, with start, peak, end, size and cause."""
    reading = asked.read()
    shown_in = people_zone(reading)
    agreed = Band(_("given on the command line"), *band) if band else None
    events: list[Event] = []
    flagged = {channel_name(reading, s): flag_readings(f) for s, f in reading.sensors.items()}
    for channel, frame in flagged.items():
        events += find_events(frame, channel=channel, band=agreed, zone=shown_in)
    if out is not None:
        write_events(events, out)
    for line in event_lines(events, shown_in, out):
        click.echo(line)
    for line in aside_lines(flagged, USELESS, _("set aside")):
        click.echo(line)


def write_events(events: Sequence[Event], out: Path) -> None:
    """Write events as CSV, times in UTC."""
    table = events_frame(events)
    for name in ("start_utc", "peak_utc", "end_utc"):
        table[name] = utc_text(pd.DatetimeIndex(pd.to_datetime(table[name], utc=True)))
    with open_for_writing(out) as stream:
        table.to_csv(stream, index=False, lineterminator="\n")


def event_lines(events: Sequence[Event], zone: str, out: Path | None) -> list[str]:
    """Return the events that matter most as sentences, in order of time, and the rest counted."""
    if not events:
        return [_("No event was found; absence of events is not evidence of safety.")]
    ranked = ranked_events(events, SHOWN)
    lines = [_line(event, zone) for event in ranked.reported]
    lines += [crowd_note(crowd) for crowd in ranked.crowds]
    if ranked.crowds:
        where = _("in {file}", file=out) if out else _("with --out FILE.csv")
        lines.append(_("Every one of them: {where}.", where=where))
    counts = counted("{many} event.", "{many} events.", len(events))
    return [*lines, " ".join((counts, _("Times in {zone}.", zone=zone)))]


def _line(event: Event, zone: str) -> str:
    date = wording.date_time(event.start_utc, zone)
    return f"{date} · {event.channel} · {_(event.kind)}: {event_sentence(event, zone)}"
