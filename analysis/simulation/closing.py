"""The air in a frame as it is closed: as recorded, or anywhere it may have been."""

from datetime import datetime

import numpy as np

from analysis.air.room_air import HIGH_PERCENTILE, LOW_PERCENTILE, WINDOW_DAYS, RoomAir
from analysis.results import Floats
from analysis.simulation import layout
from analysis.simulation.packing import psi_from
from analysis.simulation.refusals import closing_known
from analysis.works import GLAZED, Work

LEAST_HOURS = 24


def may_change_at_closing(work: Work) -> bool:
    """Whether closing the frame sets the humidity in it: known, or enclosed and not known."""
    return closing_known(work) or work.frame in GLAZED


def closed_unknown(work: Work) -> datetime | None:
    """Return when a frame was closed at a humidity that is not recorded; None where there is none.

    A print mounted anew was framed again, then or soon after, where no later closing is recorded.
    """
    if closing_known(work) or work.frame not in GLAZED:
        return None
    return work.mounted_utc if framed_with_mounting(work) else work.closed_utc


def framed_with_mounting(work: Work) -> bool:
    """Whether a print was mounted anew and nobody recorded when its frame was closed again."""
    unrecorded = work.closed_utc is None and not closing_known(work)
    return work.mounting_no > 0 and unrecorded and work.frame in GLAZED


def close_at(state: Floats, fixed: Floats, closing_rh_pct: Floats) -> None:
    """Set the humidity in a frame to that at closing; shapes (STATE, n), (FIXED, n), (n,)."""
    row = layout.indices(layout.STATE)
    scale = fixed[layout.indices(layout.FIXED)["heat_scale"]]
    state[row["psi_frame"]] = psi_from(closing_rh_pct, state[row["temp_c"]], scale)
    state[row["band_frame"]] = 0.0


def close_anywhere(state: Floats, fixed: Floats, low_pct: float, high_pct: float) -> None:
    """Set the humidity in a frame to anywhere between the print's state and the room's.

    Each draw takes its own level between a low and a high copy, as in a gap of the readings; their
    distance is forgotten at the pace of the frame.
    """
    row, at = layout.indices(layout.STATE), layout.indices(layout.FIXED)
    temp, scale, offset = state[row["temp_c"]], fixed[at["heat_scale"]], fixed[at["rh_offset"]]
    own = state[row["psi_core"]]
    low = np.minimum(psi_from(low_pct + 100.0 * offset, temp, scale), own)
    high = np.maximum(psi_from(high_pct + 100.0 * offset, temp, scale), own)
    state[row["psi_frame"]] = low + fixed[at["gap_fill"]] * (high - low)
    state[row["band_frame"]] = high - low


def recent_span(air: RoomAir, at: int) -> tuple[float, float]:
    """Return the 1st and 99th percentile of the thirty days of air up to an hour, in %RH.

    Where the air began less than a day before, those of its first thirty days.
    """
    recent = slice(max(at + 1 - round(WINDOW_DAYS * 24 / air.step_h), 0), at + 1)
    low, high = air.rh_low_pct[recent], air.rh_high_pct[recent]
    if len(low) * air.step_h < LEAST_HOURS:
        return air.first_low_pct, air.first_high_pct
    return float(np.quantile(low, LOW_PERCENTILE)), float(np.quantile(high, HIGH_PERCENTILE))
