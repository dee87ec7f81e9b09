"""``stilltaut compact``: the months of closed years in one file a logger and year."""

from pathlib import Path

import click

from dashboards.text.messages import _
from service.intake.closed_years import compact_all
from service.settings import load_settings
from service.site_locale import opened_stores
from service.storage.register import now_utc
from service.storage.spans import spans


@click.command()
@click.option("--data", "data_dir", type=click.Path(path_type=Path), help="Folder of the stores.")
def command(data_dir: Path | None) -> int:
    """Put the months of years that are over into one file a logger and year.

    No reading changes. A late reading gives its month a file of its own again, until the next time.
    `stilltaut serve` does the same by itself once a day while it runs.
    """
    settings = load_settings().with_changes(data_dir=data_dir)
    with opened_stores(settings, create=False) as stores:
        before = len({(span.logger, span.file) for span in spans(stores.register)})
        after = before - compact_all(stores.readings, now_utc())
        print(_("Files of readings before: {before}; now: {after}.", before=before, after=after))
    return 0
