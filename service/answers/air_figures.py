"""A room's longer record in figures and pictures, with the definition behind each figure."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

import pandas as pd

from analysis.air.coverage import coverage
from analysis.air.psychrometric_picture import (
    Carpet,
    PsychrometricPicture,
    carpet,
    psychrometric_picture,
)
from analysis.air.room_statistics import RoomStatistics, SwingFigures, room_statistics
from analysis.errors import NotEnoughError
from analysis.results import Band, Coverage
from dashboards.lines import StatisticLine
from dashboards.text import wording
from dashboards.text.event_words import event_size
from dashboards.text.messages import _
from service.answers.museum import Museum
from service.climate.room_events import agreed
from service.storage import places

EVENTS_DRAWN = 4
OF_TEMPERATURE = re.compile(r"^(Temperature|Dew point)| in K,")


@dataclass(frozen=True)
class AirPicture:
    """One room's record over a span of time."""

    first_utc: datetime
    last_utc: datetime
    frame: pd.DataFrame
    band: Band | None
    statistics: RoomStatistics
    picture: PsychrometricPicture
    carpet: Carpet
    temp_coverage: Coverage | None = None


def air_picture(museum: Museum, room_id: str, length: timedelta) -> AirPicture:
    """Return a room's last ``length`` of air in figures and pictures.

    Raises
    ------
    NotEnoughError
        If the room has no readings.
    """
    whole = museum.readings(room_id).frame
    if whole.empty:
        raise NotEnoughError(
            read=f"room {room_id}",
            where="readings",
            found="none",
            expected="the record of a logger that hangs in it",
            action="Bring in a file of one of its loggers.",
        )
    last = whole.index[-1].to_pydatetime()
    first = max(whole.index[0].to_pydatetime(), last - length)
    frame = whole.loc[pd.Timestamp(first) :]
    band = agreed(places.band_at(museum.stores.register, room_id, last))
    events = sorted(museum.events(room_id, first, last), key=event_size, reverse=True)
    return AirPicture(
        first_utc=first,
        last_utc=last,
        frame=frame,
        band=band,
        statistics=room_statistics(frame, museum.zone, band),
        picture=psychrometric_picture(
            frame, band=band, events=events[:EVENTS_DRAWN], altitude_m=museum.site.altitude_m
        ),
        carpet=carpet(frame, museum.zone),
        temp_coverage=coverage(frame, first, last, column="temp_c") if first < last else None,
    )


def air_answer(found: RoomStatistics) -> str:
    """Return what the air was like in one sentence."""
    if scarce := wording.scarce_words(found.coverage):
        return scarce
    rh, temp = found.rh_pct.percentiles, found.temp_c.percentiles
    spans = {
        "rh": wording.span(rh[5.0], rh[95.0], "%RH"),
        "temp": wording.span(temp[5.0], temp[95.0], "°C"),
    }
    if found.rh_within is None:
        return _(
            "For nine tenths of the time it was from {rh} and {temp}. No band was agreed.", **spans
        )
    return _(
        "For nine tenths of the time it was from {rh} and {temp}; {share} of it lay within the "
        "agreed band.",
        share=wording.share(found.rh_within.within_pct / 100.0),
        **spans,
    )


def stands_on(found: AirPicture) -> str:
    """Return the coverage of the record in words."""
    return wording.coverage_words(found.statistics.coverage).replace("of the week ", "")


def statistic_lines(found: AirPicture) -> list[StatisticLine]:
    """Return the figures of a record, each with its definition and what it stands on.

    Where too little was measured there is no figure.
    """
    lines = (_levels(found.statistics), _swings(found.statistics), _within(found))
    return [
        StatisticLine(
            name, wording.cannot_tell() if _scarce(found, name) else value, basis, stands_on(found)
        )
        for part in lines
        for name, value, basis in part
    ]


def _scarce(found: AirPicture, name: str) -> bool:
    covered, of_temp = found.statistics.coverage, found.temp_coverage
    scarce_temp = of_temp is not None and not of_temp.enough
    return not covered.enough or (scarce_temp and OF_TEMPERATURE.search(name) is not None)


Line = tuple[str, str, str]


def _levels(found: RoomStatistics) -> Iterator[Line]:
    for name, level, unit in (
        (_("Relative humidity"), found.rh_pct, "%RH"),
        (_("Temperature"), found.temp_c, "°C"),
        (_("Dew point (over water)"), found.dew_point_c, "°C"),
    ):
        middle = wording.span(level.percentiles[5.0], level.percentiles[95.0], unit)
        yield (
            _("{name}, mean", name=name),
            wording.with_unit(level.mean, unit, 1),
            _("weighted by time"),
        )
        yield _("{name}, 5–95 %", name=name), middle, _("percentiles by time")
        yield (
            _("{name}, extremes", name=name),
            wording.span(level.lowest, level.highest, unit),
            _("single readings"),
        )


def _swings(found: RoomStatistics) -> Iterator[Line]:
    for swing in found.swings_rh_pct:
        yield _swing(swing, "%RH")
    for swing in found.swings_temp_c:
        yield _swing(swing, "K")
    yield (
        _("Seasonal drift of humidity"),
        wording.with_unit(found.drift30_rh_pct, "%RH"),
        _("highest less lowest 30-day running mean"),
    )


def _swing(swing: SwingFigures, unit: str) -> Line:
    value = _(
        "{p95}, at most {highest}",
        p95=wording.with_unit(swing.p95, unit, 1),
        highest=wording.number(swing.highest, 1),
    )
    return (
        _("{name} in {unit}, 95th percentile", name=swing.name, unit=wording.unit_words(unit)),
        value,
        _(swing.definition),
    )


def _within(found: AirPicture) -> Iterator[Line]:
    within = found.statistics.rh_within
    if within is None or found.band is None:
        return
    band = wording.span(found.band.low_rh_pct, found.band.high_rh_pct, "%RH")
    basis = _(
        "share of time, not of readings; {name}, {band}, ends included",
        name=found.band.name,
        band=band,
    )
    yield _("Within the agreed band"), wording.share(within.within_pct / 100.0), basis
    yield _("Longest run outside"), wording.duration(within.longest_run_outside_h), basis
    beyond = wording.with_unit(within.exceedance_unit_h, "%RH·h")
    yield _("Beyond the band"), beyond, _("area outside the band")
