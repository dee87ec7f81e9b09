"""``stilltaut restore``: an archive read back into an empty folder."""

from pathlib import Path

import click

from service.intake.verification import verify
from service.register.restore import restore_into
from service.settings import load_settings
from service.site_locale import opened_stores
from service.storage.forecasts import forecast_faults


@click.command()
@click.argument("archive", type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.option("--data", "data_dir", type=click.Path(path_type=Path), help="Empty folder to fill.")
def command(archive: Path, data_dir: Path | None) -> int:
    """Read ARCHIVE back: originals, readings, register, notices and what was seen of them.

    The folder appears whole or not at all, and is then verified. Exit code 1: it is there, and
    something in it needs a person.

    People who could sign in come back switched off, without passwords; tokens, and the names and
    numbers of those who are told of notices, are in no archive: enter them anew.
    """
    settings = load_settings().with_changes(data_dir=data_dir)
    found = restore_into(settings, archive)
    print(
        f"{settings.data_dir}: {found.originals} originals, {found.months} months of readings, "
        f"{found.register_rows} rows of the register, {found.journal_rows} of the journal, "
        f"{found.photographs} photographs."
    )
    with opened_stores(settings, create=False) as stores:
        problems = [*verify(stores), *forecast_faults(stores.forecasts)]
    for problem in problems:
        print(problem)
    return 1 if problems else 0
