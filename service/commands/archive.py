"""``stilltaut archive``: everything in plain text and Parquet, readable without this program."""

from pathlib import Path

import click

from dashboards.text.messages import _
from service.register.archive import write_archive
from service.settings import load_settings
from service.site_locale import opened_stores


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--data", "data_dir", type=click.Path(path_type=Path), help="Folder of the stores.")
def command(folder: Path, data_dir: Path | None) -> int:
    """Write everything into a new FOLDER, in plain text and Parquet.

    Its README.txt explains each file, each column and each unit.
    """
    settings = load_settings().with_changes(data_dir=data_dir)
    with opened_stores(settings, create=False) as stores:
        summary = write_archive(stores, folder)
        print(
            _(
                "{folder}: {originals} originals, {months} months of readings, {files} files of "
                "the register, {photographs} photographs.",
                folder=folder,
                originals=summary.originals,
                months=summary.months,
                files=summary.register_files,
                photographs=summary.photographs,
            )
        )
    return 0
