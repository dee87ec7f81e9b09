"""``stilltaut check``: verify originals, readings and register against each other."""

from pathlib import Path

import click

from dashboards.text.error_words import problem_words
from dashboards.text.messages import _
from service.estimates.record_problems import record_problems
from service.intake.taking_in import finish_received, mend
from service.intake.verification import verify
from service.settings import load_settings
from service.site_locale import opened_stores
from service.storage.forecasts import forecast_faults
from service.storage.register import now_utc


@click.command()
@click.option("--data", "data_dir", type=click.Path(path_type=Path), help="Folder of the stores.")
@click.option("--mend", "mends", is_flag=True, help="Merge stored files again from the originals.")
def command(data_dir: Path | None, mends: bool) -> int:
    """Verify originals, readings and register against each other.

    Exit code 0: all is well. 1: something needs a person; each line says what was found, where,
    what was expected, and what to do.
    """
    settings = load_settings().with_changes(data_dir=data_dir)
    with opened_stores(settings, create=False) as stores:
        for receipt in finish_received(stores):
            print("\n".join(receipt.lines()))
        if mends:
            print(_("{many} readings came back from the originals.", many=mend(stores)))
        faults = [*verify(stores), *forecast_faults(stores.forecasts)]
        held = record_problems(stores, now_utc())
        problems = [*map(problem_words, faults), *map(str, held)]
        for problem in problems:
            print(problem)
        many = len(problems)
        print(_("{many} to look at.", many=many) if problems else _("All is well."))
    return 1 if problems else 0
