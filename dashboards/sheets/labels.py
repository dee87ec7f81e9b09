"""Labels for the backs of frames and for loggers: name, number, and a code that a phone reads.

The code holds the address of the page and nothing else; who opens it must sign in as everywhere.
"""

import io
from collections.abc import Sequence
from dataclasses import dataclass

import segno

from dashboards.sheets.typesetting import Sheet
from dashboards.text.messages import _


@dataclass(frozen=True)
class Label:
    """One label: a name, a number, what it is, and the page that it opens."""

    name: str
    number: str
    kind: str
    address: str


def label_sheet(labels: Sequence[Label], house: str) -> Sheet:
    """Return labels on A4, three beside each other, to be cut along the lines."""
    facts = {
        "title": _("Labels: {house}", house=house),
        "house": house,
        "labels": [
            {"name": one.name, "number": one.number, "kind": one.kind, "code": f"code {n}"}
            for n, one in enumerate(labels)
        ],
        "none": _("Nothing to label yet."),
    }
    codes = {f"code {n}": code_svg(one.address) for n, one in enumerate(labels)}
    return Sheet("labels", facts, codes)


def code_svg(address: str) -> bytes:
    """Return a QR code (ISO/IEC 18004) of an address, as SVG; a quarter of it may be lost."""
    into = io.BytesIO()
    code = segno.make(address, error="q", micro=False)
    code.save(into, kind="svg", border=2, xmldecl=False, scale=4)
    return into.getvalue()
