"""Which houses belong to a group: one file a house in the group's folder, read anew each time.

``GROUP/houses/NAME.toml`` names the house's data folder (empty: ``GROUP/houses/NAME``), the
database of its register and what else is set for this house alone. Putting a house in writes its
file, taking it out removes it; no other house's file is touched, and a file that cannot be read is
told of that house alone.
"""

import json
import os
import re
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

from analysis.errors import StilltautError, UnknownNameError
from dashboards.links import houses as address_of
from service.settings import Settings
from service.storage.durable import make_folder, sync_folder, unwritable

NAME = re.compile(r"[a-z0-9](?:[a-z0-9-]{0,38}[a-z0-9])?")
# How the pages are served is said once, for all houses.
OF_THE_GROUP = (
    *("host", "port", "workers", "log", "allowed_hosts", "base_url", "access", "signed_in_h"),
    *("tls_cert", "tls_key", "proxy", "as_if", "cache_dir", "answers_mb"),
)
OWN = tuple(one.name for one in fields(Settings) if one.name not in OF_THE_GROUP)


@dataclass(frozen=True)
class House:
    """One house of a group as its file has it; ``problem`` says why that could not be read."""

    name: str
    settings: Settings
    problem: StilltautError | None = None


def folder_of(group: Settings) -> Path:
    """Return the folder in which the houses' files stand."""
    return group.data_dir / "houses"


def house_file(group: Settings, name: str) -> Path:
    """Return the file of a house."""
    return folder_of(group) / f"{name}.toml"


def house_names(group: Settings) -> tuple[str, ...]:
    """Return the names of all houses, in alphabetical order."""
    return tuple(sorted(one.stem for one in folder_of(group).glob("*.toml") if _is_name(one.stem)))


def is_there(group: Settings, name: str) -> bool:
    """Tell whether a house belongs to the group now."""
    return _is_name(name) and house_file(group, name).is_file()


def house_named(group: Settings, name: str) -> House:
    """Return a house.

    Raises
    ------
    UnknownNameError
        If the group has no such house.
    """
    if not is_there(group, name):
        raise UnknownNameError(read="houses of the group", name=name, known=house_names(group))
    path = house_file(group, name)
    try:
        stated = tomllib.loads(path.read_text(encoding="utf-8"))
        return House(name, _settings(group, name, stated, path))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as problem:
        return House(name, settings_under(group, name), _unread(path, str(problem)))
    except StilltautError as problem:
        return House(name, settings_under(group, name), problem)


def every_house(group: Settings) -> tuple[House, ...]:
    """Return all houses, in the order of their names."""
    return tuple(house_named(group, name) for name in house_names(group))


def write_house(group: Settings, name: str, **stated: str) -> House:
    """Write the file of a new house; it appears whole or not at all.

    Raises
    ------
    StilltautError
        If the name will not do or is taken, or the disk refuses.
    """
    require_free(group, name)
    path = house_file(group, name)
    lines = [f"{key} = {json.dumps(value)}" for key, value in stated.items() if value]
    part = path.with_suffix(".part")
    try:
        make_folder(path.parent)
        with part.open("w", encoding="utf-8") as out:
            out.write("\n".join([*lines, ""]))
            out.flush()
            os.fsync(out.fileno())
        part.chmod(0o600)  # the address of a database may hold a password
        os.replace(part, path)
        sync_folder(path.parent)
    except OSError as problem:
        raise unwritable(path, problem) from problem
    return house_named(group, name)


@contextmanager
def house_removed(group: Settings, name: str) -> Iterator[None]:
    """Take a house out of the group; it is put back where what is done within fails.

    Its data folder and register stay as they are.
    """
    path = house_file(group, name)
    aside = path.with_suffix(".out")
    try:
        os.replace(path, aside)
        sync_folder(path.parent)
    except OSError as problem:
        raise unwritable(path, problem) from problem
    try:
        yield
    except BaseException:
        os.replace(aside, path)
        raise
    aside.unlink()
    sync_folder(path.parent)


def require_free(group: Settings, name: str) -> None:
    """Refuse a name that is no part of an address, or is taken."""
    if not _is_name(name):
        raise _refused(name, repr(name), "small letters, figures and hyphens, 40 at most")
    if house_file(group, name).exists():
        raise _refused(name, "a house of this name in the group", "a name that is not taken")


def _is_name(name: str) -> bool:
    return NAME.fullmatch(name) is not None


def _settings(group: Settings, name: str, stated: dict[str, Any], path: Path) -> Settings:
    for key, value in stated.items():
        known = next((one for one in fields(Settings) if one.name == key and key in OWN), None)
        if known is None:
            raise UnknownNameError(read=str(path), name=key, known=OWN)
        kind = str if key == "data_dir" else type(known.default)
        if type(value) is not kind:
            raise _unread(path, f"{key} = {value!r}")
    if "data_dir" in stated:
        stated["data_dir"] = group.data_dir / Path(stated["data_dir"])
    return settings_under(group, name).with_changes(**stated)


def settings_under(group: Settings, name: str) -> Settings:
    """Return the settings of a house about which its file says nothing."""
    base = f"{group.base_url.rstrip('/')}{address_of(name)}" if group.base_url else ""
    return group.with_changes(
        data_dir=folder_of(group) / name,
        register_url="",
        store=f"{group.store.rstrip('/')}/houses/{name}" if group.store else "",
        base_url=base.rstrip("/"),
        workers=1,
        watch_dir="",
    )


def _unread(path: Path, found: str) -> StilltautError:
    return StilltautError(
        read=str(path),
        where="",
        found=found,
        expected='lines such as data_dir = "/srv/north"',
        action="Correct the file; the other houses are not concerned.",
    )


def _refused(name: str, found: str, expected: str) -> StilltautError:
    return StilltautError(
        read="the name of a house",
        where=name,
        found=found,
        expected=expected,
        action="Choose another name. Nothing was changed.",
    )
