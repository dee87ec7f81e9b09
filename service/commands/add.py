"""``stilltaut add``: take logger files in."""

import json
from collections.abc import Sequence
from pathlib import Path

import click

from analysis.errors import StilltautError
from service.arrivals import pairs
from service.receipts import UploadReceipt
from service.settings import load_settings
from service.storage.stores import Stores
from service.uploads import finish_received, take_in


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--logger", "logger_id", required=True, help="Logger the readings belong to.")
@click.option("--zone", help="Clock of the logger: Europe/Oslo, UTC+1, 'Europe/Oslo no-dst'.")
@click.option("--column", "columns", multiple=True, help='As rh_pct="heading"; may be repeated.')
@click.option("--sensor", "sensors", multiple=True, help="As NAME=LOGGER; may be repeated.")
@click.option("--day-first/--month-first", default=None, help="Order in dates like 03/04/2025.")
@click.option("--instead", is_flag=True, help="Take back an earlier reading of the same file.")
@click.option("--by", default="command line", help="Who does it, for the audit trail.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object a file.")
@click.option("--data", "data_dir", type=click.Path(path_type=Path), help="Folder of the stores.")
def command(
    files: Sequence[Path],
    logger_id: str,
    zone: str | None,
    columns: Sequence[str],
    sensors: Sequence[str],
    day_first: bool | None,
    instead: bool,
    by: str,
    as_json: bool,
    data_dir: Path | None,
) -> int:
    """Take FILES in for a logger.

    The same file a second time changes nothing. Where two files give different values for one
    instant, the first is kept, and the conflict is shown.
    """
    settings = load_settings().with_changes(data_dir=data_dir)
    codes = []
    with Stores.open(settings) as stores:
        for receipt in finish_received(stores):
            click.echo("\n".join(receipt.lines()), err=as_json)
        for file in files:
            try:
                receipt = take_in(
                    stores,
                    file,
                    name=file.name,
                    logger_id=logger_id,
                    zone=zone,
                    columns=pairs(columns, "--column") or None,
                    sensors=pairs(sensors, "--sensor") or None,
                    day_first=day_first,
                    by=by,
                    instead=instead,
                )
            except StilltautError as problem:
                click.echo(f"stilltaut: {problem}", err=True)
                codes.append(2)
            else:
                _show(receipt, as_json=as_json)
                codes.append(1 if receipt.needs_person else 0)
    return max(codes)


def _show(receipt: UploadReceipt, *, as_json: bool) -> None:
    if as_json:
        print(json.dumps(receipt.as_json(), ensure_ascii=False))
    else:
        print("\n".join(receipt.lines()))
