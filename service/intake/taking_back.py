"""An upload taken back: all its sensors, the months built anew from the originals that remain."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import pandas as pd

from dashboards.text import wording
from dashboards.text.messages import _
from service.errors import StoreError
from service.intake.taking_in import loggers_of, rebuilt, withdraw
from service.storage.months import SAME_WITHIN
from service.storage.stores import Stores
from service.storage.uploads import Upload, UploadState, upload_numbered


@dataclass(frozen=True)
class LoggerChange:
    """What a logger's record would lose, and where another value would stand in its place."""

    logger_id: str
    gone: int
    returning: int
    first: pd.Timestamp | None
    last: pd.Timestamp | None


@dataclass(frozen=True)
class Changes:
    """What would change if an upload were taken back."""

    upload: Upload
    loggers: Sequence[LoggerChange]

    def sentence(self) -> str:
        """Return it in one sentence, as what would be."""
        gone = sum(one.gone for one in self.loggers)
        returning = sum(one.returning for one in self.loggers)
        other = wording.plural(returning, "other value")
        back = _(", and {values} would return", values=other) if returning else ""
        return wording.capital(
            _(
                "{gone} of {name} would go{back}.",
                gone=wording.plural(gone, "reading"),
                name=self.upload.name,
                back=back,
            )
        )

    def lines(self, *, done: bool = False) -> list[tuple[str, str]]:
        """Return it logger by logger, as what would be or as what was ``done``."""
        words = (_("went"), _("returned")) if done else (_("would go"), _("would return"))
        return [(one.logger_id, _words(one, *words)) for one in self.loggers]


def what_changes(stores: Stores, upload: Upload) -> Changes:
    """Return what would change if an upload were taken back; nothing is changed."""
    if upload.state == UploadState.WITHDRAWN:
        return Changes(upload, ())
    return Changes(
        upload,
        [
            _compared(name, stores.readings.load(name), rebuilt(stores, name, upload.id))
            for name in loggers_of(stores, upload)
        ],
    )


def take_back(stores: Stores, number: int, *, by: str) -> Changes:
    """Take an upload back, by its number; its original stays. Doing it again changes nothing.

    Raises
    ------
    UnknownNameError
        If there is no such upload.
    StoreError
        If it has not been stored yet, or an original that remains is missing.
    """
    upload = upload_numbered(stores.register, number)
    if upload.state == UploadState.RECEIVED:
        raise StoreError(
            read=f"upload {number}",
            where=upload.name,
            found="a file that is still being taken in",
            expected="a file that is stored",
            action="Wait until it is stored, then take it back.",
        )
    changes = what_changes(stores, upload)
    if upload.state != UploadState.WITHDRAWN:
        withdraw(stores, upload, by=by)
    return changes


def _compared(logger_id: str, now: pd.DataFrame, then: pd.DataFrame) -> LoggerChange:
    """Return how a logger's record now differs from the one that would remain."""
    gone = now.index.difference(then.index)
    both = now.index.intersection(then.index)
    differs = _different(now.loc[both], then.loc[both])
    touched = gone.union(both[differs])
    return LoggerChange(
        logger_id,
        len(gone),
        int(differs.sum()),
        touched[0] if len(touched) else None,
        touched[-1] if len(touched) else None,
    )


def _different(now: pd.DataFrame, then: pd.DataFrame) -> pd.Series:
    """Return at which times a value would be another, or gone."""
    found = pd.Series(False, index=now.index)
    for channel in ("temp_c", "rh_pct"):
        equal = (now[channel] - then[channel]).abs() <= SAME_WITHIN
        found |= ~(equal | (now[channel].isna() & then[channel].isna()))
    return found


def _words(change: LoggerChange, went: str, returned: str) -> str:
    if change.first is None or change.last is None:
        return _("nothing changes: other files say the same")
    first, last = f"{change.first:%Y-%m-%d %H:%M}", f"{change.last:%Y-%m-%d %H:%M}"
    span = _("between {first} and {last} UTC", first=first, last=last)
    parts = [f"{wording.plural(change.gone, 'reading')} {went}"] if change.gone else []
    if change.returning:
        parts.append(f"{wording.plural(change.returning, 'other value')} {returned}")
    return f"{wording.listed(parts)}, {span}"


def as_json(changes: Changes) -> Mapping[str, object]:
    """Return the changes as plain values."""
    return {
        "upload": changes.upload.id,
        "file": changes.upload.name,
        "loggers": [
            {"logger": one.logger_id, "gone": one.gone, "returning": one.returning}
            for one in changes.loggers
        ],
    }
