"""A work's journey as a sheet to go with its papers."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from matplotlib.figure import Figure

from dashboards.lines import Table
from dashboards.sheets.typesetting import Sheet
from dashboards.text.messages import _
from dashboards.text.reports.statement_text import SIGN


def journey_sheet(
    words: Mapping[str, Any], table: Table, sentences: Sequence[str], picture: Figure
) -> Sheet:
    """Return a journey as a sheet.

    Parameters
    ----------
    words : Mapping
        ``title``, ``number``, ``house``, ``answer``, ``picture_words``, ``cautions``, ``made``.
    """
    facts = {
        **words,
        "table": asdict(table),
        "sentences": list(sentences),
        "sign": [_(one) for one in SIGN],
    }
    return Sheet("journey", facts, {"journey": picture})
