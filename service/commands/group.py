"""``stilltaut group``: several houses served together, each behind its own roles."""

import json
from pathlib import Path

import click

from analysis.errors import StilltautError
from analysis.records.locales import LOCALE_WORDS
from analysis.records.room_records import Site
from dashboards.pages import group_page
from dashboards.text.error_words import problem_words
from dashboards.text.messages import _
from dashboards.text.sentences import counts_words
from service.answers.museum import Museum
from service.command_words import CommandGroup
from service.commands.serve import serve_as
from service.errors import StoreError
from service.group.house_files import (
    House,
    every_house,
    folder_of,
    house_named,
    house_removed,
    require_free,
    settings_under,
    write_house,
)
from service.group.standings import HouseStanding, standing_of
from service.register.archive import require_empty, write_archive
from service.register.restore import restore_into
from service.settings import Settings, load_settings
from service.site_locale import opened_stores
from service.storage import places
from service.storage.records import put_record

GROUP_APP = "service.group.group_app:app_of_this_process"
data_option = click.option(
    "--data", "data_dir", type=click.Path(path_type=Path), help="Folder of the group."
)


@click.group(cls=CommandGroup)
def command() -> None:
    """Several houses served together: which house needs whom.

    Each keeps its own data folder, register, accounts and roles.
    """


@command.command()
@click.option("--name", required=True, help="What the group is called.")
@click.option("--zone", required=True, help="Time zone of its own pages, such as Europe/Dublin.")
@click.option(
    "--language",
    type=click.Choice(tuple(LOCALE_WORDS)),
    help="How its own pages are written; each house keeps its own way.",
)
@data_option
def begin(name: str, zone: str, language: str | None, data_dir: Path | None) -> int:
    """Begin a group, or name it anew."""
    settings = _group(data_dir)
    places.require_zone(zone, read="--zone")
    with opened_stores(settings) as stores, stores.register.writing():
        put_record(stores.register, Site("group", name, zone, locale=language))
    click.echo(_("{folder}: {name}.", folder=settings.data_dir, name=name))
    return 0


@command.command()
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@data_option
def show(as_json: bool, data_dir: Path | None) -> int:
    """Say of each house how it stands, the most urgent first.

    Exit code 1: there is a house of which nothing can be told.
    """
    told, untold = list[tuple[House, HouseStanding]](), list[tuple[House, str]]()
    for house in every_house(_known_group(data_dir)):
        try:
            told.append((house, _asked(house)))
        except StilltautError as shut:
            untold.append((house, problem_words(shut)))
        except Exception as failed:  # whatever is wrong with one house, the others are told of
            untold.append((house, f"{type(failed).__name__}: {failed}"))
    told.sort(key=lambda one: one[1].order)
    if as_json:
        click.echo(_json(told, untold))
    else:
        for house, why in untold:
            click.echo(f"{house.name}: {group_page.house_shut(why)}")
        for house, found in told:
            _say(house, found)
        if not told and not untold:
            click.echo(_("No house belongs to this group yet."))
    return 1 if untold else 0


@command.command()
@click.argument("name")
@click.option(
    "--museum", type=click.Path(path_type=Path), help="Data folder of a house; it stays there."
)
@click.option(
    "--archive",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="Archive of a house, read back into the group's folder.",
)
@click.option("--register-url", default="", help="Database of the house's register, if not SQLite.")
@data_option
def add(
    name: str,
    museum: Path | None,
    archive: Path | None,
    register_url: str,
    data_dir: Path | None,
) -> int:
    """Put a house in, as NAME: from its folder, from an archive, or a new one.

    A service that runs opens it within some seconds.
    """
    group = _group(data_dir)
    require_free(group, name)
    if museum is not None and archive is not None:
        raise click.UsageError(_("A folder or an archive, not both."))
    folder = museum.absolute() if museum is not None else folder_of(group) / name
    own = settings_under(group, name).with_changes(data_dir=folder, register_url=register_url)
    if archive is not None:
        restore_into(own, archive)
    elif museum is None:
        require_empty(folder)
    with opened_stores(own, create=museum is None):
        pass
    stated = {"data_dir": str(folder) if museum is not None else "", "register_url": register_url}
    write_house(group, name, **stated)
    click.echo(_("House {name} is in the group; its folder: {folder}.", name=name, folder=folder))
    return 0


@command.command("take-out")
@click.argument("name")
@click.argument("archive", type=click.Path(path_type=Path))
@data_option
def take_out(name: str, archive: Path, data_dir: Path | None) -> int:
    """Take the house NAME out of the group, whole, into a new folder ARCHIVE.

    Its data folder stays as it is, and no other house is touched. `stilltaut group add` or
    `stilltaut restore` reads the archive back.
    """
    group = _known_group(data_dir)
    house = house_named(group, name)
    require_empty(archive)
    if house.problem is not None:
        raise house.problem
    with opened_stores(house.settings, create=False) as stores, house_removed(group, name):
        summary = write_archive(stores, archive)
    click.echo(
        _(
            "House {name} is out of the group: {originals} originals and {months} months of "
            "readings in {archive}. Its own folder stays: {folder}.",
            name=name,
            originals=summary.originals,
            months=summary.months,
            archive=archive,
            folder=house.settings.data_dir,
        )
    )
    return 0


@command.command()
@click.option("--host", help="Address to listen on.")
@click.option("--port", type=int, help="Port to listen on.")
@data_option
def serve(host: str | None, port: int | None, data_dir: Path | None) -> None:
    """Serve all houses, each under its name, until stopped with Ctrl-C."""
    serve_as(_known_group(data_dir).with_changes(host=host, port=port, workers=1), GROUP_APP)


def _group(data_dir: Path | None) -> Settings:
    return load_settings().with_changes(data_dir=data_dir)


def _known_group(data_dir: Path | None) -> Settings:
    """Return the settings of a group that is there, so that a mistyped folder is no empty group."""
    settings = _group(data_dir)
    if not folder_of(settings).is_dir():
        raise StoreError(
            read=str(settings.data_dir),
            where="",
            found="no group of houses",
            expected="the folder of a group",
            action="Name the right folder with --data, or put a first house in.",
        )
    return settings


def _asked(house: House) -> HouseStanding:
    """Return how a house stands, worded as it writes."""
    if house.problem is not None:
        raise house.problem
    with opened_stores(house.settings, create=False) as stores:
        return standing_of(Museum(stores, house.settings))


def _say(house: House, found: HouseStanding) -> None:
    overdue = found.due_utc is not None and found.due_utc < found.now_utc
    click.echo(f"{house.name}: {found.name}" if found.name else f"{house.name}:")
    for line in (
        found.answer,
        *group_page.house_needs(found.counts, found.unseen, found.silent, overdue),
        counts_words(found.counts),
        group_page.due_words(found.due_utc, found.now_utc, found.zone),
    ):
        if line:
            click.echo(f"  {line}")


def _json(told: list[tuple[House, HouseStanding]], untold: list[tuple[House, str]]) -> str:
    houses = [
        {
            "house": house.name,
            "name": found.name,
            "now_utc": found.now_utc.isoformat(),
            "answer": found.answer,
            "counts": {str(which): many for which, many in found.counts.items()},
            "notices": found.notices,
            "unseen": found.unseen,
            "silent": found.silent,
            "due_utc": None if found.due_utc is None else found.due_utc.isoformat(),
        }
        for house, found in told
    ]
    shut = [{"house": house.name, "cannot_tell": why} for house, why in untold]
    return json.dumps({"houses": houses, "cannot_tell": shut}, ensure_ascii=False, indent=2)
