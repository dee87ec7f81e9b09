"""``stilltaut register``: rooms, loggers, works, mounts and frames from CSV files."""

import contextlib
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

import click

from dashboards.text.messages import _, counted
from service.commands.clock_option import as_if_option
from service.register.file_guide import write_empty_register
from service.register.register_files import LineChange, TableChanges, files_in, take_register
from service.settings import Settings, load_settings
from service.site_locale import opened_stores
from service.storage.stores import Stores

SHOWN = 12  # changed lines that are told one by one, for each file


@click.command()
@click.argument("paths", nargs=-1, type=click.Path(path_type=Path), metavar="PATH…")
@click.option("--data", "data_dir", type=click.Path(path_type=Path), help="Folder of the stores.")
@click.option("--dry-run", is_flag=True, help="Show what would change, and change nothing.")
@as_if_option
@click.option("--by", default="command line", help="Who does it, for the audit trail.")
@click.option(
    "--empty", type=click.Path(path_type=Path), metavar="DIR", help="Write empty files to fill in."
)
def command(
    paths: Sequence[Path],
    data_dir: Path | None,
    dry_run: bool,
    as_if: str | None,
    by: str,
    empty: Path | None,
) -> int:
    """Read the register's CSV files, or a folder of them, into the register.

    What is new, changed and unchanged is shown before anything is kept. All of it is kept or,
    when one line is faulty, none. With --empty, files to fill in are written into a folder.

    Exit code 1: done, and what was read raised a notice.
    """
    if empty is not None:
        return _write_empty(empty)
    if not paths:
        raise click.UsageError(_("Name files or a folder, or a folder to begin in with --empty."))
    files = files_in(paths)
    settings = load_settings().with_changes(data_dir=data_dir, as_if=as_if)
    with _stores(settings, dry_run) as stores:
        changes = take_register(stores, files, by=by, show_changes=_show, keep=not dry_run)
        click.echo(_ending(changes, dry_run))
        for folder in () if dry_run else paths:
            stores.photographs.read_from(folder / "photographs")
        kept = not dry_run and any(table.changes for table in changes)
        return int(kept and _tell(stores, settings))


@contextlib.contextmanager
def _stores(settings: Settings, dry_run: bool) -> Iterator[Stores]:
    """Open the museum; a mere look at a museum that is not there yet leaves no trace of one."""
    new = not settings.register_url and not (settings.data_dir / "register.db").exists()
    with contextlib.ExitStack() as stack:
        if dry_run and new:
            folder = stack.enter_context(tempfile.TemporaryDirectory(prefix="stilltaut-"))
            settings = settings.with_changes(data_dir=Path(folder))
        yield stack.enter_context(opened_stores(settings))


def _show(changes: Sequence[TableChanges]) -> None:
    for table in changes:
        click.echo(
            _(
                "{file}: {new} new, {changed} changed, {unchanged} unchanged",
                file=table.file,
                new=table.new,
                changed=table.changed,
                unchanged=table.unchanged,
            )
        )
        told = [change for change in table.changes if not change.new]
        for change in told[:SHOWN]:
            click.echo(f"  {_change_words(change)}")
        if len(told) > SHOWN:
            click.echo("  " + _("… and {many} more", many=len(told) - SHOWN))


def _change_words(change: LineChange) -> str:
    empty = _("(empty)")
    columns = "; ".join(
        f"{name} {before or empty} → {after or empty}" for name, before, after in change.columns
    )
    return _("line {line}, {key}: {columns}", line=change.number, key=change.key, columns=columns)


def _ending(changes: Sequence[TableChanges], dry_run: bool) -> str:
    many = sum(len(table.changes) for table in changes)
    if dry_run:
        return _("Nothing was changed: this was a look.")
    if not many:
        return _("Nothing to change.")
    return counted("Kept: {many} line new or changed.", "Kept: {many} lines new or changed.", many)


def _tell(stores: Stores, settings: Settings) -> bool:
    """Bring the notices of all rooms up to date; return whether one is new."""
    # Only now: judging works loads far more than reading a few tables.
    from service.answers.museum import Museum
    from service.notices.follow_up import follow_up_all

    opened = follow_up_all(Museum(stores, settings)).opened
    for notice in opened:
        click.echo(_("notice: {headline}", headline=notice.headline), err=True)
    return bool(opened)


def _write_empty(folder: Path) -> int:
    written = write_empty_register(folder)
    click.echo(
        _(
            "{folder}: {many} empty files, and {guide} to explain them.",
            folder=folder,
            many=len(written) - 1,
            guide=written[-1].name,
        )
    )
    return 0
