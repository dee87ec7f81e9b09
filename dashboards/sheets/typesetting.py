"""Sets a sheet: a layout of `layouts/`, its facts and its pictures in, a PDF out.

What people wrote (titles, names, notes) reaches a layout as data and never as markup: the layout
reads one JSON document, in which a ``#`` or a ``*`` is a letter like any other. Nothing is fetched:
layouts import each other alone, the fonts are those of the pages (Literata and Public Sans, both
under the SIL Open Font License), and a letter that they lack is taken from the machine's own.
"""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from functools import cache
from importlib.resources import as_file, files
from typing import Any

import typst
from matplotlib.figure import Figure

from dashboards.charts.style import sheet_svg
from dashboards.text.messages import language

NO_DATE = datetime(1970, 1, 1, tzinfo=UTC)  # the same sheet has the same bytes


@dataclass(frozen=True)
class Sheet:
    """One sheet before it is set.

    Attributes
    ----------
    layout : str
        Name of the layout, ``week`` for ``layouts/week.typ``.
    facts : Any
        What the layout reads: a dataclass or a mapping of plain values.
    pictures : Mapping[str, matplotlib.figure.Figure or bytes]
        Figures, or finished SVG, by the name under which the layout asks for them.
    """

    layout: str
    facts: Any
    pictures: Mapping[str, Figure | bytes]


def sheet_pdf(sheet: Sheet) -> bytes:
    """Return a sheet as PDF, tagged for screen readers, the same bytes every time."""
    return _pages(sheet, "pdf", timestamp=NO_DATE)[0]


def sheet_png(sheet: Sheet, dots_per_inch: float = 110.0) -> list[bytes]:
    """Return each page of a sheet as a PNG picture."""
    return _pages(sheet, "png", ppi=dots_per_inch)


def sheet_page_svg(sheet: Sheet) -> bytes:
    """Return the first page of a sheet as SVG."""
    return _pages(sheet, "svg")[0]


def _pages(sheet: Sheet, kind: Any, **options: Any) -> list[bytes]:
    with as_file(files("dashboards") / "sheets" / "layouts") as folder:
        # its signature promises one page; of a picture it returns a list where there are more
        found: Any = typst.compile(
            folder / f"{sheet.layout}.typ",
            root=folder,
            font_paths=_fonts(),
            format=kind,
            sys_inputs=_inputs(sheet),
            **options,
        )
    return found if isinstance(found, list) else [found]


def _inputs(sheet: Sheet) -> dict[str, str]:
    facts = sheet.facts if isinstance(sheet.facts, Mapping) else asdict(sheet.facts)
    pictures = {name: _svg(picture) for name, picture in sheet.pictures.items()}
    return {
        "facts": json.dumps(facts, allow_nan=False),
        "pictures": json.dumps(pictures),
        "language": language(),
    }


def _svg(picture: Figure | bytes) -> str:
    return (picture if isinstance(picture, bytes) else sheet_svg(picture)).decode()


@cache
def _fonts() -> typst.Fonts:
    with as_file(files("dashboards") / "static" / "fonts") as folder:
        return typst.Fonts(
            include_system_fonts=True, include_embedded_fonts=False, font_paths=[folder]
        )
