"""All stores of a museum, opened together."""

from dataclasses import dataclass
from pathlib import Path
from types import TracebackType

from service.errors import StoreError
from service.settings import Settings
from service.storage import site_clock
from service.storage.originals import Originals, Photographs
from service.storage.readings import ReadingsStore
from service.storage.register import Register, open_register
from service.storage.results import Results


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
    originals: Originals
    readings: ReadingsStore
    register: Register
    results: Results

    @property
    def photographs(self) -> Photographs:
        """The photographs of looks."""
        return Photographs(self.folder / "photographs")

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
            If the folder is missing and not to be made, or the register cannot be opened.
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
        readings = ReadingsStore(folder / "readings", register)
        readings.note_all()
        site_clock.open_on(register, settings.as_if)
        originals, results = Originals(folder / "originals"), Results(folder / "results")
        return cls(folder, originals, readings, register, results)

    @property
    def forecasts(self) -> Path:
        """The folder of forecasts; there is none before the first."""
        return self.folder / "forecasts"

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
