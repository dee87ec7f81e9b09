"""A work's journey in words: each stay, when a crate was opened, what nobody measured."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from dashboards.lines import Table
from dashboards.text import wording
from dashboards.text.messages import N_, Worded, _, counted

CAUTIONS = (
    N_(
        "Crates stay shut after they arrive until the work has come to the room’s air, a day at "
        "least: common practice. When to open, and what is done then, a conservator decides."
    ),
    N_(
        "Condition is looked at before and after every move, on the same form. Heavy glazed frames "
        "are for two people or more. The loan agreement, insurers and local codes come first."
    ),
    N_("Loans, dates and room climate are confidential."),
)
KINDS = Worded(
    {"home": N_("in this house"), "crate": N_("in a crate"), "away": N_("in another house")}
)


@dataclass(frozen=True)
class StayWords:
    """What is said of one stay: figures of its air and of the work, NaN where nobody measured.

    ``kind`` is home, crate or away; ``gaps`` are the stretches without a reading.
    """

    name: str
    kind: str
    from_utc: datetime
    to_utc: datetime | None
    measured_pct: float
    air_rh_pct: tuple[float, float]
    print_rh_pct: tuple[float, float]
    waves_h: int
    highest: float
    untold_h: int
    gaps: Sequence[tuple[datetime, datetime]]
    any_logger: bool


def stays_table(stays: Sequence[StayWords], zone: str) -> Table:
    """Return one row a stay."""
    headings = (
        _("Where"), _("From"), _("Until"), _("Air measured"), _("RH of the air, %"),
        _("RH at the print, %"), _("Waves likelier than not, h"), _("Highest chance"),
        _("Nothing told, h"),
    )  # fmt: skip
    return Table(headings, [_row(one, zone) for one in stays], figures=(3, 4, 5, 6, 7, 8))


def _row(one: StayWords, zone: str) -> tuple[str, ...]:
    return (
        _("{name}, {kind}", name=one.name, kind=KINDS[one.kind]),
        wording.date_time(one.from_utc, zone),
        wording.NONE if one.to_utc is None else wording.date_time(one.to_utc, zone),
        wording.share(one.measured_pct / 100.0),
        _ends(one.air_rh_pct),
        _ends(one.print_rh_pct),
        wording.number(one.waves_h),
        wording.percent(one.highest),
        wording.number(one.untold_h),
    )


def _ends(ends: tuple[float, float]) -> str:
    return wording.NONE if math.isnan(ends[0]) else wording.span(*ends)


def gap_sentences(one: StayWords, zone: str) -> list[str]:
    """Return what nobody measured of a stay, each stretch with its dates.

    Examples
    --------
    >>> from datetime import UTC
    >>> may = [datetime(2026, 5, day, 9, tzinfo=UTC) for day in (3, 4)]
    >>> nan = float("nan")
    >>> stay = StayWords("Crate 2", "crate", *may, 0.0, (nan, nan), (nan, nan), 0, nan, 24,
    ...     [tuple(may)], False)
    >>> gap_sentences(stay, "UTC")
    ['No logger in Crate 2 from 3 May 2026, 09:00 to 4 May 2026, 09:00: cannot tell.']
    """
    said = []
    for first, last in one.gaps:
        when = {"first": wording.date_time(first, zone), "last": wording.date_time(last, zone)}
        if one.any_logger:
            said.append(_("No reading in {name} from {first} to {last}: cannot tell.",
                          name=one.name, **when))  # fmt: skip
        else:
            said.append(_("No logger in {name} from {first} to {last}: cannot tell.",
                          name=one.name, **when))  # fmt: skip
    return said


def passage_words(
    name: str, times: Sequence[tuple[str, datetime | None]], zone: str, there: str
) -> str:
    """Return when a crate was packed, left, arrived, was opened and unpacked.

    Parameters
    ----------
    times : sequence of (str, datetime or None)
        ``packed``, ``left``, ``arrived``, ``opened``, ``unpacked``, with their times.
    there : str
        Zone of where it was going, in which its arrival is told too; "" where it is the same.
    """
    words = {
        "packed": N_("packed {when}"),
        "left": N_("left {when}"),
        "arrived": N_("arrived {when}"),
        "opened": N_("opened {when}"),
        "unpacked": N_("unpacked {when}"),
    }
    parts = [
        _(
            words[what],
            when=_when(at, zone, there if what in ("arrived", "opened", "unpacked") else ""),
        )
        for what, at in times
        if at is not None
    ]
    missing = [what for what, at in times if at is None]
    said = f"{name}: {'; '.join(parts)}."
    if not missing:
        return said
    unknown = wording.listed([_(NOT_WRITTEN[what]) for what in missing])
    return _("{said} Not written down: {unknown}.", said=said, unknown=unknown)


NOT_WRITTEN = {
    "packed": N_("when it was packed"),
    "left": N_("when it left"),
    "arrived": N_("when it arrived"),
    "opened": N_("when it was opened"),
    "unpacked": N_("when it was unpacked"),
}


def _when(at_utc: datetime, zone: str, there: str) -> str:
    here = wording.date_time(at_utc, zone)
    if not there or wording.clock(at_utc, there) == wording.clock(at_utc, zone):
        return here
    return _("{here} ({clock} there)", here=here, clock=wording.clock(at_utc, there))


def rest_words(name: str, rested_h: float, usual_h: float) -> str:
    """Return how long a crate stood shut after it arrived, against what is common.

    Examples
    --------
    >>> rest_words("Crate 2", 26.0, 24.0)
    'Crate 2 stood shut for 26 h after it arrived; common practice is 24 h or more.'
    """
    stood = {"name": name, "time": wording.duration(rested_h), "usual": wording.duration(usual_h)}
    if rested_h >= usual_h:
        return _(
            "{name} stood shut for {time} after it arrived; common practice is {usual} or more.",
            **stood,
        )
    return _(
        "{name} was opened {time} after it arrived; common practice is to leave it shut for "
        "{usual} or more. Look at the work again within days.",
        **stood,
    )


def journey_answer(
    stays: Sequence[StayWords], over: bool, untold_h: int, waves_h: int, highest: float
) -> str:
    """Return what the journey was for the work, in one sentence."""
    places = wording.listed(list(dict.fromkeys(one.name for one in stays if one.kind != "home")))
    if math.isnan(highest):
        return _("Cannot tell: nobody measured the air it had in {places}.", places=places)
    told = {
        "places": places,
        "chance": wording.percent(highest),
        "hours": wording.duration(waves_h),
    }
    said = (
        _("In {places} waves were likelier than not for {hours}; the highest chance was {chance}.",
          **told)
        if waves_h
        else _("In {places} waves were never likelier than not; the highest chance was {chance}.",
               **told)
    )  # fmt: skip
    if untold_h:
        hours = wording.duration(untold_h)
        said += " " + _("Of {hours} nothing can be told.", hours=hours)
    return said if over else said + " " + _("The journey is not over.")


def journeys_words(many: int) -> str:
    """Return how many journeys a work has made."""
    if not many:
        return _("It has not been away in what is written down.")
    return counted(
        "It has been away once.",
        "It has been away {count} times.",
        many,
        count=wording.count(many),
    )
