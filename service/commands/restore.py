"""``stilltaut restore``: an archive read back into an empty folder."""

from pathlib import Path

import click

from dashboards.text.error_words import problem_words
from dashboards.text.messages import _
from service.intake.verification import verify
from service.register.restore import clear_unfinished, restore_into
from service.settings import load_settings
from service.site_locale import opened_stores
from service.storage.forecasts import forecast_faults


@click.command()
@click.argument(
    "archive", required=False, type=click.Path(exists=True, file_okay=False, path_type=Path)
)
@click.option("--data", "data_dir", type=click.Path(path_type=Path), help="Empty folder to fill.")
@click.option("--clear", is_flag=True, help="Clear away an unfinished restore, without an ARCHIVE.")
def command(archive: Path | None, data_dir: Path | None, clear: bool) -> int:
    """Read ARCHIVE back: originals, readings, register, notices and what was seen of them.

    The house appears whole or not at all, in a folder or in a bucket, and is then verified. Exit
    code 1: it is there, and something in it needs a person. What a restore that was broken off has
    left is no house: it is told when it is opened, cleared when a restore begins again, or by
    --clear.

    People who could sign in come back switched off, without passwords; tokens, and the names and
    numbers of those who are told of notices, are in no archive: enter them anew.
    """
    settings = load_settings().with_changes(data_dir=data_dir)
    if clear == (archive is not None):
        raise click.UsageError(_("An ARCHIVE, or --clear: one of both."))
    if archive is None:
        gone = clear_unfinished(settings)
        print(
            _(
                "The unfinished restore of {archive}, begun {begun} UTC, is cleared away.",
                archive=gone.archive,
                begun=gone.begun,
            )
        )
        return 0
    found = restore_into(settings, archive)
    with opened_stores(settings, create=False) as stores:
        print(
            _(
                "{folder}: {originals} originals, {months} months of readings, {rows} rows of the "
                "register, {journal} of the journal, {photographs} photographs.",
                folder=settings.data_dir,
                originals=found.originals,
                months=found.months,
                rows=found.register_rows,
                journal=found.journal_rows,
                photographs=found.photographs,
            )
        )
        problems = [*verify(stores), *forecast_faults(stores.forecasts)]
        for problem in problems:
            print(problem_words(problem))
    return 1 if problems else 0
