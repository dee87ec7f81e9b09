"""What reading register files would change, table by table: new, changed, unchanged."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from service.storage.audit import AuditLine
from service.storage.register_cells import text_of
from service.storage.register_edits import LINES


@dataclass(frozen=True)
class LineChange:
    """One line of a file that is new, or changes what the register holds.

    ``columns`` says what changes: column, before, after, as they stand in a cell.
    """

    number: int
    key: str
    new: bool
    columns: tuple[tuple[str, str, str], ...] = ()


@dataclass(frozen=True)
class TableChanges:
    """What one file brings: how many lines it has, and those of them that are new or changed."""

    file: str
    lines: int
    changes: tuple[LineChange, ...]

    @property
    def new(self) -> int:
        """Lines that the register does not know yet."""
        return sum(change.new for change in self.changes)

    @property
    def changed(self) -> int:
        """Lines that say something else than the register."""
        return len(self.changes) - self.new

    @property
    def unchanged(self) -> int:
        """Lines that the register holds already as they are."""
        return self.lines - len(self.changes)


def line_change(file: str, number: int, key: str, trail: Sequence[AuditLine]) -> LineChange:
    """Return what a line changed, by the lines it left in the audit trail."""
    own = LINES[file].name
    if any(line.what == own and line.before is None for line in trail):
        return LineChange(number, key, new=True)
    columns = (column for line in trail for column in _columns(line.before or {}, line.after or {}))
    return LineChange(number, key, new=False, columns=tuple(columns))


def _columns(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterable[tuple[str, str, str]]:
    for name, value in after.items():
        if before.get(name) != value:
            yield name, text_of(before.get(name)), text_of(value)
