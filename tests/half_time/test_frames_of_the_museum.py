"""The two loggers in frames of the invented museum: a regression on invented data.

Their readings were made with a first-order lag of the room's relative humidity, of 19 h and 420 h
(sample_logs.instruments), at whatever temperature and humidity there was. So it is the half-time at
the record's own conditions, not the one at 20 °C and 50 %RH, that must contain these numbers.
"""

import pytest

from analysis.learning.half_time import half_time_at, middle_of
from sample_logs.instruments import LOGGERS
from service.estimates.half_times import half_time_of_frame
from service.settings import Settings
from service.storage.stores import Stores

MADE_WITH = {one.logger: one.frame_half_time_h for one in LOGGERS if one.frame_half_time_h}


@pytest.mark.parametrize(
    ("museum", "work_id", "logger"),
    [("north_museum", "2018-02", "north-frame"), ("long_museum", "2014-03", "long-frame")],
)
def test_the_fit_contains_the_half_time_the_readings_were_made_with(
    request: pytest.FixtureRequest, museum: str, work_id: str, logger: str
) -> None:
    with Stores.open(Settings(data_dir=request.getfixturevalue(museum))) as stores:
        known = half_time_of_frame(stores, work_id)
    assert known.record is not None
    assert known.record.placement.logger == logger
    found = known.found
    assert found is not None
    assert found.sound, found.doubts
    middle = middle_of(found.pair)
    low_h, high_h = (half_time_at(end, *middle) for end in (found.fit.low_h, found.fit.high_h))
    assert low_h < MADE_WITH[logger] < high_h
    assert known.default_h.low < found.fit.low_h
    assert found.fit.high_h < known.default_h.high
