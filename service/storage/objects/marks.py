"""What stands beside the files of a house: whose they are, how written, and what is unfinished.

``belongs-to`` holds the mark of the register whose files these are. ``format-1`` says how they are
written: a program that meets a higher number than it knows leaves them alone. ``being-restored``
stands there while an archive is read back, and holds the mark that the register will have once that
is done: the register's last transaction decides whether there is a house.
"""

import contextlib
import json
import re
import uuid
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass
from datetime import UTC, datetime

from service.errors import StoreError
from service.storage.migrate import release
from service.storage.objects.named import Objects

MARK = "belongs-to"
BEING_RESTORED = "being-restored"
# Raised with whatever an earlier release would misread: how files are compressed or named, what
# stands in them. A schema step guards the register alone, and files outlive it.
FORMAT = 1
NUMBERED = re.compile(r"format-(\d+)")
REMOVED_AT_ONCE = 8


@dataclass(frozen=True)
class BeingRestored:
    """An archive that is being read back: its name, since when, and the mark of the house then."""

    archive: str
    begun: str
    mark: str

    @classmethod
    def now(cls, archive: str) -> "BeingRestored":
        """Return one that begins now."""
        return cls(archive, f"{datetime.now(UTC):%Y-%m-%d %H:%M}", uuid.uuid4().hex)

    def note(self, objects: Objects) -> None:
        """Note it beside the files, before the first of them, and whose they will be."""
        objects.put({BEING_RESTORED: json.dumps(asdict(self)).encode})
        if not objects.at_hand:
            objects.put({MARK: self.mark.encode})

    def told(self, where: Objects) -> StoreError:
        """Return the error of whoever takes it for a house."""
        return StoreError(
            read=str(where),
            where=BEING_RESTORED,
            found=f"an unfinished restore of {self.archive}, begun {self.begun} UTC",
            expected="a whole house",
            action="Where it is not running any more, begin it again (stilltaut restore, with the "
            "same archive), or clear away what there is of it (stilltaut restore --clear). "
            "Nothing was changed.",
        )


def being_restored(objects: Objects, names: Iterable[str] | None = None) -> BeingRestored | None:
    """Return what is being restored here, None where nothing is; ``names`` are those beside."""
    if BEING_RESTORED not in (objects.names() if names is None else names):
        return None
    with contextlib.suppress(FileNotFoundError):
        return BeingRestored(**json.loads(objects.get(BEING_RESTORED)))
    return None


def mark_at(objects: Objects, names: Iterable[str]) -> str:
    """Return the mark of the register whose files these are, "" where they have none."""
    if objects.at_hand or MARK not in names:
        return ""
    with contextlib.suppress(FileNotFoundError):
        return objects.get(MARK).decode()
    return ""


def require_known_format(objects: Objects, names: Iterable[str]) -> None:
    """Refuse files of a later release.

    Raises
    ------
    StoreError
        If they are written in a way that this program does not know.
    """
    found = {int(numbered[1]): name for name in names if (numbered := NUMBERED.fullmatch(name))}
    if found and (highest := max(found)) > FORMAT:
        raise StoreError(
            read=str(objects),
            where=found[highest],
            found=f"files made by a later release: {objects.get(found[highest]).decode()}",
            expected=f"at most format {FORMAT}, which stilltaut {release()} knows",
            action="Install that release or a newer one; this one has changed nothing.",
        )


def note_format(objects: Objects, names: Iterable[str]) -> None:
    """Note how the files here are written; where nothing may be written, nothing is."""
    name = f"format-{FORMAT}"
    if name not in names:
        with contextlib.suppress(StoreError):
            objects.put({name: f"stilltaut {release()}".encode})


def clear(objects: Objects) -> None:
    """Remove whatever lies here; last what says that it is unfinished."""
    found = [one.name for one in objects.listed() if one.name != BEING_RESTORED]
    with ThreadPoolExecutor(REMOVED_AT_ONCE) as pool:
        list(pool.map(objects.remove, found))
    objects.remove(BEING_RESTORED)
