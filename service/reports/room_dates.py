"""A room's air over a report's dates: its band kept or not, how much was measured, last year."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import pandas as pd

from analysis.air.coverage import coverage
from analysis.air.time_weights import cells, time_mean, time_percentiles
from analysis.instruments.calibration import is_old, latest_begun
from analysis.limits.lenders_terms import Kept, kept
from analysis.limits.published_limits import band_limit
from analysis.limits.verdict import LimitVerdict, judge
from analysis.records.room_records import AgreedBand, Room
from analysis.results import Band, Coverage
from analysis.series import usable
from service.answers.limit_lines import JudgedAir, judged_air
from service.answers.museum import Museum
from service.climate.room_events import agreed
from service.reports.period import Period
from service.storage import places
from service.storage.loggers import layers


@dataclass(frozen=True)
class AirOver:
    """A room's air over dates.

    Parameters
    ----------
    verdict : LimitVerdict or None
        Against the band; None without a band, or where nothing was measured.
    measured : mapping of str to Coverage
        Of each quantity that the band limits, humidity at least.
    mean_rh_pct, low_rh_pct, high_rh_pct : float
        Mean, 5 % and 95 % point by time [%RH]; NaN where nothing was measured.
    """

    air: JudgedAir
    band: Band | None
    verdict: LimitVerdict | None
    measured: Mapping[str, Coverage]
    mean_rh_pct: float
    low_rh_pct: float
    high_rh_pct: float

    @property
    def kept(self) -> Kept:
        """Whether the band was kept; without one, or without readings, nothing can be told."""
        if self.verdict is None:
            return Kept.CANNOT_TELL
        return kept(self.verdict, list(self.measured.values()))

    @property
    def enough(self) -> bool:
        """Whether so much was measured that something may be said."""
        return all(one.enough for one in self.measured.values())


@dataclass(frozen=True)
class RoomDates:
    """One room over the dates of a report, and over the same dates a year before.

    ``record`` is its band in the register at the end of the dates; ``unchecked`` its loggers whose
    humidity was never compared with a reference, or too long ago.
    """

    room: Room
    now: AirOver
    before: AirOver
    record: AgreedBand | None
    unchecked: Sequence[str]


def room_dates(museum: Museum, room: Room, dates: Period) -> RoomDates:
    """Return a room over the dates; last year's air is held against the present band as well."""
    end = dates.end_utc
    record = places.band_at(museum.stores.register, room.room, end)
    band, earlier = agreed(record), dates.a_year_before(museum.zone)
    now = _air_over(museum, room, dates, band)
    names = sorted(now.air.loggers)
    return RoomDates(
        room=room,
        now=now,
        before=_air_over(museum, room, earlier, band),
        record=record,
        unchecked=[name for name in names if _unchecked(museum, name, end)],
    )


def _air_over(museum: Museum, room: Room, dates: Period, band: Band | None) -> AirOver:
    """Return a room's air over dates; what was not measured counts as not measured."""
    air = judged_air(museum, room.room, dates.start_utc, dates.end_utc)
    rh = usable(air.frame, "rh_pct").dropna()
    verdict, quantities = None, ["rh_pct"]
    if band is not None and len(rh) > 1:
        limit = replace(band_limit(band), minimum_record_days=0.0)
        quantities = list(limit.variables)
        verdict = judge(
            limit, air.frame, museum.zone, uncertainty_rh_pct=air.uncertainty_rh_pct,
            uncertainty_temp_c=air.uncertainty_temp_c, how=air.how,
        )  # fmt: skip
    width_s = cells(pd.DatetimeIndex(rh.index)).width_s
    low, high = time_percentiles(rh.to_numpy(), width_s, (5.0, 95.0))
    return AirOver(
        air=air,
        band=band,
        verdict=verdict,
        measured={
            name: coverage(air.frame, dates.start_utc, dates.end_utc, column=name)
            for name in quantities
        },
        mean_rh_pct=time_mean(rh),
        low_rh_pct=float(low),
        high_rh_pct=float(high),
    )


def _unchecked(museum: Museum, logger: str, at_utc: datetime) -> bool:
    known = [one for one in layers(museum.stores.register, logger) if one.channel == "rh_pct"]
    latest = latest_begun(known, at_utc)
    return latest is None or is_old(latest, at_utc)
