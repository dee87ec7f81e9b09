"""What people measured and saw of a work: numbers in place of the tables', and inspections."""

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated

from analysis.records.declaration import Declaration, Field, Kind
from analysis.records.work_records import WORK


@dataclass(frozen=True)
class Measured:
    """A parameter a person measured for one work, since a date.

    ``withdrawn`` says why it no longer counts; "" when it counts. Its bounds are those of the
    parameter it names, see `analysis.simulation.refusals`.
    """

    work_id: Annotated[str, WORK]
    name: Annotated[
        str,
        Field(
            label="Which number",
            kind=Kind.SHORT_NAME,
            example="half_time_h",
            words="name of the number, for example half_time_h, beta_cd",
        ),
    ]
    value: Annotated[
        float,
        Field(
            label="The number",
            kind=Kind.NUMBER,
            low=-1e9,
            high=1e9,
            example="22",
            words="the number, in the parameter's own unit",
        ),
    ]
    low: Annotated[
        float, Field(label="At least", kind=Kind.NUMBER, low=-1e9, high=1e9, example="16")
    ]
    high: Annotated[
        float, Field(label="At most", kind=Kind.NUMBER, low=-1e9, high=1e9, example="30")
    ]
    origin: Annotated[
        str,
        Field(
            label="Who measured it, and how",
            example="logger in the frame, February 2025, A. Person",
        ),
    ]
    from_utc: Annotated[
        datetime | None, Field(label="Holds from", kind=Kind.WHEN, example="2025-02-20")
    ] = None
    withdrawn: Annotated[
        str, Field(label="Why it no longer counts", asked=False, words="empty: it counts")
    ] = ""
    withdrawn_utc: Annotated[
        datetime | None, Field(label="Withdrawn on", kind=Kind.WHEN, asked=False)
    ] = None


GRADES = (
    ("0", "flat"),
    ("1", "seen only in raking light"),
    ("2", "seen in ordinary light from the side"),
    ("3", "seen from the front at two metres"),
    ("4", "suspected contact, release or crack"),
)
# Waves come of slack; ridges from an edge or corner come of too much tension and teach no slack.
TIGHT = "tight ridges"
FINDINGS = (
    ("waves", "waves"),
    ("waves that stayed", "waves that stayed after the air was back"),
    (TIGHT, "tight ridges from an edge or corner"),
    ("scallops", "scallops between the hinges"),
    ("curl", "curl of an edge or corner"),
)


@dataclass(frozen=True)
class Inspection:
    """One look at one work. ``withdrawn`` says why it no longer counts; "" when it counts.

    ``released``: True, a hinge was found loose; False, the edges were looked at and all hold; None,
    they were not looked at.
    """

    work_id: Annotated[str, WORK]
    at_utc: Annotated[
        datetime,
        Field(
            label="Looked at on",
            kind=Kind.WHEN,
            example="2025-04-15T10:30Z",
            words="when it was looked at",
        ),
    ]
    grade: Annotated[
        int,
        Field(
            label="What is seen",
            kind=Kind.NUMBER,
            whole=True,
            low=0,
            high=4,
            example="1",
            words="; ".join(f"{grade} {words}" for grade, words in GRADES),
        ),
    ]
    wave_mm: Annotated[
        float | None,
        Field(
            label="Largest wave, peak to valley",
            kind=Kind.NUMBER,
            unit="mm",
            low=0,
            high=200,
            without="only the grade counts",
        ),
    ] = None
    place: Annotated[str, Field(label="Where on the sheet", example="lower left")] = ""
    lamp_side: Annotated[
        str, Field(label="Side from which the raking light came", example="left")
    ] = ""
    note: Annotated[str, Field(label="Note", kind=Kind.NOTE, example="soft ripple")] = ""
    by: Annotated[
        str, Field(label="Who looked", example="A. Person", needed=True, remember=True)
    ] = ""
    withdrawn: Annotated[
        str, Field(label="Why it no longer counts", asked=False, words="empty: it counts")
    ] = ""
    released: Annotated[
        bool | None,
        Field(
            label="A hinge was found loose",
            empty="the edges were not looked at",
            kind=Kind.YES_NO,
            example="no",
            without="the edges were not looked at",
        ),
    ] = None
    finding: Annotated[
        str | None,
        Field(
            label="Kind of finding",
            kind=Kind.CHOICE,
            choices=FINDINGS,
            example="tight ridges",
            empty="not said",
            without="what was seen counts as waves",
        ),
    ] = None
    photograph: Annotated[
        str,
        Field(
            label="Photograph",
            asked=False,
            words="SHA-256 of the photograph as it is kept; empty: none",
            since="0.2",
        ),
    ] = ""
    estimate_p: Annotated[
        float | None,
        Field(
            label="What the estimate said before",
            kind=Kind.NUMBER,
            low=0,
            high=1,
            asked=False,
            words="chance that waves show, as the pages gave it before this was written down",
            since="0.2",
        ),
    ] = None


OF_INSPECTIONS = (
    Declaration(
        "overrides.csv",
        "overrides",
        Measured,
        ("work_id", "name", "from_utc"),
        "Numbers measured for one work, in place of the tables' ranges.",
        rising=(("low", "value"), ("value", "high")),
        may_touch=True,
    ),
    Declaration(
        "inspections.csv",
        "inspections",
        Inspection,
        ("work_id", "at_utc", "by"),
        "What people saw. Most people write these on the pages.",
    ),
)
