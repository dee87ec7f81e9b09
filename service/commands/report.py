"""``stilltaut report``: what a month, a quarter or other dates brought."""

import json
from pathlib import Path

import click

from analysis.errors import OutOfRangeError
from dashboards.text.messages import _
from service.answers.museum import Museum
from service.commands.clock_option import as_if_option
from service.reports.period import (
    Period,
    last_whole_month,
    period_between,
    period_named,
)
from service.reports.period_report import period_report
from service.reports.report_json import report_json
from service.reports.report_paper import report_pdf
from service.reports.report_words import ORDER, report_lines, report_words
from service.settings import load_settings
from service.site_locale import opened_stores


@click.command()
@click.option("--month", help="A month as 2026-03 or a quarter as 2026-Q1; else the last month.")
@click.option("--from", "first", help="First day, as 2026-03-01, in place of a month.")
@click.option("--to", "last", help="Last day, which still belongs to it.")
@click.option(
    "--for",
    "reader",
    type=click.Choice(list(ORDER)),
    default="director",
    show_default=True,
    help="For whom it is ordered; the facts are the same.",
)
@click.option("--out", type=click.Path(path_type=Path), help="Write a PDF here.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@as_if_option
@click.option("--data", type=click.Path(path_type=Path), help="Folder of the stores.")
def command(
    month: str | None,
    first: str | None,
    last: str | None,
    reader: str,
    out: Path | None,
    as_json: bool,
    as_if: str | None,
    data: Path | None,
) -> None:
    """Tell what happened, what was done, and what it asks of whom, over whole days."""
    settings = load_settings().with_changes(data_dir=data, as_if=as_if)
    with opened_stores(settings, create=False) as stores:
        museum = Museum(stores, settings)
        found = period_report(museum, _dates(museum, month, first, last))
        if as_json:
            told = report_json(museum, found, reader)
            click.echo(json.dumps(told, indent=2, ensure_ascii=False))
        else:
            click.echo("\n".join(report_lines(report_words(museum, found, reader))))
        if out is not None:
            out.write_bytes(report_pdf(museum, found, reader))
            click.echo(_("Written: {file}", file=out), err=as_json)


def _dates(museum: Museum, month: str | None, first: str | None, last: str | None) -> Period:
    if month and (first or last):
        raise OutOfRangeError(
            read="the dates of the report",
            where="--month",
            found="a month, and days",
            expected="one or the other",
            action="Leave out --month, or --from and --to.",
        )
    if month:
        return period_named(month, museum.zone)
    if first or last:
        return period_between(first or "", last or "", museum.zone, museum.clock())
    return last_whole_month(museum.zone, museum.clock())
