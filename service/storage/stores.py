"""All stores of a museum, opened together."""

import random
import uuid
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType

from sqlalchemy import delete, select

from service.errors import StoreError, remark
from service.settings import Settings
from service.storage import site_clock
from service.storage.objects.folder import Folder
from service.storage.objects.named import Objects
from service.storage.originals import Originals, Photographs
from service.storage.readings import ReadingsStore
from service.storage.register import Register, open_register
from service.storage.results import Results
from service.storage.schema import KeptInRow
from service.storage.spans import months_known, spans
from service.storage.uploads import uploads

MARK = "belongs-to"  # beside the files: the mark of their register
LOOKED_FOR = 20  # files among all that a register names, to tell another place from its own


@dataclass(frozen=True)
class Stores:
    """The four stores: what arrived, what was read, what people know, what was computed.

    Examples
    --------
    >>> import tempfile
    >>> from service.storage import places
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     with Stores.open(Settings(data_dir=Path(folder))) as stores:
    ...         places.rooms(stores.register)
    ()
    """

    folder: Path
    objects: Objects
    originals: Originals
    readings: ReadingsStore
    register: Register
    results: Results

    @property
    def photographs(self) -> Photographs:
        """The photographs of looks."""
        return Photographs(self.objects.under("photographs"))

    @classmethod
    def open(cls, settings: Settings, *, create: bool = True) -> "Stores":
        """Open the stores in the data folder, the register brought up to this release.

        Parameters
        ----------
        create : bool
            Whether a missing folder is made. Reading commands say False, so that a mistyped
            folder is an error and not an empty museum.

        Raises
        ------
        StoreError
            If the folder is missing and not to be made, holds nothing of what the register knows,
            the register cannot be opened, or the store of objects does not answer.
        """
        folder = settings.data_dir
        if not create and not settings.all_elsewhere and not folder.is_dir():
            raise StoreError(
                read=str(folder),
                where="",
                found="no such folder",
                expected="the data folder of a museum",
                action="Name the right folder with --data, or take in a first file to make it.",
            )
        register = open_register(settings.database_url, create=create)
        try:
            objects = _objects(settings)
            readings = ReadingsStore(objects.under("readings"), register)
            originals = Originals(objects.under("originals"))
            _require_its_objects(objects, readings, originals)
            if objects.at_hand:
                readings.note_all()
            site_clock.open_on(register, settings.as_if)
        except BaseException:
            register.close()
            raise
        return cls(folder, objects, originals, readings, register, Results(folder / "results"))

    @property
    def forecasts(self) -> Objects:
        """The forecasts of outdoor air."""
        return self.objects.under("forecasts")

    def close(self) -> None:
        """Close the register; the folders need no closing."""
        self.register.close()

    def __enter__(self) -> "Stores":
        """Return the stores themselves."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        problem: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close them."""
        self.close()


def _objects(settings: Settings) -> Objects:
    """Return where files and readings are kept."""
    if not settings.store:
        return Folder(settings.data_dir)
    from service.storage.objects.bucket import open_bucket  # takes its time, and few need it

    staging = settings.data_dir / "staging"
    return open_bucket(settings.store, settings.store_endpoint, settings.store_region, staging)


def _require_its_objects(objects: Objects, readings: ReadingsStore, originals: Originals) -> None:
    """Raise if the objects are not those that the register knows: what it names would seem gone.

    A disk that was not mounted looks so, a second machine with a folder of its own, and a setting
    that was forgotten. Another place is taken for the same where it holds what the register names.
    """
    register, months = readings.register, months_known(readings.register)
    here = "" if objects.at_hand else str(objects)
    with register.reading() as session:
        noted, mark = session.execute(select(KeptInRow.place, KeptInRow.mark)).first() or ("", "")
    found = _mark_at(objects)
    if here != noted:
        if not _holds_what_is_named(readings, originals):
            raise _elsewhere(objects, _not_kept_here(noted))
        if found and found != mark:
            raise _of_another(objects)
        _note_place(register, objects, here, mark or uuid.uuid4().hex)
    elif found and found != mark:
        raise _of_another(objects)
    elif months and readings.is_empty() and originals.is_empty():
        known = remark(f"nothing, though the register knows of {months} months of readings")
        raise _elsewhere(objects, known)


def _mark_at(objects: Objects) -> str:
    """Return the mark of the register whose objects these are, "" where they have none."""
    if objects.at_hand:
        return ""
    try:
        return objects.get(MARK).decode()
    except FileNotFoundError:
        return ""


def _note_place(register: Register, objects: Objects, here: str, mark: str) -> None:
    """Note where the files are from now on, there and in the register."""
    if here:
        objects.put({MARK: mark.encode})
    with register.writing() as session:
        session.execute(delete(KeptInRow))
        session.add(KeptInRow(place=here, mark=mark))


def _holds_what_is_named(readings: ReadingsStore, originals: Originals) -> bool:
    """Return whether some files that the register names are there, or it names none."""
    months = random.sample(known := spans(readings.register), min(LOOKED_FOR, len(known)))
    hashes = {one.sha256 for one in uploads(readings.register)[-LOOKED_FOR:]}
    return all(map(readings.has, months)) and all(map(originals.has, hashes))


def _of_another(objects: Objects) -> StoreError:
    return StoreError(
        read=str(objects),
        where=MARK,
        found="files of another register",
        expected="a place in the store for each register, alone",
        action="Name another place in STILLTAUT_STORE, or the register to which these belong. "
        "Nothing was changed.",
    )


def _not_kept_here(noted: str) -> str:
    if noted:
        return remark(f"nothing of what the register names, which is in {noted}")
    return remark("nothing of what the register names, which is in a data folder")


def _elsewhere(objects: Objects, found: str) -> StoreError:
    return StoreError(
        read=str(objects),
        where="readings, originals",
        found=found,
        expected="the data folder, or the store of files, that belongs to this register",
        action="See whether the disk with the folder is mounted, name the right folder, and set "
        "STILLTAUT_STORE as it was. Nothing was changed. A house whose folder is lost is restored "
        "from an archive; so is one that moves from a folder into a store.",
    )
