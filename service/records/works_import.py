"""Works from a spreadsheet: a row a work, headings in anybody's words, shown before it is kept."""

import csv
import io
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from python_calamine import CalamineError, CalamineWorkbook

from analysis.errors import StilltautError
from analysis.records import REGISTER, Field, Kind
from analysis.records.cells import CellError, value_of
from dashboards.pages.register_pages import SheetRow, WorksImportPage
from dashboards.text.error_words import error_words
from dashboards.text.messages import N_, _
from dashboards.text.wording import capital, plural
from service.errors import StoreError
from service.records.register_saving import save_entry
from service.register.file_text import decoded, delimiter_of
from service.register.formulas import unmarked
from service.storage.places import rooms
from service.storage.records import line_at, values_of
from service.storage.register import Register

FILES = ("works.csv", "mounts.csv", "frames.csv", "hangings.csv")
# Headings that people write, beside a field's own name and label.
ALSO: Mapping[str, tuple[str, ...]] = {
    "work_id": ("number", "no", "inventory number", "inventory no", "accession number", "id"),
    "title": ("name", "work"),
    "width_mm": ("width", "w", "breadth"),
    "height_mm": ("height", "h"),
    "finish": ("finish",),
    "grain": ("grain",),
    "on_loan": ("loan", "on loan"),
    "mounted_utc": ("mounted", "date of mounting"),
    "mounted_rh_pct": ("rh at mounting", "mounting rh", "humidity at mounting"),
    "mounted_temp_c": ("temperature at mounting",),
    "mount": ("held", "mount"),
    "adhesive": ("adhesive", "hinges"),
    "hinge_free_length_mm": ("free hinge length",),
    "hinge_coverage": ("hinge coverage",),
    "frame": ("frame",),
    "closed_utc": ("closed", "framed", "framed on"),
    "closing_rh_pct": ("rh at closing", "closing rh"),
    "spacer_mm": ("spacer", "spacer depth"),
    "wall": ("wall",),
    "from_utc": ("hangs since", "since"),
    "position": ("place", "position"),
}
LARGEST_ROWS = 2000


class _LookedOnly(Exception):
    """Ends the transaction of a mere look."""


@dataclass(frozen=True)
class Column:
    """A column of the sheet: its heading, the field it fills, the unit the heading names."""

    heading: str
    file: str = ""
    one: Field | None = None
    unit: str = ""


@dataclass(frozen=True)
class WorkRow:
    """One row: what it says of a work, and what became or would become of it."""

    number: int
    work_id: str
    title: str
    outcome: str
    problem: str = ""


@dataclass(frozen=True)
class WorksSheet:
    """What a sheet brings: how its columns were understood, and each of its rows."""

    columns: Sequence[Column]
    rows: Sequence[WorkRow] = field(default_factory=tuple)

    @property
    def faulty(self) -> int:
        """Rows that need another look."""
        return sum(bool(row.problem) for row in self.rows)

    @property
    def new(self) -> int:
        """Rows that are works to be added."""
        return sum(row.outcome == _(NEW) for row in self.rows)


NEW, THERE = N_("new"), N_("there already, left as it is")


def cells_of(name: str, data: bytes) -> list[list[str]]:
    """Return the cells of the first sheet that has any, as text.

    Raises
    ------
    StoreError
        If the file is no table that can be read.
    """
    rows = (
        _workbook_rows(name, data) if data[:2] in (b"PK", b"\xd0\xcf") else _text_rows(name, data)
    )
    kept = [row for row in rows if any(cell.strip() for cell in row)]
    if len(kept) < 2:
        raise _unreadable(name, _("{rows} with anything in it", rows=plural(len(kept), "row")))
    if len(kept) > LARGEST_ROWS:
        raise _unreadable(name, _("more than {rows} rows", rows=LARGEST_ROWS))
    return kept


def _workbook_rows(name: str, data: bytes) -> list[list[str]]:
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(data))
        sheets = [book.get_sheet_by_name(one).to_python() for one in book.sheet_names]
    except (CalamineError, ValueError, OSError) as problem:
        raise _unreadable(
            name, _("a workbook that cannot be opened ({problem})", problem=problem)
        ) from problem
    filled = next((sheet for sheet in sheets if sheet), [])
    return [[_cell_text(cell) for cell in row] for row in filled]


def _cell_text(cell: Any) -> str:
    if isinstance(cell, datetime | date):
        return cell.isoformat()
    if isinstance(cell, float) and cell == int(cell):
        return str(int(cell))
    return str(cell)


def _text_rows(name: str, data: bytes) -> list[list[str]]:
    try:
        text = decoded(data)
    except UnicodeDecodeError:
        raise _unreadable(name, _("bytes that are not UTF-8 text")) from None
    read = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter_of(text))
    return [[unmarked(cell) for cell in cells] for cells in read]


def _unreadable(name: str, found: str) -> StoreError:
    return StoreError(
        read=name,
        where="",
        found=found,
        expected="a table with headings in its first row and a work in each further row",
        action="Save the sheet as a workbook or as 'CSV UTF-8', and choose it again. Nothing was "
        "stored.",
    )


def columns_of(headings: Sequence[str]) -> list[Column]:
    """Return what each column is, by its heading; one that is not understood fills nothing."""
    known: dict[str, tuple[str, Field]] = {}
    for file in reversed(FILES):
        for one in REGISTER[file].fields.values():
            if one.name in ("note", "by") and file != "works.csv":
                continue
            for words in (one.name, one.label, *ALSO.get(one.name, ())):
                known[_plain(words)] = (file, one)
    found, taken = [], set()
    for heading in headings:
        words, unit = _without_unit(heading)
        meant = known.get(_plain(words))
        if meant is None or (meant[0], meant[1].name) in taken:
            found.append(Column(heading))
            continue
        file, one = meant
        taken.add((file, one.name))
        found.append(Column(heading, file, one, unit if one.kind is Kind.NUMBER else ""))
    return found


def _plain(words: str) -> str:
    return re.sub(r"[^a-z0-9]+", " ", words.casefold()).strip()


def _without_unit(heading: str) -> tuple[str, str]:
    """Return a heading without the unit in brackets behind it, and the unit.

    Examples
    --------
    >>> _without_unit("Width (cm)"), _without_unit("Title")
    (('Width', 'cm'), ('Title', ''))
    """
    found = re.fullmatch(r"(.*?)\s*[\[(,]\s*(mm|cm|m|in|%|%RH|°C)\s*[\])]?\s*", heading)
    return (found[1], found[2]) if found else (heading, "")


def take_works(
    register: Register, cells: Sequence[Sequence[str]], *, who: str, keep: bool
) -> WorksSheet:
    """Add the works of a sheet; a row that cannot be is left out, with why.

    A work that is there already is left as it is.

    Parameters
    ----------
    keep : bool
        False undoes everything after the look.
    """
    columns = columns_of(cells[0])
    rows: list[WorkRow] = []
    try:
        with register.writing():
            for number, row in enumerate(cells[1:], start=2):
                rows.append(_taken(register, columns, number, row, who))
            if not keep:
                raise _LookedOnly
    except _LookedOnly:
        pass
    return WorksSheet(columns, tuple(rows))


def _taken(
    register: Register, columns: Sequence[Column], number: int, row: Sequence[str], who: str
) -> WorkRow:
    values: dict[str, dict[str, Any]] = {}
    work_id = title = ""
    try:
        for column, text in zip(columns, row, strict=False):
            if column.one is not None and text.strip():
                value = _value(register, column, text.strip())
                values.setdefault(column.file, {})[column.one.name] = value
        sheet = values.get("works.csv", {})
        work_id, title = str(sheet.get("work_id", "")), str(sheet.get("title", ""))
        _require(sheet)
        if line_at(register, "works.csv", {"work_id": work_id}) is not None:
            return WorkRow(number, work_id, title, _(THERE))
        with register.within():
            for file in FILES:
                if file in values:
                    _save(register, file, work_id, values[file], who)
    except CellError as problem:
        return WorkRow(number, work_id, title, _("left out"), error_words(str(problem)))
    except StilltautError as problem:
        words = _(
            "{where}: found {found}, expected {expected}",
            where=error_words(problem.where),
            found=error_words(problem.found),
            expected=error_words(problem.expected),
        )
        return WorkRow(number, work_id, title, _("left out"), words)
    return WorkRow(number, work_id, title, _(NEW))


def _require(sheet: Mapping[str, Any]) -> None:
    for one in REGISTER["works.csv"].fields.values():
        if one.needed and sheet.get(one.name) in (None, ""):
            raise CellError(
                _("{label}: nothing stands there, and it is needed", label=_(one.label))
            )


def _value(register: Register, column: Column, text: str) -> Any:
    one = column.one
    if one is None:
        return None
    if one.of == "rooms.csv":
        return _room(register, text)
    bare = re.fullmatch(r"[\d.,+\-−–\s]+", text) is not None
    try:
        return value_of(one, f"{text} {column.unit}".strip() if bare else text, mark="either")
    except CellError as problem:
        raise CellError(
            _(
                "{label}: found {text}, expected {expected}",
                label=_(one.label),
                text=repr(text),
                expected=error_words(str(problem)),
            )
        ) from None


def _room(register: Register, text: str) -> str:
    """Return the short name of a room that a sheet names by it or as it is shown."""
    every = {
        name.casefold(): room.room for room in rooms(register) for name in (room.name, room.room)
    }
    found = every.get(text.casefold())
    if found is None:
        known = ", ".join(room.name for room in rooms(register)) or _("none yet")
        raise CellError(
            _(
                "Room: found {text}, expected a room that is written down: {known}",
                text=repr(text),
                known=known,
            )
        )
    return found


def _save(register: Register, file: str, work_id: str, values: Mapping[str, Any], who: str) -> None:
    record = REGISTER[file].record(**({"work_id": work_id} | dict(values)))
    save_entry(register, file, values_of(record), who=who)


def not_read(columns: Iterable[Column]) -> list[str]:
    """Return the headings that were not understood."""
    return [one.heading for one in columns if one.one is None and one.heading.strip()]


def answer_words(sheet: WorksSheet, *, stored: bool) -> str:
    """Return what a sheet brings, or brought, in one or two sentences."""
    works = plural(sheet.new, "work")
    added = _("added.") if stored else _("would be added; nothing is stored yet.")
    told = f"{capital(works)} {added}"
    there = sum(row.outcome == _(THERE) for row in sheet.rows)
    if there:
        told += _(
            " {works} of them there already: left as it is.", works=capital(plural(there, "work"))
        )
    if sheet.faulty:
        told += _(
            " {rows} another look.", rows=capital(plural(sheet.faulty, "row needs", "rows need"))
        )
    return told


def cells_sent(text: str) -> list[list[str]]:
    """Return the cells of a sheet that was shown and is sent along again.

    Raises
    ------
    StoreError
        If it is not what was shown.
    """
    try:
        cells = json.loads(text)
    except ValueError:
        cells = None
    if not isinstance(cells, list) or len(cells) < 2 or not all(map(_is_row, cells)):
        raise _unreadable(_("the sheet"), _("something else than what was shown"))
    return cells


def _is_row(row: Any) -> bool:
    return isinstance(row, list) and all(isinstance(cell, str) for cell in row)


ASKED = N_("A sheet with a work in each row, shown before anything is kept.")


def import_page(sheet: WorksSheet | None, table: str, *, stored: bool) -> WorksImportPage:
    """Return the page of a sheet: asked for, shown, or kept."""
    every = [one for file in FILES for one in REGISTER[file].fields.values() if one.asked]
    labels = [_("Number of the work"), *dict.fromkeys(_(one.label) for one in every)]
    columns = sheet.columns if sheet else ()
    return WorksImportPage(
        answer=answer_words(sheet, stored=stored) if sheet else _(ASKED),
        rows=[SheetRow(**vars(row)) for row in sheet.rows] if sheet else [],
        understood=[
            f"{one.heading}: {_(one.one.label)}{f', in {one.unit}' if one.unit else ''}"
            for one in columns
            if one.one is not None
        ],
        not_read=not_read(columns),
        table=table if sheet and sheet.new else "",
        headings=list(dict.fromkeys(labels)),
    )
