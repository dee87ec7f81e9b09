"""All stores of a museum, opened together."""

from dataclasses import dataclass
from pathlib import Path
from types import TracebackType

from service.errors import StoreError
from service.settings import Settings
from service.storage import site_clock
from service.storage.objects.folder import Folder
from service.storage.objects.named import Objects
from service.storage.originals import Originals, Photographs
from service.storage.readings import ReadingsStore
from service.storage.register import Register, open_register
from service.storage.results import Results
from service.storage.spans import months_known


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
            or the register cannot be opened.
        """
        folder = settings.data_dir
        if not create and not folder.is_dir():
            raise StoreError(
                read=str(folder),
                where="",
                found="no such folder",
                expected="the data folder of a museum",
                action="Name the right folder with --data, or take in a first file to make it.",
            )
        register = open_register(settings.database_url, create=create)
        objects = Folder(folder)
        readings = ReadingsStore(objects.under("readings"), register)
        originals = Originals(objects.under("originals"))
        _require_its_objects(objects, readings, originals)
        if objects.at_hand:
            readings.note_all()
        site_clock.open_on(register, settings.as_if)
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


def _require_its_objects(objects: Objects, readings: ReadingsStore, originals: Originals) -> None:
    """Raise if nothing is kept while the register knows of readings: it is not this house's.

    A disk that was not mounted looks so, and a second machine with a folder of its own; what the
    register knows of the months would be taken for gone.
    """
    months = months_known(readings.register)
    if months and readings.is_empty() and originals.is_empty():
        readings.register.close()
        raise StoreError(
            read=str(objects),
            where="readings, originals",
            found=f"nothing, though the register knows of {months} months of readings",
            expected="the data folder that belongs to this register",
            action="See whether the disk with the folder is mounted, and name the right folder. "
            "Nothing was changed. A house whose folder is lost is restored from an archive.",
        )
