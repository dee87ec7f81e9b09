"""``stilltaut half-time``: how fast a frame follows its room, from a logger left inside it."""

from collections.abc import Callable
from pathlib import Path

import click
from matplotlib.figure import Figure

from dashboards.charts.half_time import half_time_figure
from dashboards.charts.style import pdf, png, svg
from dashboards.text import half_time_text as text
from dashboards.text.messages import _
from service.answers.museum import Museum
from service.commands.clock_option import as_if_option
from service.estimates.half_times import FrameHalfTime, half_time_of_frame, use_half_time
from service.settings import load_settings
from service.site_locale import opened_stores

PICTURES: dict[str, Callable[[Figure], bytes]] = {".svg": svg, ".pdf": pdf, ".png": png}


@click.command()
@click.argument("work_id", metavar="WORK")
@click.option("--use", "uses", is_flag=True, help="Use the fitted half-time for this work.")
@click.option("--out", type=click.Path(path_type=Path), help="Write a picture: .svg, .png or .pdf.")
@click.option("--by", default="command", show_default=True, help="Who uses it, for the record.")
@as_if_option
@click.option("--data", "data_dir", type=click.Path(path_type=Path), help="Folder of the stores.")
def command(
    work_id: str, uses: bool, out: Path | None, by: str, as_if: str | None, data_dir: Path | None
) -> int:
    """How fast the frame of WORK follows its room, from a logger left inside it.

    Exit code 0: a sound half-time. 1: there is no record, or it leaves doubts; each is said.
    """
    if out is not None and out.suffix not in PICTURES:
        raise click.BadParameter(
            _("{file}: expected one of {known}", file=out.name, known=", ".join(sorted(PICTURES)))
        )
    settings = load_settings().with_changes(data_dir=data_dir, as_if=as_if)
    with opened_stores(settings, create=False) as stores:
        museum = Museum(stores, settings)
        if uses:
            known = use_half_time(stores, work_id, by=by, at_utc=museum.now())
        else:
            known = half_time_of_frame(stores, work_id, museum.now())
        _say(known, museum.zone)
        if out is not None and known.found is not None:
            out.write_bytes(PICTURES[out.suffix](half_time_figure(known.found, museum.zone)))
            click.echo(_("Written: {file}", file=out))
    return 0 if known.found is not None and known.found.sound else 1


def _say(known: FrameHalfTime, zone: str) -> None:
    click.echo(text.question(known.work))
    click.echo(text.answer_words(known.work, known.found, known.default_h))
    statements = (
        [] if known.found is None else [*text.statements(known.found), text.apart_words(known.near)]
    )
    if known.to_use is not None:
        statements.append(text.warmth_words(known.warmer))
    steps = [] if known.found else text.how_to_measure(known.work, known.default_h)
    for line in (*statements, *(why for why in known.why_not if why not in statements), *steps):
        click.echo(f"  {line}")
    for row in text.table(known.work, known.found, known.default_h).rows:
        said = _("{value} ({low} to {high})", value=row[2], low=row[1], high=row[3])
        click.echo(f"{row[0]}: {said}")
    if known.in_use is not None:
        stated = known.work.overrides["half_time_h"]
        click.echo(text.in_use_words(stated, known.in_use.from_utc, zone))
