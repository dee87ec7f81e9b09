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
from service.storage.objects.copies import Copies
from service.storage.objects.folder import Folder
from service.storage.objects.marks import (
    BEING_RESTORED,
    MARK,
    BeingRestored,
    being_restored,
    mark_at,
    note_format,
    require_known_format,
)
from service.storage.objects.named import Objects
from service.storage.originals import Originals, Photographs
from service.storage.readings import ReadingsStore
from service.storage.register import Register, open_register
from service.storage.results import Results
from service.storage.schema import KeptInRow
from service.storage.spans import months_known, spans
from service.storage.uploads import latest_uploads

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
            was written by a later release, an archive was not read into it to the end, the
            register cannot be opened, or the store of objects does not answer.
        """
        folder, objects = settings.data_dir, objects_of(settings)
        names = objects.names()
        require_known_format(objects, names)
        unfinished = _unfinished(settings, objects, names)
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
            stores = cls.of(folder, objects, register, settings.copies_mb)
            if unfinished is not None:
                stores.end_restore(unfinished)
            stores._require_its_objects(mark_at(objects, names))
            if not (objects.at_hand and stores.originals.is_empty()):
                note_format(objects, names)
            if objects.at_hand:
                stores.readings.note_all()
            site_clock.open_on(register, settings.as_if)
        except BaseException:
            register.close()
            raise
        return stores

    @classmethod
    def of(cls, folder: Path, objects: Objects, register: Register, copies_mb: int = 0) -> "Stores":
        """Return the stores of a register and its files, as they are.

        ``copies_mb``: so much of readings that lie elsewhere is kept near at hand [MB].
        """
        copies = Copies(folder / "copies", copies_mb * 10**6) if copies_mb else None
        months = objects.under("readings").never_changed(copies)
        readings = ReadingsStore(months, register)
        originals = Originals(objects.under("originals"))
        return cls(folder, objects, originals, readings, register, Results(folder / "results"))

    @property
    def forecasts(self) -> Objects:
        """The forecasts of outdoor air."""
        return self.objects.under("forecasts")

    @property
    def mark(self) -> str:
        """The mark of the register, which stands beside its files too."""
        with self.register.reading() as session:
            return session.execute(select(KeptInRow.mark)).scalar() or ""

    def end_restore(self, restored: BeingRestored) -> None:
        """Take away what says that an archive is being read into this house: it is whole.

        Raises
        ------
        StoreError
            If it is not, by the register.
        """
        if self.mark != restored.mark:
            raise restored.told(self.objects)
        self.objects.remove(BEING_RESTORED)
        Folder(self.folder).remove(BEING_RESTORED)

    def note_place(self, mark: str) -> None:
        """Note in the register where its files are from now on, and there whose they are."""
        if not self.objects.at_hand:
            self.objects.put({MARK: mark.encode})
        with self.register.writing() as session:
            session.execute(delete(KeptInRow))
            session.add(KeptInRow(place=self._here, mark=mark))

    @property
    def _here(self) -> str:
        return "" if self.objects.at_hand else str(self.objects)

    def _require_its_objects(self, found: str) -> None:
        """Raise if the objects are not those that the register knows: they would seem gone.

        A disk that was not mounted looks so, a second machine with a folder of its own, and a
        setting that was forgotten. Another place is taken for the same where it holds what the
        register names. ``found`` is the mark of the register that stands there.
        """
        with self.register.reading() as session:
            row = session.execute(select(KeptInRow.place, KeptInRow.mark)).first()
        noted, mark = row or ("", "")
        if self._here != noted:
            if not _holds_what_is_named(self.readings, self.originals):
                raise _elsewhere(self.objects, _not_kept_here(noted))
            if found and found != mark:
                raise of_another(self.objects)
            self.note_place(mark or uuid.uuid4().hex)
        elif found and found != mark:
            raise of_another(self.objects)
        elif (
            (months := months_known(self.register))
            and self.readings.is_empty()
            and self.originals.is_empty()
        ):
            known = remark(f"nothing, though the register knows of {months} months of readings")
            raise _elsewhere(self.objects, known)

    def without_copies(self) -> "Stores":
        """Return the same stores, in which everything is read from where it lies."""
        return Stores.of(self.folder, self.objects, self.register)

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


def objects_of(settings: Settings) -> Objects:
    """Return where files and readings are kept; asks nothing of them yet."""
    if not settings.store:
        return Folder(settings.data_dir)
    from service.storage.objects.bucket import open_bucket  # takes its time, and few need it

    staging = settings.data_dir / "staging"
    return open_bucket(settings.store, settings.store_endpoint, settings.store_region, staging)


def restored_beside(folder: Path) -> Path:
    """Return the folder in which an archive is read back until it is the one that is named."""
    return folder.absolute().with_name(folder.name + ".part")


def has_register(settings: Settings) -> bool:
    """Return whether a register is there; of a database server, that it may be."""
    return bool(settings.register_url) or (settings.data_dir / "register.db").exists()


def _unfinished(settings: Settings, objects: Objects, names: set[str]) -> BeingRestored | None:
    """Return the restore that may not have ended, by what stands beside the files.

    Raises
    ------
    StoreError
        If it has not, since there is no register yet: none is made then.
    """
    found = being_restored(objects, names)
    place: Objects = objects
    if found is None and not has_register(settings):
        place = Folder(restored_beside(settings.data_dir))
        found = being_restored(place)
    if found is not None and not has_register(settings):
        raise found.told(place)
    return found


def _holds_what_is_named(readings: ReadingsStore, originals: Originals) -> bool:
    """Return whether some files that the register names are there, or it names none."""
    months = random.sample(known := spans(readings.register), min(LOOKED_FOR, len(known)))
    hashes = {one.sha256 for one in latest_uploads(readings.register, LOOKED_FOR)}
    return all(map(readings.has, months)) and all(map(originals.has, hashes))


def of_another(objects: Objects) -> StoreError:
    """Return the error of files that belong to another register."""
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
