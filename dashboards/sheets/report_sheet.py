"""A month or a quarter as a sheet to be read and signed."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from matplotlib.figure import Figure

from dashboards.pages.report_page import ReportPart
from dashboards.sheets.typesetting import Sheet
from dashboards.text.messages import _
from dashboards.text.reports.statement_text import SIGN


def report_sheet(
    words: Mapping[str, Any],
    parts: Sequence[ReportPart],
    air: Mapping[str, tuple[Figure, str]],
    house: str,
    made: str,
) -> Sheet:
    """Return a report as a sheet.

    Parameters
    ----------
    words : Mapping
        ``question``, ``answer``, ``summary``, ``asks`` and ``cautions``, as the page has them.
    parts : sequence of ReportPart
        In the order of the reader.
    air : Mapping of str to (Figure, str)
        Room's name → its air over the dates, and what the picture shows; for rooms that did not
        keep to their bands, or of which that cannot be told.
    """
    facts = {
        **words,
        "title": words["question"],
        "house": house,
        "asks_heading": _("What it asks of whom"),
        "parts": [asdict(part) for part in parts],
        "rooms": [
            {"name": name, "picture": f"air{place}", "words": said}
            for place, (name, (_figure, said)) in enumerate(air.items())
        ],
        "sign": [_(one) for one in SIGN],
        "made": made,
    }
    pictures = {f"air{place}": figure for place, (figure, _said) in enumerate(air.values())}
    return Sheet("report", facts, pictures)
