"""What a room's record says to each question one asks of it, as plain sentences."""

from collections.abc import Callable, Iterable, Iterator
from datetime import datetime

import numpy as np
import pandas as pd

from analysis.errors import StilltautError
from analysis.harm.ageing import Reaction, ageing
from analysis.harm.condensation import (
    BACK_OF_FRAME,
    BARE_WALL,
    ColdSurface,
    at_surface,
    wall_surface,
)
from analysis.harm.gelatin import glazing_contact_hours, softening_hours
from analysis.harm.mould import mould_dose, mould_history
from analysis.instruments.dew_point_uncertainty import with_dew_point_uncertainty
from analysis.limits.comparison import (
    compare_rooms,
    moisture_against_outdoors,
    same_month_last_year,
    spatial_spread,
)
from analysis.limits.historic_climate import historic_climate
from analysis.parameters import parameter
from analysis.series import usable
from analysis.works import Wall
from dashboards.lines import Finding
from dashboards.text import wording
from dashboards.text.air_report import (
    ageing_line,
    gelatin_lines,
    historic_line,
    month_line,
    mould_lines,
    outdoors_line,
    rooms_line,
    spread_line,
    surface_line,
    swing_lines,
)
from dashboards.text.error_words import error_words
from dashboards.text.messages import N_, _
from service.answers.air_figures import AirPicture, stands_on
from service.answers.museum import Museum
from service.climate.room_instruments import age_sentences, uncertainty

Sentences = Callable[[], Iterable[str]]


def air_findings(museum: Museum, room_id: str, found: AirPicture) -> list[Finding]:
    """Return what a room's record says, question by question; slow harm apart from flatness."""
    covered = stands_on(found)
    return [
        *_asked(_("How far does it swing?"), covered, _swings(museum, room_id, found)),
        *cold_wall_finding(museum, room_id, found, covered),
        *_slow_harm(museum, found, covered),
        *_asked(
            _("How does it compare?"),
            _("Hours that both measured."),
            _compared(museum, room_id, found),
        ),
        *_asked(_("How good are the instruments?"), "", _instruments(museum, room_id, found)),
    ]


def _asked(
    heading: str, coverage: str, parts: Iterable[Sentences], caution: str = ""
) -> Iterator[Finding]:
    """Yield a finding from its parts; a part that cannot be told says why."""
    sentences = [sentence for part in parts for sentence in sentences_of(part)]
    if sentences:
        yield Finding(heading, sentences, coverage, caution)


def sentences_of(part: Sentences) -> list[str]:
    """Return sentences, or the one that says why there are none."""
    try:
        return list(part())
    except StilltautError as problem:
        return [
            _(
                "Cannot tell: {found} ({read}). Needed: {expected}.",
                found=error_words(problem.found),
                read=error_words(problem.read),
                expected=error_words(problem.expected),
            )
        ]


def unless_scarce(scarce: str, part: Sentences) -> Sentences:
    """Return a part, or where too little was measured the words that go in its place."""
    return (lambda: [scarce]) if scarce else part


def _swings(museum: Museum, room_id: str, found: AirPicture) -> Iterator[Sentences]:
    """Yield the named definitions of 24 hours side by side, then the room's own past."""
    frame, zone = found.frame, museum.zone
    whole = museum.readings(room_id).frame
    scarce, scarce_temp = _scarce(found)
    yield unless_scarce(scarce, lambda: swing_lines(frame, zone, "rh_pct"))
    yield unless_scarce(scarce_temp, lambda: swing_lines(frame, zone, "temp_c"))
    yield lambda: [historic_line(historic_climate(whole))]


def _scarce(found: AirPicture) -> tuple[str, str]:
    """Return what goes in place of what is said of humidity, and of temperature."""
    return (
        wording.scarce_words(found.statistics.coverage),
        wording.scarce_words(found.temp_coverage),
    )


def _slow_harm(museum: Museum, found: AirPicture, covered: str) -> Iterator[Finding]:
    frame, (scarce, scarce_temp) = found.frame, _scarce(found)
    words = scarce or scarce_temp
    ages = [unless_scarce(words, _one(frame, reaction)) for reaction in Reaction]
    yield from _asked(_("How fast does it age paper and colour?"), covered, ages)
    *sentences, health = mould_lines(
        mould_history(frame), museum.zone, mould_dose(frame, museum.zone)
    )
    mould = unless_scarce(words, lambda: sentences)
    yield from _asked(_("Could mould grow in the room's air?"), covered, [mould], health)
    *hours, contact = gelatin_lines(softening_hours(frame), glazing_contact_hours(frame))
    gelatin = unless_scarce(scarce, lambda: hours)
    yield from _asked(_("Was gelatin soft?"), covered, [gelatin], contact)


def _one(frame: pd.DataFrame, reaction: Reaction) -> Sentences:
    return lambda: [ageing_line(ageing(frame, reaction))]


def _compared(museum: Museum, room_id: str, found: AirPicture) -> Iterator[Sentences]:
    loggers = {
        name: frame.loc[found.frame.index[0] :]
        for name, frame in museum.readings(room_id).by_logger.items()
    }
    inside = {name: frame for name, frame in loggers.items() if not frame.empty}
    if len(inside) > 1:
        for column in ("rh_pct", "temp_c"):
            yield _spread(inside, column, museum.zone)
    outdoor = museum.outdoor()
    if outdoor is not None:
        yield lambda: [outdoors_line(moisture_against_outdoors(found.frame, outdoor))]
    for other in museum.rooms():
        if other.room != room_id:
            yield _rooms(museum, room_id, other.room, found)
    yield from _months(museum, room_id, found.last_utc)


def _spread(loggers: dict[str, pd.DataFrame], column: str, zone: str) -> Sentences:
    return lambda: [spread_line(spatial_spread(loggers, column), zone)]


def _rooms(museum: Museum, room_id: str, other_id: str, found: AirPicture) -> Sentences:
    here, there = museum.room(room_id).name, museum.room(other_id).name
    other = museum.readings(other_id).frame.loc[found.frame.index[0] :]
    return lambda: [rooms_line(compare_rooms(other, found.frame), there, here)]


def _months(museum: Museum, room_id: str, last_utc: datetime) -> Iterator[Sentences]:
    """Yield this month and the one before, each against the same month of the year before."""
    frame, zone = museum.readings(room_id).frame, museum.zone
    local = wording.local(last_utc, zone)
    year, month = (local.year, local.month - 1) if local.month > 1 else (local.year - 1, 12)
    for asked in ((local.year, local.month), (year, month)):
        yield _month(frame, asked, zone)


def _month(frame: pd.DataFrame, asked: tuple[int, int], zone: str) -> Sentences:
    return lambda: [month_line(*same_month_last_year(frame, *asked, zone))]


def _instruments(museum: Museum, room_id: str, found: AirPicture) -> Iterator[Sentences]:
    """How old the calibrations are, and how well dew points are known with them."""
    by_logger = museum.readings(room_id).by_logger
    names = [name for name, frame in by_logger.items() if len(frame.loc[found.frame.index[0] :])]
    stores, now = museum.stores, found.last_utc
    yield lambda: [age_sentences(stores, names, now, museum.zone)]
    yield lambda: [_dew_point_sentence(museum, names, found)]


def _dew_point_sentence(museum: Museum, names: list[str], found: AirPicture) -> str:
    stated = {
        name: uncertainty(museum.stores, names, name, found.last_utc)
        for name in ("rh_pct", "temp_c")
    }
    air = pd.DataFrame({name: usable(found.frame, name) for name in stated})
    known = with_dew_point_uncertainty(air, stated["temp_c"], stated["rh_pct"])
    middle, most = np.nanquantile(known["dew_point_uncertainty_k"], (0.5, 0.95))
    rh, temp = (_sensor_words(name, value) for name, value in stated.items())
    return _(
        "Dew points here are known to ±{middle}, in dry air to ±{most}, with sensors good to {rh} "
        "and {temp}.",
        middle=wording.with_unit(middle, "K", 1),
        most=wording.with_unit(most, "K", 1),
        rh=rh,
        temp=temp,
    )


def _sensor_words(channel: str, stated: float | None) -> str:
    value = parameter("record_rules", "sensor", channel).value if stated is None else stated
    unit = "%RH" if channel == "rh_pct" else "K"
    origin = _("assumed: a good logger when new") if stated is None else _("by its calibration")
    return f"±{wording.significant(value)} {wording.unit_words(unit)} ({origin})"


# The outside walls of a room: how cold their surfaces may have been, and what that means.

HEADING = N_("Could water form on its outside walls?")


NO_OUTSIDE_WALL = ("none", "no", "-", "–")


OUTSIDE = (Wall.OUTSIDE_MASONRY, Wall.OUTSIDE_INSULATED)


UPPER_BOUND = N_(
    "Behind a frame this is an upper bound: it holds if the air of the room gets there. "
    "A logger behind the frame would tell."
)


def cold_wall_finding(
    museum: Museum, room_id: str, found: AirPicture, covered: str
) -> Iterator[Finding]:
    """Yield what can be said of a room's outside walls; nothing for a room that has none."""
    walls = museum.room(room_id).outside_walls.strip()
    if walls.lower() in NO_OUTSIDE_WALL:
        return
    outdoor = museum.outdoor()
    if not walls:
        why = _("Cannot tell: the register does not say which of its walls are outside walls.")
        yield Finding(_(HEADING), [why], covered)
    elif outdoor is None:
        why = _(
            "Cannot tell: outside walls ({walls}), but no outdoor logger. Hang one in the shade.",
            walls=walls,
        )
        yield Finding(_(HEADING), [why], covered)
    else:
        yield Finding(
            _(HEADING), _sentences(museum, room_id, found, outdoor), covered, _(UPPER_BOUND)
        )


def _sentences(museum: Museum, room_id: str, found: AirPicture, outdoor: pd.DataFrame) -> list[str]:
    said = []
    for wall in walls_of(museum, room_id, found):
        for where in (BARE_WALL, BACK_OF_FRAME):
            surfaces = wall_surface(found.frame, outdoor["temp_c"], wall, where)
            said += [_in_words(surfaces, museum.zone)]
            if where == BARE_WALL:
                there = mould_history(at_surface(found.frame, surfaces[1]))
                said += [
                    _(
                        "At that surface: {mould_lines}",
                        mould_lines=mould_lines(there, museum.zone)[0],
                    )
                ]
    return said


def walls_of(museum: Museum, room_id: str, found: AirPicture) -> tuple[Wall, ...]:
    """Return the kinds of outside wall that works hang on here; all kinds where none does."""
    hung = {work.wall for work in museum.works_in(room_id, found.last_utc)}
    return tuple(wall for wall in OUTSIDE if wall in hung) or OUTSIDE


def _in_words(surfaces: tuple[ColdSurface, ColdSurface, ColdSurface], zone: str) -> str:
    """Return the middle case, with the hours of water for the range of the surface factor."""
    cold, middle, warm = surfaces
    said = surface_line(middle, zone)
    if middle.least_margin_utc is None:
        return said
    few, many = warm.condensation_h, cold.condensation_h
    return _(
        "{said} Over the range of the factor: {few} to {many} at or below it.",
        said=said,
        few=wording.duration(few),
        many=wording.duration(many),
    )
