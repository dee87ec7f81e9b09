"""A climate statement for a lender, as it is signed."""

from collections.abc import Mapping
from typing import Any

from matplotlib.figure import Figure

from dashboards.sheets.typesetting import Sheet


def statement_sheet(facts: Mapping[str, Any], picture: Figure) -> Sheet:
    """Return a statement as a sheet.

    Parameters
    ----------
    facts : Mapping
        As `service.answers.lenders_statements` makes them and the register keeps them: ``title``,
        ``number``, ``house``, ``answer``, ``lines`` (name and words), ``table``, ``gaps``,
        ``changes``, ``cautions``, ``sign``, ``made``.
    picture : matplotlib.figure.Figure
        The room's air over the dates.
    """
    return Sheet("statement", facts, {"air": picture})
